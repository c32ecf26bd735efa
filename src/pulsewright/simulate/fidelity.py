"""How finely a setup is computed: for a slider that is being dragged, for a first look, or for an answer.

Levels differ in the length of the cells and in how closely a speed has to repeat itself. The physics is one
and the same. Each level states how far its torque lies from that of `final`: measured by
`benchmarks/fidelity.py` on sheets drawn at random, a regression value of this code and no promise for one sheet.
"""

from __future__ import annotations

from dataclasses import dataclass

from pulsewright.simulate.settle import Tolerance


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One step of the ladder."""

    name: str
    purpose: str
    grid: float  # factor on all cell lengths
    within: Tolerance
    speeds: str  # engine speeds where none are asked for, as they are typed
    usual_error: float  # relative, of torque against `final`: half of all speeds lie within it
    large_error: float  # nine of ten lie within it


DRAG = Level(
    name="drag",
    purpose="while a slider moves",
    grid=2.0,
    within=Tolerance(torque=5e-3, most_cycles=20, run_on=0),
    speeds="1500:6000:375",
    usual_error=0.03,
    large_error=0.075,
)
SHOW = Level(
    name="show",
    purpose="for a first look",
    grid=1.5,
    within=Tolerance(torque=2e-3),
    speeds="1500:6000:250",
    usual_error=0.003,
    large_error=0.008,
)
FINAL = Level(
    name="final",
    purpose="for an answer",
    grid=1.0,
    within=Tolerance(),
    speeds="1500:6000:250",
    usual_error=0.0,
    large_error=0.0,
)
LEVELS = {level.name: level for level in (DRAG, SHOW, FINAL)}
