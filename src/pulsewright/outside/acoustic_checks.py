"""The acoustic formulas that the solver is compared with, against tables made apart from them."""

from __future__ import annotations

import math
from collections.abc import Iterator

from pulsewright.outside import acoustic_formulas as sound
from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import Row, table
from pulsewright.physics.open_end import reflection

MUNJAL = "Munjal, Acoustics of Ducts and Mufflers, ch. 2 (from memory)"
SOUND_SPEED = 343.2  # [m/s] of tl_elements.csv
PIPE, CHAMBER = math.pi / 4 * 0.040**2, math.pi / 4 * 0.120**2  # [m2]
RING = CHAMBER - PIPE
BRANCH, NECK = math.pi / 4 * 0.030**2, math.pi / 4 * 0.012**2


def checks() -> Iterator[Check]:
    """Mufflers, steps, plates, then the open pipe's own tones."""
    yield worst(
        "transmission loss of an expansion chamber in dB",
        MUNJAL,
        (
            (
                f"area ratio {r['area_ratio_m']:g}, kL/pi {r['kL/pi']:g}",
                r["TL_dB"],
                sound.chamber_loss(r["area_ratio_m"], math.pi * r["kL/pi"]),
            )
            for r in table("tl_expansion_chamber")
        ),
        1e-4,
        "absolute",
    )
    for column in ELEMENTS:
        yield worst(
            f"transmission loss, {column.removesuffix('_dB').replace('_', ' ')}, dB",
            MUNJAL,
            ((f"{r['f_Hz']:g} Hz", r[column], element_loss(column, r["f_Hz"])) for r in table("tl_elements")),
            1e-4,
            "absolute",
        )
    yield from _joints()
    yield worst(
        "tones of a pipe closed at one end",
        "f = (2n-1) c / (4 (L + l)), l by Levine & Schwinger 1948",
        ((f"{r['L_m']:g} m, mode {r['mode']:g}", r["f_with_l(ka)_Hz"], _tone(r)) for r in table("closed_open_pipe")),
        5e-4,
    )


def element_loss(name: str, frequency: float) -> float:
    """Transmission loss of one of the mufflers of tl_elements.csv. [dB], frequency [Hz]"""
    return sound.transmission_loss(ELEMENTS[name](2.0 * math.pi * frequency / SOUND_SPEED), PIPE)


def _extended(k: float) -> sound.Matrix:
    inlet = sound.side_branch(sound.closed_tube(k, 0.150, RING))
    outlet = sound.side_branch(sound.closed_tube(k, 0.075, RING))
    return inlet @ sound.tube(k, 0.075, CHAMBER) @ outlet


def _two_chambers(k: float) -> sound.Matrix:
    chamber = sound.tube(k, 0.150, CHAMBER)
    return chamber @ sound.tube(k, 0.100, PIPE) @ chamber


ELEMENTS = {
    "simple_chamber_dB": lambda k: sound.tube(k, 0.300, CHAMBER),
    "extended_inlet_outlet_dB": _extended,
    "two_chambers_dB": _two_chambers,
    "quarter_wave_branch_dB": lambda k: sound.side_branch(sound.closed_tube(k, 0.250, BRANCH)),
    "helmholtz_branch_dB": lambda k: sound.side_branch(sound.resonator(k, 0.5e-3, 0.030, NECK)),
}


def _joints() -> Iterator[Check]:
    source = "continuity of pressure and flow"
    rows = table("area_change_and_branch")
    for what, column, formula in (
        ("reflection at a step", "R_p_step", sound.step_reflection),
        ("reflection at a branch", "R_p_side_branch_of_area_S2", sound.branch_reflection),
    ):
        yield worst(
            what,
            source,
            ((f"area ratio {r['S2/S1']:g}", r[column], formula(r["S2/S1"])) for r in rows),
            1e-7,
            "absolute",
        )
    yield worst(
        "reflection of a plate in mean flow",
        "quasi-steady dp = K rho U^2 / 2",
        (
            (
                f"K {r['K_loss']:g}, Mach {r['Mach']:g}",
                r["R_p"],
                sound.plate_reflection(r["K_loss"], r["Mach"]),
            )
            for r in table("lossy_plate_in_flow")
        ),
        1e-6,
    )


def _tone(row: Row) -> float:
    """Tone of a pipe with the end correction of our own open end, which depends on the tone. [Hz]"""
    odd = (2.0 * row["mode"] - 1.0) * row["c_m_s"] / 4.0
    frequency = odd / row["L_m"]
    for _ in range(20):
        _, correction = reflection(2.0 * math.pi * frequency * row["a_m"] / row["c_m_s"])
        frequency = odd / (row["L_m"] + correction * row["a_m"])
    return frequency
