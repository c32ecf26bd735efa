"""Lines of text to a table of numbers: separator, number form, headings, comments.

The table is the largest block of rows that split into the same number of cells, most of them numbers.
The one or two rows of words right above it are its headings; anything before is kept as a comment.
Nothing is guessed: where two readings of the numbers remain possible the file is refused with both.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass

import numpy as np

from pulsewright.errors import InputError
from pulsewright.pulls.number_text import NumberForm, is_empty, looks_numeric, parse_number

SEPARATORS = (";", "\t", ",", "|")
FEWEST_ROWS = 5  # fewer samples are no pull
_SPREAD_SAMPLE = 120  # rows looked at to choose a separator; the rest must then agree
_COMMENT_STARTS = ("#", "//", "%", "!", "--", "*", "'")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A delimited file as read: headings, unit row, numbers, and how it was written."""

    headings: tuple[str, ...]
    units_row: tuple[str, ...] | None
    values: np.ndarray  # (n_row, n_column), NaN where empty or unreadable
    separator: str
    form: NumberForm
    comments: tuple[str, ...]
    notes: tuple[str, ...]


def read_table(text: str, *, where: str, separator: str | None = None, form: NumberForm | None = None) -> Table:
    """Read a delimited text. `separator` and `form` confirm what cannot be told from the file."""
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        raise InputError("the file is empty", where=where, hint="export the pull again")
    separator = separator or _choose_separator(lines, where)
    rows, comments, uneven = _table_rows(lines, separator, where)
    headings, units_row, body, lead = _split_headings(rows, where)
    form = form or _choose_form(body, separator, headings, where)
    values, unreadable = _numbers(body, form, headings, where)
    notes = []
    if uneven:
        notes.append(f"{uneven} rows with another number of cells left out")
    if unreadable:
        notes.append(f"{unreadable} cells are not numbers and were left empty")
    return Table(
        headings=headings,
        units_row=units_row,
        values=values,
        separator=separator,
        form=form,
        comments=(*comments, *lead),
        notes=tuple(notes),
    )


def _cells(line: str, separator: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator, skipinitialspace=True))]
    except (csv.Error, StopIteration):
        return [line]


def _is_comment(line: str, separator: str) -> bool:
    start = line.lstrip()
    if start.startswith(_COMMENT_STARTS) and not looks_numeric(start.split(separator)[0]):
        return not start.startswith("'") or separator not in start
    return start.startswith(";") and separator != ";"


def _is_data(cells: list[str]) -> bool:
    filled = [cell for cell in cells if not is_empty(cell)]
    if len(cells) < 2 or not filled:
        return False
    return sum(map(looks_numeric, filled)) > 0.5 * len(filled)


def _choose_separator(lines: list[str], where: str) -> str:
    """Separator under which most rows are numbers and equally long."""
    middle = lines[-_SPREAD_SAMPLE:]
    best, best_score = "", 0.0
    for separator in SEPARATORS:
        split = [_cells(line, separator) for line in middle if not _is_comment(line, separator)]
        data = [cells for cells in split if _is_data(cells)]
        if not data:
            continue
        width, count = Counter(map(len, data)).most_common(1)[0]
        numeric = np.mean([looks_numeric(c) or is_empty(c) for cells in data for c in cells])
        score = count / len(middle) * float(numeric) ** 4
        if score > best_score + 1e-9 and width > 1:
            best, best_score = separator, score
    if best_score < 0.5:
        raise InputError(
            "no table of numbers found: rows do not split evenly at comma, semicolon or tab",
            where=where,
            hint="export as CSV with one row a sample; if the decimal sign is a comma, separate by semicolon or tab",
        )
    return best


def _table_rows(lines: list[str], separator: str, where: str) -> tuple[list[list[str]], list[str], int]:
    """Rows of the table with its headings, the comment lines, and how many odd rows were left out."""
    comments = [line for line in lines if _is_comment(line, separator)]
    split = [_cells(line, separator) for line in lines if not _is_comment(line, separator)]
    split = [cells for cells in split if any(cells)]
    widths = Counter(len(cells) for cells in split if _is_data(cells))
    if not widths:
        raise InputError("the file holds no rows of numbers", where=where, hint="export the pull again")
    width = widths.most_common(1)[0][0]
    if _ends_in_separator([cells for cells in split if len(cells) == width and _is_data(cells)], split, width):
        width -= 1
    split = [_fit_width(cells, width) for cells in split]
    first = next((i for i, cells in enumerate(split) if _is_data(cells) and len(cells) == width), len(split))
    head, body = split[:first], split[first:]
    kept = [cells for cells in body if len(cells) == width]
    uneven = len(body) - len(kept)
    if uneven > 0.05 * len(body):
        raise InputError(
            f"{uneven} of {len(body)} rows do not have {width} cells",
            where=where,
            hint="a decimal comma in a comma-separated file does this: separate by semicolon, or quote the cells",
        )
    wrong_heads = [cells for cells in head if len(cells) != width]
    heads = [cells for cells in head if len(cells) == width]
    if not heads and wrong_heads and len(wrong_heads[-1]) > 1:
        raise InputError(
            f"the heading has {len(wrong_heads[-1])} names but the rows have {width} cells",
            where=where,
            hint="a decimal comma in a comma-separated file does this: separate by semicolon, or quote the cells",
        )
    return heads + kept, comments + [separator.join(c) for c in wrong_heads], uneven


def _ends_in_separator(data: list[list[str]], rows: list[list[str]], width: int) -> bool:
    """True when every row of numbers ends in a separator and no heading names a last column."""
    named = any(len(cells) == width and cells[-1] for cells in rows)
    return width > 2 and not named and all(cells[-1] == "" for cells in data)


def _fit_width(cells: list[str], width: int) -> list[str]:
    """Drop empty cells that a trailing separator makes."""
    while len(cells) > width and cells[-1] == "":
        cells = cells[:-1]
    return cells


def _split_headings(
    rows: list[list[str]], where: str
) -> tuple[tuple[str, ...], tuple[str, ...] | None, list[list[str]], list[str]]:
    first = next(i for i, cells in enumerate(rows) if _is_data(cells))
    heads, body = rows[:first], rows[first:]
    body = [cells for cells in body if _is_data(cells) or all(map(is_empty, cells))]
    if len(body) < FEWEST_ROWS:
        raise InputError(
            f"the file has {len(body)} rows of numbers; a pull has at least {FEWEST_ROWS}",
            where=where,
            hint="export the whole pull, one row a sample",
        )
    if not heads:
        raise InputError(
            "the columns have no names",
            where=where,
            hint="add a heading row such as: time (s);rpm;torque (Nm);lambda",
        )
    units_row = tuple(heads[-1]) if len(heads) > 1 and _is_units_row(heads[-1]) else None
    names = heads[-2] if units_row else heads[-1]
    names = [name or f"column {i + 1}" for i, name in enumerate(names)]
    lead = [" ".join(cells) for cells in (heads[:-2] if units_row else heads[:-1])]
    return tuple(names), units_row, body, lead


def _is_units_row(cells: list[str]) -> bool:
    from pulsewright.pulls.channel_units import find_unit

    filled = [cell for cell in cells if cell]
    known = sum(find_unit(cell) is not None for cell in filled)
    return bool(filled) and known >= 0.5 * len(filled)


def _choose_form(body: list[list[str]], separator: str, headings: tuple[str, ...], where: str) -> NumberForm:
    """Number form of the file, from the cells that can be read only one way."""
    if _points_only(body):
        return NumberForm(decimal=".", thousands="")
    cells = [cell for row in body for cell in row if any(mark in cell for mark in ",.'’ \u00a0\u202f\u2009")]
    votes: Counter[str] = Counter()
    doubtful: list[str] = []
    for cell in cells:
        votes_here = _decimal_votes(cell)
        votes.update(votes_here)
        if not votes_here and re.search(r"[.,]", cell):
            doubtful.append(cell)
    if votes["."] and votes[","]:
        decimal = max(".,", key=lambda mark: votes[mark])
        if min(votes["."], votes[","]) > 0.02 * max(votes["."], votes[","]):
            raise InputError(
                "decimal points and decimal commas are mixed in one file",
                where=where,
                hint="export with one decimal sign",
            )
    elif votes["."] or votes[","]:
        decimal = "." if votes["."] else ","
    else:
        decimal = _decimal_from_doubtful(doubtful, separator, where)
    return NumberForm(decimal=decimal, thousands=_thousands_mark(cells, decimal))


def _points_only(body: list[list[str]]) -> bool:
    """Whether points are the only marks in the file, never two in a cell, and one of them is proved: the
    plain case, told without looking at every cell for itself."""
    if set("".join(map("".join, body))) & set(",'’ \u00a0\u202f\u2009"):
        return False
    pointed = [cell for row in body for cell in row if "." in cell]
    return all(cell.count(".") == 1 for cell in pointed) and any(_decimal_votes(cell) for cell in pointed)


def _decimal_votes(cell: str) -> list[str]:
    """The decimal mark, where this one cell proves it."""
    text = cell.strip().lstrip("+-\u2212")
    marks = [c for c in text if c in ".,"]
    if not marks:
        return []
    other = {".": ",", ",": "."}
    if len(set(marks)) == 2:
        return [marks[-1]]
    if len(marks) > 1:  # twice the same mark: it groups thousands
        return [other[marks[0]]]
    whole, fraction = re.split("[.,]", text)
    if re.search("['’ \u00a0\u202f\u2009]", whole):
        return [marks[0]]
    grouped = len(re.match(r"\d*", fraction).group()) == 3 and 1 <= len(whole) <= 3  # type: ignore[union-attr]
    if not grouped or whole == "0" or "e" in text.lower():
        return [marks[0]]
    return []


def _decimal_from_doubtful(doubtful: list[str], separator: str, where: str) -> str:
    if not doubtful:
        return "."
    raise InputError(
        f"cannot tell whether '{doubtful[0]}' has a decimal or a thousands mark: no cell in the file decides it",
        where=where,
        hint="say so with --decimal , or --decimal .",
    )


def _thousands_mark(cells: list[str], decimal: str) -> str:
    other = "," if decimal == "." else "."
    for cell in cells:
        if other in cell:
            return other
        if re.search("['’]", cell):
            return "'"
        if re.search("\\d[ \u00a0\u202f\u2009]\\d", cell):
            return " "
    return ""


def _numbers(body: list[list[str]], form: NumberForm, headings: tuple[str, ...], where: str) -> tuple[np.ndarray, int]:
    values = np.full((len(body), len(headings)), np.nan)
    unreadable = np.zeros(len(headings), dtype=int)
    for i, row in enumerate(body):
        for j, cell in enumerate(row):
            try:  # the plain case first: most files are long and plain
                value = float(cell) if form.decimal == "." else None
            except ValueError:
                value = None
            if value is None:
                value = parse_number(cell, form)
            if value is None:
                unreadable[j] += 1
            else:
                values[i, j] = value
    values[~np.isfinite(values)] = np.nan
    text_columns = unreadable > 0.5 * len(body)  # a column of words (a marker, a gear name) is no error
    share = unreadable[~text_columns].sum() / max(1, values.size)
    if share > 0.02:
        worst = int(np.argmax(np.where(text_columns, 0, unreadable)))
        raise InputError(
            f"{unreadable[worst]} of {len(body)} cells in column '{headings[worst]}' are not numbers "
            f"with decimal '{form.decimal}'",
            where=where,
            hint="check the decimal sign and the export",
        )
    return values, int(unreadable[~text_columns].sum())
