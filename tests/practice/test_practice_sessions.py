"""Practice sessions with a known truth, made by a model that is not ours.

They lie outside this repository: in the folder named by PULSEWRIGHT_PRACTICE, or beside the checkout in
`shared/sessions`. Where there are none, these tests are skipped. Nothing in the code is tuned to them.
"""

import os
import re
import tomllib
from functools import cache
from pathlib import Path

import numpy as np
import pytest

BESIDE = Path(__file__).resolve().parents[3] / "shared" / "sessions"
FOLDER = Path(os.environ.get("PULSEWRIGHT_PRACTICE", BESIDE))
SESSIONS = sorted(p.parent.name for p in FOLDER.glob("*/truth.toml")) if FOLDER.is_dir() else []
pytestmark = pytest.mark.skipif(not SESSIONS, reason="no practice sessions beside the checkout")
each_session = pytest.mark.parametrize("name", SESSIONS)


@cache
def truth(name: str) -> dict:
    return tomllib.loads((FOLDER / name / "truth.toml").read_text(encoding="utf-8"))


@cache
def pulls_of(name: str):
    from pulsewright.bench.session import read_session
    from pulsewright.pulls.session_pulls import read_session_pulls

    session = read_session(FOLDER / name)
    return session, read_session_pulls(session)


@cache
def answer_of(name: str, fitted: bool = False):
    from pulsewright.remedies.explain import explain_session

    return explain_session(pulls_of(name)[0], fitted=fitted)


@each_session
def test_the_hole_is_found_where_the_truth_has_one(name: str):
    hole, true = pulls_of(name)[1].hole, truth(name)["hole"]
    if true == "none":
        assert hole is None
        return
    assert hole is not None
    assert hole.rpm_bottom == pytest.approx(true["rpm_bottom"], abs=100.0)
    assert hole.depth == pytest.approx(true["depth"], abs=0.03)


# What the truth says was put into the measurement, and the finding that is due. Pulls that are too few and an
# engine that warms up are true of any session.
DUE = {
    "head temperature": "heat soak", "dilution": "dilution", "slip": "slip", "misfire": "misfire", "drift": "drift",
    "starvation": "fuel starvation", "weather": "weather change", "pick-up": "pick-up",
}  # fmt: skip
TRUE_OF_ANY = {"too few pulls", "warm-up"}


@each_session
def test_artefacts_are_named_where_the_truth_has_them_and_nowhere_else(name: str):
    imposed = truth(name)["imposed_by_measurement_layer"]
    due = {kind for word, kind in DUE.items() if word in imposed}
    assert {f.kind for f in pulls_of(name)[1].findings} - TRUE_OF_ANY == due


@each_session
def test_the_plain_sheet_predicts_the_measured_torque_within_15_percent(name: str):
    """With the measured mixture imposed, in the riding band outside the hole.

    Where outside air reached the lambda sensor there is no true measured mixture; the model then meters
    fuel by the sheet's jets.
    """
    answer = answer_of(name)
    curves, model = answer.pulls.setups[answer.pulls.baseline], answer.sheet
    measured = np.interp(model.rpm, curves.rpm, curves.torque)
    low, high = answer.pulls.riding_band
    healthy = (model.rpm >= low) & (model.rpm <= high)
    if answer.pulls.hole is not None:
        healthy &= (model.rpm < answer.pulls.hole.rpm_from) | (model.rpm > answer.pulls.hole.rpm_to)
    assert healthy.any()
    assert np.max(np.abs(model.torque_nm[healthy] / measured[healthy] - 1.0)) < 0.15


@each_session
def test_the_verdict_is_one_that_the_truth_accepts(name: str):
    assert answer_of(name).explanation.verdict in truth(name)["acceptable"]


@pytest.mark.slow
@each_session
def test_with_a_quick_fit_verdict_and_shares_agree_with_the_truth(name: str):
    """Shares of the exhaust wave and the mixture within 0.15; `unexplained` is not part of the truth's."""
    explanation = answer_of(name, fitted=True).explanation
    assert explanation.verdict in truth(name)["acceptable"]
    if truth(name)["hole"] == "none":
        return
    assert explanation.split is not None
    found = {s.cause: s.share for s in explanation.split.shares}
    off = {cause: found.get(cause, 0.0) - share for cause, share in truth(name)["shares"].items()}
    print(f"{name}: shares off by {off}")
    worst = max(abs(each) for each in off.values())
    assert worst <= 0.15, off


@each_session
def test_a_report_is_written(name: str, tmp_path: Path):
    from pulsewright.report.tell import story_of
    from pulsewright.report.write import write_report

    page = tmp_path / "report.html"
    write_report(story_of(answer_of(name)), page)
    text = page.read_text(encoding="utf-8")
    assert not re.search(r"\bnan\b", text.lower())
    assert pulls_of(name)[0].complaint.split(",")[0].split(";")[0] in text
