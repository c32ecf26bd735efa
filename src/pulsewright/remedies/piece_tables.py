"""Exhaust pieces as the tables that a sheet holds, so that a changed route can be written as a change."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

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
from pulsewright.units import show


def piece_tables(pieces: Sequence[Piece]) -> list[dict[str, Any]]:
    """A route as a list of tables; reading it gives the same pieces again."""
    return [{"piece": piece.piece, **_keys(piece)} for piece in pieces]


def mm(length: float) -> str:
    """A length as a sheet has it. [m]"""
    return show(length, "length")


def _keys(piece: Piece) -> dict[str, Any]:
    match piece:
        case Pipe():
            bores = (
                {"bore": mm(piece.bore_in)}
                if piece.bore_in == piece.bore_out
                else {"bore_in": mm(piece.bore_in), "bore_out": mm(piece.bore_out)}
            )
            bends = {"bends": list(piece.bends)} if piece.bends else {}
            return {"length": mm(piece.length), **bores, "wall": piece.wall, **bends}
        case Plate():
            return {"width": mm(piece.width), "angle": f"{piece.angle_deg:g} deg", "from_end": mm(piece.from_end)}
        case CrossBolt():
            return {"diameter": mm(piece.diameter), "from_end": mm(piece.from_end)}
        case Disc():
            return {"open_area_fraction": round(piece.open_area_fraction, 6)}
        case Insert():
            return {"length": mm(piece.length), "bore": mm(piece.bore), "packed": piece.packed}
        case Muffler():
            return {
                "body_length": mm(piece.body_length), "body_bore": mm(piece.body_bore),
                "core_bore": mm(piece.core_bore), "core": piece.core, "chambers": piece.chambers,
                "open_area_fraction": round(piece.open_area_fraction, 6),
                **({"packing": piece.packing} if piece.core == "perforated packed" else {}),
            }  # fmt: skip
        case ExhaustValve():
            rows = [list(row) for row in piece.angle_by_rpm]
            return {
                "bore": mm(piece.bore),
                **({"angle_by_rpm": rows} if len(rows) > 1 else {"angle": f"{rows[0][1]:g} deg"}),
            }
        case Join():
            return {"into": piece.into}
        case Crossover():
            return {"to": piece.to, "at": mm(piece.at), "bore": mm(piece.bore), "length": mm(piece.length)}
        case End():
            return {"kind": piece.kind}
