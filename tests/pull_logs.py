"""Invented pull files whose truth is known: torque and mixture seen through a dyno's habits.

All engines and numbers are invented. The measurement habits (gain, bin noise, lag) are those of
common practice.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

Curve = Callable[[np.ndarray], np.ndarray]

SHEET = """
format = "pulsewright setup 1"
name = "invented single"
[engine]
cylinders = 1
bore = "90 mm"
stroke = "80 mm"
compression_ratio = 9
[engine.intake_valve]
count = 1
diameter = "42 mm"
lift = "10 mm"
opens = "25 deg BTDC"
closes = "55 deg ABDC"
[engine.exhaust_valve]
count = 1
diameter = "36 mm"
lift = "10 mm"
opens = "55 deg BBDC"
closes = "25 deg ATDC"
[[carburettor]]
kind = "fixed venturi"
feeds = [1]
venturi = "32 mm"
throttle_bore = "36 mm"
main_jet = "1.50 mm"
main_air_bleed = "1.00 mm"
main_nozzle = "3.5 mm"
nozzle_lip = "6 mm"
[intake]
mouth = "open"
before_carburettor = [ { length = "40 mm", bore = "40 mm" } ]
after_carburettor = [ { length = "60 mm", bore = "36 mm" } ]
[exhaust]
route.1 = [ { piece = "pipe", length = "PIPE mm", bore = "40 mm" }, { piece = "end", kind = "open" } ]
lambda_sensor.1 = "300 mm"
"""


def smooth_torque(rpm: np.ndarray) -> np.ndarray:
    """A healthy engine's torque. [N m]"""
    return 48.0 - 14.0 * ((rpm - 3800.0) / 2600.0) ** 2


def with_dip(curve: Curve, centre: float, depth: float, width: float) -> Curve:
    """The curve with a Gaussian dip of this relative depth and full width at half depth [rpm]."""
    return lambda rpm: curve(rpm) * (1.0 - depth * np.exp(-0.5 * ((rpm - centre) * 2.3548 / width) ** 2))


def wavy_mixture(rpm: np.ndarray) -> np.ndarray:
    """Lambda with a rich dip at 3000 rpm and a rise after it. [-]"""
    return 0.86 - 0.10 * np.exp(-0.5 * ((rpm - 3000.0) / 220.0) ** 2) + 0.03 * np.tanh((rpm - 4200.0) / 500.0)


@dataclass(frozen=True, kw_only=True)
class Log:
    """One pull as a logger would see it."""

    torque: Curve = smooth_torque
    mixture: Curve = wavy_mixture
    low: float = 1800.0  # [rpm]
    high: float = 6000.0
    rate: float = 450.0  # [rpm/s], negative: from high to low
    step: float = 0.04  # [s]
    delay: float = 0.12  # [s]
    lag: float = 0.08
    gain: float = 1.0
    noise: float = 0.004  # [-] of torque, correlated over 100 rpm
    slip: float = 0.0  # [-] at greatest torque
    lambda_noise: float = 0.004  # [-]
    cuts: tuple[float, ...] = ()  # [s] when the ignition fails for 0.25 s: torque halves, lambda reads 0.15 more
    seed: int = 0

    def columns(self) -> dict[str, np.ndarray]:
        """time [s], rpm, roller [m/s], torque [N m], lambda."""
        random = np.random.default_rng(self.seed)
        fine = 0.002
        time = np.arange(0.0, (self.high - self.low) / abs(self.rate), fine)
        rpm = (self.low if self.rate > 0 else self.high) + self.rate * time
        opening = 1.0 - 0.5 * np.exp(-time * abs(self.rate) / 60.0)  # the throttle opens
        rough = _correlated(random, time.size, fine * abs(self.rate) / 100.0)
        cut = sum((np.clip(1.0 - np.abs(time - at) / 0.25, 0.0, 1.0) for at in self.cuts), np.zeros(time.size))
        torque = self.torque(rpm) * self.gain * (1.0 + self.noise * rough) * opening * (1.0 - 0.5 * cut)
        burnt = self.mixture(rpm) + 0.15 * cut
        seen = _first_order(np.interp(time - self.delay, time, burnt), fine, self.lag)
        slip = self.slip * torque / torque.max()
        every = max(1, round(self.step / fine))
        pick = slice(None, None, every)
        count = time[pick].size
        return {
            "time": time[pick],
            "rpm": rpm[pick] + random.normal(0.0, 2.0, count),
            "roller": (rpm / 140.0 * (1.0 - slip))[pick] * (1.0 + random.normal(0.0, 5e-4, count)),
            "torque": torque[pick],
            "lambda": seen[pick] + random.normal(0.0, self.lambda_noise, count),
        }


def _correlated(random: np.random.Generator, count: int, step: float) -> np.ndarray:
    """Unit noise with correlation length 1 in units of `step`."""
    from scipy.signal import lfilter

    keep = np.exp(-step)
    start = random.normal()
    return lfilter([np.sqrt(1 - keep**2)], [1, -keep], random.normal(size=count), zi=[keep * start])[0]


def _first_order(values: np.ndarray, step: float, lag: float) -> np.ndarray:
    from scipy.signal import lfilter

    keep = np.exp(-step / lag)
    return lfilter([1 - keep], [1, -keep], values, zi=[keep * values[0]])[0]


HEADINGS = {
    "time": "time (s)",
    "rpm": "rpm",
    "roller": "roller speed (m/s)",
    "torque": "torque (Nm)",
    "lambda": "lambda",
}


def write_log(path: Path, columns: dict[str, np.ndarray]) -> Path:
    """A plain comma-separated file."""
    lines = [",".join(HEADINGS[name] for name in columns)]
    lines += [",".join(f"{value:.4f}" for value in row) for row in zip(*columns.values(), strict=True)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def write_session(
    folder: Path,
    pulls: list[tuple[str, dict[str, np.ndarray]]],
    *,
    changes: dict[str, str] | None = None,
    heads: list[float] | None = None,
    airs: list[tuple[float, float, float]] | None = None,
    pipe: float = 900.0,
    more: str = "",
) -> Path:
    """A session folder. pulls : (setup, columns); changes : TOML of `change` a setup other than A.

    heads : [degC] a pull, none noted where empty. airs : degC, kPa, % a pull. more : TOML at the top.
    """
    (folder / "pulls").mkdir(parents=True)
    (folder / "setup.toml").write_text(SHEET.replace("PIPE", f"{pipe:g}"), encoding="utf-8")
    text = ['format = "pulsewright session 1"', 'riding_band = ["2500 rpm", "4500 rpm"]']
    text += [more, "[logger]", 'torque = "engine"', "[[setup]]", 'name = "A"', 'sheet = "setup.toml"']
    for name, change in (changes or {}).items():
        text += ["[[setup]]", f'name = "{name}"', 'based_on = "A"', f"change = {change}"]
    for number, (setup, columns) in enumerate(pulls, start=1):
        write_log(folder / "pulls" / f"{number:02d}.csv", columns)
        degrees, pressure, damp = airs[number - 1] if airs else (22.0, 100.5, 45.0)
        text += ["[[pull]]", f'file = "pulls/{number:02d}.csv"', f'setup = "{setup}"', 'kind = "sweep"']
        air = f'temperature = "{degrees:.1f} degC", pressure = "{pressure:.2f} kPa", humidity = "{damp:.0f} %"'
        text += [f"air = {{ {air} }}"]
        if heads != []:
            text += [f'head_temperature = "{heads[number - 1] if heads else 165.0:g} degC"']
    (folder / "session.toml").write_text("\n".join(text) + "\n", encoding="utf-8")
    return folder


def day(setups: str, *, log: Log | None = None, scatter: float = 0.007, seed: int = 0) -> list[tuple[str, Log]]:
    """Pulls of a day: one letter a pull, each with its own gain and noise."""
    random = np.random.default_rng(1000 + seed)
    return [
        (name, replace(log or Log(), gain=1.0 + scatter * random.normal(), seed=100 * seed + k))
        for k, name in enumerate(setups)
    ]
