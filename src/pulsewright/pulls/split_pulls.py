"""Several pulls in one file: which rows belong to which.

Three signs, in this order. A column that numbers the pulls. A time that starts again: it falls back by more
than half of what has run, and stays down. A speed that turns back by 40 % of its range and rises again; the
way down counts as a pull of its own where the torque on it is over half of that on the way up, else it is
coasting and left out. A speed that jumps up in one row by a quarter of its range is a pick-up fault, not a
turn, and then nothing is split by speed.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pulsewright.pulls.channel_words import fold
from pulsewright.pulls.columns import Column, Naming
from pulsewright.pulls.pickup import WINDOW, running_median

PULL_WORDS = frozenset(
    (
        "pull", "pull no", "pull nr", "pull number", "run", "run no", "run nr", "run number", "run id",
        "sweep", "test no", "test nr", "lauf", "lauf nr", "laufnummer", "messung", "messung nr", "meting",
        "meting nr", "essai", "essai no", "ensayo", "prova", "proef", "prov", "pomiar", "mereni",
    )
)  # fmt: skip
FEWEST_ROWS = 20  # of a pull: a second at the slowest usual 20 rows a second
MOST_PULLS = 200  # in one file
FELL_BACK = 0.5  # [-] of the time run so far
TURN = 0.4  # [-] of the range of speed
JUMP = 0.25  # [-] of the range of speed, in one row
POWERED = 0.5  # [-] of the torque on the way up
STILL = 9  # rows after a fall of time that must stay down


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """Rows of one pull in a file."""

    rows: np.ndarray  # (n,) row numbers, in the order of the file
    by: str  # "whole file", "column 'run'", "time starts again", "speed turns back"


def pull_number_column(naming: Naming) -> Column | None:
    """The column that numbers the pulls, or None."""
    for column in naming.columns:
        if (
            column.quantity in (None, "pull_number")
            and fold(column.heading) in PULL_WORDS
            and _numbers_pulls(column.values)
        ):
            return column
    return None


def _numbers_pulls(values: np.ndarray) -> bool:
    if not np.isfinite(values).all() or (values != np.round(values)).any():
        return False
    _, counts = np.unique(values, return_counts=True)
    return counts.size <= MOST_PULLS and counts.min() >= FEWEST_ROWS


def split_naming(naming: Naming, *, steps: bool = False) -> list[Part]:
    """Pulls in a file whose columns are known. steps : held steps, where speed may go up and down."""
    count = naming.columns[0].values.size
    numbered = pull_number_column(naming)
    if numbered is not None:
        numbered.quantity, numbered.confidence = "pull_number", 0.9
        numbered.reason = f"'{numbered.heading}' numbers the pulls"
        by = f"column '{numbered.heading}'"
        order = dict.fromkeys(numbered.values.tolist())
        return [Part(rows=np.flatnonzero(numbered.values == value), by=by) for value in order]
    time, speed = naming.one("time"), naming.one("engine_speed")
    load = naming.one("torque") or naming.one("power")
    assert speed is not None
    return split_rows(
        None if time is None else time.values,
        None if steps else speed.values,
        None if load is None else load.values,
        count,
    )


def split_rows(time: np.ndarray | None, speed: np.ndarray | None, load: np.ndarray | None, count: int) -> list[Part]:
    """Pulls by time and speed. All arrays (count,), in whatever unit; None where there is no such column or
    it is not to be looked at."""
    blocks = _by_time(time) if time is not None else [np.arange(count)]
    parts = []
    for rows in blocks:
        turns = _by_speed(speed[rows], None if load is None else load[rows]) if speed is not None else []
        if len(turns) > 1:
            parts += [Part(rows=rows[turn], by="speed turns back") for turn in turns]
        else:
            parts.append(Part(rows=rows, by="time starts again" if len(blocks) > 1 else "whole file"))
    return parts


def _by_time(time: np.ndarray) -> list[np.ndarray]:
    whole = [np.arange(time.size)]
    starts = [0]
    falls = np.flatnonzero(np.diff(time) < 0) + 1
    for i in falls:
        ran = time[i - 1] - time[starts[-1]]
        after = time[i : i + STILL]
        stays = np.median(after) < time[i - 1] - FELL_BACK * ran
        if ran > 0 and time[i - 1] - time[i] > FELL_BACK * ran and stays and i - starts[-1] >= FEWEST_ROWS:
            starts.append(int(i))
    if len(starts) == 1 or len(starts) > MOST_PULLS:
        return whole
    blocks = np.split(np.arange(time.size), starts[1:])
    if blocks[-1].size < FEWEST_ROWS:
        return whole
    rising = [np.mean(np.diff(time[rows]) >= 0) for rows in blocks]
    return blocks if min(rising) > 0.9 else whole


def _by_speed(speed: np.ndarray, load: np.ndarray | None) -> list[np.ndarray]:
    """Rows of each pull; empty where the speed does not turn and rise again."""
    known = np.flatnonzero(np.isfinite(speed) & (speed > 0.0) & ~_written_again(speed, load))
    if known.size < 2 * FEWEST_ROWS:
        return []
    smooth = running_median(speed[known], WINDOW)
    low, high = np.percentile(smooth, [1, 99])
    threshold = TURN * (high - low)
    if (np.maximum.accumulate(smooth) - smooth).max() < threshold:
        return []
    pivots = _pivots(smooth, threshold)
    ways = [(a, b) for a, b in pairwise(pivots) if b - a >= FEWEST_ROWS]
    up = [(a, b) for a, b in ways if smooth[b] > smooth[a]]
    if len(ways) < 2 or not up or any(np.diff(smooth[a : b + 1]).max() > JUMP * (high - low) for a, b in up):
        return []
    up_load = np.nan if load is None else np.median([_load(load[known[a : b + 1]]) for a, b in up])
    kept = [
        (a, b) for a, b in ways
        if smooth[b] > smooth[a]
        or (load is not None and _load(load[known[a : b + 1]]) > POWERED * up_load)
    ]  # fmt: skip
    return [np.arange(known[a], known[b] + 1) for a, b in kept]


def _written_again(speed: np.ndarray, load: np.ndarray | None) -> np.ndarray:
    """Rows that say nothing new after the one before: a fault that a logger wrote twice is no longer one for that."""
    again = np.zeros(speed.size, dtype=bool)
    if load is not None:
        again[1:] = (speed[1:] == speed[:-1]) & ((load[1:] == load[:-1]) | (np.isnan(load[1:]) & np.isnan(load[:-1])))
    return again


def _load(values: np.ndarray) -> float:
    return float(np.median(values[np.isfinite(values)])) if np.isfinite(values).any() else 0.0


def _pivots(values: np.ndarray, threshold: float) -> list[int]:
    """Ends and turning points of a curve, where it turns by more than the threshold."""
    pivots, best, rising = [0], 0, None
    low = high = 0
    for i, value in enumerate(values.tolist()):
        if rising is None:
            low, high = (i if value < values[low] else low), (i if value > values[high] else high)
            if value - values[low] > threshold:
                rising, best = True, i
            elif values[high] - value > threshold:
                rising, best = False, i
        elif (value >= values[best]) if rising else (value <= values[best]):
            best = i
        elif abs(value - values[best]) > threshold:
            pivots.append(best)
            rising, best = not rising, i
    return [*pivots, best if best > pivots[-1] else values.size - 1]
