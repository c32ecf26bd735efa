"""Pulls as any logger may leave them, in any dialect: sound samples come back as written, the others do not count."""

import io

import asammdf
import numpy as np
import openpyxl
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from pulsewright.errors import InputError
from pulsewright.pulls.read_pull import pull_from_bytes, pulls_from_bytes
from pulsewright.pulls.reading import Reading

ROWS = 90
RPM = np.linspace(1800.0, 6000.0, ROWS)
TORQUE = 60.0 - 20.0 * ((RPM - 3800.0) / 2000.0) ** 2
TIME = (RPM - 1800.0) / 450.0
NAMES = {"time": ("Zeit", "s"), "rpm": ("Drehzahl", "1/min"), "torque": ("Drehmoment", "Nm"), "lambda": ("Lambda", "")}

habits = st.fixed_dictionaries(
    {
        "separator": st.sampled_from([",", ";", "\t", "|"]),
        "decimal": st.sampled_from([".", ","]),
        "thousands": st.booleans(),
        "encoding": st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "cp1250"]),
        "comments": st.lists(st.sampled_from(["# Prüfstand", "// Halle 2", "Volllast, dritter Gang"]), max_size=2),
        "units": st.sampled_from(["(in names)", "[in names]", "in a row", "in two heading rows"]),
        "time": st.booleans(),
        "pulls": st.integers(1, 3),
        "dropped": st.sets(st.integers(22, ROWS - 10), max_size=3),
        "empty": st.sets(st.integers(22, ROWS - 10), max_size=3),
        "doubled": st.sets(st.integers(22, ROWS - 10), max_size=3),
        "swapped": st.sets(st.integers(22, ROWS - 10), max_size=3),
        "repeated": st.sets(st.integers(22, ROWS - 10), max_size=3),
    }
)


def _number(value: float, places: int, habit) -> str:
    if not np.isfinite(value):
        return ""
    thousands = {".": ",", ",": "."}[habit["decimal"]] if habit["thousands"] else ""
    text = f"{value:,.{places}f}".replace(",", "\0").replace(".", habit["decimal"]).replace("\0", thousands)
    return f'"{text}"' if habit["separator"] in text else text


def _headings(names: list[str], habit) -> list[str]:
    join = habit["separator"].join
    words, units = [NAMES[name][0] for name in names], [NAMES[name][1] for name in names]
    how = habit["units"]
    if how == "in a row":
        return [join(words), join(units)]
    if how == "in two heading rows":
        return [join(["Motor"] * len(words)), join(words), join(units)]
    left, right = how[0], how[-1]
    return [join(f"{w} {left}{u}{right}" if u else w for w, u in zip(words, units, strict=True))]


def _rows(gain: float, habit) -> list[dict[str, float]]:
    """One pull with the faults of its habit. Rows change places only where a time puts them back."""
    rows = [
        {"time": t, "rpm": n, "torque": m * gain, "lambda": 0.85 + 0.02 * np.sin(n / 300.0)}
        for t, n, m in zip(TIME, RPM, TORQUE, strict=True)
    ]
    for k in habit["doubled"]:
        rows[k]["rpm"] *= 2.0
    for k in habit["dropped"]:
        rows[k]["rpm"] = 0.0
    for k in habit["empty"]:
        rows[k]["torque"] = np.nan
    if habit["time"]:
        for k in habit["swapped"]:
            rows[k - 1], rows[k] = rows[k], rows[k - 1]
    return [row for k, row in enumerate(rows) for _ in range(2 if k in habit["repeated"] else 1)]


def _write(habit) -> bytes:
    names = ["time", "rpm", "torque", "lambda"] if habit["time"] else ["rpm", "torque", "lambda"]
    places = {"time": 4, "rpm": 1, "torque": 2, "lambda": 4}
    lines = [*habit["comments"], *_headings(names, habit)]
    for pull in range(habit["pulls"]):
        for row in _rows(1.0 - 0.1 * pull, habit):
            lines.append(habit["separator"].join(_number(row[name], places[name], habit) for name in names))
    return ("\r\n".join(lines) + "\r\n").encode(habit["encoding"])


PLAIN = {
    "separator": ",", "decimal": ".", "thousands": False, "encoding": "utf-8", "comments": [], "units": "(in names)",
    "time": False, "pulls": 2, "dropped": set(), "empty": set(), "doubled": set(), "swapped": set(), "repeated": set(),
}  # fmt: skip


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(habits)
@example(PLAIN | {"doubled": {22, 23, 24}, "repeated": {22, 23}})
def test_every_sound_sample_of_every_pull_comes_back(habit):
    pulls = pulls_from_bytes(_write(habit), "log.csv")
    assert len(pulls) == habit["pulls"]
    bad = habit["doubled"] | habit["dropped"] | habit["empty"]
    for number, pull in enumerate(pulls):
        assert (pull.time is not None) == habit["time"]
        good = pull.usable
        place = np.round((pull.engine_speed[good] - 1800.0) / (RPM[1] - RPM[0])).astype(int)
        np.testing.assert_allclose(pull.engine_speed[good], RPM[place], atol=0.051)
        np.testing.assert_allclose(pull.torque[good], TORQUE[place] * (1.0 - 0.1 * number), atol=0.0051)
        assert pull.mixture is not None
        np.testing.assert_allclose(pull.mixture[good], 0.85 + 0.02 * np.sin(RPM[place] / 300.0), atol=6e-5)
        if habit["time"]:
            assert pull.time is not None
            np.testing.assert_allclose(pull.time[good], TIME[place], atol=6e-5)
        expected = {k for k in range(18, ROWS - 6) if k not in bad}
        assert expected <= set(place.tolist())
        assert not bad & set(place.tolist())
        assert len(set(place.tolist())) == place.size or not habit["time"]


def _workbook() -> bytes:
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("pull")
    sheet.append(["t (s)", "rpm", "M (Nm)"])
    for row in zip(TIME, RPM, TORQUE, strict=True):
        sheet.append([float(value) for value in row])
    store = io.BytesIO()
    book.save(store)
    return store.getvalue()


def _measurement(folder) -> bytes:
    with asammdf.MDF(version="4.10") as file:
        for name, unit, values in (("rpm", "1/min", RPM), ("torque", "Nm", TORQUE)):
            file.append([asammdf.Signal(samples=values, timestamps=TIME, name=name, unit=unit)])
        path = file.save(folder / "a.mf4", overwrite=True)
    return path.read_bytes()


@pytest.mark.parametrize("kind", ["xlsx", "mdf"])
def test_a_damaged_workbook_or_measurement_is_read_right_or_refused(tmp_path, kind):
    sound = _workbook() if kind == "xlsx" else _measurement(tmp_path)
    random, refused = np.random.default_rng(11), 0
    for _ in range(60):
        data = bytearray(sound)
        for _ in range(random.integers(1, 6)):
            data[random.integers(8, len(data))] = random.integers(0, 256)
        if random.random() < 0.2:
            data = data[: random.integers(40, len(data))]
        try:
            pull = pull_from_bytes(bytes(data), f"a.{kind}")
        except InputError as error:
            refused += bool(error.what and error.where and error.hint)
            continue
        good = pull.usable
        off = np.abs(pull.torque[good] / np.interp(pull.engine_speed[good], RPM, TORQUE) - 1.0)
        assert np.median(off) < 0.02
    assert refused > 5


def test_the_pull_of_a_file_is_the_one_asked_for():
    habit = {
        "separator": ";", "decimal": ",", "thousands": True, "encoding": "utf-8", "comments": [], "units": "in a row",
        "time": True, "pulls": 3, "dropped": set(), "empty": set(), "doubled": set(), "swapped": set(),
        "repeated": set(),
    }  # fmt: skip
    pull = pull_from_bytes(_write(habit), "log.csv", reading=Reading(pull=3))
    assert pull.torque[pull.usable].max() == pytest.approx(60.0 * 0.8, abs=0.1)
