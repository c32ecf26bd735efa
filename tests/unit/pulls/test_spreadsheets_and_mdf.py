"""Spreadsheets and MDF files read as their CSV would; without the library the pip line is said."""

import datetime
import io
import sys
import time
import tracemalloc
import zipfile

import asammdf
import numpy as np
import openpyxl
import pytest
from tests.pull_logs import HEADINGS, Log, write_log

from pulsewright.errors import InputError, MissingToolError
from pulsewright.pulls.read_pull import read_pull
from pulsewright.pulls.reading import Reading


def _workbook(path, sheets):
    book = openpyxl.Workbook(write_only=True)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


def _rows(columns):
    names = [HEADINGS[name] for name in columns]
    return [names, *[[float(v) for v in row] for row in zip(*columns.values(), strict=True)]]


def test_a_spreadsheet_reads_as_its_csv(tmp_path):
    columns = {name: np.round(values, 4) for name, values in Log().columns().items()}
    plain = read_pull(write_log(tmp_path / "a.csv", columns))
    notes = [["invented pull"], ["made for this test"]]
    path = _workbook(tmp_path / "a.xlsx", {"cover": [["hello"]], "pull": [*notes, *_rows(columns)]})
    read = read_pull(path)
    assert read.encoding == "xlsx"
    for name in ("engine_speed", "torque", "time"):
        np.testing.assert_array_equal(getattr(read, name), getattr(plain, name))
    assert [c.quantity for c in read.channels] == [c.quantity for c in plain.channels]


def test_clock_times_become_seconds(tmp_path):
    columns = Log().columns()
    start = datetime.datetime(2031, 5, 2, 10, 15)
    rows = _rows(columns)
    for row in rows[1:]:
        row[0] = start + datetime.timedelta(milliseconds=round(1000 * row[0]))
    rows[0][0] = "Zeit"
    read = read_pull(_workbook(tmp_path / "a.xlsx", {"pull": rows}))
    assert read.time is not None
    np.testing.assert_allclose(read.time - read.time[0], columns["time"], atol=1e-3)


def test_the_sheet_is_asked_for_where_several_hold_numbers(tmp_path):
    one, two = (Log(gain=gain).columns() for gain in (1.0, 0.8))
    path = _workbook(tmp_path / "a.xlsx", {"first": _rows(one), "second": _rows(two)})
    with pytest.raises(InputError, match="2 sheets hold numbers: first, second"):
        read_pull(path)
    read = read_pull(path, reading=Reading(sheet="second"))
    assert read.torque.max() == pytest.approx(two["torque"].max())
    with pytest.raises(InputError, match="no sheet 'third'"):
        read_pull(path, reading=Reading(sheet="third"))


def test_a_damaged_or_swollen_workbook_is_refused(tmp_path, monkeypatch):
    path = _workbook(tmp_path / "a.xlsx", {"pull": _rows(Log().columns())})
    data = bytearray(path.read_bytes())
    data[400:900] = b"\0" * 500
    (tmp_path / "b.xlsx").write_bytes(data)
    with pytest.raises(InputError):
        read_pull(tmp_path / "b.xlsx")
    monkeypatch.setattr("pulsewright.pulls.spreadsheet.LARGEST_UNPACKED", 1000)
    with pytest.raises(InputError, match="unpacks to"):
        read_pull(path)


def test_a_zip_that_is_no_workbook_is_refused(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("a.csv", "rpm;Nm\n")
    with pytest.raises(InputError, match="a zip archive"):
        read_pull(tmp_path / "a.zip")


def _empty_workbook() -> bytes:
    store = io.BytesIO()
    with zipfile.ZipFile(store, "w") as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
    return store.getvalue()


@pytest.mark.parametrize(
    ("library", "extra", "data"),
    [("openpyxl", "xlsx", _empty_workbook()), ("asammdf", "mdf", b"MDF     4.10    " + bytes(64))],
)
def test_without_the_library_the_pip_line_is_said(tmp_path, monkeypatch, library, extra, data):
    monkeypatch.setitem(sys.modules, library, None)  # as if it were not installed
    path = tmp_path / f"a.{extra}"
    path.write_bytes(data)
    with pytest.raises(MissingToolError) as told:
        read_pull(path)
    assert f'pip install "pulsewright[{extra}]"' in str(told.value)
    assert told.value.exit_code == 3


def test_an_mdf_file_reads_as_its_csv(tmp_path):
    columns = Log().columns()
    plain = read_pull(write_log(tmp_path / "a.csv", columns))
    units = {"rpm": "1/min", "roller": "m/s", "torque": "Nm", "lambda": "-"}
    names = {"rpm": "Drehzahl", "roller": "Rolle", "torque": "Drehmoment", "lambda": "lambda"}
    with asammdf.MDF(version="4.10") as file:
        for name, unit in units.items():
            pick = slice(None, None, 2 if name == "lambda" else 1)  # a slower clock of its own
            signal = asammdf.Signal(
                samples=columns[name][pick],
                timestamps=columns["time"][pick] + 100.0,
                name=names[name],
                unit=unit,
            )
            file.append([signal])
        file.save(tmp_path / "a.mf4")
    read = read_pull(tmp_path / "a.mf4")
    assert read.encoding == "mdf"
    np.testing.assert_allclose(read.torque, plain.torque, atol=1e-3)
    np.testing.assert_allclose(read.engine_speed, plain.engine_speed, atol=1e-3)
    assert read.mixture is not None
    np.testing.assert_allclose(read.mixture[::2][:-1], columns["lambda"][::2][:-1], atol=1e-6)


def test_a_damaged_mdf_file_is_refused(tmp_path):
    (tmp_path / "a.mf4").write_bytes(b"MDF     4.10    " + bytes(200))
    with pytest.raises(InputError, match=r"cannot be read|no numeric"):
        read_pull(tmp_path / "a.mf4")


def _refused(path, match):
    """Refused at once and with little memory."""
    tracemalloc.start()
    started = time.process_time()
    with pytest.raises(InputError, match=match) as told:
        read_pull(path)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert time.process_time() - started < 2.0
    assert peak < 8e6
    assert "export one pull a file" in (told.value.hint or "")


@pytest.mark.parametrize(
    ("name", "start"), [("a.csv", b"t;rpm\n"), ("a.mf4", b"MDF     4.10"), ("a.xlsx", b"PK\x03\x04")]
)
def test_a_file_of_200_megabytes_is_refused_at_once(tmp_path, name, start):
    with (tmp_path / name).open("wb") as file:
        file.write(start)
        file.truncate(200_000_000)  # a hole in the file takes no room on the disk
    _refused(tmp_path / name, "the file is 200 MB")


def test_a_small_workbook_that_unpacks_to_300_megabytes_is_refused_at_once(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.xlsx", "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
        with archive.open("xl/worksheets/sheet1.xml", "w") as sheet:
            for _ in range(300):
                sheet.write(b" " * 1_000_000)
    assert (tmp_path / "a.xlsx").stat().st_size < 3e6
    _refused(tmp_path / "a.xlsx", "unpacks to 300 MB")


def test_a_small_measurement_that_unpacks_to_too_much_is_refused(tmp_path, monkeypatch):
    with asammdf.MDF(version="4.10") as file:
        for k in range(4):
            file.append([asammdf.Signal(samples=np.zeros(300_000), timestamps=np.arange(3e5) / 1e3, name=f"c{k}")])
        file.save(tmp_path / "a.mf4", compression=2)
    assert (tmp_path / "a.mf4").stat().st_size < 5e6
    monkeypatch.setattr("pulsewright.pulls.measurement_file.MOST_NUMBERS", 1_000_000)
    with pytest.raises(InputError, match="unpacks to 2 million numbers"):
        read_pull(tmp_path / "a.mf4")
