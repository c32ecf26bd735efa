"""Small sound waves in the marched ducts: tones, open ends, mufflers, steps, branches, plates."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterator

import numpy as np

from pulsewright.kernel.layout import FREE_FIELD
from pulsewright.network.assembly import DuctEnd, DuctRef, area_of
from pulsewright.network.perforated import GRAZING, add_room
from pulsewright.outside.acoustic_checks import MUNJAL, element_loss
from pulsewright.outside.acoustic_formulas import perforated_tube, transmission_loss
from pulsewright.outside.acoustic_rig import GAMMA, PRESSURE, SOUND_SPEED, Waves, add_pulse, listen, sound_rig
from pulsewright.outside.check import Check, worst
from pulsewright.outside.open_end_checks import FLANGED, UNFLANGED
from pulsewright.outside.tables import Row, table
from pulsewright.outside.tube_rig import Rig
from pulsewright.physics.packing import resistivity, softer_spring, way_through

TONES = "f = (2n-1) c / (4 (L + l)), l by Levine & Schwinger 1948"
CONTINUITY = "continuity of pressure and flow"
CELL = 0.010  # [m]
FINE = 0.005  # [m] beside a tee, whose room shrinks with it
SHORT_FEED = 0.25  # [m]
FEED = 0.35  # [m] of endless pipe that is laid before and behind
START = 0.15  # [m] place of the pulse
PLANE_WAVES = 0.586 * SOUND_SPEED / 0.120  # [Hz] limit of plane waves in the chamber of tl_elements
INFINITE = 50.0  # [dB] a loss that stands for "nothing gets through"


def checks() -> Iterator[Check]:
    """Tones, open ends, joints, mufflers, plates."""
    yield from tone_checks()
    yield from open_end_checks()
    yield from joint_checks()
    yield from muffler_checks()
    yield from perforated_checks()
    yield from plate_checks()


# ---- tones ----------------------------------------------------------------------------------------------


def tone_checks() -> Iterator[Check]:
    """Tones of pipes closed at one end."""
    yield worst(
        "marched pipe closed at one end: tones",
        TONES,
        ((f"{r['L_m']:g} m, mode {r['mode']:g}", r["f_with_l(ka)_Hz"], tone(r)) for r in table("closed_open_pipe")),
        0.005,
    )


def tone(row: Row) -> float:
    """Frequency of a pipe that is let go in the shape of one of its modes. [Hz]"""
    gamma, R = 1.4, 287.0
    rig = Rig(gamma=gamma, gas_constant=R, p=PRESSURE, T=row["c_m_s"] ** 2 / (gamma * R))
    bore = 2.0 * row["a_m"]
    duct = rig.duct((row["L_m"], bore, bore), cell=row["L_m"] / 120)
    rig.assembly.close(duct.head)
    rig.mouth(duct.tail)
    rig.close()
    rho, p = rig.field(duct, "rho"), rig.field(duct, "p")
    wave_number = 2.0 * math.pi * row["f_with_l(ka)_Hz"] / row["c_m_s"]
    more = 5.0 * np.cos(wave_number * duct.places)
    rig.fill(duct, rho + more / rig.sound**2, np.zeros_like(rho), p + more)
    seconds = 12.0 / row["f_with_l(ka)_Hz"]
    step = rig.safe_step(1.01)
    sound = rig.record([duct.cells.start], seconds, step)[0][:, 0] - PRESSURE
    return _frequency(sound, step)


def _frequency(sound: np.ndarray, step: float) -> float:
    """Frequency by the first and the last time the pressure passes rest. [Hz]"""
    at = np.nonzero(sound[:-1] * sound[1:] < 0.0)[0]
    times = (at + sound[at] / (sound[at] - sound[at + 1])) * step
    return float((times.size - 1) / (2.0 * (times[-1] - times[0])))


# ---- open ends ------------------------------------------------------------------------------------------


def open_end_checks() -> Iterator[Check]:
    """What an open end sends back, up to ka 0.5."""
    rows = [r for r in table("open_end") if 0.05 <= r["ka"] <= 0.5]
    for name, flanged, source in (("unflanged", False, UNFLANGED), ("flanged", True, FLANGED)):
        got = open_end([r["ka"] for r in rows], flanged)
        for what, column, index in (("reflection", f"R_{name}", 0), ("end correction", f"l/a_{name}", 1)):
            yield worst(
                f"marched pipe, {name} end: {what}",
                source,
                [(f"ka {r['ka']:g}", r[column], g[index]) for r, g in zip(rows, got, strict=True)],
                0.03,
            )


def open_end(numbers: list[float], flanged: bool) -> list[tuple[float, float]]:
    """Reflection [-] and end correction [radii] at some ka, from one pulse."""
    radius, cell = 0.020, 0.005
    rig = sound_rig()
    duct = rig.duct((0.6, 2.0 * radius, 2.0 * radius), cell=cell)
    rig.endless(duct.head)
    rig.mouth(duct.tail, flanged)
    rig.close()
    ear = len(duct.cells) - 12
    distance = 0.6 - float(duct.places[ear])
    add_pulse(rig, duct, 0.3, width=0.02)
    (waves,) = listen(rig, [duct.cells[ear]], 0.006)
    out = []
    for ka in numbers:
        k = ka / radius
        frequency = k * SOUND_SPEED / (2.0 * math.pi)
        factor = waves.at(frequency, waves.against) / waves.at(frequency, waves.with_duct)
        factor *= cmath.exp(2j * k * distance)
        out.append((abs(factor), -cmath.phase(-factor) / (2.0 * ka)))
    return out


# ---- steps and branches ---------------------------------------------------------------------------------


def joint_checks() -> Iterator[Check]:
    """Sound thrown back and let through where the section changes or a branch leaves."""
    rows = table("area_change_and_branch")
    for what, run, back, through in (
        ("step", area_step, "R_p_step", "T_p_step"),
        ("branch", branch, "R_p_side_branch_of_area_S2", "T_p_side_branch_of_area_S2"),
    ):
        got = [run(r["S2/S1"]) for r in rows]
        for name, column, index in (("thrown back", back, 0), ("let through", through, 1)):
            yield worst(
                f"marched {what}: share of the pressure {name}",
                CONTINUITY,
                [(f"area ratio {r['S2/S1']:g}", r[column], g[index]) for r, g in zip(rows, got, strict=True)],
                0.01,
                "absolute",
            )


def area_step(ratio: float) -> tuple[float, float]:
    """Pressure thrown back and let through by a sudden change of section."""
    rig = sound_rig()
    bore = 0.04
    wide = bore * math.sqrt(ratio)
    before, after = rig.duct((FEED, bore, bore), cell=CELL), rig.duct((FEED, wide, wide), cell=CELL)
    rig.endless(before.head)
    rig.step(before.tail, after.head)
    rig.endless(after.tail)
    return _low_sound(rig.close(), before, after)


def branch(ratio: float) -> tuple[float, float]:
    """Pressure thrown back and let through where an endless branch leaves an endless pipe."""
    rig = sound_rig()
    before, after = rig.duct((FEED, 0.04, 0.04), cell=CELL), rig.duct((FEED, 0.04, 0.04), cell=CELL)
    side = rig.duct((FEED, 0.04 * math.sqrt(ratio), 0.04 * math.sqrt(ratio)), cell=CELL)
    tee(rig, before.tail, after.head, side.head)
    for end in (before.head, after.tail, side.tail):
        rig.endless(end)
    return _low_sound(rig.close(), before, after)


def tee(rig: Rig, *ends: DuctEnd, cell: float = CELL) -> None:
    """Pipes that meet in a room as small as the time step bears."""
    area = sum(end.area for end in ends)
    hub = rig.room(0.7 * area * cell)
    for end in ends:
        rig.assembly.join(end, hub, 2.0 * end.area, end.area)


def _low_sound(rig: Rig, before: DuctRef, after: DuctRef) -> tuple[float, float]:
    add_pulse(rig, before, START)
    near, far = listen(rig, [before.cells[-8], after.cells[7]], 0.02, 1.01)
    sent = waves_sum(near)
    return float(np.sum(near.against)) / sent, float(np.sum(far.with_duct)) / sent


def waves_sum(waves: Waves) -> float:
    """Time integral of the wave along the duct, over the time step. [Pa]"""
    return float(np.sum(waves.with_duct))


# ---- mufflers -------------------------------------------------------------------------------------------


def muffler_checks() -> Iterator[Check]:
    """Transmission loss of chambers and side branches."""
    for name, build in MUFFLERS.items():
        rows = [r for r in table("tl_elements") if r["f_Hz"] <= 0.5 * PLANE_WAVES]
        got = loss(build(), [r["f_Hz"] for r in rows])
        yield worst(
            f"marched muffler: transmission loss, {name.removesuffix('_dB').replace('_', ' ')}, dB",
            MUNJAL,
            [(f"{r['f_Hz']:g} Hz", expected_loss(name, r, g), g) for r, g in zip(rows, got, strict=True)],
            0.5,
            "absolute",
        )
    for ratio in (2.0, 4.0, 9.0, 16.0):
        rows = [r for r in table("tl_expansion_chamber") if r["area_ratio_m"] == ratio]
        if rows:
            yield chamber_check(ratio, rows)


def chamber_check(ratio: float, rows: list[Row]) -> Check:
    """One chamber of the table, up to half the plane-wave limit of its own bore."""
    bore, length = 0.040 * math.sqrt(ratio), 0.300
    limit = 0.5 * 0.586 * SOUND_SPEED / bore
    frequency = {r["kL/pi"]: r["kL/pi"] * SOUND_SPEED / (2.0 * length) for r in rows}
    rows = [r for r in rows if 0.0 < frequency[r["kL/pi"]] <= limit]
    got = loss(chamber(bore, length), [frequency[r["kL/pi"]] for r in rows])
    return worst(
        f"marched expansion chamber, area ratio {ratio:g}: transmission loss, dB",
        MUNJAL,
        [(f"kL/pi {r['kL/pi']:g}", r["TL_dB"], g) for r, g in zip(rows, got, strict=True)],
        0.5,
        "absolute",
    )


def expected_loss(name: str, row: Row, got: float) -> float:
    """The table; at a resonator's own tone the formula's nearest value within 0.5 % of the frequency. [dB]

    There the loss goes to infinity, and half a decibel would mean a tone true to a ten-thousandth.
    """
    if row[name] < INFINITE:
        return row[name]
    nearby = [element_loss(name, row["f_Hz"] * (1.0 + 0.0001 * n)) for n in range(-50, 51)]
    return min(nearby, key=lambda value: abs(value - got))


def loss(parts: tuple[Rig, DuctRef, DuctRef], frequencies: list[float], seconds: float = 0.15) -> list[float]:
    """Transmission loss from one pulse. [dB]"""
    rig, before, after = parts
    add_pulse(rig, before, 0.4 * before.places[-1])
    near, far = listen(rig, [before.cells[-4], after.cells[3]], seconds, 1.01)
    return [20.0 * math.log10(abs(near.at(f, near.with_duct)) / abs(far.at(f, far.with_duct))) for f in frequencies]


def _pipes(rig: Rig, feed: float = FEED, cell: float = CELL) -> tuple[DuctRef, DuctRef]:
    before, after = (rig.duct((feed, 0.04, 0.04), cell=cell) for _ in range(2))
    rig.endless(before.head)
    rig.endless(after.tail)
    return before, after


def chamber(bore: float, length: float) -> tuple[Rig, DuctRef, DuctRef]:
    """Pipe, wide chamber, pipe."""
    rig = sound_rig()
    before, after = _pipes(rig)
    wide = rig.duct((length, bore, bore), cell=CELL)
    rig.step(before.tail, wide.head)
    rig.step(wide.tail, after.head)
    return rig.close(), before, after


def two_chambers() -> tuple[Rig, DuctRef, DuctRef]:
    """Two chambers with a pipe between."""
    rig = sound_rig()
    before, after = _pipes(rig)
    first, second = (rig.duct((0.150, 0.120, 0.120), cell=CELL) for _ in range(2))
    between = rig.duct((0.100, 0.04, 0.04), cell=CELL)
    ends = [
        before.tail,
        first.head,
        first.tail,
        between.head,
        between.tail,
        second.head,
        second.tail,
        after.head,
    ]
    for a, b in zip(ends[::2], ends[1::2], strict=True):
        rig.step(a, b)
    return rig.close(), before, after


def quarter_wave() -> tuple[Rig, DuctRef, DuctRef]:
    """A closed pipe beside the pipe."""
    rig = sound_rig()
    before, after = _pipes(rig, SHORT_FEED, FINE)
    side = rig.duct((0.250, 0.030, 0.030), cell=FINE)
    tee(rig, before.tail, after.head, side.head, cell=FINE)
    rig.assembly.close(side.tail)
    return rig.close(), before, after


def helmholtz() -> tuple[Rig, DuctRef, DuctRef]:
    """A volume behind a neck beside the pipe."""
    rig = sound_rig()
    before, after = _pipes(rig, SHORT_FEED, FINE)
    neck = rig.duct((0.030, 0.012, 0.012), cell=FINE)
    tee(rig, before.tail, after.head, neck.head, cell=FINE)
    rig.assembly.join(neck.tail, rig.room(0.5e-3), neck.tail.area, neck.tail.area)
    return rig.close(), before, after


# ---- perforated cores -----------------------------------------------------------------------------------

SULLIVAN = "plane waves in two ducts joined by holes: Sullivan & Crocker 1978, Munjal ch. 3 (from memory)"
CORE, BODY, BODY_LENGTH, OPEN_SHARE = 0.040, 0.110, 0.350, 0.30  # [m], [-]
HEARD = tuple(100.0 * n for n in range(1, 10))  # [Hz] up to half of what the body carries as plane waves

STREAM = 0.2  # [Mach]
HEARD_IN_STREAM = (400.0, 500.0, 600.0, 700.0, 800.0, 900.0)  # [Hz]; below, the steady loss of the stream counts too


def perforated_checks() -> Iterator[Check]:
    """Transmission loss of perforated cores with packing, with little of it, and with none."""
    for words, fibre, linear, within in PACKINGS:
        got = loss(perforated(fibre, linear), list(HEARD), 0.08)
        rows = [(f"{f:g} Hz", perforated_loss(f, fibre, linear), g) for f, g in zip(HEARD, got, strict=True)]
        yield worst(f"marched perforated core, {words}: transmission loss, dB", SULLIVAN, rows, within, "absolute")
    got = loss_in_stream(perforated(1.0, 0.0), STREAM, list(HEARD_IN_STREAM))
    yield worst(
        f"marched perforated core, packed, in a stream of Mach {STREAM:g}: transmission loss, dB",
        f"{SULLIVAN}; holes in a stream: Rao & Munjal 1986 (from memory)",
        [(f"{f:g} Hz", perforated_loss(f, 1.0, 0.0, STREAM), g) for f, g in zip(HEARD_IN_STREAM, got, strict=True)],
        1.5,
        "absolute",
    )


def loss_in_stream(parts: tuple[Rig, DuctRef, DuctRef], mach: float, frequencies: list[float]) -> list[float]:
    """As `loss`, with sound that runs with a steady stream. [dB]"""
    rig = parts[0]
    speed = mach * rig.sound
    for duct, _, _ in rig.assembly.ducts[:3]:  # before, after, and the tube between; the room's gas is at rest
        count = len(duct.cells)
        rig.fill(
            duct, np.full(count, PRESSURE / (rig.gas_constant * rig.T)), np.full(count, speed), np.full(count, PRESSURE)
        )
    joints = rig.arrays["joints"]
    for k in np.nonzero(joints["kind"] == FREE_FIELD)[0]:
        joints["mean_speed"][k] = joints["a_sign"][k] * speed
    rig.march(0.08)
    return loss(parts, frequencies, 0.04)


def perforated(fibre: float, linear: float) -> tuple[Rig, DuctRef, DuctRef]:
    """Pipe, perforated tube in a body, pipe; `linear` [Pa s/m] is added to the holes' resistance."""
    rig = sound_rig()
    before, after = _pipes(rig, cell=FINE)
    tube = rig.duct((BODY_LENGTH, CORE, CORE), cell=FINE)
    rig.step(before.tail, tube.head)
    rig.step(tube.tail, after.head)
    add_room(rig.assembly, tube, BODY_LENGTH, BODY, OPEN_SHARE, fibre, rig.still())
    for wall in rig.assembly.leaks:
        wall["resistance"] += linear
    return rig.close(), before, after


def perforated_loss(frequency: float, fibre: float, linear: float, mach: float = 0.0) -> float:
    """What the formula says of `perforated`. [dB]"""
    impedance = PRESSURE * GAMMA / SOUND_SPEED
    core, spring = area_of(CORE), softer_spring(fibre)
    grazing = GRAZING * mach * impedance
    resistance = resistivity(fibre) * way_through(CORE, BODY, OPEN_SHARE) + linear + grazing
    tube = perforated_tube(
        2.0 * math.pi * frequency / SOUND_SPEED,
        BODY_LENGTH,
        core,
        spring * (area_of(BODY) - core),
        OPEN_SHARE * math.pi * CORE * impedance / resistance,
        spring * resistivity(fibre) / impedance,
        mach,
    )
    return transmission_loss(tube, core)


# words, share of packing, resistance of the holes to make them linear [Pa s/m], within [dB]
PACKINGS = (
    ("packed", 1.0, 0.0, 1.0),
    ("a third of the packing left", 0.33, 0.0, 1.0),
    ("without packing", 0.0, 20.0, 1.0),
    ("without packing, tight holes", 0.0, 200.0, 1.0),
)

MUFFLERS: dict[str, Callable[[], tuple[Rig, DuctRef, DuctRef]]] = {
    "simple_chamber_dB": lambda: chamber(0.120, 0.300),
    "two_chambers_dB": two_chambers,
    "quarter_wave_branch_dB": quarter_wave,
    "helmholtz_branch_dB": helmholtz,
}


# ---- plates ---------------------------------------------------------------------------------------------

SMALL_DROP = 0.1  # of the pressure: beyond that the gas expands across the plate, which the formula leaves out


def plate_checks() -> Iterator[Check]:
    """Transmission loss of a plate in a steady stream."""
    rows = [r for r in table("lossy_plate_in_flow") if 0.5 * 1.4 * r["K_loss"] * r["Mach"] ** 2 < SMALL_DROP]
    yield worst(
        "marched plate in mean flow: transmission loss, dB",
        "quasi-steady dp = K rho U^2 / 2, resistance K M (lossy_plate_in_flow.csv)",
        [(f"K {r['K_loss']:g}, Mach {r['Mach']:g}", r["TL_dB"], plate_loss(r["K_loss"], r["Mach"])) for r in rows],
        0.3,
        "absolute",
    )


def plate_loss(loss_coefficient: float, mach: float) -> float:
    """Loss of a pulse that runs with the stream through a plate; `mach` is met before the plate. [dB]"""
    rig = sound_rig()
    before, after = rig.duct((FEED, 0.04, 0.04), cell=CELL), rig.duct((FEED, 0.04, 0.04), cell=CELL)
    area = before.tail.area / math.sqrt(1.0 + loss_coefficient)
    first, last = rig.endless(before.head), rig.endless(after.tail)
    rig.assembly.join(before.tail, after.head, area, area)
    rig.close()
    joints = rig.arrays["joints"]
    speed = mach * rig.sound
    rho = PRESSURE / (rig.gas_constant * rig.T)
    for duct in (before, after):
        rig.fill(duct, *(np.full(len(duct.cells), value) for value in (rho, speed, PRESSURE)))
    for _ in range(12):
        joints["target"][first] = PRESSURE + 0.5 * loss_coefficient * rho * speed**2
        joints["mean_speed"][first], joints["mean_speed"][last] = -speed, speed
        rig.march(0.02)
        met = float(np.mean(rig.field(before, "u") / rig.field(before, "sound")))
        speed *= mach / met
    add_pulse(rig, before, START)
    near, far = listen(rig, [before.cells[-4], after.cells[3]], 0.006, 1.02)
    return 20.0 * math.log10(waves_sum(near) / waves_sum(far))
