"""Speed and throttle as a picture: in every cell a bar of the fuel's shares by circuit, and lambda below it.

The shares stand in one order, main jet, needle, idle and progression, and the largest carries its letter, so that
the picture reads without colours too.
"""

from __future__ import annotations

import math

import numpy as np

from pulsewright.figures import svg, words
from pulsewright.simulate.throttle_map import IDLE, MAIN, NEEDLE, ThrottleMap

WIDTH = 720.0  # [px]
LEFT, RIGHT, TOP = 64.0, 708.0, 78.0
ROW, BAR, GAP = 44.0, 18.0, 5.0  # [px] of a throttle opening, its bars, and between two bars
TONES = {MAIN: ("before", "M"), NEEDLE: ("after", "N"), IDLE: ("fourth", "I")}
DENSE = 14  # speeds above which lambda has no room
PALE, FULL = 0.45, 0.95  # opacity of a share, and of the one that rules


def throttle_picture(found: ThrottleMap, title: str) -> str:
    """A standalone `<svg>`; wide open on top."""
    order = np.argsort(-found.throttle)
    column = (RIGHT - LEFT) / found.rpm.size
    height = TOP + ROW * order.size + 44.0
    parts = [svg.box(0.0, 0.0, WIDTH, height, fill="card"), svg.text(12, 22, title, size=13.5, bold=True)]
    parts += _key()
    for place, opening in enumerate(order):
        y = TOP + ROW * place
        parts.append(svg.text(LEFT - 10, y + 14, f"{100.0 * found.throttle[opening]:g} %", anchor="end", fill="faint"))
        parts.append(svg.line(LEFT, y + ROW - 6, RIGHT, y + ROW - 6))
        for speed in range(found.rpm.size):
            parts += _cell(found, opening, speed, LEFT + column * speed, y, column - GAP)
    bottom = TOP + ROW * order.size
    for speed, rpm in enumerate(found.rpm):
        middle = LEFT + column * (speed + 0.5) - 0.5 * GAP
        if speed % max(1, round(found.rpm.size / 10)) == 0:
            parts.append(svg.text(middle, bottom + 12, f"{rpm:.0f}", anchor="middle", fill="faint", size=12))
    parts.append(svg.text(RIGHT, bottom + 32, words.SPEED, anchor="end", fill="faint", size=12))
    return svg.document(WIDTH, height, title, parts, "pw-chart")


def _key() -> list[str]:
    parts, x = [], LEFT
    for name, (tone, letter) in TONES.items():
        parts.append(svg.box(x, 40.0, x + 14.0, 54.0, fill=tone, opacity=FULL))
        parts.append(svg.text(x + 20.0, 52.0, f"{letter} {name}", size=12))
        x += 190.0
    parts.append(svg.text(LEFT, 70.0, words.THROTTLE_MAP_KEY, fill="faint", size=12))
    return parts


def _cell(found: ThrottleMap, opening: int, speed: int, x: float, y: float, width: float) -> list[str]:
    """One bar with its lambda; where no fuel flows the place stays empty."""
    shares = {name: float(found.fuel_share[name][opening, speed]) for name in TONES}
    if not all(math.isfinite(share) for share in shares.values()):
        return []
    most = max(shares, key=lambda name: shares[name])
    parts, start = [], x
    for name, share in shares.items():
        end = start + share * width
        parts.append(svg.box(start, y, end, y + BAR, fill=TONES[name][0], opacity=FULL if name == most else PALE))
        if name == most and end - start > 12.0:
            parts.append(
                svg.text(0.5 * (start + end), y + 13.5, TONES[name][1], anchor="middle", fill="card", bold=True)
            )
        start = end
    mixture = float(found.curves["lambda_delivered"][opening, speed])
    if math.isfinite(mixture) and found.rpm.size <= DENSE:
        parts.append(svg.text(x + 0.5 * width, y + 32.0, f"{mixture:.2f}", anchor="middle", size=11.5))
    return parts
