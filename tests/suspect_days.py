"""Invented sessions with one known cause of the complaint, for judging verdicts: every kind of case of the trade.

No engine model is in them: torque is a healthy curve, times what the mixture costs by the published law, times what
the fault takes. All numbers are invented; sizes and habits are common practice. `Suspect.split` stands in for the
fitted model: the true gains, each wrong by as much as a model may be.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
from tests.dyno_days import Day, missing, slipping, soaking, starving_by_rate
from tests.pull_logs import Curve, Log, smooth_torque, write_session

from pulsewright.cause.causes import (
    ENGINE,
    EXHAUST_WAVE,
    IGNITION,
    INTAKE_WAVE,
    MEASUREMENT,
    MIXTURE,
    MIXTURE_LEAN,
    MIXTURE_RICH,
    NO_HOLE,
    RESTRICTION,
    STARVATION,
)
from pulsewright.cause.shares import CauseShare
from pulsewright.cause.switches import Split
from pulsewright.physics.power_versus_mixture import mixture_factor

JETS = '[ ["carburettor.1.main_jet", "1.40 mm"] ]'
PLATE = (
    '[ ["exhaust.route.1", [ { piece = "pipe", length = "PIPE mm", bore = "40 mm" }, '
    '{ piece = "plate", width = "12 mm", angle = "90 deg", from_end = "40 mm" }, { piece = "end", kind = "open" } ]] ]'
)
STACK = '[ ["intake.before_carburettor", [ { length = "120 mm", bore = "40 mm" } ]] ]'
ORDERS = ("AAABBBCCC", "AAACCC", "AAABBB", "AAAA", "AAABBBCCCDDD", "AAACCCAA")
RPM = np.arange(1800.0, 6001.0, 100.0)


@dataclass
class Engine:
    """What one setup truly does."""

    level: float = 1.0
    tilt: float = 0.0  # torque lost at 6000 rpm against 2500
    mixture: float = 0.86
    slope: float = 0.0  # of lambda a 1000 rpm
    dip_at: float = 3200.0  # [rpm]
    dip: float = 0.0  # depth of what air and waves take
    dip_width: float = 650.0
    bend: float = 0.0  # lambda in the dip, below 0 richer
    bend_at: float | None = None

    def lambda_curve(self) -> Curve:
        """True mixture."""
        at = self.dip_at if self.bend_at is None else self.bend_at
        return lambda rpm: (
            self.mixture + self.slope * (rpm - 3500.0) / 1000.0 + self.bend * _bell(rpm, at, self.dip_width)
        )

    def torque_curve(self) -> Curve:
        """True torque. [N m]"""
        mixture = self.lambda_curve()
        law = np.vectorize(mixture_factor, otypes=[float])

        def torque(rpm: np.ndarray) -> np.ndarray:
            lost = self.tilt * np.clip((rpm - 2500.0) / 3500.0, 0.0, None)
            air = 1.0 - self.dip * _bell(rpm, self.dip_at, self.dip_width)
            return smooth_torque(rpm) * self.level * (1.0 - lost) * air * law(mixture(rpm))

        return torque


def _bell(rpm: np.ndarray, centre: float, width: float) -> np.ndarray:
    return np.exp(-0.5 * ((rpm - centre) * 2.3548 / width) ** 2)


@dataclass
class Suspect:
    """One session before it is written."""

    cause: str
    engines: dict[str, Engine]
    faults: list[tuple[Callable[[Day, np.random.Generator, float], None], float]] = field(default_factory=list)
    read: Curve | None = None  # lambda that the sensor shows instead of the true one
    pipe: float = 900.0
    acceptable: tuple[str, ...] = ()

    def write(self, folder: Path, seed: int) -> Path:
        """Make the pulls and write the folder."""
        random = np.random.default_rng(50_000 + seed)
        order = ORDERS[random.integers(len(ORDERS))]
        scatter = random.uniform(0.004, 0.010)
        rate, delay, lag = random.uniform(300.0, 600.0), random.uniform(0.05, 0.2), random.uniform(0.05, 0.12)
        logs = [
            Log(
                torque=self.engines[name].torque_curve(), mixture=self.read or self.engines[name].lambda_curve(),
                gain=1.0 + scatter * random.normal(), rate=rate * random.uniform(0.98, 1.02), delay=delay, lag=lag,
                seed=10_000 * seed + k,
            )
            for k, name in enumerate(order)
        ]  # fmt: skip
        heads = list(165.0 + random.normal(0.0, 1.0, len(order)))
        airs = [(22.0, 100.5, 45.0)] * len(order)
        day = Day(order=order, logs=logs, heads=heads, airs=airs)
        day.log()
        for fault, size in self.faults:
            fault(day, random, size)
        changes = {"B": JETS, "C": PLATE.replace("PIPE", f"{self.pipe:g}"), "D": STACK}
        pulls = list(zip(order, day.columns, strict=True))
        used = {name: change for name, change in changes.items() if name in order}
        return write_session(folder, pulls, changes=used, heads=day.heads, airs=day.airs, pipe=self.pipe)

    def split(self, seed: int) -> Split | None:
        """What a fitted model would say at the bottom, wrong by as much as models are."""
        random = np.random.default_rng(60_000 + seed)
        base = self.engines["A"]
        lambda_ = float(base.lambda_curve()(np.array([base.dip_at]))[0])
        gains = {MIXTURE: 1.0 - mixture_factor(lambda_)}
        wave = INTAKE_WAVE if self.cause == INTAKE_WAVE else EXHAUST_WAVE
        gains[wave] = base.dip if self.cause not in (IGNITION, MEASUREMENT) else 0.01
        gains = {c: g * np.exp(0.3 * random.normal()) + 0.005 for c, g in gains.items()}
        whole = sum(gains.values())
        shares = sorted(gains.items(), key=lambda row: -row[1])
        return Split(
            rpm=base.dip_at, measured_rpm=base.dip_at, as_built=1.0 - whole, all_off=1.0, single={}, richness=1.1,
            pulsation=2.0, gain_fraction=whole, fitted=True, draws=8,
            shares=tuple(CauseShare(cause=c, share=g / whole, low=0.0, high=1.0) for c, g in shares),
        )  # fmt: skip

    def sheet(self, seed: int) -> SimpleNamespace:
        """What the plain model of the sheet would say: the healthy engine, wrong in level and tilt."""
        random = np.random.default_rng(70_000 + seed)
        wrong = np.exp(0.08 * random.normal() + 0.04 * random.normal() * (RPM - 3900.0) / 2800.0)
        return SimpleNamespace(rpm=RPM, torque_nm=smooth_torque(RPM) * wrong)


def _setups(base: Engine, *, jets: float, pipe: Engine | None = None, stack: Engine | None = None) -> dict[str, Engine]:
    return {
        "A": base, "B": replace(base, mixture=base.mixture + jets), "C": pipe or base, "D": stack or base,
    }  # fmt: skip


def _weaker(base: Engine, random: np.random.Generator) -> Engine:
    """The wave with a plate, or moved by a longer way."""
    if random.random() < 0.6:
        left = random.uniform(0.15, 0.6)
        return replace(base, dip=left * base.dip, bend=left * base.bend)
    return replace(base, dip_at=base.dip_at - random.uniform(180.0, 400.0), dip=random.uniform(0.7, 1.1) * base.dip)


def exhaust_wave(random: np.random.Generator, *, rich: bool = False) -> Suspect:
    base = Engine(
        mixture=random.uniform(0.72, 0.78) if rich else random.uniform(0.80, 0.90), slope=random.normal(0.0, 0.01),
        dip_at=random.uniform(2700.0, 3800.0), dip=random.uniform(0.06, 0.2), dip_width=random.uniform(450.0, 850.0),
        bend=-random.uniform(0.0, 0.1),
    )  # fmt: skip
    return Suspect(EXHAUST_WAVE, _setups(base, jets=random.uniform(0.03, 0.09), pipe=_weaker(base, random)))


def wave_and_rich(random: np.random.Generator) -> Suspect:
    return exhaust_wave(random, rich=True)


def intake_wave(random: np.random.Generator) -> Suspect:
    base = exhaust_wave(random).engines["A"]
    slight = replace(base, dip=random.uniform(0.85, 1.0) * base.dip)
    return Suspect(INTAKE_WAVE, _setups(base, jets=0.05, pipe=slight, stack=_weaker(base, random)))


def rich(random: np.random.Generator) -> Suspect:
    base = Engine(mixture=random.uniform(0.62, 0.73), slope=random.normal(0.0, 0.01))
    return Suspect(MIXTURE_RICH, _setups(base, jets=random.uniform(0.05, 0.12)))


def rich_hole(random: np.random.Generator) -> Suspect:
    """A circuit that gives too much over a part of the speeds."""
    base = Engine(
        mixture=random.uniform(0.80, 0.86), bend=-random.uniform(0.14, 0.20), dip_at=random.uniform(2800.0, 3800.0),
        dip_width=random.uniform(700.0, 1100.0),
    )  # fmt: skip
    filled = replace(base, bend=0.4 * base.bend)
    return Suspect(MIXTURE_RICH, _setups(base, jets=0.0) | {"B": filled})


def lean(random: np.random.Generator) -> Suspect:
    base = Engine(mixture=random.uniform(0.98, 1.12), slope=random.normal(0.0, 0.01))
    return Suspect(MIXTURE_LEAN, _setups(base, jets=-random.uniform(0.05, 0.1)))


def lean_hole(random: np.random.Generator) -> Suspect:
    base = Engine(
        mixture=random.uniform(0.88, 0.94), bend=random.uniform(0.14, 0.22), dip_at=random.uniform(2800.0, 3800.0),
        dip_width=random.uniform(600.0, 900.0),
    )  # fmt: skip
    filled = replace(base, bend=0.3 * base.bend)
    return Suspect(MIXTURE_LEAN, _setups(base, jets=0.0) | {"B": filled})


def starving(random: np.random.Generator) -> Suspect:
    base = Engine(mixture=random.uniform(0.84, 0.9))
    faults = [(starving_by_rate, random.uniform(0.12, 0.3))]
    return Suspect(STARVATION, _setups(base, jets=0.04), faults)


def choked(random: np.random.Generator) -> Suspect:
    base = Engine(mixture=random.uniform(0.80, 0.88), tilt=random.uniform(0.15, 0.35))
    return Suspect(RESTRICTION, _setups(base, jets=0.04))


def weak_spark(random: np.random.Generator) -> Suspect:
    """Misses under load in every pull, whatever was changed."""
    base = Engine(mixture=random.uniform(0.82, 0.9))

    def every(day: Day, r: np.random.Generator, size: float) -> None:
        for columns in day.columns:
            missing(Day(order="A", logs=[], heads=[], airs=[], columns=[columns]), r, size)

    return Suspect(IGNITION, _setups(base, jets=0.04), [(every, random.uniform(0.05, 0.2))])


def low_compression(random: np.random.Generator) -> Suspect:
    base = Engine(mixture=random.uniform(0.82, 0.88), level=random.uniform(0.68, 0.85))
    return Suspect(ENGINE, _setups(base, jets=0.04))


def slip_hole(random: np.random.Generator) -> Suspect:
    """The roller loses torque where the tyre slips, and the engine runs ahead of it there."""
    base = Engine(mixture=random.uniform(0.82, 0.88))
    centre, depth = random.uniform(3200.0, 4200.0), random.uniform(0.05, 0.12)

    def slip_there(day: Day, _r: np.random.Generator, _size: float) -> None:
        for columns in day.columns:
            bell = _bell(columns["rpm"], centre, 700.0)
            columns["torque"] = columns["torque"] * (1.0 - depth * bell)
            columns["roller"] = columns["roller"] * (1.0 - 0.6 * depth * bell)

    return Suspect(MEASUREMENT, _setups(base, jets=0.04), [(slip_there, 1.0)])


def slip_at_the_peak(random: np.random.Generator) -> Suspect:
    base = Engine(mixture=random.uniform(0.82, 0.88))
    return Suspect(MEASUREMENT, _setups(base, jets=0.0), [(slipping, random.uniform(0.02, 0.05))])


def false_lean(random: np.random.Generator) -> Suspect:
    """A short pipe: outside air at the sensor, torque that knows nothing of it."""
    base = Engine(mixture=random.uniform(0.84, 0.88))
    extra = random.uniform(0.15, 0.3)
    read = base.lambda_curve()
    suspect = Suspect(MEASUREMENT, _setups(base, jets=0.03), pipe=random.uniform(420.0, 520.0))
    suspect.read = lambda rpm: read(rpm) + extra * np.clip((3600.0 - rpm) / 1600.0, 0.0, 1.2)
    return suspect


def heat(random: np.random.Generator) -> Suspect:
    base = Engine(mixture=random.uniform(0.83, 0.88))
    acceptable = (MEASUREMENT, NO_HOLE)
    return Suspect(MEASUREMENT, _setups(base, jets=0.0), [(soaking, random.uniform(25.0, 45.0))], acceptable=acceptable)


def healthy(random: np.random.Generator) -> Suspect:
    return Suspect(NO_HOLE, _setups(Engine(mixture=random.uniform(0.83, 0.88)), jets=0.02))


# How often a shop meets each, as the priors have it.
CASES: tuple[tuple[float, Callable[[np.random.Generator], Suspect]], ...] = (
    (0.22, exhaust_wave), (0.08, wave_and_rich), (0.05, intake_wave), (0.07, rich), (0.05, rich_hole), (0.03, lean),
    (0.03, lean_hole), (0.05, starving), (0.06, choked), (0.08, weak_spark), (0.06, low_compression),
    (0.03, slip_hole), (0.02, slip_at_the_peak), (0.03, false_lean), (0.04, heat), (0.10, healthy),
)  # fmt: skip


def drawn(seed: int) -> tuple[str, Suspect]:
    """A case as a shop would meet it, with its name."""
    random = np.random.default_rng(40_000 + seed)
    chances = np.array([share for share, _ in CASES])
    case = CASES[random.choice(len(CASES), p=chances / chances.sum())][1]
    return case.__name__, case(random)
