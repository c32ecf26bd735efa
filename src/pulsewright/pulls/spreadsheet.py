"""A spreadsheet (.xlsx) as tab-separated text with decimal points, which the reader then takes as any other.

Cells that hold numbers become the same numbers; clock times and dates become seconds; words stay words.
"""

from __future__ import annotations

import datetime
import importlib
import io
import re
import warnings
import zipfile
from typing import Any

from pulsewright.errors import InputError, MissingToolError, did_you_mean

LARGEST_UNPACKED = 96 * 1024 * 1024  # [byte] four times the largest text file; a packed bomb is far more
FEWEST_ROWS = 5  # of numbers, for a sheet to be a table


def is_workbook(data: bytes) -> bool:
    """Whether the bytes are an .xlsx workbook."""
    if not data.startswith(b"PK\x03\x04"):
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return "xl/workbook.xml" in archive.namelist()
    except Exception:  # a damaged archive ends in whatever the parser met first; then it is no workbook
        return False


def workbook_text(data: bytes, *, where: str, sheet: str | None = None) -> str:
    """The one sheet with a table of numbers as text. `sheet` says which, where several have one."""
    openpyxl = _openpyxl(where)
    _refuse_bomb(data, where)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about styles and extensions, which hold no numbers
        try:
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            sheets = {each.title: list(each.iter_rows(values_only=True)) for each in book.worksheets}
            book.close()
        except Exception as error:  # a damaged workbook ends in whatever the parser met first
            raise InputError(
                f"the spreadsheet cannot be read: {error}", where=where,
                hint="save it again in the spreadsheet program, or export the pull as CSV",
            ) from error  # fmt: skip
    rows = sheets[_choose(sheets, sheet, where)]
    return "\n".join("\t".join(_cell(value) for value in row) for row in rows)


def _openpyxl(where: str) -> Any:
    try:
        return importlib.import_module("openpyxl")
    except ImportError:
        raise MissingToolError(
            "a spreadsheet needs the library openpyxl, which is not installed", where=where,
            hint='pip install "pulsewright[xlsx]", or export the pull as CSV',
        ) from None  # fmt: skip


def _refuse_bomb(data: bytes, where: str) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        size = sum(entry.file_size for entry in archive.infolist())
    if size > LARGEST_UNPACKED:
        raise InputError(
            f"the spreadsheet unpacks to {size / 1e6:.0f} MB; allowed: {LARGEST_UNPACKED / 1e6:.0f} MB",
            where=where,
            hint="export one pull a file, or at a lower rate (20 to 100 rows a second are plenty)",
        )


def _choose(sheets: dict[str, list[tuple[Any, ...]]], wanted: str | None, where: str) -> str:
    if wanted is not None:
        if wanted not in sheets:
            raise InputError(f"the workbook has no sheet '{wanted}'", where=where, hint=did_you_mean(wanted, sheets))
        return wanted
    tables = [name for name, rows in sheets.items() if sum(map(_is_numeric, rows)) >= FEWEST_ROWS]
    if not tables:
        raise InputError(
            "no sheet of the workbook holds a table of numbers", where=where,
            hint="formulas keep their numbers only when the spreadsheet program saved them",
        )  # fmt: skip
    if len(tables) > 1:
        raise InputError(
            f"{len(tables)} sheets hold numbers: {', '.join(tables)}", where=where,
            hint=f'say which: --sheet "{tables[0]}"',
        )  # fmt: skip
    return tables[0]


def _is_numeric(row: tuple[Any, ...]) -> bool:
    filled = [value for value in row if value is not None]
    numbers = [value for value in filled if _cell(value) and not isinstance(value, str)]
    return len(numbers) > 1 and len(numbers) > 0.5 * len(filled)


def _cell(value: Any) -> str:
    if value is None or isinstance(value, bool):
        return ""
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, datetime.datetime):
        return repr((value - datetime.datetime(1900, 1, 1)).total_seconds())
    if isinstance(value, datetime.timedelta):
        return repr(value.total_seconds())
    if isinstance(value, datetime.time):
        return repr(value.hour * 3600.0 + value.minute * 60.0 + value.second + value.microsecond * 1e-6)
    return re.sub(r"\s+", " ", str(value)).replace('"', "'").strip()
