"""Gas at rest stays at rest, and a closed network keeps its mass and energy."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pulsewright.outside.check import Check
from pulsewright.outside.tube_rig import Rig

CYCLES, RPM = 10, 3000.0
SECONDS = CYCLES * 120.0 / RPM
BY_NATURE = "conservation: nothing drives it"
BOOKS = "conservation: nothing gets in or out"


def checks() -> Iterator[Check]:
    """Rest in every shape, then the books of a closed network."""
    pressure, mach = unrest()
    for what, got in (("pressure, relative", pressure), ("Mach number", mach)):
        yield Check(
            what=f"gas at rest in cones, steps, chambers and tees after {CYCLES} cycles: {what}",
            source=BY_NATURE,
            expected=0.0,
            got=got,
            tolerance=1e-12,
            kind="absolute",
        )
    for what, got in zip(("mass", "energy"), lost(), strict=True):
        yield Check(
            what=f"closed network with strong waves, {CYCLES} cycles: {what} lost, relative",
            source=BOOKS,
            expected=0.0,
            got=got,
            tolerance=1e-12,
            kind="absolute",
        )


def network(start: tuple[float, ...] = (1.0, 1.0, 1.0, 1.0), mouth: bool = True) -> Rig:
    """A branched system: cones, steps, a muffler chamber, a tee with side pipe, a plenum, an open end.

    start : factors on the pressure of the cones, the chamber, the side pipe and the plenum.
    """
    rig = Rig(gamma=1.35, gas_constant=287.0, p=99_000.0, T=600.0)
    cones, muffler, side, plenum = (rig.p * f for f in start)
    head = rig.duct((0.10, 0.034, 0.034), (0.15, 0.034, 0.050), (0.12, 0.050, 0.028), cell=0.014, p=cones)
    chamber = rig.duct((0.20, 0.120, 0.120), cell=0.020, p=muffler)
    run = rig.duct((0.25, 0.040, 0.044), cell=0.020)
    branch = rig.duct((0.25, 0.036, 0.020), cell=0.016, p=side)
    tail = rig.duct((0.20, 0.044, 0.060), cell=0.020)
    hub = rig.room(6e-5)
    box = rig.room(1.5e-3, plenum)
    rig.assembly.close(head.head)
    rig.step(head.tail, chamber.head)
    rig.assembly.join(chamber.tail, run.head, 0.7 * run.head.area, 0.9 * run.head.area)
    for end in (run.tail, branch.head, tail.head):
        rig.assembly.join(end, hub, end.area, 0.6 * end.area)
    rig.assembly.join(branch.tail, box, 0.8 * branch.tail.area, branch.tail.area)
    rig.assembly.join(box, hub, 2e-5, 2e-5)
    if mouth:
        rig.mouth(tail.tail)
    else:
        rig.assembly.close(tail.tail)
    return rig.close()


def unrest() -> tuple[float, float]:
    """Largest relative pressure difference and Mach number that arose from rest."""
    rig = network()
    rig.march(SECONDS)
    live = rig.c["inverse_volume"] > 0.0
    pressure = np.max(np.abs(rig.c["p"][live] / rig.p - 1.0))
    rooms = np.max(np.abs(rig.arrays["reservoirs"]["p"] / rig.p - 1.0))
    return float(max(pressure, rooms)), float(np.max(np.abs(rig.c["u"][live] / rig.c["sound"][live])))


def lost() -> tuple[float, float]:
    """Relative change of all mass and energy in a closed network that starts with strong waves."""
    rig = network((3.0, 0.5, 1.6, 0.7), mouth=False)
    before = _books(rig)
    rig.march(SECONDS)
    after = _books(rig)
    return abs(after[0] / before[0] - 1.0), abs(after[1] / before[1] - 1.0)


def _books(rig: Rig) -> tuple[float, float]:
    live = rig.c["inverse_volume"] > 0.0
    volume = 1.0 / rig.c["inverse_volume"][live]
    rooms = rig.arrays["reservoirs"]
    mass = np.sum(rig.c["rho"][live] * volume) + np.sum(rooms["mass"])
    energy = np.sum(rig.c["energy"][live] * volume) + np.sum(rooms["energy"])
    return float(mass), float(energy)
