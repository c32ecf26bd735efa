r"""Bore of a jet from what runs through it.

.. math:: d = \sqrt{\frac{4 \dot V}{\pi C_d \sqrt{2 \Delta p / \rho}}}, \qquad \Delta p = \rho g h

Source   Torricelli's law with a discharge coefficient, closed form; under a head of its own liquid the density
         cancels. Coefficient of a chamfered short tube 0.70 to 0.85 (from memory, no single source).
Holds    full flow of a liquid above Re 2000 (from memory); below, the coefficient falls and the bore comes out
         too small.
"""

from __future__ import annotations

from pulsewright.bench.fill_fuel import ETHANOL_VOLUME, blend
from pulsewright.bench.jets import DISCHARGE_COEFFICIENT, STANDARD_GRAVITY, flow_number_bore
from pulsewright.errors import UsageError
from pulsewright.new.estimate import Estimate, Line, Reading, with_band
from pulsewright.physics.jet_flow import jet_reynolds
from pulsewright.units import show

USUAL_CD = Reading(DISCHARGE_COEFFICIENT, 0.70, 0.85)
KNOWN_CD_SHARE = 0.02  # doubt of a coefficient that was measured, common practice
FLOW_SHARE = 0.02  # measuring glass and stop watch, common practice
HEAD_SHARE = 0.03  # a level that sinks a little while the glass fills, common practice
LOWEST_REYNOLDS = 2000.0
WATER = "water"
FLUIDS = (*ETHANOL_VOLUME, WATER)
WATER_DENSITY, WATER_VISCOSITY = 998.2, 1.0e-3  # [kg/m³], [Pa s] at 20 degC, from memory
FUEL_VISCOSITY = {"ethanol": 1.2e-3, "E85": 1.0e-3}  # [Pa s] at 20 degC, from memory
PETROL_VISCOSITY = 0.5e-3  # [Pa s] 0.4 to 0.65 at 20 degC, from memory


def jet_from_flow(
    flow: float,
    *,
    head: float | None = None,
    pressure: float | None = None,
    fluid: str = "petrol",
    cd: float | None = None,
    jet: str = "main_jet",
    carburettor: int = 1,
) -> Estimate:
    """Bore of a jet.

    Parameters
    ----------
    flow : of the liquid. [m³/s]
    head : height of the liquid above the jet [m]; or `pressure` before it [Pa].
    fluid : one of `FLUIDS`.
    cd : discharge coefficient where it is known. [-]
    jet : key of the sheet, `main_jet` or `intermediate_jet`.

    Raises UsageError unless one of head and pressure is given.
    """
    if (head is None) == (pressure is None):
        raise UsageError(
            "a flow says nothing about a bore without what drives it",
            hint="give --head, the height of the liquid above the jet, or --pressure",
        )
    density, viscosity = liquid(fluid)
    height = head if head is not None else (pressure or 0.0) / (density * STANDARD_GRAVITY)
    coefficient = USUAL_CD if cd is None else Reading.within_share(cd, KNOWN_CD_SHARE)
    bore = with_band(
        flow_number_bore,
        flow=Reading.within_share(flow, FLOW_SHARE),
        head=Reading.within_share(height, HEAD_SHARE),
        discharge_coefficient=coefficient,
    )
    reynolds = jet_reynolds(bore.value, density, viscosity, density * STANDARD_GRAVITY * height)
    return Estimate(
        kind="jet-bore",
        sentence=_sentence(jet, bore, flow, head, pressure, fluid),
        table=f"carburettor.{carburettor}",
        lines=(Line.of(jet, bore, "length"),),
        why=(
            f"Torricelli's law with a discharge coefficient of {coefficient.value:g}"
            f" ({coefficient.low:.3g} to {coefficient.high:.3g}"
            f"{', chamfered short tube, from memory' if cd is None else ''});"
            f" flow believed within {FLOW_SHARE:.0%}, head within {HEAD_SHARE:.0%}"
        ),
        cautions=_cautions(reynolds, cd),
        more=(("discharge_coefficient", coefficient.value), ("reynolds", reynolds)),
    )


def liquid(fluid: str) -> tuple[float, float]:
    """Density [kg/m³] and viscosity [Pa s] near room temperature."""
    if fluid == WATER:
        return WATER_DENSITY, WATER_VISCOSITY
    return blend(ETHANOL_VOLUME[fluid])[0].density, FUEL_VISCOSITY.get(fluid, PETROL_VISCOSITY)


def _sentence(
    jet: str, bore: Reading, flow: float, head: float | None, pressure: float | None, fluid: str
) -> str:  # fmt: skip
    drive = f"{show(head, 'length')} of it" if head is not None else show(pressure or 0.0, "pressure")
    low, middle, high = (show(x, "length", digits=3) for x in (bore.low, bore.value, bore.high))
    passed = f"{show(flow, 'volume_flow')} of {fluid} under {drive}"
    return f"{jet.replace('_', ' ')} {middle}, {low} to {high}, from {passed}"


def _cautions(reynolds: float, cd: float | None) -> tuple[str, ...]:
    said = []
    if cd is None:
        said.append(
            "the shape of the jet rules the band; a jet of known bore of the same make, run the same way, gives --cd"
        )
    if reynolds < LOWEST_REYNOLDS:
        said.append(
            f"Re {reynolds:.0f} is low: the coefficient falls below {LOWEST_REYNOLDS:g}, the bore is larger than this"
        )
    return tuple(said)
