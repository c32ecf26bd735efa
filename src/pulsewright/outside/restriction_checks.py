"""Flow through a short restriction, subsonic to choked."""

from __future__ import annotations

from collections.abc import Iterator

from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table
from pulsewright.physics.restriction_flow import restriction_mass_flow, sonic_pressure_ratio

WANTZEL = "St. Venant & Wantzel 1839, closed formula"
NACA = "NACA Report 1135 (1953), table I"


def checks() -> Iterator[Check]:
    """Mass flow, critical ratio, and flow against the printed area ratio."""
    rows = table("restriction_flow")
    yield worst(
        "mass flow of a restriction",
        WANTZEL,
        (
            (
                f"gamma {r['gamma']:g}, p/p0 {r['p_down/p0']:.4g}",
                r["mdot_per_CdA_kg_s_m2"],
                restriction_mass_flow(
                    1.0, r["p0_Pa"], r["T0_K"], r["p_down/p0"] * r["p0_Pa"], r["gamma"], r["R_J_kgK"]
                ),
            )
            for r in rows
        ),
        1e-8,
    )
    yield worst(
        "critical pressure ratio",
        WANTZEL,
        ((f"gamma {r['gamma']:g}", r["critical_ratio"], sonic_pressure_ratio(r["gamma"])) for r in rows),
        1e-8,
    )
    yield worst(
        "choked flow over flow = area ratio",
        NACA,
        (
            (f"gamma {r['gamma']:g}, Mach {r['M']:g}", r["A/Astar"], _area_ratio(r["gamma"], r["p/p0"]))
            for r in table("isentropic")
            if r["M"] <= 1.0
        ),
        3e-7,  # ten printed digits, multiplied by 1/(1 - p/p0) at the lowest Mach number
    )


def _area_ratio(gamma: float, pressure_ratio: float) -> float:
    choked = restriction_mass_flow(1.0, 1e5, 300.0, 0.0, gamma, 287.0)
    return choked / restriction_mass_flow(1.0, 1e5, 300.0, pressure_ratio * 1e5, gamma, 287.0)
