"""Short breaks in the torque of a pull: a cut, a stumble, a miss that comes and goes.

The exhaust of such a moment carries another mixture, so that lambda answers it after its delay and lag. A break
is told from a hole by its haste: torque leaves its course by 8 % inside 0.15 s and is back within 1.2 s. The
steepest holes of the trade (15 % deep, 400 rpm wide, 700 rpm/s) move by 5 % in that time (arithmetic; common
practice, no published source, for the hole itself). The opening of the throttle at the start and its closing at
the end are no breaks: there the flow changes too, and the delay with it.
"""

from __future__ import annotations

import numpy as np

HASTE = 0.15  # [s]
LEAST = 0.08  # [-] of the torque
BACK = 0.06  # [-] of the torque before the break: it is over; the course itself moves by 3 % meanwhile
LONGEST = 1.2  # [s]


def torque_breaks(time: np.ndarray, torque: np.ndarray) -> list[np.ndarray]:
    """One curve a break: torque off the straight line across the break over that line, zero elsewhere.

    time : (n,) [s] rising. torque : (n,) [N m], finite, above zero outside the breaks. Each curve (n,) [-].
    """
    soon = np.searchsorted(time, time + HASTE, side="right") - 1
    moved = torque[soon] / np.where(torque > 0.0, torque, np.inf) - 1.0
    least = max(LEAST, 6.0 * 1.4826 * float(np.median(np.abs(moved))))
    found, after = [], 0
    for first in np.flatnonzero(np.abs(moved) > least):
        if first < after:
            continue
        last = _end(time, torque, int(first))
        after = int(np.searchsorted(time, time[first] + LONGEST)) if last is None else last + 1
        if last is not None:
            course = np.interp(time, time[[first, last]], torque[[first, last]])
            inside = (time >= time[first]) & (time <= time[last])
            found.append(np.where(inside, torque / course - 1.0, 0.0))
    return found


def _end(time: np.ndarray, torque: np.ndarray, first: int) -> int | None:
    """Last sample of the break that begins at `first`; None where the torque does not come back in time."""
    stop = int(np.searchsorted(time, time[first] + LONGEST))
    off = np.abs(torque[first:stop] / torque[first] - 1.0)
    deepest = int(np.argmax(off))
    back = np.flatnonzero(off[deepest:] < BACK)
    if not back.size:
        return None
    over = time[first + deepest + back[0]] + HASTE
    return int(np.searchsorted(time, over, side="right")) - 1 if over < time[-1] else None
