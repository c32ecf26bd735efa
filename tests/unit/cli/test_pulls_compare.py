"""`pulsewright pulls compare`: the answer first, then numbers, then the picture."""

import json
import xml.etree.ElementTree as ElementTree

import pytest
from click.testing import CliRunner
from tests.pull_logs import Log, day, smooth_torque, with_dip, write_session

from pulsewright.cli.pulls import command
from pulsewright.errors import InputError, UsageError

JETS = '[ ["carburettor.1.main_jet", "1.45 mm"] ]'
PIPE = '[ ["exhaust.route.1.1.length", "700 mm"] ]'


def _run(*arguments: object):
    return CliRunner().invoke(command, ["compare", *map(str, arguments)], catch_exceptions=False, standalone_mode=False)


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    """A has a hole that B's jets fill; C is A again with another pipe. Order A-B-B-A, then C."""
    hole = Log(torque=with_dip(smooth_torque, 3300.0, 0.12, 700.0))
    logs = dict.fromkeys("AC", hole) | {"B": Log()}
    pulls = [(s, day(s, log=logs[s], scatter=0.004, seed=k)[0][1].columns()) for k, s in enumerate("ABBAABCC")]
    folder = tmp_path_factory.mktemp("compare") / "s"
    return write_session(folder, pulls, changes={"B": JETS, "C": PIPE})


def test_the_sentence_comes_first_and_the_numbers_after_it(session):
    told = _run(session, "A", "B")
    assert told.exit_code == 0
    first, empty, *numbers = told.stdout.splitlines()
    assert first.startswith("B makes ")
    assert "more torque than A between 2500 and 4500 rpm" in first
    assert empty == ""
    text = "\n".join(numbers)
    for part in (
        "mean of",
        "in the hole of A",
        "worst",
        "top end",
        "ruled out",
        "local change",
        "more pulls",
    ):
        assert part in text


def test_json_holds_the_curve_with_its_band(session):
    data = json.loads(_run(session, "A", "B", "--json").stdout)
    assert data["format"] == "pulsewright comparison 1"
    curve = data["curve"]
    assert data["proven"] is True
    assert data["pulls"] == [3, 3]
    assert data["order"]["order"] == "ABBAAB.."
    assert data["refit"] is False
    assert all(a < m < b for a, m, b in zip(curve["low"], curve["percent"], curve["high"], strict=True))
    assert curve["critical"] > curve["pointwise"]
    assert curve["best"]["low"] < 100.0 * (1 / 0.88 - 1) < curve["best"]["high"]
    assert curve["kind"] == "local"
    assert curve["best"]["rpm"] == pytest.approx(3300.0, abs=100.0)


def test_turning_the_question_round_turns_the_answer_round(session):
    there = json.loads(_run(session, "A", "B", "--json").stdout)
    back = json.loads(_run(session, "B", "A", "--json").stdout)
    assert (1 + there["mean_percent"] / 100) * (1 + back["mean_percent"] / 100) == pytest.approx(1, abs=2e-4)
    assert back["curve"]["worst"]["rpm"] == there["curve"]["best"]["rpm"]


def test_parts_that_were_refitted_widen_the_interval(session):
    data = json.loads(_run(session, "A", "C", "--json").stdout)
    assert data["refit"] is True
    assert data["proven"] is False
    assert data["interval"][0] < 0.0 < data["interval"][1]
    assert data["more_pulls"]["more_pulls_second"] is None
    assert "put each setup together afresh" in data["more_pulls"]["text"]


def test_a_margin_asked_for_decides_the_exit_code(session):
    met = _run(session, "A", "C", "--within", "9", "--band", "2500:4500")
    assert met.return_value == 0
    assert "anywhere in the band: shown" in met.stdout
    missed = _run(session, "A", "C", "--within", "0.5", "--json")
    assert missed.return_value == 1
    assert json.loads(missed.stdout)["within_shown"] is False


def test_a_band_beyond_the_pulls_is_cut_and_said(session):
    data = json.loads(_run(session, "A", "B", "--band", "3000:9000", "--json").stdout)
    assert data["band"][0] == 3000.0
    assert data["band"][1] <= 6000.0
    assert "band cut" in data["notes"][0]
    assert max(data["curve"]["rpm"]) <= data["band"][1]


def test_what_cannot_work_is_told(session, tmp_path):
    for arguments, error in (
        (("A", "Q"), UsageError),
        (("A", "A"), UsageError),
        (("A", "B", "--band", "high"), UsageError),
        (("A", "B", "--band", "3000:3050"), UsageError),
        (("A", "B", "--band", "8000:9000"), InputError),
        (("A", "B", "-o", "x.png"), UsageError),
        (("A", "B", "-o", tmp_path / "none" / "x.svg"), InputError),
    ):
        with pytest.raises(error):
            _run(session, *arguments)


def test_the_picture_shows_curve_band_and_sentence(session, tmp_path):
    path = tmp_path / "difference.svg"
    assert _run(session, "A", "B", "-o", path).exit_code == 0
    text = path.read_text(encoding="utf-8")
    assert ElementTree.fromstring(text).tag.endswith("svg")
    assert "B makes" in text
    assert "95 % certainty" in text
    assert "fill-opacity:0.2" in text  # the band


def test_a_bad_order_is_told_with_its_price(tmp_path):
    """A-A-A-B-B-B under -0.5 % a pull and no effect: plain means would show -1.5 %."""
    pulls = [(s, day(s, scatter=0.001, seed=60 + k)[0][1].columns()) for k, s in enumerate("AAABBB")]
    for k, (_, columns) in enumerate(pulls):
        columns["torque"] *= 1.0 - 0.005 * k
    folder = write_session(tmp_path / "s", pulls, changes={"B": JETS})
    told = _run(folder, "A", "B").stdout
    data = json.loads(_run(folder, "A", "B", "--json").stdout)
    assert "order AAABBB: a drift of 0.1 % a pull would add +0.30 % to plain means; taken out" in told
    assert "2.1 times as wide as A-B-B-A gives" in told  # square root of (2/3 + 9/4) / (2/3)
    assert data["drift"]["free"] is True
    assert data["drift"]["percent"] == pytest.approx(-0.5, abs=0.2)
    assert data["mean_percent"] == pytest.approx(0.0, abs=0.8)
    assert not data["proven"]
    assert data["more_pulls"]["order"].startswith("A")


def test_what_does_not_repeat_is_no_hole_in_the_json(tmp_path):
    dip = Log(torque=with_dip(smooth_torque, 3300.0, 0.15, 700.0))
    pulls = [("A", dip.columns()), *(("B", day("B", log=dip, seed=70 + k)[0][1].columns()) for k in range(3))]
    folder = write_session(tmp_path / "s", pulls, changes={"B": JETS})
    arguments = ["holes", str(folder), "--json"]
    data = json.loads(CliRunner().invoke(command, arguments, catch_exceptions=False).stdout)
    assert data["hole"] is None
    assert data["holes"]["A"] is None
    assert list(data["not_repeated"]) == ["A"]
    loss = data["holes"]["B"]["against_smooth_curve"]
    assert loss["loss"]["low"] < 0.15 < loss["loss"]["high"]
    assert loss["rpm"]["value"] == pytest.approx(3300.0, abs=40.0)
    assert loss["width_rpm"]["value"] == pytest.approx(700.0, rel=0.15)
    assert "in the hole of A" not in _run(folder, "A", "B").stdout
    assert "not counted as a hole" in _run(folder, "A", "B").stdout


def test_a_broad_loss_is_no_hole_and_a_dip_of_one_pull_is_none(tmp_path):
    """B loses 6 % at all speeds; one pull of A alone has a dip."""
    weak = Log(torque=lambda rpm: 0.94 * smooth_torque(rpm))
    lucky = Log(torque=with_dip(smooth_torque, 3300.0, 0.20, 500.0))
    logs = [("A", Log()), ("B", weak), ("B", weak), ("A", lucky), ("A", Log()), ("B", weak), ("A", Log())]
    pulls = [(s, day(s, log=log, scatter=0.004, seed=20 + k)[0][1].columns()) for k, (s, log) in enumerate(logs)]
    folder = write_session(tmp_path / "s", pulls, changes={"B": JETS})
    told = _run(folder, "A", "B").stdout
    assert "less torque than A" in told
    assert "a broad change" in told
    holes = CliRunner().invoke(command, ["holes", str(folder)], catch_exceptions=False).stdout.splitlines()
    assert holes[0].startswith("A: no hole")
    assert holes[1].startswith("B: no hole")
