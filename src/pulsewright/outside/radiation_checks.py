"""What the marched solver sends out of an open pipe, as sound, against the theory of the open end."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from pulsewright.outside.acoustic_rig import SOUND_SPEED, add_pulse, listen, sound_rig
from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table
from pulsewright.sound.monopole import radiated_power
from pulsewright.sound.open_ends import at_the_end

UNFLANGED = "Levine & Schwinger, Phys. Rev. 73 (1948) 383: sound power 1 - |R|² of what arrives"
PIPE, BORE, CELL = 3.0, 0.040, 0.010  # [m]
PLACE = 2.5  # [m] where the pulse is measured, on its way out and back
SECONDS = 0.015
FROM, UP_TO = 0.1, 0.5  # ka


def checks() -> Iterator[Check]:
    """Sound power that a monopole made of the flow at the end radiates, over that which the pipe loses."""
    rows = [r for r in table("open_end") if FROM <= r["ka"] <= UP_TO]
    yield worst(
        "sound power out of an unflanged pipe, from the flow at its end, dB of what arrives there",
        UNFLANGED,
        (
            (f"ka {r['ka']:g}", 10.0 * math.log10(1.0 - r["R_unflanged"] ** 2), got)
            for r, got in zip(rows, lost_power([r["ka"] for r in rows]), strict=True)
        ),
        0.5,
        "absolute",
    )


def lost_power(numbers: list[float]) -> list[float]:
    """Radiated over arriving sound power, by ka. [dB]"""
    rig = sound_rig()
    pipe = rig.duct((PIPE, BORE, BORE), cell=CELL)
    rig.endless(pipe.head)
    rig.mouth(pipe.tail)
    rig.close()
    add_pulse(rig, pipe, 1.5)
    density = float(rig.c["rho"][pipe.cells[0]])
    cells = [pipe.cells[round(PLACE / CELL)], pipe.cells[-1], pipe.cells[-2]]
    arriving, last, before = listen(rig, cells, SECONDS, 1.01)
    area = math.pi / 4.0 * BORE**2
    speed = [(w.with_duct - w.against) / (density * SOUND_SPEED) for w in (last, before)]
    flow = density * area * at_the_end(np.column_stack(speed), np.array([CELL, CELL]))
    found = []
    for number in numbers:
        f = number * SOUND_SPEED / (math.pi * BORE)
        out = radiated_power(np.array([last.at(f, flow)]), np.array([f]), density, SOUND_SPEED)[0]
        came = abs(arriving.at(f, arriving.with_duct)) ** 2 * area / (2.0 * density * SOUND_SPEED)
        found.append(10.0 * math.log10(out / came))
    return found
