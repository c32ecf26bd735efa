"""After a fit to a practice session, changes that are not in its pulls: torque within 3 % rms, lambda within 0.03.

The truth comes from a model that is not ours; its curves are for 25 degC and 101.3 kPa dry, at the crank. They are
compared with what the dyno would read, through the efficiency of the drive that the truth file states.
Nothing in the code is tuned to these sessions. Skipped where there are none.
"""

import os
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.air import Air
from pulsewright.bench.changes import changed_text
from pulsewright.bench.session import Session, read_session
from pulsewright.bench.sheet import setup_from_text
from pulsewright.fit.fit_session import fit_session

BESIDE = Path(__file__).resolve().parents[3] / "shared" / "sessions"
FOLDER = Path(os.environ.get("PULSEWRIGHT_PRACTICE", BESIDE))
TRUTH_AIR = Air(temperature=298.15, pressure=101.3e3, humidity=0.0)


def truth(name: str) -> dict:
    return tomllib.loads((FOLDER / name / "truth.toml").read_text(encoding="utf-8"))


ALL = sorted(p.parent.name for p in FOLDER.glob("*/truth.toml")) if FOLDER.is_dir() else []
WITH_UNSEEN = [name for name in ALL if truth(name).get("unseen")]
pytestmark = [pytest.mark.slow, pytest.mark.skipif(not WITH_UNSEEN, reason="no practice sessions beside the checkout")]


def changed(session: Session, change: list):
    text = changed_text(session.setups[0].text, [(path, value) for path, value in change], where="unseen")
    return replace(setup_from_text(text, "unseen", lines=False), air=TRUTH_AIR)


@pytest.mark.parametrize("name", WITH_UNSEEN)
def test_unseen_changes_are_predicted(name: str):
    session, true = read_session(FOLDER / name), truth(name)
    fit = fit_session(session, draws=4)
    drive = true["measurement"]["drive_efficiency"]
    for change in true["unseen"].values():
        rpm, torque, mixture = np.array(change["curve"]).T
        low, high = fit.setups[0].rpm[[0, -1]]
        speeds = np.linspace(max(low, rpm[0]), min(high, rpm[-1]), 12)
        curves = fit.machine.few(1).sweep(changed(session, change["change"]), speeds)
        apart = curves.reading[0] / (drive * np.interp(speeds, rpm, torque)) - 1.0
        leaner = curves.lambda_sensor[0] - np.interp(speeds, rpm, mixture)
        print(f"{name}: torque {np.sqrt(np.mean(apart**2)):.3f}, lambda {np.sqrt(np.mean(leaner**2)):.3f}")
        assert np.sqrt(np.mean(apart**2)) < 0.03
        assert np.sqrt(np.mean(leaner**2)) < 0.03
