"""Invented days on a dyno, healthy or with one fault of a stated size, whose truth is known.

Everything is invented; the habits are those of common practice (no published source): pulls scatter by 0.4 to
1.2 %, a refit moves torque by 0.7 %, bins by 0.4 %, the clamp drops or doubles up to 3 % of samples, tyres slip
by up to 0.6 %, the head warms from pull to pull and torque with it by 1 % a 15 K, the air wanders.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from tests.pull_logs import Curve, Log, smooth_torque, wavy_mixture, with_dip, write_session

JETS = '[ ["carburettor.1.main_jet", "1.45 mm"] ]'
ORDERS = ("AAABBB", "AAABBBAAA", "ABBABA", "AAAAAA", "AAAABBBB", "ABABAB")
Columns = dict[str, np.ndarray]


@dataclass
class Day:
    """A session before it is written. A fault changes what it holds."""

    order: str
    logs: list[Log]
    heads: list[float]  # [degC]
    airs: list[tuple[float, float, float]]  # degC, kPa, %
    columns: list[Columns] = field(default_factory=list)

    def log(self) -> None:
        """Let the logger see the pulls."""
        self.columns = [each.columns() for each in self.logs]

    def write(self, folder: Path) -> Path:
        """The session folder."""
        pulls = list(zip(self.order, self.columns, strict=True))
        return write_session(folder, pulls, changes={"B": JETS}, heads=self.heads, airs=self.airs)


Fault = Callable[[Day, np.random.Generator, float], None]


def peaky_torque(rpm: np.ndarray) -> np.ndarray:
    """Torque that falls by half on either side of its peak. [N m]"""
    return 50.0 - 30.0 * ((rpm - 3800.0) / 2000.0) ** 2


def healthy_day(seed: int) -> Day:
    """A day with every habit and no fault."""
    random = np.random.default_rng(70_000 + seed)
    order = ORDERS[random.integers(len(ORDERS))]
    torque: Curve = peaky_torque if random.random() < 0.3 else smooth_torque
    if random.random() < 0.5:
        torque = with_dip(torque, random.uniform(2600.0, 3800.0), random.uniform(0.05, 0.2), 600.0)
    shift = random.uniform(-0.08, 0.08)
    plain = Log(
        torque=torque, mixture=lambda rpm: wavy_mixture(rpm) + shift, rate=random.uniform(250.0, 650.0),
        step=random.choice([0.02, 0.04, 0.08]), delay=random.uniform(0.05, 0.25), lag=random.uniform(0.05, 0.15),
        slip=random.uniform(0.0, 0.006),
    )  # fmt: skip
    scatter = random.uniform(0.004, 0.012)
    heads = list(np.minimum(157.0 + 4.0 * np.arange(len(order)), 168.0) + random.normal(0.0, 1.5, len(order)))
    refit, logs = 0.0, []
    for k, name in enumerate(order):
        if k and name != order[k - 1]:
            refit = 0.007 * random.normal()
        gain = 1.0 + scatter * random.normal() + refit - 0.01 * max(0.0, 168.0 - heads[k]) / 15.0
        logs.append(replace(plain, gain=gain, rate=plain.rate * random.uniform(0.97, 1.03), seed=1000 * seed + k))
    airs = [
        (21.0 + 0.2 * k + random.normal(0.0, 0.5), 100.5 + random.normal(0.0, 0.05), 45.0 + random.normal(0.0, 4.0))
        for k in range(len(order))
    ]
    day = Day(order=order, logs=logs, heads=heads, airs=airs)
    day.log()
    for columns in day.columns:
        bad = random.random(columns["rpm"].size) < random.uniform(0.0, 0.03)
        columns["rpm"][bad] *= random.choice([0.0, 2.0], size=int(bad.sum()))
    return day


def faulty_day(seed: int, fault: Fault, size: float) -> Day:
    """A healthy day with one fault put in."""
    day = healthy_day(seed)
    fault(day, np.random.default_rng(90_000 + seed), size)
    return day


def slipping(day: Day, random: np.random.Generator, size: float) -> None:
    """Every pull: the engine ahead of the roller by `size` more at the greatest torque than at the least."""
    for columns in day.columns:
        settled = columns["torque"][columns["rpm"] > 2200.0]
        least, most = np.percentile(settled, (2.0, 99.0))
        part = np.clip((columns["torque"] - least) / (most - least), 0.0, 1.0)
        columns["roller"] = columns["roller"] * (1.0 - size * part)


def slipping_once(day: Day, random: np.random.Generator, size: float) -> None:
    """One pull slips by `size` from start to end."""
    columns = _any(day, random)
    columns["roller"] = columns["roller"] * (1.0 - size)


def miscounting(day: Day, random: np.random.Generator, size: float) -> None:
    """One pull: that share of samples dropped, halved or doubled."""
    columns = _any(day, random)
    bad = random.random(columns["rpm"].size) < size
    columns["rpm"][bad] *= random.choice([0.0, 0.5, 2.0], size=int(bad.sum()))


def doubled(day: Day, random: np.random.Generator, size: float) -> None:
    """One whole pull counted `size` times, in a session without a roller."""
    columns = _any(day, random)
    columns["rpm"] = columns["rpm"] * size
    columns["torque"] = columns["torque"] / size
    for each in day.columns:
        each.pop("roller")


def doubled_stretch(day: Day, random: np.random.Generator, size: float) -> None:
    """One pull counted twice over that share of it, in a session without a roller."""
    columns = _any(day, random)
    count = columns["rpm"].size
    begin = random.integers(int(0.2 * count), int((1.0 - size) * count))
    columns["rpm"][begin : begin + int(size * count)] *= 2.0
    for each in day.columns:
        each.pop("roller")


def starving(day: Day, random: np.random.Generator, size: float) -> None:
    """One pull: from 60 % of its time, lambda climbs by `size` and torque falls by 0.6 of that to the end."""
    columns = _any(day, random)
    _starve(columns, 0.6 * columns["time"][-1], columns["time"][-1], size)


def starving_by_rate(day: Day, random: np.random.Generator, size: float) -> None:
    """Every pull starves after the same time at load; every second pull of a setup was made at 0.6 of the rate."""
    for k, name in enumerate(day.order):
        if day.order[:k].count(name) % 2:
            day.logs[k] = replace(day.logs[k], rate=0.6 * day.logs[k].rate)
            day.columns[k] = day.logs[k].columns()
    longest = max(columns["time"][-1] for columns in day.columns)
    for columns in day.columns:
        _starve(columns, 0.6 * longest, longest, size)


def _starve(columns: Columns, begin: float, end: float, size: float) -> None:
    late = np.clip((columns["time"] - begin) / (end - begin), 0.0, 1.0)
    columns["lambda"] = columns["lambda"] + size * late
    columns["torque"] = columns["torque"] * (1.0 - 0.6 * size * late)


def soaking(day: Day, random: np.random.Generator, size: float) -> None:
    """The head climbs by `size` kelvin in the second half of the day; torque falls 3 % a 40 K with it."""
    hot = len(day.order) - len(day.order) // 2
    for k in range(len(day.order) - hot + 1, len(day.order)):
        day.heads[k] += size
        day.columns[k]["torque"] = day.columns[k]["torque"] * (1.0 - 0.03 / 40.0 * size)


def drifting(day: Day, random: np.random.Generator, size: float) -> None:
    """Torque falls by `size` a pull, whichever setup; the head temperature was not noted."""
    day.heads = []
    for k, columns in enumerate(day.columns):
        columns["torque"] = columns["torque"] * (1.0 - size) ** k


def missing(day: Day, random: np.random.Generator, size: float) -> None:
    """One pull: that share of samples loses 8 to 30 % of torque, more where it is high; lambda spikes lean."""
    columns = _any(day, random)
    filling = columns["torque"] / columns["torque"].max()
    hit = random.random(filling.size) < size * filling**2 / np.mean(filling**2)
    columns["torque"] = columns["torque"] * (1.0 - hit * random.uniform(0.08, 0.30, hit.size))
    columns["lambda"] = columns["lambda"] + np.roll(hit * random.uniform(0.1, 0.4, hit.size), 3)


def odd(day: Day, random: np.random.Generator, size: float) -> None:
    """One pull lies that share under the others of its setup."""
    columns = _any(day, random)
    columns["torque"] = columns["torque"] * (1.0 - size)


def warming_air(day: Day, random: np.random.Generator, size: float) -> None:
    """The air warms by `size` kelvin in steps from pull to pull; torque follows by the J1349 law."""
    for k, columns in enumerate(day.columns):
        warmer = size * k / (len(day.columns) - 1)
        degrees, pressure, damp = day.airs[k]
        day.airs[k] = (degrees + warmer, pressure, damp)
        columns["torque"] = columns["torque"] / (1.0 + 0.0029 * warmer)


def _any(day: Day, random: np.random.Generator) -> Columns:
    return day.columns[random.integers(len(day.columns))]
