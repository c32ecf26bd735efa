"""Make the invented day on the dyno that `pulsewright demo` shows. Run by hand when the model has moved:

    .venv/bin/python examples/make_demo_session.py            # writes src/pulsewright/demo/session
    .venv/bin/python examples/make_demo_session.py FOLDER     # writes there, the sheet is copied first

Everything is INVENTED: workshop, engine, air, pulls. Torque and lambda are our own model's, run on a machine
that is not quite the one on the sheet (`hidden_machine`); a measurement layer with habits of the trade
(common practice, no published source) then makes pulls of them. So the session shows how the tool is used and
proves nothing about its physics. The same seed gives the same noise; setup.toml is written by hand.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pulsewright.bench.changes import changed_text
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.network.calibration import Calibration
from pulsewright.network.options import Options
from pulsewright.simulate.predict import predict

Floats = NDArray[np.float64]

SESSION = Path(__file__).resolve().parents[1] / "src" / "pulsewright" / "demo" / "session"
SEED = 20

LEANER = [("carburettor.1.main_jet", "1.85 mm")]
PIPE = "length = '900 mm', bore = '43 mm', wall = 'single'"
PLATE = "{ piece = 'plate', width = '12 mm', angle = '90 deg', from_end = '40 mm' }"
PLATES = [
    (
        f"exhaust.route.{cylinder}",
        f"[ {{ piece = 'pipe', {PIPE}, bends = {bends} }}, {PLATE}, {{ piece = 'end', kind = 'open' }} ]",
    )
    for cylinder, bends in ((1, [80, 40]), (2, [60, 40]))
]
CHANGES: dict[str, list[tuple[str, str]]] = {"A": [], "B": LEANER, "C": PLATES}
NOTES = {
    "A": "as it came: open pipes (invented)",
    "B": "main jet two steps leaner (invented)",
    "C": "a plate of 12 mm across each pipe near its end, old jet back (invented)",
}
DAY = "AAABBBCCCA"  # the last pull goes back to how it came


# ---- the machine that the sheet does not quite describe ------------------------------------------

EXTRA_DRAG = 0.9, 0.45  # [N m] and [N m per 1000 rpm] of friction more than the model's own
HIDDEN = [
    ("ignition.advance", "[[1000, 7], [2000, 18.5], [3200, 27.5], [6000, 28.5]]"),  # timed a little late
    ("engine.compression_ratio", "8.85"),
]
HIDDEN_OPTIONS = Options(fuel_trim=1.02, calibration=Calibration(loss_position=0.3))
TORQUE_GAIN = 1.012  # the dyno's own calibration


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What one setup truly does."""

    rpm: Floats
    torque: Floats  # [N m] at the crank, in the model's reference air
    mixture: Floats  # [-] lambda where the sensor sits


def hidden_machine(sheet: str, changes: Sequence[tuple[str, Any]]) -> Setup:
    """The sheet with the changes of a setup and with what nobody at the dyno knows."""
    text = changed_text(sheet, [*changes, *HIDDEN])
    return setup_from_text(text, "the hidden machine", lines=False)


def truth(sheet: str, changes: Sequence[tuple[str, Any]], speeds: Sequence[float]) -> Truth:
    """Run the hidden machine at engine speeds [rpm]."""
    model = predict(hidden_machine(sheet, changes), speeds, HIDDEN_OPTIONS)
    drag = EXTRA_DRAG[0] + EXTRA_DRAG[1] * model.rpm / 1000.0
    return Truth(rpm=model.rpm, torque=model.torque_nm - drag, mixture=model.lambda_sensor["1"])


# ---- the measurement -----------------------------------------------------------------------------

LOW, HIGH = 1700.0, 5600.0  # [rpm] of a pull
RATE = 450.0  # [rpm/s]
FINE = 0.002  # [s] step of the layer itself
DELAY, LAG, BIAS = 0.12, 0.07, 0.008  # lambda sensor: [s], [s], [-]
PULL_GAIN, BIN_NOISE, NOISE_WIDTH = 0.005, 0.004, 100.0  # [-] one pull to the next, [-] within one, [rpm]
OPENING = 120.0  # [rpm] in which the throttle's opening fades
COLD_LOSS, WARM = 4e-4, 168.0  # of torque a kelvin below a warm head [degC]
ROLLER = 30.5  # [rpm per km/h]


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Air and engine at one pull."""

    temperature: float  # [degC]
    pressure: float  # [kPa]
    humidity: float  # [%]
    head: float  # [degC] at the start


def conditions(number: int) -> Conditions:
    """Of a pull, counting from 0: the hall warms up, the glass falls a little, the head settles."""
    return Conditions(
        temperature=19.5 + 0.45 * number,
        pressure=99.9 - 0.03 * number,
        humidity=52.0 - number,
        head=148.0 + 24.0 * (1.0 - float(np.exp(-number / 2.5))),
    )


def measure(true: Truth, at: Conditions, *, hertz: float, seed: int) -> dict[str, Floats]:
    """One sweep as the logger keeps it, every 1 / `hertz` seconds; SI but km/h and degC."""
    random = np.random.default_rng([SEED, seed])
    time = np.arange(0.0, (HIGH - LOW) / RATE, FINE)
    rpm = LOW + RATE * time * (1.0 + 0.02 * random.normal())
    head = at.head + 0.9 * time
    air = at.pressure / 99.0 * np.sqrt(298.15 / (at.temperature + 273.15))
    gain = TORQUE_GAIN * (1.0 + PULL_GAIN * random.normal()) * air
    noise = BIN_NOISE * correlated(random, time.size, FINE * RATE / NOISE_WIDTH)
    opening = 1.0 - 0.45 * np.exp(-(rpm - LOW) / OPENING)
    cold = 1.0 - COLD_LOSS * np.maximum(WARM - head, 0.0)
    torque = np.interp(rpm, true.rpm, true.torque) * gain * (1.0 + noise) * opening * cold
    mixture = np.interp(np.interp(time - DELAY, time, rpm), true.rpm, true.mixture)
    seen = first_order(mixture, FINE / LAG) + BIAS
    kept = slice(None, None, round(1.0 / hertz / FINE))
    count = time[kept].size
    speed = rpm[kept]
    return {
        "time": time[kept],
        "rpm": speed + random.normal(0.0, 2.0, count),
        "roller": speed / ROLLER * (1.0 + random.normal(0.0, 6e-4, count)),
        "torque": torque[kept],
        "lambda": seen[kept] + random.normal(0.0, 0.003, count),
        "head": head[kept] + random.normal(0.0, 0.3, count),
    }


def correlated(random: np.random.Generator, count: int, step: float) -> Floats:
    """Noise of unit variance whose correlation falls to 1/e over 1 / `step` samples."""
    from scipy.signal import lfilter

    keep = np.exp(-step)
    start = [keep * random.normal()]
    return lfilter([np.sqrt(1.0 - keep**2)], [1.0, -keep], random.normal(size=count), zi=start)[0]


def first_order(values: Floats, step: float) -> Floats:
    """`values` behind a first-order lag; `step` is the time step over the time constant."""
    from scipy.signal import lfilter

    keep = np.exp(-step)
    return lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * values[0]])[0]


# ---- the files -----------------------------------------------------------------------------------

WORKSHOP = "Quarterlight & Thrum, engine tuners (invented)"


def write_bench_file(path: Path, columns: dict[str, Floats], setup: str) -> None:
    """As the dyno's own program keeps a pull: German, semicolons, decimal comma, remarks first."""
    lines = [
        "# Rollenprüfstand, Halle 2 - ERFUNDENE DATEN, nichts davon wurde gemessen",
        f"# Aufbau {setup}, Volllast, 4. Gang",
        "Zeit;Motordrehzahl;Rolle;Drehmoment;Lambda;Zylinderkopf",
        "s;1/min;km/h;Nm;-;°C",
    ]
    digits = (("time", 2), ("rpm", 0), ("roller", 1), ("torque", 1), ("lambda", 3), ("head", 0))
    lines += [";".join(row).replace(".", ",") for row in rows(columns, digits)]
    path.write_bytes(("\r\n".join(lines) + "\r\n").encode("cp1252"))


def write_laptop_file(path: Path, columns: dict[str, Floats], setup: str) -> None:
    """As the apprentice's laptop exported it: tabs, decimal point, foot-pounds, two languages mixed."""
    lines = [
        f"// setup {setup}, full throttle, 4th gear - INVENTED DATA, nothing here was measured",
        "\t".join(("Time (s)", "Engine rpm", "Rolle (km/h)", "Torque (lbf ft)", "Lambda", "Head temp (°C)")),
    ]
    digits = (("time", 3), ("rpm", 0), ("roller", 2), ("torque", 2), ("lambda", 3), ("head", 1))
    in_feet = {**columns, "torque": columns["torque"] / 1.3558179483314}  # NIST SP 811
    lines += ["\t".join(row) for row in rows(in_feet, digits)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def rows(columns: dict[str, Floats], digits: Sequence[tuple[str, int]]) -> list[list[str]]:
    """The numbers as text, line by line."""
    texts = [[f"{value:.{places}f}" for value in columns[name]] for name, places in digits]
    return [list(row) for row in zip(*texts, strict=True)]


HEADING = f"""\
# INVENTED for this project: no such workshop, engine or day exists, and nothing here was measured.
# Made by examples/make_demo_session.py from our own model and a made-up measurement: see README.md.
format = "pulsewright session 1"
machine = "Narrow twin, open pipes (invented)"
workshop = "{WORKSHOP}"
invented = true
complaint = "since the open pipes: goes flat at 3500, then it kicks; black smoke there"
riding_band = ["2200 rpm", "4600 rpm"]
target_lambda = [0.84, 0.90]      # at full throttle, air-cooled

[logger]
torque = "engine"
lambda_delay = "unknown"
"""


def session_text(day: str) -> str:
    """session.toml: the setups that the day has, and its pulls."""
    parts = [HEADING]
    for name in dict.fromkeys(day):
        base = 'sheet = "setup.toml"' if not CHANGES[name] else 'based_on = "A"\nchange = ' + changes(name)
        parts.append(f'[[setup]]\nname = "{name}"\n{base}\nnote = "{NOTES[name]}"\n')
    for number, name in enumerate(day):
        c = conditions(number)
        temperature, pressure = (
            f'temperature = "{c.temperature:.1f} degC"',
            f'pressure = "{c.pressure:.2f} kPa"',
        )
        humidity = f'humidity = "{c.humidity:.0f} %"'
        parts.append(
            f'[[pull]]\nfile = "pulls/{number + 1:02d}.csv"\nsetup = "{name}"\nkind = "sweep"\n'
            f"air = {{ {temperature}, {pressure}, {humidity} }}\n"
            f'head_temperature = "{c.head:.0f} degC"\nnote = "invented{remark(day, number)}"\n'
        )
    return "\n".join(parts)


def changes(name: str) -> str:
    """The changes of a setup as TOML."""
    pairs = [f'  ["{path}", {value if value[0] == "[" else quoted(value)}],' for path, value in CHANGES[name]]
    return "\n".join(("[", *pairs, "]")).replace("'", '"')


def quoted(text: str) -> str:
    return f'"{text}"'


def remark(day: str, number: int) -> str:
    """What the tuner wrote beside a pull."""
    if number and day[number] == "A" and day[number - 1] != "A":
        return "; plates off again, to see that the hole is still there"
    return ""


def make(folder: Path, *, sheet: str, day: str = DAY, speeds: Sequence[float] = tuple(range(1600, 5801, 100))) -> Path:
    """Write session.toml, setup.toml where it is missing, and the pulls of a day; return the folder."""
    (folder / "pulls").mkdir(parents=True, exist_ok=True)
    if not (folder / "setup.toml").exists():
        (folder / "setup.toml").write_text(sheet, encoding="utf-8")
    truths = {name: truth(sheet, CHANGES[name], [float(s) for s in speeds]) for name in dict.fromkeys(day)}
    for number, name in enumerate(day):
        path = folder / "pulls" / f"{number + 1:02d}.csv"
        from_laptop = name == "C"
        columns = measure(truths[name], conditions(number), hertz=50.0 if from_laptop else 25.0, seed=number)
        (write_laptop_file if from_laptop else write_bench_file)(path, columns, name)
    (folder / "session.toml").write_text(session_text(day), encoding="utf-8")
    return folder


def main(arguments: Sequence[str]) -> None:
    folder = Path(arguments[0]) if arguments else SESSION
    print(make(folder, sheet=(SESSION / "setup.toml").read_text(encoding="utf-8")))


if __name__ == "__main__":
    main(sys.argv[1:])
