"""The ways shops write files: read alike, or refused with the reason."""

import numpy as np
import pytest

from pulsewright.errors import InputError
from pulsewright.pulls.decoding import decode
from pulsewright.pulls.dialect import read_table

ROWS = [
    (0.0, 1600.0, 48.25),
    (0.05, 1612.5, 49.0),
    (0.1, 1631.25, 51.5),
    (0.15, 1650.0, 52.75),
    (0.2, 1671.0, 53.0),
]


def _text(separator: str, decimal: str, thousands: str = "", lead: str = "", units: str = "") -> str:
    def cell(value: float) -> str:
        text = f"{value:,.3f}".replace(",", "T").replace(".", decimal).replace("T", thousands)
        return f'"{text}"' if separator in text else text

    lines = [separator.join(["Zeit", "Drehzahl", "Drehmoment"])]
    if units:
        lines.append(units)
    lines += [separator.join(map(cell, row)) for row in ROWS]
    return lead + "\n".join(lines) + "\n"


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize(
    ("decimal", "thousands"), [(".", ""), (",", ""), (",", "."), (".", ","), (",", " "), (".", "'")]
)
def test_every_dialect_gives_the_same_numbers(separator, decimal, thousands):
    table = read_table(_text(separator, decimal, thousands), where="file")
    assert table.headings == ("Zeit", "Drehzahl", "Drehmoment")
    np.testing.assert_allclose(table.values, ROWS)


@pytest.mark.parametrize(
    "lead", ["# Halle 2\n", "; full throttle\n; third gear\n", "run export, unsmoothed\n", "// meting\n\n"]
)
def test_lines_before_the_table_are_kept_as_comments(lead):
    table = read_table(_text(",", ".", lead=lead), where="file")
    np.testing.assert_allclose(table.values, ROWS)
    assert len(table.comments) == lead.strip().count("\n") + 1


def test_a_second_heading_row_holds_the_units():
    table = read_table(_text(";", ",", units="s;1/min;Nm"), where="file")
    assert table.units_row == ("s", "1/min", "Nm")


def test_a_decimal_comma_in_a_comma_separated_file_is_refused():
    with pytest.raises(InputError, match="names but the rows have"):
        read_table("t,n,M\n" + "\n".join(f"0,{k},1600,5,48,2{k}" for k in range(6)), where="file")


def test_three_digits_after_a_mark_and_nothing_else_is_refused_and_can_be_confirmed():
    from pulsewright.pulls.number_text import NumberForm

    text = "n;M\n" + "\n".join(f"1.60{k};48.25{k}" for k in range(6))
    with pytest.raises(InputError, match="decimal or a thousands mark"):
        read_table(text, where="file")
    assert read_table(text, where="file", form=NumberForm(decimal=".")).values[0, 0] == 1.600
    assert read_table(text, where="file", form=NumberForm(decimal=",", thousands=".")).values[0, 0] == 1600.0


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "cp850"])
def test_encodings_keep_the_names(encoding):
    text = "Zeit [s];Leistung gemäß Prüfstand [kW];Kopf [°C]\n" + "0,00;1,50;150,1\n" * 9
    assert decode(text.encode(encoding), where="file")[0] == text


def test_cyrillic_names_are_told_from_latin_ones():
    text = "время;обороты;момент\n" + "0,00;1600,5;150,1\n" * 9
    assert decode(text.encode("cp1251"), where="file") == (text, "cp1251")


@pytest.mark.parametrize("data", [b"PK\x03\x04rest", b"%PDF-1.7", b"t;n\x00\x01\x02;\x07M\n1;2;3"])
def test_what_is_no_text_is_refused(data):
    with pytest.raises(InputError):
        decode(data, where="file")


@pytest.mark.parametrize("text", ["", "hello", "t;n;M\n", "t;n;M\n1;2;3\n", "a,b\n" + "x,y\n" * 20, "1;2;3\n" * 9])
def test_what_is_no_table_is_refused(text):
    with pytest.raises(InputError):
        read_table(text, where="file")
