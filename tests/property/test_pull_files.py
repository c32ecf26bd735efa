"""Any table in any dialect reads back equal; a damaged file gives the right table or a clear refusal."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pulsewright.errors import InputError, MissingToolError
from pulsewright.pulls.decoding import decode
from pulsewright.pulls.dialect import read_table
from pulsewright.pulls.number_text import NumberForm
from pulsewright.pulls.read_pull import pull_from_bytes

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "cp1250")
FORMS = ((".", ""), (",", ""), (",", "."), (".", ","), (".", " "), (",", " "), (".", "'"))
COMMENTS = ("# Prüfstand, Halle 2", "// meting", "run export, unsmoothed", "%", "Volllast")

dialects = st.fixed_dictionaries(
    {
        "separator": st.sampled_from(",;\t|"),
        "form": st.sampled_from(FORMS),
        "encoding": st.sampled_from(ENCODINGS),
        "comments": st.lists(st.sampled_from(COMMENTS), max_size=3),
        "units": st.booleans(),
        "newline": st.sampled_from(["\n", "\r\n"]),
        "places": st.integers(1, 4),
        "trailing": st.booleans(),
    }
)


def _try(read):
    """The result, or the refusal; anything else is a defect and passes through."""
    try:
        return read(), None
    except (InputError, MissingToolError) as refused:
        return None, refused


@st.composite
def tables(draw, places):
    rows = draw(st.integers(5, 12))
    step = 10.0**places
    numbers = st.integers(-(10**7), 10**8).map(lambda n: n / step)
    return np.array([[draw(numbers) for _ in range(3)] for _ in range(rows)])


def _cell(value: float, dialect) -> str:
    decimal, thousands = dialect["form"]
    text = f"{value:,.{dialect['places']}f}"
    text = text.replace(",", "\0").replace(".", decimal).replace("\0", thousands)
    return f'"{text}"' if dialect["separator"] in text else text


def write(table: np.ndarray, dialect) -> bytes:
    """The table as a shop would write it."""
    separator = dialect["separator"]
    lines = [*dialect["comments"], separator.join(["Zeit", "Drehzahl", "Größe"])]
    if dialect["units"]:
        lines.append(separator.join(["s", "1/min", "Nm"]))
    end = separator if dialect["trailing"] else ""
    lines += [separator.join(_cell(value, dialect) for value in row) + end for row in table]
    return (dialect["newline"].join(lines) + dialect["newline"]).encode(dialect["encoding"])


@settings(max_examples=120, deadline=None)
@given(st.data())
def test_any_table_in_any_dialect_reads_back_equal(data):
    dialect = data.draw(dialects)
    table = data.draw(tables(dialect["places"]))
    text, _ = decode(write(table, dialect), where="file")
    decimal, thousands = dialect["form"]
    read, refused = _try(lambda: read_table(text, where="file"))
    if read is None:  # three places look like thousands: then the user is asked, and with the answer the file reads
        assert refused is not None
        assert "decimal or a thousands mark" in refused.what
        assert dialect["places"] == 3
        read = read_table(text, where="file", form=NumberForm(decimal=decimal, thousands=thousands))
    assert read.headings == ("Zeit", "Drehzahl", "Größe")
    assert (read.units_row is not None) == dialect["units"]
    np.testing.assert_array_equal(read.values, table)


RPM = np.linspace(1800.0, 6000.0, 60)
TORQUE = 100.0 - 20.0 * ((RPM - 3800.0) / 2000.0) ** 2
SOUND = (
    "t (s);rpm;M (Nm);P (kW);lambda\n"
    + "".join(
        f"{(n - 1800) / 450:.3f};{n:.1f};{m:.2f};{m * n * np.pi / 30e3:.3f};{0.86 + 0.0001 * m:.4f}\n"
        for n, m in zip(RPM, TORQUE, strict=True)
    )
).encode()

edits = st.lists(
    st.tuples(
        st.sampled_from(["flip", "drop", "insert", "cut", "double", "swap"]),
        st.integers(0, len(SOUND) - 1),
        st.integers(0, 255),
        st.integers(1, 60),
    ),
    min_size=1,
    max_size=6,
)


def _damage(data: bytes, changes) -> bytes:
    for kind, place, byte, length in changes:
        place %= max(1, len(data))
        if kind == "flip":
            data = data[:place] + bytes([byte]) + data[place + 1 :]
        elif kind == "drop":
            data = data[:place] + data[place + length :]
        elif kind == "insert":
            data = data[:place] + bytes([byte]) * (length % 4) + data[place:]
        elif kind == "cut":
            data = data[:place]
        elif kind == "double":
            data = data[:place] + data[place : place + length] + data[place:]
        else:
            data = data[:place] + data[place : place + 2][::-1] + data[place + 2 :]
    return data


COMMA = SOUND.replace(b".", b",").replace(b"t (s);rpm;M (Nm);P (kW);lambda", b"t;n;M;P;lambda\ns;1/min;Nm;kW;-")
TABBED = SOUND.replace(b";", b"\t").decode().encode("utf-16")


def _right_or_refused(sound: bytes, changes) -> None:
    """Every sample from a line that the damage left alone is right; a damaged digit is a number like another."""
    damaged = _damage(sound, changes)
    pull, refused = _try(lambda: pull_from_bytes(damaged, "damaged.csv"))
    if pull is None:
        assert refused is not None
        assert all((refused.what, refused.where, refused.hint))
        return
    untouched = set(sound.splitlines())
    hurt = sum(line not in untouched for line in damaged.splitlines())
    good = pull.usable & np.isfinite(pull.torque)
    off = np.abs(pull.torque[good] / np.interp(pull.engine_speed[good], RPM, TORQUE) - 1.0)
    assert (off > 0.004).sum() <= hurt


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from([SOUND, COMMA, TABBED]), edits)
def test_a_damaged_file_is_read_right_or_refused_clearly(sound, changes):
    _right_or_refused(sound, changes)


@pytest.mark.slow
@settings(max_examples=10_000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from([SOUND, COMMA, TABBED]), edits)
def test_ten_thousand_damaged_files(sound, changes):
    _right_or_refused(sound, changes)


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=400))
def test_arbitrary_bytes_never_end_in_a_traceback(data):
    pull, refused = _try(lambda: pull_from_bytes(data, "noise.csv"))
    assert (pull is None) == (refused is not None)
