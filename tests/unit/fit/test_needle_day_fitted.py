"""A constant velocity machine that is fitted, explained, advised on, and asked for changes that were never pulled.

INVENTED: the pulls are our own model's, of a machine whose needle jet is worn, whose spark comes late and which rubs
more than the sheet says (`examples/make_demo_session.py`); so nothing here says that the model is right. It says that
what a fit can learn, main jet, pilot, bleeds, suction at the outlet, is enough where a needle meters. Bounds as for
other sessions: torque within 3 % rms, lambda within 0.03.
"""

from pathlib import Path

import numpy as np
import pytest
from tests.session_maker import session_maker
from tests.unit.cli.test_needle_sessions import sheet_of

from pulsewright.bench.changes import changed_text
from pulsewright.bench.session import read_session
from pulsewright.bench.sheet import setup_from_text
from pulsewright.cli.main import run
from pulsewright.fit.fit import Fit
from pulsewright.fit.fit_session import fit_session

WORN = ("carburettor.1.needle_jet", "2.92 mm")  # 0.03 mm over the usual one, the needle as it was
SPEEDS = range(1600, 5801, 300)
UNSEEN = {
    "needle up a groove": [("carburettor.1.needle_clip", 4)],
    "main jet richer": [("carburettor.1.main_jet", "2.25 mm")],
    "pilot leaner": [("carburettor.1.intermediate_jet", "0.55 mm")],
}
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def maker():
    return session_maker()


@pytest.fixture(scope="module")
def day(maker, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three pulls as it came, two with a leaner main jet, two with plates, one as it came."""
    sheet = sheet_of("constant velocity")
    needle = setup_from_text(sheet, "x").carburettors[0].needle
    assert needle is not None
    assert needle.jet < 2.92e-3 < 1.02 * needle.jet
    worn = [WORN, ("carburettor.1.needle_diameter", f"{1e3 * needle.diameter:.3f} mm")]
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(maker, "HIDDEN", [*maker.HIDDEN, *worn])
        patched.setattr(maker, "CHANGES", {"A": [], "B": [("carburettor.1.main_jet", "2.00 mm")], "C": maker.PLATES})
        folder = tmp_path_factory.mktemp("worn") / "day"
        return maker.make(folder, sheet=sheet, day="AAABBCCA", speeds=SPEEDS)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("store")


@pytest.fixture(scope="module")
def fit(day: Path, store: Path) -> Fit:
    return fit_session(read_session(day), store=store / "fits", draws=12)


@pytest.mark.parametrize("change", UNSEEN)
def test_changes_that_were_never_pulled_are_predicted(maker, day: Path, fit: Fit, change: str):
    text = (day / "setup.toml").read_text(encoding="utf-8")
    at = np.arange(2000.0, 5401.0, 400.0)
    true = maker.truth(text, [*UNSEEN[change], WORN, *kept_needle(text)], at)
    found = fit.machine.few(4).sweep(setup_from_text(changed_text(text, UNSEEN[change]), change), at.tolist())
    torque = found.reading[0] / (maker.TORQUE_GAIN * true.torque) - 1.0
    mixture = found.lambda_sensor[0] - true.mixture
    print(f"{change}: torque off by {rms(torque):.4f}, lambda by {rms(mixture):.4f}")
    assert rms(torque) < 0.03
    assert rms(mixture) < 0.03


def kept_needle(text: str) -> list[tuple[str, str]]:
    """The needle of the sheet, held where its worn jet would have another filled in."""
    needle = setup_from_text(text, "x").carburettors[0].needle
    assert needle is not None
    return [("carburettor.1.needle_diameter", f"{1e3 * needle.diameter:.3f} mm")]


def rms(x: np.ndarray) -> float:
    return float(np.sqrt(np.mean(x**2)))


def test_the_pulls_tell_something_of_what_meters(fit: Fit):
    """At least one of the numbers that a needle machine hangs on is known better than before the pulls."""
    learned = {row.name: row.shrinkage for row in fit.learned}
    print({name: round(learned[name], 2) for name in METERS})
    assert max(learned[name] for name in METERS) > 0.2


METERS = ("main_jet", "intermediate_jet", "bleed", "nozzle_suction")


def test_the_cause_is_found_with_the_fit(day: Path, store: Path, fit: Fit, capsys):
    """What the hidden machine has: an echo that two plates near the ends take away."""
    assert run(["--store", str(store), "explain", str(day)]) == 0
    said = capsys.readouterr().out
    print(said.splitlines()[0])
    assert said.startswith("Verdict: exhaust wave")
    assert "intermediate jet" not in said  # a machine with a needle has a pilot jet


def test_advice_with_the_fit_speaks_of_this_carburettor(day: Path, store: Path, fit: Fit, capsys):
    assert run(["--store", str(store), "advise", str(day), "--candidates", "12"]) == 0
    said = capsys.readouterr().out
    print(said)
    assert "intermediate jet" not in said
    assert any(word in said for word in ("needle", "pilot", "main jet", "pipe", "plate"))
