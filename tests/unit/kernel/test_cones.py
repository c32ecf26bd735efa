"""Steady flow through a venturi is the same flow at every face of its cells, the throat's too.

The state between the cells is by Bernoulli: where flow and total pressure stay, speed goes with 1 / area.
"""

import numpy as np

from pulsewright.kernel.cells import face_states
from pulsewright.network.assembly import Assembly, GasState, Segment
from pulsewright.outside.bare_cells import perfect_gas

RHO, FLOW, TOTAL = 1.2, 0.05, 1e5  # [kg/m³], [kg/s], [Pa]: 30 to 43 m/s


def laid_venturi():
    """The cells of 42 - 35 - 42 mm, holding steady flow, and the slots inside."""
    assembly = Assembly(gas=perfect_gas(1.4, 287.0))
    cones = [(0.042, 0.042), (0.042, 0.035), (0.035, 0.042), (0.042, 0.042)]
    ref = assembly.add_duct(
        [Segment(length=0.06, bore_in=a, bore_out=b, cell=0.02) for a, b in cones], GasState(p=TOTAL, T=300.0)
    )
    c = assembly.layout_arrays()["cells"][0]
    slots = np.arange(ref.cells.start, ref.cells.stop)
    area = c["inverse_length"][slots] / c["inverse_volume"][slots]
    c["rho"][:] = RHO
    c["u"][slots] = FLOW / (RHO * area)
    c["p"][slots] = TOTAL - 0.5 * RHO * c["u"][slots] ** 2
    return c, slots


def test_every_face_sees_the_flow_and_the_total_pressure():
    c, slots = laid_venturi()
    face_states(c, 0.0)
    inner = slots[1:-1]  # the outer ones look at ghosts
    for side, face in (("left", inner - 1), ("right", inner)):
        u, p = c[f"{side}_u"][inner], c[f"{side}_p"][inner]
        np.testing.assert_allclose(RHO * u * c["area"][face], FLOW, rtol=1e-12)
        np.testing.assert_allclose(p + 0.5 * RHO * u**2, TOTAL, rtol=1e-12)


def test_half_a_step_ahead_it_is_still_the_same_but_for_what_compresses():
    """Without the cross-section in the slopes this is 5 % off in the throat; the rest is of the Mach number squared."""
    c, slots = laid_venturi()
    face_states(c, 3e-5)
    inner = slots[2:-2]
    for side, face in (("left", inner - 1), ("right", inner)):
        np.testing.assert_allclose(RHO * c[f"{side}_u"][inner] * c["area"][face], FLOW, rtol=5e-3)
