"""A straight duct marched cell by cell without joints: what the scheme itself does to a flow.

The three compiled passes over the cells are those of the engine; only the two outer faces are supplied
here: undisturbed (the flow of the outermost cell itself) or periodic (the last cell meets the first).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from pulsewright.kernel.cells import contact_flux, face_flows, face_states, gas_states, new_states
from pulsewright.kernel.layout import CAPACITIES
from pulsewright.network.assembly import Assembly, DuctRef, GasState, Segment
from pulsewright.physics.gas_properties import perfect_gas

Numbers = npt.NDArray[np.float64]

GAS_CONSTANT = 1.0  # units of the tables: density, speed and pressure near one
SLOTS = 566  # all cases in one capacity class, so that it is compiled once
COURANT = 0.8
_CARRIED = ("rho", "u", "p", "e", "yb", "yv", "yz")


@dataclass(frozen=True, slots=True)
class BareDuct:
    """Cells of equal length in a straight duct of the unit square."""

    c: Any
    ref: DuctRef
    gamma: float
    periodic: bool

    @property
    def inside(self) -> slice:
        """Slots of the real cells."""
        return slice(self.ref.cells.start, self.ref.cells.stop)

    def field(self, name: str) -> Numbers:
        """A copy of one quantity over the cells."""
        return self.c[name][self.inside].copy()


def bare_duct(
    length: float, cells: int, gamma: float, rho: Numbers, u: Numbers, p: Numbers, *, periodic: bool = False
) -> BareDuct:
    """A duct with the given state in each of its cells (arrays over the cells)."""
    bore = 2.0 / np.sqrt(np.pi)
    assembly = Assembly(gas=perfect_gas(gamma, GAS_CONSTANT))
    start = GasState(p=1.0, T=1.0)
    segment = Segment(length=length, bore_in=bore, bore_out=bore, cell=length / cells)
    ref = assembly.add_duct([segment], start)
    assembly.slots = max(assembly.slots, SLOTS)
    arrays = assembly.layout_arrays()
    c = arrays["cells"][0]
    assert c["rho"].shape[0] in CAPACITIES
    inside = slice(ref.cells.start, ref.cells.stop)
    c["rho"][inside] = rho
    c["momentum"][inside] = rho * u
    c["energy"][inside] = p / (gamma - 1.0) + 0.5 * rho * u * u
    c["T"][inside] = p / rho
    gas_states(c)
    duct = BareDuct(c, ref, gamma, periodic)
    _outer_ghosts(duct)
    return duct


def march(duct: BareDuct, seconds: float) -> int:
    """March for a time; returns the steps taken."""
    c = duct.c
    passed, steps = 0.0, 0
    while seconds - passed > 1e-14 * seconds:
        dt = min(COURANT / float(np.max(c["speed"][duct.inside])), seconds - passed)
        if not dt > 0.0:
            raise FloatingPointError("the march lost a cell")
        face_states(c, dt)
        face_flows(c)
        _outer_flows(duct)
        new_states(c, dt)
        _outer_ghosts(duct)
        passed += dt
        steps += 1
    return steps


def _outer_flows(duct: BareDuct) -> None:
    c, first, last = duct.c, duct.ref.head, duct.ref.tail
    if duct.periodic:
        flows = contact_flux(*_face(c, "right", last.cell), *_face(c, "left", first.cell))
        _put(c, first.face, flows)
        _put(c, last.face, flows)
        return
    for end in (first, last):
        own = (c["rho"][end.cell], c["u"][end.cell], c["p"][end.cell], c["e"][end.cell], c["sound"][end.cell])
        _put(c, end.face, contact_flux(*own, *own))


def _face(c: Any, side: str, cell: int) -> tuple[float, ...]:
    return (*(c[f"{side}_{name}"][cell] for name in ("rho", "u", "p", "e")), c["sound"][cell])


def _put(c: Any, face: int, flows: tuple[float, float, float]) -> None:
    for name, flow in zip(("mass", "momentum", "energy"), flows, strict=True):
        c[f"flow_{name}"][face] = flow  # the cross-section is one


def _outer_ghosts(duct: BareDuct) -> None:
    c = duct.c
    first, last = duct.ref.cells.start, duct.ref.cells.stop - 1
    for name in _CARRIED:
        c[name][first - 1] = c[name][last if duct.periodic else first]
        c[name][last + 1] = c[name][first if duct.periodic else last]
