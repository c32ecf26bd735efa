"""Walks along a route from the engine outwards and lays its pieces as ducts and passages."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from pulsewright.network.assembly import Assembly, DuctEnd, DuctRef, GasState, Segment, area_of
from pulsewright.physics.area_losses import sudden_contraction
from pulsewright.physics.obstacle_losses import tee_run_loss

SMOOTH_STEP = 0.8  # area ratio of two bores that still count as one duct
SHORTEST_STUB = 0.014  # [m] an obstacle nearer to the end than this sits in the end


def step_areas(before: float, after: float, throat: float, loss: float, lossless: bool) -> tuple[float, float]:
    """Effective areas of a sudden change of section, forth and back. [m²]

    before, after : areas on both sides [m²]; throat : the narrowest area between them [m²]; loss : more
    loss on the dynamic head of the smaller side. Contraction by Idelchik's form, expansion by Borda-Carnot.
    `lossless` leaves only what a sudden expansion loses by itself.
    """
    if lossless:
        narrow = min(before, after)
        return _one_way(narrow, after, narrow, 0.0), _one_way(narrow, before, narrow, 0.0)
    return _one_way(before, after, throat, loss), _one_way(after, before, throat, loss)


def _one_way(up: float, down: float, throat: float, loss: float) -> float:
    narrow = sudden_contraction(throat / up) if throat < up else 0.0
    share = throat / down
    recovery = 2.0 * share * (1.0 - share)
    on_throat = loss * (throat / min(up, down)) ** 2
    return throat / math.sqrt(max(1.0 + narrow - recovery + on_throat, 0.25))


def join_hub(assembly: Assembly, end: DuctEnd, hub: int, loss: float, lossless: bool) -> None:
    """Join a duct to a junction's small room.

    Gas that flows in loses `loss` of its dynamic head (1 = all of it), gas that flows out none.
    """
    kept = 0.25 if lossless else loss
    assembly.join(end, hub, end.area / math.sqrt(kept), end.area)


@dataclass(slots=True)
class Line:
    """The part of a route laid so far."""

    assembly: Assembly
    start: GasState
    lossless: bool
    tail: DuctEnd | None = None
    pending: list[Segment] = field(default_factory=list)
    gate_loss: float = 0.0
    gate_throat: float | None = None
    placed: float = 0.0  # [m] length laid or pending
    cells: list[tuple[int, float, float]] = field(default_factory=list)  # (slot, place, bore)
    head: DuctEnd | None = None
    hub: int | None = None  # reservoir that the next duct starts from

    @property
    def length(self) -> float:
        """What is laid or pending so far. [m]"""
        return self.placed + sum(s.length for s in self.pending)

    def add(self, segment: Segment) -> None:
        """One more cone behind what is there."""
        if self.pending:
            last = area_of(self.pending[-1].bore_out)
            new = area_of(segment.bore_in)
            if min(last, new) / max(last, new) < SMOOTH_STEP:
                self.lay()
        self.pending.append(segment)

    def cut(self, from_end: float) -> list[Segment]:
        """Take the last `from_end` metres off the pending pieces and return them."""
        rest: list[Segment] = []
        left = from_end
        while self.pending and left > 1e-9:
            segment = self.pending.pop()
            if segment.length <= left + 1e-9:
                rest.insert(0, segment)
                left -= segment.length
                continue
            share = 1.0 - left / segment.length
            middle = segment.bore_in + (segment.bore_out - segment.bore_in) * share
            self.pending.append(
                replace(segment, length=segment.length - left, bore_out=middle, loss=segment.loss * share)
            )
            rest.insert(0, replace(segment, length=left, bore_in=middle, loss=segment.loss * (1.0 - share)))
            left = 0.0
        return rest

    def obstacle(self, loss: float, from_end: float) -> None:
        """Something that stands in the duct, `from_end` metres before its present end."""
        rest = self.cut(from_end) if from_end >= SHORTEST_STUB else []
        if self.pending:
            self.lay()
        self.gate_loss += 0.0 if self.lossless else loss
        self.pending.extend(rest)

    def gate(self, throat: float) -> None:
        """A throat [m²] between what is laid and what comes next."""
        if self.pending:
            self.lay()
        self.gate_throat = throat

    def lay(self) -> DuctRef:
        """Lay the pending cones as one duct and join it to what was there before."""
        duct = self.assembly.add_duct(self.pending, self.start)
        length = sum(s.length for s in self.pending)
        self.cells += [
            (slot, self.placed + float(x), float(b))
            for slot, x, b in zip(duct.cells, duct.places, duct.bores, strict=True)
        ]
        self.placed += length
        self.pending = []
        if self.head is None:
            self.head = duct.head
        if self.hub is not None:
            join_hub(self.assembly, duct.head, self.hub, tee_run_loss()[1], self.lossless)
            self.hub = None
        elif self.tail is not None:
            throat = self.gate_throat or math.inf
            throat = min(throat, self.tail.area, duct.head.area)
            forth, back = step_areas(self.tail.area, duct.head.area, throat, self.gate_loss, self.lossless)
            self.assembly.join(self.tail, duct.head, forth, back)
        self.gate_loss, self.gate_throat = 0.0, None
        self.tail = duct.tail
        return duct

    def close_line(self) -> DuctEnd:
        """Lay what is pending and hand over the outer end."""
        if self.pending:
            self.lay()
        assert self.tail is not None
        return self.tail
