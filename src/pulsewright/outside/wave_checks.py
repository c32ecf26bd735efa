r"""Waves of finite size: one that travels alone, and its echo from a closed and from an open end.

In one wave that runs into gas at rest :math:`p/p_0 = (a/a_0)^{2\gamma/(\gamma-1)}`,
:math:`u = 2(a-a_0)/(\gamma-1)`, and each point of it moves at u + a.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from pulsewright.network.assembly import DuctRef
from pulsewright.outside.bare_cells import bare_duct, march
from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import Row, table
from pulsewright.outside.tube_rig import Numbers, Rig

EARNSHAW = "Earnshaw 1860: relations of a simple wave (simple_wave.csv)"
ECHO = "Riemann invariants (wave_reflection.csv)"
REFLECTED_SHOCK = "Riemann invariants; above p/p0 = 1 the shock relation agrees to 0.2 % (wave_reflection.csv)"
INCIDENT = (0.7, 1.5)  # range of incident waves that is compared
WIDE = 100.0  # an opening this much wider than the pipe holds its pressure even against gas that enters


def checks() -> Iterator[Check]:
    """One wave, then echoes."""
    yield from travelling_checks()
    yield from echo_checks()


# ---- one wave -------------------------------------------------------------------------------------------

CELLS, LENGTH = 520, 2.6
RAMP = 1.2  # length of the slope between rest and the full wave


def travelling_checks() -> Iterator[Check]:
    """Speed of gas and sound inside the wave, and how fast each pressure travels."""
    speeds, sounds, travels = [], [], []
    for gamma in (1.4, 1.33):
        for rows in (
            [r for r in table("simple_wave") if r["gamma"] == gamma and r["p/p_ref"] < 1.0],
            [r for r in table("simple_wave") if r["gamma"] == gamma and r["p/p_ref"] > 1.0],
        ):
            for row, (u, a, travel) in zip(rows, travelled(gamma, rows), strict=True):
                name = f"gamma {gamma:g}, p/p0 {row['p/p_ref']:g}"
                speeds.append((name, row["u/a_ref"], u))
                sounds.append((name, row["a/a_ref"], a))
                travels.append((name, row["propagation_speed/a_ref"], travel))
    for what, values in (("gas speed", speeds), ("speed of sound", sounds), ("travelling speed", travels)):
        yield worst(f"one finite wave: {what}", EARNSHAW, values, 0.005)


def travelled(gamma: float, rows: list[Row]) -> list[tuple[float, float, float]]:
    """Gas speed, sound and travelling speed (over sound at rest) at the pressures of the rows."""
    top = max(rows, key=lambda r: abs(r["p/p_ref"] - 1.0))["p/p_ref"]
    peak = top + 0.1 * (top - 1.0)
    x = (np.arange(CELLS) + 0.5) * LENGTH / CELLS
    p = 1.0 + (peak - 1.0) * 0.5 * (1.0 + np.cos(math.pi * np.clip((x - 0.1) / RAMP, 0.0, 1.0)))
    a = p ** (0.5 * (gamma - 1.0) / gamma)
    rho, u = p / a**2, 2.0 * (a - 1.0) / (gamma - 1.0)
    # units in which the sound speed at rest is one: density one, pressure 1 / gamma
    duct = bare_duct(LENGTH, CELLS, gamma, rho, u, p / gamma)
    wanted = [r["p/p_ref"] for r in rows]
    before = _places(x, duct.field("p") * gamma, wanted)
    steepens = RAMP / (0.5 * math.pi * (gamma + 1.0) / (gamma - 1.0) * abs(float(a[0]) - 1.0))
    seconds = 0.4 * min(steepens, 1.0)
    march(duct, seconds)
    pressure = duct.field("p") * gamma
    after = _places(x, pressure, wanted)
    sound = np.sqrt(pressure / duct.field("rho"))
    speed = duct.field("u")
    return [
        (float(np.interp(s1, x, speed)), float(np.interp(s1, x, sound)), float((s1 - s0) / seconds))
        for s0, s1 in zip(before, after, strict=True)
    ]


def _places(x: Numbers, pressure: Numbers, wanted: list[float]) -> Numbers:
    """Where the pressure passes the wanted values, looking along its monotone slope."""
    rising = pressure[0] < pressure[-1]
    start = int(np.argmax(np.abs(pressure - 1.0)))
    p, place = pressure[start:], x[start:]
    return np.interp(wanted, p, place) if rising else np.interp(wanted, p[::-1], place[::-1])


# ---- echoes ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Echo:
    """A tube with a long wave that has just been thrown back."""

    rig: Rig
    duct: DuctRef

    def pressure(self) -> float:
        """Pressure at the end over that at rest."""
        p = self.rig.field(self.duct, "p")
        return float(np.mean(p[-4:]) / self.rig.p)

    def returning(self) -> float:
        """Pressure ratio of the wave that runs back."""
        g = self.rig.gamma
        u_end = self.rig.field(self.duct, "u")[-1]
        # gas that enters follows the wave at a distance; where gas leaves, the fan's slow foot is last
        near = slice(-6, -2) if u_end > 0.0 else slice(-42, -34)
        sound = np.mean(self.rig.field(self.duct, "sound")[near]) / self.rig.sound
        speed = np.mean(self.rig.field(self.duct, "u")[near]) / self.rig.sound
        back = 0.5 * (sound - 0.5 * (g - 1.0) * speed + 1.0)
        return float(back ** (2.0 * g / (g - 1.0)))


def echo_checks() -> Iterator[Check]:
    """Pressure at a closed end and the wave that an open end sends back."""
    rows = [r for r in table("wave_reflection") if INCIDENT[0] <= r["incident_p/p0"] <= INCIDENT[1]]
    label = [f"gamma {r['gamma']:g}, incident {r['incident_p/p0']:g}" for r in rows]
    yield worst(
        "echo from a closed end: pressure",
        REFLECTED_SHOCK,
        [
            (name, r["closed_end_p/p0_isentropic"], echo(r, open_end=False).pressure())
            for name, r in zip(label, rows, strict=True)
        ],
        0.01,
    )
    yield worst(
        "echo from an open end at constant pressure: returning wave",
        ECHO,
        [
            (name, r["open_end_reflected_p/p0_isentropic"], echo(r, open_end=True).returning())
            for name, r in zip(label, rows, strict=True)
        ],
        0.01,
    )


def echo(row: Row, open_end: bool) -> Echo:
    """Send a long wave of the row's size against the end of a tube."""
    g, length, cells, bore = row["gamma"], 2.0, 150, 0.04
    rig = Rig(gamma=g, gas_constant=287.0, p=100_000.0, T=300.0)
    duct = rig.duct((length, bore, bore), cell=length / cells)
    rig.assembly.close(duct.head)
    if open_end:
        area = duct.tail.area
        rig.assembly.join(duct.tail, rig.open_air(), area, WIDE * area)
    else:
        rig.assembly.close(duct.tail)
    rig.close()
    # full wave from the head to 1.6 m, then a short slope; the far end must not hear of the head
    share = np.clip((1.75 - duct.places) / 0.15, 0.0, 1.0)
    p = rig.p * (1.0 + (row["incident_p/p0"] - 1.0) * share)
    a = (p / rig.p) ** (0.5 * (g - 1.0) / g) * rig.sound
    rig.fill(duct, g * p / a**2, 2.0 * (a - rig.sound) / (g - 1.0), p)
    # the foot arrives after 0.25 m, the full wave at 0.4 m, and then runs back for 0.6 m
    rig.march((0.45 + 0.6) / rig.sound)
    return Echo(rig, duct)
