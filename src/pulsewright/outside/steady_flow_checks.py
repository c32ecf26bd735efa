"""Ducts marched until the flow is steady: friction, heat, nozzle with shock, restriction.

Gas comes from an endless room through a full-width passage without loss, and leaves into another, so
that the ends of the engine model take part in every comparison.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from pulsewright.network.assembly import DuctRef
from pulsewright.outside import gas_dynamics_formulas as flow
from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import Row, table
from pulsewright.outside.tube_rig import Rig
from pulsewright.physics.restriction_flow import restriction_mass_flow

FANNO = "Fanno relations (fanno_duct_cases.csv)"
RAYLEIGH = "Rayleigh relations; Anderson, Modern Compressible Flow, app. A.4"
NACA = "NACA Report 1135 (1953)"
WANTZEL = "St. Venant & Wantzel 1839, closed formula"
MOST_RUNS = 300
AIR = 287.05  # [J/(kg K)]
NOZZLE_P0, NOZZLE_T0, NOZZLE_THROAT = 200_000.0, 300.0, 0.03  # [Pa], [K], [m]


def checks() -> Iterator[Check]:
    """Friction, heat, nozzle, restriction."""
    yield from friction_checks()
    yield from heat_checks()
    yield from nozzle_checks()
    yield from restriction_checks()


@dataclass(slots=True)
class Through:
    """A duct between two endless rooms."""

    rig: Rig
    duct: DuctRef

    def flows(self, seconds: float) -> tuple[float, float]:
        """Mean mass flow in at the head and out at the tail over a time. [kg/s]"""
        joints = self.rig.arrays["joints"]
        before = (joints["sum_ab"] - joints["sum_ba"]).copy()
        self.rig.march(seconds)
        passed = joints["sum_ab"] - joints["sum_ba"] - before
        return float(passed[0]) / seconds, float(passed[1]) / seconds

    def settle(self, length: float, steady: float = 1e-6) -> float:
        """March until the flow [kg/s] in equals the flow out to `steady`, relative; returns it."""
        for _ in range(MOST_RUNS):
            into, out = self.flows(10.0 * length / self.rig.sound)
            if abs(out - into) < steady * abs(into):
                return out
        raise ArithmeticError("the duct does not come to a steady flow")

    def mach(self) -> np.ndarray:
        """Mach number of every cell."""
        return self.rig.field(self.duct, "u") / self.rig.field(self.duct, "sound")


def through(
    gamma: float,
    R: float,
    inside: tuple[float, float],
    p_out: float,
    pieces: tuple[tuple[float, float, float], ...],
    cell: float,
    entry: float = 1.0,
    p_start: float | None = None,
) -> Through:
    """A duct from a room of (p, T) to one of `p_out`; the entry leaves the share `entry` of its width."""
    rig = Rig(gamma=gamma, gas_constant=R, p=p_start or p_out, T=inside[1])
    duct = rig.duct(*pieces, cell=cell)
    room, out = rig.open_air(*inside), rig.open_air(p_out)
    rig.assembly.join(room, duct.head, entry * duct.head.area, entry * duct.head.area)
    rig.assembly.join(duct.tail, out, duct.tail.area, duct.tail.area)
    return Through(rig.close(), duct)


def straight(length: float, bore: float) -> tuple[tuple[float, float, float], ...]:
    """A duct of one bore."""
    return ((length, bore, bore),)


# ---- friction -------------------------------------------------------------------------------------------


def friction_checks() -> Iterator[Check]:
    """Flow and pressure at the entry, Mach number at the exit, for given pressures at both sides."""
    rows = [(r, fanno_duct(r)) for r in table("fanno_duct_cases")]
    for what, column, tolerance in (
        ("flow", "mass_flux_kg_s_m2", 0.005),
        ("p1", "p1_Pa", 0.003),
        ("M2", "M2", 0.01),
    ):
        yield worst(
            f"friction duct: {what}",
            FANNO,
            ((f"M1 {r['M1']:g}", r[column], got[what]) for r, got in rows),
            tolerance,
        )


def fanno_duct(row: Row) -> dict[str, float]:
    """March one friction duct between its total pressure before and its static pressure behind."""
    g, R = row["gamma"], row["R_J_kgK"]
    inside = (
        row["p1_Pa"] * flow.total_pressure_ratio(row["M1"], g),
        row["T1_K"] * flow.total_temperature_ratio(row["M1"], g),
    )
    run = through(g, R, inside, row["p2_Pa"], straight(row["L_m"], row["D_m"]), row["L_m"] / 60)
    run.rig.c["friction"][run.duct.cells.start : run.duct.cells.stop] = row["darcy_f"] / (2.0 * row["D_m"])
    passed = run.settle(row["L_m"])
    p, mach = run.rig.field(run.duct, "p"), run.mach()
    return {
        "flow": passed / run.duct.tail.area,
        "p1": float(1.5 * p[0] - 0.5 * p[1]),
        "M2": float(1.5 * mach[-1] - 0.5 * mach[-2]),
    }


# ---- heat -----------------------------------------------------------------------------------------------

HEATED = ((0.2, 0.4), (0.3, 0.6), (0.4, 0.3))  # Mach numbers before and after (the last one is cooled)


def heat_checks() -> Iterator[Check]:
    """Flow, pressure ratio and Mach number of a duct that takes a known heat."""
    rows = {r["M"]: r for r in table("rayleigh") if r["gamma"] == 1.4}
    results = [(m1, m2, heated_duct(m1, m2)) for m1, m2 in HEATED]
    for what, expected_of in (
        ("p1/p2", lambda a, b: rows[a]["p/pstar"] / rows[b]["p/pstar"]),
        ("M1", lambda a, b: a),
        ("M2", lambda a, b: b),
    ):
        yield worst(
            f"duct with heat: {what}",
            RAYLEIGH,
            ((f"M {a:g} to {b:g}", expected_of(a, b), got[what]) for a, b, got in results),
            0.005,
        )


def heated_duct(before: float, after: float) -> dict[str, float]:
    """A duct that takes the heat between two Mach numbers, fed with the total pressure of the first."""
    g, R, p2, length, bore = 1.4, 287.05, 100_000.0, 1.0, 0.04
    rows = {r["M"]: r for r in table("rayleigh") if r["gamma"] == g}
    a, b = rows[before], rows[after]
    p1 = p2 * a["p/pstar"] / b["p/pstar"]
    T01 = 300.0
    run = through(g, R, (p1 * flow.total_pressure_ratio(before, g), T01), p2, straight(length, bore), length / 60)
    T1 = T01 / flow.total_temperature_ratio(before, g)
    speed = before * math.sqrt(g * R * T1)
    mass_flow = p1 / (R * T1) * speed * run.duct.head.area
    heat = mass_flow * g * R / (g - 1.0) * T01 * (b["T0/T0star"] / a["T0/T0star"] - 1.0)
    cells = run.duct.cells
    run.rig.c["energy_source"][cells.start : cells.stop] = heat / len(cells)
    run.settle(length)
    p, mach = run.rig.field(run.duct, "p"), run.mach()
    return {
        "p1/p2": float((1.5 * p[0] - 0.5 * p[1]) / (1.5 * p[-1] - 0.5 * p[-2])),
        "M1": float(1.5 * mach[0] - 0.5 * mach[1]),
        "M2": float(1.5 * mach[-1] - 0.5 * mach[-2]),
    }


# ---- nozzle ---------------------------------------------------------------------------------------------


def nozzle(pressure_ratio: float, exit_over_throat: float, gamma: float = 1.4) -> Through:
    """A slender nozzle, marched from high pressure at rest until nothing but the shock's jitter is left."""
    throat = NOZZLE_THROAT
    wide = throat * math.sqrt(exit_over_throat)
    pieces = ((0.15, throat * math.sqrt(2.0), throat), (0.45, throat, wide))
    inside = (NOZZLE_P0, NOZZLE_T0)
    run = through(gamma, AIR, inside, NOZZLE_P0 * pressure_ratio, pieces, 0.6 / 150, p_start=NOZZLE_P0)
    run.rig.march(0.2)
    return run


def nozzle_checks() -> Iterator[Check]:
    """A choked nozzle with the shock at three places: flow, pressure lost, exit, place of the shock."""
    ratio, g = 2.0, 1.4
    rows: dict[str, list[tuple[str, float, float]]] = {}
    for pressure_ratio in (0.8, 0.7, 0.6):
        exit_mach = flow.exit_mach_behind_shock(pressure_ratio, ratio, g)
        kept = pressure_ratio * flow.total_pressure_ratio(exit_mach, g)
        expected = (1.0, kept, exit_mach, flow.area_ratio(flow.shock_mach(kept, g), g))
        for (what, got), value in zip(shocked_nozzle(pressure_ratio, ratio, g).items(), expected, strict=True):
            rows.setdefault(what, []).append((f"back pressure {pressure_ratio:g}", value, got))
    for what, values in rows.items():
        yield worst(f"nozzle with shock: {what}", NACA, values, 0.01)


def shocked_nozzle(pressure_ratio: float, exit_over_throat: float, gamma: float) -> dict[str, float]:
    """What the marched nozzle does, in the ratios of the tables."""
    run = nozzle(pressure_ratio, exit_over_throat, gamma)
    _, out = run.flows(0.05)
    mach, p = run.mach(), run.rig.field(run.duct, "p")
    throat = float(np.min(run.duct.bores))
    shock = int(np.argmax(mach)) + 1  # the cell in which the scheme holds the shock
    choked = 0.25 * math.pi * NOZZLE_THROAT**2 * restriction_mass_flow(1.0, NOZZLE_P0, NOZZLE_T0, 0.0, gamma, AIR)
    return {
        "flow over choked flow": out / choked,
        "total pressure kept": float(p[-1] / NOZZLE_P0 * flow.total_pressure_ratio(float(mach[-1]), gamma)),
        "exit Mach number": float(mach[-1]),
        "area at the shock over throat": float((run.duct.bores[shock] / throat) ** 2),
    }


# ---- restriction ----------------------------------------------------------------------------------------


def restriction_checks() -> Iterator[Check]:
    """A narrow entry into a wide duct."""
    rows = [r for r in table("restriction_flow") if r["gamma"] in (1.4, 1.33)]
    yield worst(
        "narrow passage into a wide duct, subsonic to choked: flow",
        WANTZEL,
        (
            (
                f"gamma {r['gamma']:g}, p0 {r['p0_Pa']:g}, p/p0 {r['p_down/p0']:.4g}",
                r["mdot_per_CdA_kg_s_m2"],
                narrow_entry(r),
            )
            for r in rows
        ),
        0.005,
    )


def narrow_entry(row: Row) -> float:
    """Mass flow through a passage of a twentieth of the duct's area, over its effective area."""
    length, share = 0.1, 0.05
    inside = (row["p0_Pa"], row["T0_K"])
    run = through(
        row["gamma"],
        row["R_J_kgK"],
        inside,
        row["p_down/p0"] * row["p0_Pa"],
        straight(length, 0.05),
        0.01,
        share,
    )
    run.rig.c["friction"][run.duct.cells.start : run.duct.cells.stop] = 0.0
    return run.settle(length) / (share * run.duct.head.area)
