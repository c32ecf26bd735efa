"""Ducts, rooms and joints without an engine, marched by the compiled kernel of the engine model.

The parts come from `network`, so that what is compared is what an engine is made of: cones, passages,
chambers, open and free ends. Gas of constant gamma, smooth walls that give no heat unless told to.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from pulsewright.kernel.cells import gas_states
from pulsewright.kernel.duct_ends import fill_ghosts
from pulsewright.kernel.layout import ATMOSPHERE, CARBURETTOR, CYLINDER_DTYPE, DEGREES, RUN, VOLUME
from pulsewright.kernel.march import march_time
from pulsewright.network.assembly import Assembly, DuctEnd, DuctRef, GasState, Segment
from pulsewright.network.mouth import MouthPlan, add_mouth
from pulsewright.physics.gas_properties import perfect_gas

Numbers = npt.NDArray[np.float64]
COURANT = 0.8
FAR = 1e6  # [kg] of gas before an end, so many that it never changes


@dataclass(slots=True)
class Rig:
    """Parts are added, `close` lays them out, `march` runs them."""

    gamma: float
    gas_constant: float
    p: float  # [Pa] at rest to start with
    T: float  # [K]
    courant: float = COURANT
    assembly: Assembly = field(init=False)
    arrays: dict[str, np.ndarray] = field(default_factory=dict)
    nothing: tuple[np.ndarray, ...] = ()  # no cylinders, no carburettors, no valve lift

    def __post_init__(self) -> None:
        self.assembly = Assembly(gas=perfect_gas(self.gamma, self.gas_constant))

    # ---- parts ------------------------------------------------------------------------------------------

    def still(self, p: float | None = None, T: float | None = None) -> GasState:
        """Gas at rest, where not said at the rig's own pressure [Pa] and temperature [K]."""
        return GasState(p=self.p if p is None else p, T=self.T if T is None else T)

    def duct(
        self, *pieces: tuple[float, float, float], cell: float, p: float | None = None, T: float | None = None
    ) -> DuctRef:
        """A duct of cones, each (length, bore in, bore out) in metres, with cells of `cell` metres."""
        segments = [Segment(length=s, bore_in=a, bore_out=b, cell=cell) for s, a, b in pieces]
        return self.assembly.add_duct(segments, self.still(p, T))

    def room(self, volume: float, p: float | None = None, T: float | None = None) -> int:
        """A well-mixed volume [m3]."""
        return self.assembly.add_reservoir(VOLUME, self.still(p, T), volume=volume)

    def open_air(self, p: float | None = None, T: float | None = None) -> int:
        """Endless gas at constant pressure."""
        state = self.still(p, T)
        return self.assembly.add_reservoir(ATMOSPHERE, state, zone_mass=FAR, far_T=state.T)

    def step(self, a: DuctEnd, b: DuctEnd) -> int:
        """A sudden change of section without loss of its own."""
        narrow = min(a.area, b.area)
        return self.assembly.join(a, b, narrow, narrow)

    def mouth(self, end: DuctEnd, flanged: bool = False) -> int:
        """An open end with its radiation, as the engine's pipes have it."""
        plan = MouthPlan(flanged=flanged, entry_loss=0.0, through_loss=0.0, zone_length=0.1, kept=1.0)
        return add_mouth(self.assembly, end, plan, self.still(), None)[0]

    def endless(self, end: DuctEnd, p: float | None = None) -> int:
        """An end behind which the duct goes on for ever, at mean pressure `p` [Pa]."""
        return self.assembly.free_field(end, self.open_air(p), self.p if p is None else p)

    # ---- run --------------------------------------------------------------------------------------------

    def close(self) -> Rig:
        """Lay out the arrays."""
        a = self.arrays = self.assembly.layout_arrays()
        run = np.zeros(1, dtype=RUN)
        run["courant"], run["longest"], run["slots"] = self.courant, 1.0, self.assembly.slots + 1
        a["run"] = run
        self.nothing = (np.zeros(0, CYLINDER_DTYPE), np.zeros(0, CARBURETTOR), np.zeros((1, DEGREES + 2)))
        return self

    @property
    def c(self) -> Any:
        """The kernel's record of all cells."""
        return self.arrays["cells"][0]

    @property
    def sound(self) -> float:
        """Speed of sound of the gas at rest. [m/s]"""
        return math.sqrt(self.gamma * self.gas_constant * self.T)

    def fill(self, duct: DuctRef, rho: Numbers, u: Numbers, p: Numbers) -> None:
        """Give the cells of a duct a state."""
        c, s = self.c, slice(duct.cells.start, duct.cells.stop)
        c["rho"][s], c["momentum"][s] = rho, rho * u
        c["energy"][s] = p / (self.gamma - 1.0) + 0.5 * rho * u * u
        c["T"][s] = p / (rho * self.gas_constant)
        self.settle()

    def settle(self) -> None:
        """Bring what follows from the conserved state up to date."""
        gas_states(self.c)
        fill_ghosts(self.c, self.arrays["ends"])

    def march(self, seconds: float) -> None:
        """Run for a time; raises where a cell is lost."""
        a = self.arrays
        cylinders, carburettors, valves = self.nothing
        march_time(
            self.c, a["run"][0], a["ends"], a["joints"], a["reservoirs"], cylinders, carburettors,
            a["leaks"], valves, seconds,
        )  # fmt: skip
        if a["run"]["failed"][0]:
            raise FloatingPointError("the march lost a cell")

    def field(self, duct: DuctRef, name: str) -> Numbers:
        """A copy of one quantity over the cells of a duct."""
        return self.c[name][duct.cells.start : duct.cells.stop].copy()

    def record(self, cells: list[int], seconds: float, step: float) -> tuple[Numbers, Numbers]:
        """Pressure and speed in some cells every `step` seconds; arrays (time, cell). [Pa], [m/s]"""
        count = round(seconds / step)
        p, u = np.empty((count, len(cells))), np.empty((count, len(cells)))
        for n in range(count):
            p[n], u[n] = self.c["p"][cells], self.c["u"][cells]
            self.march(step)
        return p, u

    def safe_step(self, highest: float = 1.0) -> float:
        """A time step that stays below the stable one while sound is at most `highest` times as fast. [s]"""
        return self.courant / (float(np.max(self.c["speed"][: self.assembly.slots + 1])) * highest)
