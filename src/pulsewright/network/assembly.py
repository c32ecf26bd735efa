"""Collects ducts, reservoirs and joints, and lays them out as the flat arrays of the kernel."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np

from pulsewright.errors import InputError
from pulsewright.kernel import layout
from pulsewright.kernel.skin import SKIN
from pulsewright.physics.gas_properties import WorkingGas, blend

ROUGHNESS = 0.03e-3  # [m] drawn steel tube, used, assumed
FIXED_WALL = -1
WALL_KINDS = {"single": 0, "double": 1, "wrapped": 2, "coated": 3}
LEAST_CELLS = 2  # a duct end looks at two cells


def area_of(bore: float) -> float:
    """Cross-section of a round bore. [m²]"""
    return 0.25 * math.pi * bore * bore


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A cone of a duct with cells of one length and one kind of wall."""

    length: float  # [m]
    bore_in: float  # [m]
    bore_out: float  # [m]
    cell: float  # [m] wished cell length
    wall: int = FIXED_WALL  # kind of wall, or FIXED_WALL
    wall_temperature: float = 300.0  # [K] fixed or first guess
    loss: float = 0.0  # [-] spread over the length, on the local dynamic head (bends)
    drag: float = 0.0  # [Pa s/m²] pressure lost over a metre at one metre a second (packing)
    heat_factor: float = 1.0
    friction_factor: float = 1.0
    stretch: float = 1.0  # way of a wave over `length`
    thickness: float = 1.2e-3  # [m] of the wall, assumed
    volume: float | None = None  # [m³] of one cell that is no plain cone


@dataclass(frozen=True, slots=True, kw_only=True)
class GasState:
    """Gas at rest to start from."""

    p: float
    T: float
    yb: float = 0.0
    yv: float = 0.0
    yz: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctEnd:
    """Where a joint takes hold of a duct."""

    cell: int
    face: int
    sign: float
    area: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctRef:
    """A laid-out duct."""

    head: DuctEnd
    tail: DuctEnd
    cells: range  # slots
    places: np.ndarray  # [m] middle of each cell from the duct's head
    bores: np.ndarray  # [m]


@dataclass(slots=True)
class Assembly:
    """Grows part by part; `layout_arrays` ends it."""

    gas: WorkingGas
    slots: int = 0
    ducts: list[tuple[DuctRef, list[dict[str, float]], GasState]] = field(default_factory=list)
    joints: list[dict[str, Any]] = field(default_factory=list)
    reservoirs: list[dict[str, Any]] = field(default_factory=list)
    leaks: list[dict[str, Any]] = field(default_factory=list)

    def add_duct(self, segments: list[Segment], start: GasState) -> DuctRef:
        """Lay out one duct without steps; its segments follow each other from head to tail."""
        least = LEAST_CELLS if len(segments) == 1 else 1
        rows = [row for s in segments for row in _cells_of(s, least)]
        first = self.slots + 1
        last = first + len(rows) - 1
        self.slots = last + 2
        # where two segments differ a little in bore, the face between them takes the mean
        for before, after in pairwise(rows):
            before["area_out"] = after["area_in"] = 0.5 * (before["area_out"] + after["area_in"])
        lengths = np.array([r["length"] / r["stretch"] for r in rows])
        ref = DuctRef(
            head=DuctEnd(cell=first, face=first - 1, sign=-1.0, area=rows[0]["area_in"]),
            tail=DuctEnd(cell=last, face=last, sign=1.0, area=rows[-1]["area_out"]),
            cells=range(first, last + 1),
            places=np.cumsum(lengths) - 0.5 * lengths,
            bores=np.array([r["bore"] for r in rows]),
        )
        self.ducts.append((ref, rows, start))
        return ref

    def add_reservoir(self, kind: int, start: GasState, **more: float) -> int:
        """A chamber (volume [m³]), a mouth (zone_mass [kg], kept) or a cylinder; returns its number."""
        self.reservoirs.append({"kind": kind, "p": start.p, "T": start.T, "start": start, **more})
        return len(self.reservoirs) - 1

    def join(self, a: DuctEnd | int, b: DuctEnd | int, forth: float, back: float, **more: float) -> int:
        """A passage between two duct ends or reservoirs, with its effective area each way [m²]."""
        joint: dict[str, Any] = {"kind": layout.PASSAGE, "area_ab": forth, "area_ba": back, **more}
        for name, side in (("a", a), ("b", b)):
            joint.update(_side(name, side))
        return self._keep(joint)

    def free_field(self, end: DuctEnd, reservoir: int, target: float) -> int:
        """An end that sends no echo back, at a mean pressure `target` [Pa]."""
        return self._keep({"kind": layout.FREE_FIELD, "target": target} | _side("a", end) | _side("b", reservoir))

    def close(self, end: DuctEnd) -> int:
        """A closed end."""
        return self._keep({"kind": layout.WALL} | _side("a", end))

    def _keep(self, joint: dict[str, Any]) -> int:
        self.joints.append(joint)
        return len(self.joints) - 1

    def layout_arrays(self) -> dict[str, np.ndarray]:
        """Flat arrays of the kernel, gas at rest everywhere."""
        try:
            capacity = layout.capacity_for(self.slots + 1)
        except ValueError as error:
            raise InputError(
                f"this setup needs {error}",
                hint="use longer cells, or check the lengths of pipes and ducts",
            ) from error
        cells = layout.on_cache_lines(np.zeros(1, dtype=layout.cells_dtype(capacity)))
        cells["tiles"] = layout.tiles_of(self.slots + 1)
        for name in layout.PASSING.names or ():  # lanes without a passage are computed too: on some gas, not on nothing
            cells["passing"][name] = 1.4 if name == "gamma" else 1.0
        skin = np.zeros(capacity, dtype=SKIN)
        _fill_everywhere(cells[0], self.gas)
        for ref, rows, start in self.ducts:
            _fill_duct(cells[0], skin, ref, rows, start, self.gas)
        ends = [
            [end.face if end.sign < 0 else end.cell + 1, end.cell, end.cell + (1 if end.sign < 0 else -1)]
            for ref, _rows, _start in self.ducts
            for end in (ref.head, ref.tail)
        ]
        return {
            "cells": cells,
            "skin": skin,
            "ends": np.array(ends, dtype=np.int64).reshape(-1, 3),
            "joints": _fill_table(layout.JOINT, self.joints, _JOINT_DEFAULTS),
            "reservoirs": _fill_reservoirs(self.reservoirs, self.gas),
            "leaks": _fill_table(layout.LEAK, self.leaks, {}),
        }


_JOINT_DEFAULTS = {
    "a_cell": -1, "b_cell": -1, "a_reservoir": -1, "b_reservoir": -1, "valve": -1, "guess_a": 1.0, "guess_b": 1.0,
}  # fmt: skip


def _side(name: str, side: DuctEnd | int) -> dict[str, Any]:
    if isinstance(side, int):
        return {f"{name}_reservoir": side, f"{name}_cell": -1}
    return {
        f"{name}_cell": side.cell, f"{name}_face": side.face, f"{name}_sign": side.sign, f"{name}_area": side.area,
        f"{name}_reservoir": -1,
    }  # fmt: skip


def cone_volume(length: float, bore_in: float, bore_out: float) -> float:
    """Room in a cone. [m³]"""
    return math.pi / 12.0 * length * (bore_in * bore_in + bore_in * bore_out + bore_out * bore_out)


def _cells_of(s: Segment, least: int) -> list[dict[str, float]]:
    count = 1 if s.volume else max(least, round(s.length / s.cell))
    faces = np.linspace(0.0, 1.0, count + 1)
    bores = s.bore_in + (s.bore_out - s.bore_in) * faces
    step = s.stretch * s.length / count
    rows = []
    for n in range(count):
        b0, b1 = bores[n], bores[n + 1]
        volume = s.volume or cone_volume(step, b0, b1)
        rows.append(
            {
                "length": step, "area_in": area_of(b0), "area_out": area_of(b1), "volume": volume,
                "bore": math.sqrt(volume / step * 4.0 / math.pi), "wall": s.wall,
                "wall_temperature": s.wall_temperature,
                "loss_per_length": s.loss / (s.stretch * s.length), "stretch": s.stretch, "drag": s.drag,
                "heat_factor": s.heat_factor,
                "friction_factor": s.friction_factor, "thickness": s.thickness,
            }
        )  # fmt: skip
    return rows


def _energy(gas: WorkingGas, start: GasState) -> tuple[float, float, float]:
    """Internal energy [J/kg], gas constant [J/(kg K)] and gamma of a start state."""
    weights = np.array(blend(start.yb, start.yv, start.yz, gas.correct_fuel, gas.rich_fuel))
    k = weights @ gas.energy
    t = start.T / 1000.0
    powers = np.arange(1, k.size + 1)
    e = float(np.sum(k * t**powers))
    cv = float(np.sum(k * powers * t ** (powers - 1)) / 1000.0)
    R = float(weights @ gas.gas_constant)
    return e, R, 1.0 + R / cv


def _fill_everywhere(c: Any, gas: WorkingGas) -> None:
    """Padding slots: gas at rest with no volume."""
    _set_gas(c, slice(None), GasState(p=1.0e5, T=300.0), gas)
    c["area"][:] = 0.0
    c["inverse_length"][:] = 1.0
    c["wall"][:] = 300.0
    for name in ("wider_before", "wider_after", "over_left", "over_right"):
        c[name][:] = 1.0
    c["gas_constant"] = gas.gas_constant
    c["gas_energy"] = gas.energy
    c["correct_fuel"], c["rich_fuel"] = gas.correct_fuel, gas.rich_fuel


def _set_gas(c: Any, where: Any, start: GasState, gas: WorkingGas) -> None:
    e, R, gamma = _energy(gas, start)
    rho = start.p / (R * start.T)
    sound = math.sqrt(gamma * R * start.T)
    for name, value in (
        ("rho", rho), ("energy", rho * e), ("burned", rho * start.yb), ("vapour", rho * start.yv),
        ("burned_fuel", rho * start.yz), ("p", start.p), ("T", start.T), ("R", R), ("gamma", gamma),
        ("cp", gamma * R / (gamma - 1.0)),
        ("sound", sound), ("e", e), ("yb", start.yb), ("yv", start.yv), ("yz", start.yz), ("speed", 0.0),
        ("u", 0.0), ("momentum", 0.0),
    ):  # fmt: skip
        c[name][where] = value


def _fill_duct(
    c: Any, skin: np.ndarray, ref: DuctRef, rows: list[dict[str, float]], start: GasState, gas: WorkingGas
) -> None:
    first, last = ref.cells.start, ref.cells.stop - 1
    whole = slice(first - 1, last + 2)
    _set_gas(c, whole, start, gas)
    c["area"][first - 1] = rows[0]["area_in"]
    for slot, row in zip(ref.cells, rows, strict=True):
        c["area"][slot] = row["area_out"]
        c["area_step"][slot] = row["area_out"] - row["area_in"]
        c["stretch"][slot] = (row["area_out"] - row["area_in"]) / row["volume"]
        c["inverse_volume"][slot] = 1.0 / row["volume"]
        c["inverse_length"][slot] = 1.0 / row["length"]
        c["wall"][slot] = row["wall_temperature"]
        c["drag"][slot] = row["drag"]
        skin[slot] = (
            row["bore"], ROUGHNESS / row["bore"], row["loss_per_length"], row["wall"], row["thickness"],
            row["heat_factor"], row["friction_factor"], 1,
        )  # fmt: skip
    c["speed"][first : last + 1] = c["sound"][first : last + 1] * c["inverse_length"][first : last + 1]
    mean = np.array([row["volume"] / row["length"] for row in rows])
    inside = slice(first, last + 1)
    c["over_left"][inside] = mean / [row["area_in"] for row in rows]
    c["over_right"][inside] = mean / [row["area_out"] for row in rows]
    c["wider_before"][first + 1 : last + 1] = mean[:-1] / mean[1:]
    c["wider_after"][first:last] = mean[1:] / mean[:-1]


def _fill_table(dtype: np.dtype, rows: list[dict[str, Any]], defaults: dict[str, Any]) -> np.ndarray:
    table = np.zeros(len(rows), dtype=dtype)
    for n, row in enumerate(rows):
        for name, value in (defaults | row).items():
            table[n][name] = value
    return table


def _fill_reservoirs(rows: list[dict[str, Any]], gas: WorkingGas) -> np.ndarray:
    table = np.zeros(len(rows), dtype=layout.RESERVOIR)
    for n, row in enumerate(rows):
        start: GasState = row["start"]
        e, R, gamma = _energy(gas, start)
        volume = row.get("volume", 1.0)
        mass = start.p * volume / (R * start.T)
        r = table[n]
        r["kind"], r["p"], r["T"], r["R"], r["gamma"], r["e"] = row["kind"], start.p, start.T, R, gamma, e
        r["yb"], r["yv"], r["yz"] = start.yb, start.yv, start.yz
        r["volume"], r["mass"], r["energy"] = volume, mass, mass * e
        r["burned"], r["vapour"], r["burned_fuel"] = mass * start.yb, mass * start.yv, mass * start.yz
        r["far_T"] = row.get("far_T", start.T)
        r["far_yv"] = row.get("far_yv", 0.0)
        r["zone_mass"] = row.get("zone_mass", 1.0)
        r["kept"] = row.get("kept", 1.0)
    return table
