"""Exhaust routes: from the valve through pipes, obstacles and mufflers to the open air."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from pulsewright.bench.exhaust import (
    CrossBolt,
    Crossover,
    Disc,
    End,
    ExhaustValve,
    Insert,
    Join,
    Muffler,
    Piece,
    Pipe,
    Plate,
)
from pulsewright.bench.setup import Setup
from pulsewright.kernel.layout import VOLUME
from pulsewright.network.assembly import FIXED_WALL, WALL_KINDS, Assembly, DuctEnd, GasState, Segment, area_of
from pulsewright.network.line import Line, join_hub
from pulsewright.network.mouth import FLANGED_ENTRY, SHARP_ENTRY, ZONE_LENGTH, MouthPlan, add_mouth
from pulsewright.network.options import NON_REFLECTING, Options
from pulsewright.network.perforated import add_room
from pulsewright.physics.obstacle_losses import (
    bend_loss,
    butterfly_loss,
    disc_loss,
    plate_loss,
    rod_loss,
    tee_branch_loss,
    tee_run_loss,
)

PIPE_CELL = 0.040  # [m]
PORT_CELL = 0.030
CHAMBER_CELL = 0.030
PORT_WALL = 480.0  # [K] metal of the exhaust port, assumed
FIRST_WALL = 650.0  # [K] first guess of a pipe wall
BEND_RADIUS = 1.5  # centre-line radius over bore, assumed
HUB_LENGTH = 1.0  # room of a junction over area and bore of its pipes, assumed
PACKED_OPEN_SHARE = 0.25  # holes of a packed insert over its wall, assumed
# Share of a new packing that is left; aged: half of it burnt, blown out or soaked, assumed.
FIBRE_LEFT = {"new": 1.0, "aged": 0.5, "gone": 0.0}
LOUVRE_FRICTION = 4.0  # louvres stand in the stream: factor on the pipe friction, assumed


@dataclass(slots=True)
class ExhaustPlan:
    """What the rest of the network needs to know of the laid exhaust."""

    lines: dict[int, Line] = field(default_factory=dict)  # by cylinder
    header: dict[int, float] = field(default_factory=dict)  # [m] from the valve to the first thing that sends echoes
    mouth_joints: list[int] = field(default_factory=list)
    after: dict[str, Line] = field(default_factory=dict)


@dataclass(slots=True)
class ExhaustBuilder:
    """Lays all exhaust routes of a setup."""

    setup: Setup
    assembly: Assembly
    options: Options
    rpm: float
    hot: GasState  # gas to start from
    outside: GasState
    plan: ExhaustPlan = field(default_factory=ExhaustPlan)
    waiting: dict[str, list[DuctEnd]] = field(default_factory=dict)
    tees: dict[tuple[int | None, float], int] = field(default_factory=dict)

    def build(self) -> ExhaustPlan:
        """All routes, then all collectors, then crossovers."""
        crossings: list[tuple[int, Crossover]] = []
        for cylinder, pieces in self.setup.exhaust.route.items():
            crossings += [(cylinder, p) for p in pieces if isinstance(p, Crossover)]
        for cylinder, pieces in self.setup.exhaust.route.items():
            cuts = [c.at for owner, c in crossings if cylinder in (owner, c.to)]
            self._route(cylinder, pieces, cuts if not self._cut_short else [])
        while self.waiting:
            name = self._complete()
            self._collector(name, self.waiting.pop(name))
        if not self._cut_short:
            for owner, crossing in crossings:
                self._crossover(owner, crossing)
        return self.plan

    def _complete(self) -> str:
        """A collector that all its routes have reached: those behind other collectors come last."""
        exhaust = self.setup.exhaust
        joins = [r[-1].into for r in (*exhaust.route.values(), *exhaust.after.values()) if isinstance(r[-1], Join)]
        return next(name for name in reversed(self.waiting) if len(self.waiting[name]) == joins.count(name))

    @property
    def _cut_short(self) -> bool:
        return self.options.exhaust_ends == NON_REFLECTING

    def _line(self) -> Line:
        return Line(assembly=self.assembly, start=self.hot, lossless=self.options.lossless)

    def _route(self, cylinder: int, pieces: tuple[Piece, ...], cuts: list[float]) -> None:
        line = self._line()
        self.plan.lines[cylinder] = line
        port = self.setup.engine.exhaust_port
        line.add(
            Segment(
                length=port.length, bore_in=port.bore, bore_out=port.bore, cell=PORT_CELL * self.options.grid,
                wall=FIXED_WALL, wall_temperature=PORT_WALL, stretch=self.options.calibration.exhaust_way,
            )
        )  # fmt: skip
        self._walk(line, pieces, cylinder, cuts)

    def _walk(self, line: Line, pieces: tuple[Piece, ...], cylinder: int | None, cuts: list[float]) -> None:
        """Lay pieces until the route ends; `cylinder` is None behind a collector."""
        for piece in pieces:
            if isinstance(piece, Pipe):
                self._pipes(line, piece, cylinder, cuts)
                continue
            if isinstance(piece, Crossover):
                continue
            if cylinder is not None:
                self.plan.header.setdefault(cylinder, line.length)
                if self._cut_short:
                    self._free_end(line, cylinder)
                    return
            if isinstance(piece, Join):
                self.waiting.setdefault(piece.into, []).append(line.close_line())
                return
            self._piece(line, piece)

    def _pipes(self, line: Line, pipe: Pipe, cylinder: int | None, cuts: list[float]) -> None:
        """One pipe, opened at the crossovers that lie in it."""
        port = self.setup.engine.exhaust_port.length if cylinder is not None else 0.0
        begin = line.length - port
        inside = [at - begin for at in sorted(set(cuts)) if begin < at < begin + pipe.length]
        for begin_at, end_at in zip([0.0, *inside], [*inside, pipe.length], strict=True):
            line.add(self._pipe(pipe, begin_at, end_at))
            if end_at in inside:
                hub = self._tee(line)
                self.tees[cylinder, round(begin + end_at, 6)] = hub

    def _free_end(self, line: Line, cylinder: int) -> None:
        end = line.close_line()
        target = self.options.back_pressure.get(cylinder, self.outside.p)
        target = self.outside.p if self.options.lossless else target
        joint, _ = add_mouth(self.assembly, end, self._mouth(False, 0.0), self.outside, target)
        self.plan.mouth_joints.append(joint)

    def _piece(self, line: Line, piece: Piece) -> None:
        match piece:
            case CrossBolt():
                line.obstacle(self._loss(rod_loss(piece.diameter / self._bore(line))), piece.from_end)
            case Plate():
                line.obstacle(self._loss(plate_loss(piece.width / self._bore(line), piece.angle_deg)), piece.from_end)
            case Disc():
                line.obstacle(self._loss(disc_loss(piece.open_area_fraction)), 0.0)
            case ExhaustValve():
                line.obstacle(self._loss(butterfly_loss(_at(piece.angle_by_rpm, self.rpm))), 0.0)
            case Insert():
                self._insert(line, piece)
            case Muffler():
                self._muffler(line, piece)
            case End():
                self._end(line, piece)
            case _:
                raise TypeError(f"no way to lay a {piece.piece}")

    def _end(self, line: Line, piece: End) -> None:
        end = line.close_line()
        target = self.outside.p if piece.kind == NON_REFLECTING else None
        mouth = self._mouth(piece.kind == "flanged", line.gate_loss)
        joint, _ = add_mouth(self.assembly, end, mouth, self.outside, target)
        self.plan.mouth_joints.append(joint)

    def _mouth(self, flanged: bool, loss: float) -> MouthPlan:
        entry = FLANGED_ENTRY if flanged else SHARP_ENTRY
        return MouthPlan(flanged=flanged, entry_loss=entry, through_loss=loss, zone_length=ZONE_LENGTH, kept=1.0)

    def _loss(self, band: tuple[float, float, float]) -> float:
        low, central, high = band
        t = self.options.calibration.loss_position
        return central + (t * (high - central) if t >= 0.0 else t * (central - low))

    def _bore(self, line: Line) -> float:
        return line.pending[-1].bore_out if line.pending else math.sqrt(4.0 / math.pi * line.close_line().area)

    def _pipe(self, pipe: Pipe, begin: float, end: float) -> Segment:
        """The part of a pipe between two places along it."""
        loss = 0.0 if self.options.lossless else sum(bend_loss(angle, BEND_RADIUS)[1] for angle in pipe.bends)
        wider = (pipe.bore_out - pipe.bore_in) / pipe.length
        return Segment(
            length=end - begin, bore_in=pipe.bore_in + wider * begin, bore_out=pipe.bore_in + wider * end,
            cell=PIPE_CELL * self.options.grid, wall=WALL_KINDS[pipe.wall], wall_temperature=FIRST_WALL,
            heat_factor=self.options.calibration.pipe_heat,
            loss=loss * (end - begin) / pipe.length, stretch=self.options.calibration.exhaust_way,
        )  # fmt: skip

    def _insert(self, line: Line, piece: Insert) -> None:
        outer = self._bore(line)
        line.cut(piece.length)
        tube = Segment(
            length=piece.length, bore_in=piece.bore, bore_out=piece.bore, cell=PIPE_CELL * self.options.grid,
            wall=WALL_KINDS["double"], wall_temperature=FIRST_WALL, heat_factor=self.options.calibration.pipe_heat,
        )  # fmt: skip
        if line.pending:
            line.lay()
        line.pending.append(tube)
        if piece.packed:
            self._perforated(line, outer, open_share=PACKED_OPEN_SHARE, fibre=1.0)

    def _muffler(self, line: Line, piece: Muffler) -> None:
        core = area_of(piece.core_bore)
        if piece.core == "baffled":
            for _ in range(piece.chambers):
                line.gate(core)
                line.pending.append(
                    Segment(
                        length=piece.body_length / piece.chambers, bore_in=piece.body_bore, bore_out=piece.body_bore,
                        cell=CHAMBER_CELL * self.options.grid, wall=WALL_KINDS["single"],
                        wall_temperature=FIRST_WALL - 100.0,
                    )
                )  # fmt: skip
            line.gate(core)
            return
        louvred = piece.core == "louvred"
        if line.pending:
            line.lay()
        line.pending.append(
            Segment(
                length=piece.body_length, bore_in=piece.core_bore, bore_out=piece.core_bore,
                cell=PIPE_CELL * self.options.grid, wall=WALL_KINDS["double"], wall_temperature=FIRST_WALL,
                heat_factor=self.options.calibration.pipe_heat, friction_factor=LOUVRE_FRICTION if louvred else 1.0,
            )
        )  # fmt: skip
        fibre = 0.0 if louvred else FIBRE_LEFT[piece.packing]
        self._perforated(line, piece.body_bore, open_share=piece.open_area_fraction, fibre=fibre)

    def _perforated(self, line: Line, outer_bore: float, open_share: float, fibre: float) -> None:
        """The pending tube leaks through its holes into the room around it."""
        length = line.pending[-1].length
        add_room(self.assembly, line.lay(), length, outer_bore, open_share, fibre, self.hot)

    def _collector(self, name: str, ends: list[DuctEnd]) -> None:
        """Routes that end in the same place, and the route behind it."""
        area = max(end.area for end in ends)
        room = HUB_LENGTH * sum(end.area for end in ends) * math.sqrt(4.0 * area / math.pi)
        hub = self.assembly.add_reservoir(VOLUME, self.hot, volume=room)
        for end in ends:
            join_hub(self.assembly, end, hub, tee_run_loss()[1], self.options.lossless)
        line = self._line()
        line.hub = hub
        self.plan.after[name] = line
        self._walk(line, self.setup.exhaust.after[name], None, [])

    def _tee(self, line: Line) -> int:
        """Open the line: a small hub that a side pipe can be joined to, and the line goes on behind it."""
        end = line.close_line()
        bore = math.sqrt(4.0 * end.area / math.pi)
        hub = self.assembly.add_reservoir(VOLUME, self.hot, volume=HUB_LENGTH * end.area * bore)
        join_hub(self.assembly, end, hub, tee_run_loss()[1], self.options.lossless)
        line.tail, line.hub = None, hub
        return hub

    def _crossover(self, owner: int, crossing: Crossover) -> None:
        """The tube between two routes."""
        duct = self.assembly.add_duct(
            [
                Segment(
                    length=crossing.length, bore_in=crossing.bore, bore_out=crossing.bore,
                    cell=PIPE_CELL * self.options.grid, wall=WALL_KINDS["single"], wall_temperature=FIRST_WALL,
                )
            ],
            self.hot,
        )  # fmt: skip
        at = round(crossing.at, 6)
        for end, cylinder in ((duct.head, owner), (duct.tail, crossing.to)):
            join_hub(self.assembly, end, self.tees[cylinder, at], tee_branch_loss()[1], self.options.lossless)


def _at(rows: tuple[tuple[float, float], ...], rpm: float) -> float:
    """Value of a table (rpm, value) at a speed, held outside it."""
    return float(np.interp(rpm, [r[0] for r in rows], [r[1] for r in rows]))
