"""Intake: mouth, ducts, carburettor body, branches and ports."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from pulsewright.bench.carburettor import AIRBOX, Carburettor
from pulsewright.bench.intake import Duct
from pulsewright.bench.setup import Setup
from pulsewright.kernel.layout import VOLUME
from pulsewright.network.assembly import Assembly, DuctEnd, GasState, Segment, cone_volume
from pulsewright.network.line import Line, join_hub
from pulsewright.network.metering import throttle_loss
from pulsewright.network.mouth import (
    FLANGED_ENTRY,
    INTAKE_ZONE_LENGTH,
    ROUNDED_ENTRY,
    MouthPlan,
    add_mouth,
)
from pulsewright.network.options import NON_REFLECTING, Options
from pulsewright.physics.obstacle_losses import tee_run_loss

DUCT_CELL = 0.010
BODY_CELL = 0.010
THROAT_LENGTH = 0.010  # [m] of a venturi that is parallel, assumed
PLATE_FROM_BACK = (
    0.010  # [m] throttle before the engine-side flange, at most 0.4 of the cone behind the throat, assumed
)
LONG_THROAT_CELL = 0.016  # [m] cells longer than this swallow the throat; lambda is then some 0.01 to 0.02 too lean
PORT_CELL = 0.012
BODY_ENTRY = 0.25  # [-] a carburettor's own mouth, half rounded, assumed
THROAT_LOSS = 0.12  # [-] of the throat's dynamic head, diffuser and throttle spindle, assumed
DUCT_WARMER = 12.0  # [K] manifold wall above the air outside, assumed
PORT_WARMER = 75.0  # [K] port wall above the air outside, assumed
# Room of the manifold's branching over area and bore of what leads to it: two branches part over about
# two bores. It also stands for mixing along the duct by pulsating flow, some 0.1 m in a cycle, assumed.
HUB_ROOM = 2.0


@dataclass(slots=True)
class IntakePlan:
    """What the rest of the network needs of the laid intake."""

    ports: dict[int, DuctEnd] = field(default_factory=dict)  # valve end by cylinder
    venturi_cells: list[int] = field(default_factory=list)  # by carburettor
    throttles: list[int] = field(default_factory=list)  # joint by carburettor, -1: wide open
    bowls: list[int] = field(default_factory=list)  # reservoir that vents the bowl
    mouth_joints: list[int] = field(default_factory=list)
    lines: dict[int, Line] = field(default_factory=dict)  # branch and port by cylinder
    trunks: list[Line] = field(default_factory=list)  # mouth to branching, by carburettor
    port_cells: int = 0  # of every port, the last ones before its valve


@dataclass(slots=True)
class IntakeBuilder:
    """Lays the intake of a setup."""

    setup: Setup
    assembly: Assembly
    options: Options
    outside: GasState  # what stands in front of the mouth
    inside: GasState  # what fills the ducts to start with
    plan: IntakePlan = field(default_factory=IntakePlan)
    box_air: int | None = None  # reservoir of the open air in front of a plenum

    def build(self) -> IntakePlan:
        """Every carburettor with all that hangs on it."""
        box = self._plenum() if self.setup.intake.plenum else None
        for carburettor in self.setup.carburettors:
            self._trunk(carburettor, box)
        return self.plan

    def _line(self) -> Line:
        return Line(assembly=self.assembly, start=self.inside, lossless=False)

    def _segment(self, duct: Duct, cell: float, warmer: float, heat: float = 1.0) -> Segment:
        return Segment(
            length=duct.length, bore_in=duct.bore_in, bore_out=duct.bore_out, cell=cell * self.options.grid,
            wall_temperature=self.outside.T + warmer, heat_factor=heat,
        )  # fmt: skip

    def _body(self, c: Carburettor) -> list[Segment]:
        """The carburettor as two cones with a short parallel throat between them.

        The throat is an odd number of cells, so that it is metered in the middle of one: metered beside it,
        torque moved by up to 7 % and lambda by 0.06 with the side on which the cell lay. Where cells are much
        longer, one takes in the throat and as much of both cones, with the room that they have there.
        """
        front, back = c.venturi_from_front, c.body_length - c.venturi_from_front
        cell = BODY_CELL * self.options.grid
        if cell > LONG_THROAT_CELL:
            cell = front / (max(round(front / cell - 0.5), 1) + 0.5)  # those ahead are as long as the throat's
        cell = min(cell, front, back)
        throat = min(THROAT_LENGTH, front, back)
        flank = max(0.5 * (cell - throat), 0.0) if cell > LONG_THROAT_CELL else 0.0
        ahead, behind = front - 0.5 * throat, back - 0.5 * throat
        before, after = flank / ahead, flank / behind  # shares of the cones
        widens = c.throttle_bore - c.venturi
        into, out = c.venturi + widens * before, c.venturi + widens * after
        half = 0.5 * THROAT_LOSS
        middle = self._cone(throat + 2.0 * flank, into, out, cell, half * (before + after))
        return [
            self._cone(ahead - flank, c.throttle_bore, into, cell, half * (1.0 - before)),
            self._throat(c.venturi, throat, flank, middle),
            self._cone(behind - flank, out, c.throttle_bore, cell, half * (1.0 - after)),
        ]

    def _throttle(self, line: Line, c: Carburettor) -> int:
        """The passage that butterfly, slide or piston leave open; returns the joint that it will be."""
        rest = line.cut(min(PLATE_FROM_BACK, 0.4 * line.pending[-1].length))
        line.lay()
        line.gate_loss += throttle_loss(c)
        line.pending.extend(rest)
        return len(self.assembly.joints)

    def _throat(self, bore: float, length: float, flank: float, whole: Segment) -> Segment:
        """The parallel throat in an odd number of cells, or one cell with it between two flanks."""
        if flank == 0.0:
            return replace(whole, cell=length / (round(length / whole.cell) // 2 * 2 + 1))
        flanks = cone_volume(flank, whole.bore_in, bore) + cone_volume(flank, bore, whole.bore_out)
        return replace(whole, volume=cone_volume(length, bore, bore) + flanks)

    def _cone(self, length: float, bore_in: float, bore_out: float, cell: float, loss: float) -> Segment:
        return Segment(
            length=length, bore_in=bore_in, bore_out=bore_out, cell=cell, wall_temperature=self.outside.T, loss=loss
        )  # fmt: skip

    def _trunk(self, c: Carburettor, box: int | None) -> None:
        line = self._line()
        intake = self.setup.intake
        for duct in intake.before_carburettor:
            line.add(self._segment(duct, DUCT_CELL, 0.0))
        throat = line.length + c.venturi_from_front
        for segment in self._body(c):
            line.add(segment)
        self.plan.throttles.append(-1 if c.wide_open else self._throttle(line, c))
        for duct in intake.after_carburettor:
            line.add(self._segment(duct, DUCT_CELL, DUCT_WARMER))
        branches = [intake.branch.get(n, ()) for n in c.feeds]
        if len(c.feeds) == 1:
            self._branch(line, c.feeds[0], branches[0])
            outer = None
        else:
            outer = line.close_line()
        self.plan.trunks.append(line)
        self.plan.venturi_cells.append(min(line.cells, key=lambda row: abs(row[1] - throat))[0])
        self._mouth(line, box, c.bowl_vent)
        if outer is not None:
            self._branching(outer, c.feeds, branches)

    def _branching(self, outer: DuctEnd, feeds: tuple[int, ...], branches: list[tuple[Duct, ...]]) -> None:
        bore = math.sqrt(4.0 * outer.area / math.pi)
        hub = self.assembly.add_reservoir(VOLUME, self.inside, volume=HUB_ROOM * outer.area * bore)
        join_hub(self.assembly, outer, hub, tee_run_loss()[1], False)
        for number, ducts in zip(feeds, branches, strict=True):
            branch = self._line()
            branch.hub = hub
            self._branch(branch, number, ducts)

    def _branch(self, line: Line, cylinder: int, ducts: tuple[Duct, ...]) -> None:
        for duct in ducts:
            line.add(self._segment(duct, DUCT_CELL, DUCT_WARMER))
        port = self.setup.engine.intake_port
        segment = self._segment(Duct(length=port.length, bore_in=port.bore, bore_out=port.bore), PORT_CELL, PORT_WARMER)
        line.add(segment)
        self.plan.port_cells = max(round(segment.length / segment.cell), 1)
        self.plan.ports[cylinder] = line.close_line()
        self.plan.lines[cylinder] = line

    def _mouth(self, line: Line, box: int | None, bowl_vent: str) -> None:
        assert line.head is not None
        if box is not None:
            assert self.box_air is not None
            self.assembly.join(line.head, box, line.head.area, line.head.area / math.sqrt(1.0 + ROUNDED_ENTRY))
            self.plan.bowls.append(box if bowl_vent == AIRBOX else self.box_air)
            return
        joint, air = self._open_air(line.head)
        self.plan.mouth_joints.append(joint)
        self.plan.bowls.append(air)

    def _open_air(self, end: DuctEnd) -> tuple[int, int]:
        mouth = self.setup.intake.mouth
        plan = MouthPlan(
            flanged=False,
            entry_loss=ROUNDED_ENTRY if mouth.kind == "stack" else BODY_ENTRY,
            through_loss=mouth.loss,
            zone_length=INTAKE_ZONE_LENGTH,
            kept=self.options.calibration.kept_fuel if self.options.mixture is None else 1.0,
        )
        target = self.outside.p if self.options.intake_ends == NON_REFLECTING else None
        return add_mouth(self.assembly, end, plan, self.outside, target)

    def _plenum(self) -> int:
        """A still-air box behind a short mouth as wide as the first duct; full of what the engine breathes.

        Filled with the ducts' mixture to start with, it took many cycles to be rid of it, and drowned the engine.
        """
        intake = self.setup.intake
        box = self.assembly.add_reservoir(VOLUME, self.outside, volume=intake.plenum or 1.0)
        before, carburettors = intake.before_carburettor, self.setup.carburettors
        first = before[0].bore_in if before else carburettors[0].throttle_bore
        bore = first * math.sqrt(len(self.setup.carburettors))
        neck = self._line()
        neck.add(self._segment(Duct(length=0.06, bore_in=bore, bore_out=bore), DUCT_CELL, 0.0))
        end = neck.close_line()
        assert neck.head is not None
        self.assembly.join(end, box, end.area, end.area / math.sqrt(1.0 + FLANGED_ENTRY))
        joint, self.box_air = self._open_air(neck.head)
        self.plan.mouth_joints.append(joint)
        return box
