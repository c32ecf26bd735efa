"""A session folder: setups in chains, pulls with their air, and what can be wrong with it. Invented."""

from pathlib import Path
from typing import Any

import pytest
from tests.unit.bench.sheets import MUFFLED_TWIN

from pulsewright.bench.session import read_session
from pulsewright.errors import InputError

SESSION = """\
format = "pulsewright session 1"
complaint = "flat at 3000, then it kicks"
riding_band = ["2200 rpm", 4000]
target_lambda = [0.84, "0,90"]

[logger]
torque = "wheel"
lambda_delay = "120 ms"
decimal = ","
units.torque = "lbf ft"

[[setup]]
name = "C"
based_on = "B"
change = [ ["exhaust.route.1.3.angle", "90 deg"] ]
[[setup]]
name = "A"
sheet = "setup.toml"
[[setup]]
name = "B"
based_on = "A"
change = [ ["carburettor.1.main_jet", "1.70 mm"], ["exhaust.route.2", [ \
{ piece = "pipe", length = "800 mm", bore = "44 mm" }, { piece = "end", kind = "open" } ]] ]
note = "two steps leaner"

[[pull]]
file = "pulls/01.csv"
setup = "A"
kind = "sweep"
air = { temperature = "24 degC", pressure = "99.4 kPa", humidity = "45 %" }
head_temperature = "168 degC"
note = "third pull of the warm-up set"
[[pull]]
file = "pulls/02.csv"
setup = "C"
air = { temperature = "75.2 degF", pressure = "29.4 inHg" }
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "session.toml").write_text(SESSION, encoding="utf-8")
    (tmp_path / "setup.toml").write_text(MUFFLED_TWIN, encoding="utf-8")
    (tmp_path / "pulls").mkdir()
    for name in ("01", "02"):
        (tmp_path / "pulls" / f"{name}.csv").write_text("rpm,torque\n", encoding="utf-8")
    return tmp_path


def rewrite(folder: Path, old: str, new: str) -> Path:
    assert old in SESSION
    (folder / "session.toml").write_text(SESSION.replace(old, new), encoding="utf-8")
    return folder


def test_all_that_the_session_says(folder: Path):
    session = read_session(folder)
    assert session.complaint == "flat at 3000, then it kicks"
    assert (session.riding_band, session.target_lambda) == ((2200.0, 4000.0), (0.84, 0.90))
    assert (session.logger.torque, session.logger.lambda_delay) == ("wheel", pytest.approx(0.12))
    assert (session.logger.decimal, session.logger.units) == (",", {"torque": "lbf ft"})
    first, second = session.pulls
    assert first.file == folder / "pulls" / "01.csv"
    assert first.air is not None
    assert (first.air.temperature, first.air.pressure) == pytest.approx((297.15, 99400.0))
    assert first.air.humidity == 0.45
    assert first.head_temperature == pytest.approx(441.15)
    assert first.note == "third pull of the warm-up set"
    assert (second.kind, second.setup, second.head_temperature) == ("sweep", "C", None)


def test_a_chain_of_setups_carries_every_change(folder: Path):
    session: Any = read_session(folder / "session.toml")
    assert [each.name for each in session.setups] == ["C", "A", "B"]
    a, b, c = (session.setup(name).setup for name in "ABC")
    jets = [each.carburettors[0].main_jet for each in (a, b, c)]
    assert jets == pytest.approx([1.85e-3, 1.70e-3, 1.70e-3])
    assert [each.exhaust.route[1][2].angle_deg for each in (a, b, c)] == [45.0, 45.0, 90.0]
    assert [len(each.exhaust.route[2]) for each in (a, b, c)] == [6, 2, 2]
    assert session.setup("B").note == "two steps leaner"
    assert session.setup("C").changes == (("exhaust.route.1.3.angle", "90 deg"),)
    assert session.pull_setup(session.pulls[1]).name == "C"


def test_what_was_not_written_down_is_assumed(folder: Path):
    keys = {each.key for each in read_session(folder).assumptions}
    assert keys == {"pull.2.kind", "pull.2.air.humidity"}
    rewrite(folder, 'riding_band = ["2200 rpm", 4000]\n', "")
    assert "riding_band" in {each.key for each in read_session(folder).assumptions}


def test_an_unknown_delay_is_none(folder: Path):
    assert read_session(rewrite(folder, '"120 ms"', '"unknown"')).logger.lambda_delay is None


def test_a_pull_without_air_has_none(folder: Path):
    rewrite(folder, 'air = { temperature = "75.2 degF", pressure = "29.4 inHg" }\n', "")
    assert read_session(folder).pulls[1].air is None


@pytest.mark.parametrize(
    ("old", "new", "words", "hint"),
    [
        ("pulsewright session 1", "pulsewright session 9", "session 9", "pulsewright session 1"),
        ("complaint =", "complain =", "unknown key 'complain'", "complaint"),
        ("lambda_delay =", "lamda_delay =", "unknown key 'lamda_delay'", "lambda_delay"),
        ('"120 ms"', '"120 mm"', "lambda_delay", "0 s to 10 s"),
        ('torque = "wheel"', 'torque = "crank"', "'engine', 'wheel'", "engine"),
        ('"2200 rpm", 4000', "4000, 2200", "from low to high", "lower number first"),
        ('["2200 rpm", 4000]', '["2200 rpm"]', "a list of 2 entries", "'2200 rpm', '4000 rpm'"),
        ("[0.84,", "[84,", "target_lambda.1", "decimal point"),
        ('based_on = "A"', 'based_on = "AA"', "no setup here", "A"),
        ('based_on = "A"', 'based_on = "C"', "in a ring: C -> B -> C", "sheet"),
        ('based_on = "A"', 'based_on = "B"', "in a ring: C -> B -> B", "sheet"),
        ('name = "B"', 'name = "A"', "two setups are called 'A'", "a name of its own"),
        ('sheet = "setup.toml"\n', "", "neither sheet nor based_on", "setup.toml"),
        (
            'sheet = "setup.toml"',
            'sheet = "setup.toml"\nbased_on = "B"',
            "both sheet and based_on",
            "setup.toml",
        ),
        ('sheet = "setup.toml"', 'sheet = "setpu.toml"', "not in the session folder", "setup.toml"),
        ('sheet = "setup.toml"', 'sheet = "../setup.toml"', "allowed: a file in the session folder", "copy"),
        ("pulls/02.csv", "pulls/03.csv", "'pulls/03.csv' is not in", "pulls/02.csv"),
        ("pulls/02.csv", "/etc/hostname", "allowed: a file in the session folder", "copy"),
        ('setup = "C"', 'setup = "c"', "'c', which is no setup", "known here: A, B, C"),
        ("carburettor.1.main_jet", "carburettor.1.main_jett", "no path", "carburettor.1.main_jet"),
        ('"1.70 mm"', '"170 mm"', "carburettor.1.main_jet", "decimal point"),
        ('"exhaust.route.1.3.angle", "90 deg"', '"exhaust.route.1.3.angle"', "no change", "main_jet"),
        ('pressure = "99.4 kPa"', 'pressure = "99.4 degC"', "pull.1.air.pressure", "50 kPa to 110 kPa"),
        ('pressure = "99.4 kPa", ', "", "pull.1.air.pressure is missing", "pressure"),
        ('humidity = "45 %"', "humidity = 45", "humidity is 45", "unit"),
        ('"168 degC"', '"168 mm"', "head_temperature", "18 degC"),
        ('kind = "sweep"', 'kind = "swep"', "'sweep', 'steps'", "sweep"),
    ],
)
def test_a_slip_is_refused_in_words(folder: Path, old: str, new: str, words: str, hint: str):
    with pytest.raises(InputError) as refused:
        read_session(rewrite(folder, old, new))
    error = refused.value
    assert words in error.what
    assert hint in (error.hint or "")
    assert (error.where or "").startswith(str(folder))
    assert "\n" not in error.what


def test_an_error_in_a_changed_sheet_names_the_setup(folder: Path):
    with pytest.raises(InputError) as refused:
        read_session(rewrite(folder, '"1.70 mm"', '"170 mm"'))
    assert "setup 'B'" in (refused.value.where or "")


def test_an_error_in_the_sheet_names_its_line(folder: Path):
    text = MUFFLED_TWIN.replace('bore = "96 mm"', 'bore = "9600 mm"')
    (folder / "setup.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_session(folder)
    assert refused.value.where == f"{folder / 'setup.toml'}, line 6, engine.bore"


@pytest.mark.parametrize("missing", ["session.toml", "setup.toml"])
def test_a_missing_file_is_refused(folder: Path, missing: str):
    (folder / missing).unlink()
    with pytest.raises(InputError, match=missing):
        read_session(folder)


def test_a_name_that_is_no_setup(folder: Path):
    with pytest.raises(InputError, match="no setup 'D'"):
        read_session(folder).setup("D")
