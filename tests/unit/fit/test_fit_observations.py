"""A small fit on the real model: stopped, gone on with, kept, read back, refused."""

import json
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.unit.fit.invented_single import pulls_made_by

from pulsewright.errors import CancelledError, InputError
from pulsewright.fit.fit import identity_of, load_fit, store_fit
from pulsewright.fit.fit_session import fit_observations, stored_fit
from pulsewright.network.calibration import Calibration

SPEEDS = np.array([2600.0, 3400.0, 4200.0, 5000.0])


@pytest.fixture(scope="module")
def seen():
    return pulls_made_by(Calibration(friction=1.2), "A", SPEEDS, random=np.random.default_rng(1))


@pytest.fixture(scope="module")
def whole(seen, tmp_path_factory):
    folder = tmp_path_factory.mktemp("whole")
    return fit_observations(seen, draws=4, store=folder), folder


def runs_in(folder: Path) -> list[str]:
    return sorted(line.split()[1] for line in next(folder.rglob("kept-runs.log")).read_text().splitlines())


def plain(fit) -> str:
    return json.dumps({**fit.as_json(), "seconds": 0.0})


def test_a_stopped_fit_stops_at_once_and_goes_on_where_it_was(seen, whole, tmp_path: Path):
    asked = []

    def stopped() -> bool:
        if len(asked) == 120:
            asked.append(time.process_time())
        elif len(asked) < 120:
            asked.append(0.0)
        return len(asked) > 120

    with pytest.raises(CancelledError):
        fit_observations(seen, draws=4, store=tmp_path, stopped=stopped)
    assert time.process_time() - asked[-1] < 1.0
    before = runs_in(tmp_path)
    assert 0 < len(before) < len(runs_in(whole[1]))
    assert plain(fit_observations(seen, draws=4, store=tmp_path)) == plain(whole[0])
    assert runs_in(tmp_path) == runs_in(whole[1])  # none lost


def test_progress_rises_to_the_end_and_says_what_is_done(seen, tmp_path: Path):
    told: list[tuple[float, str]] = []
    fit_observations(
        seen, draws=4, quick=True, store=tmp_path, progress=lambda share, words: told.append((share, words))
    )
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert 0.0 <= shares[0] < 0.2
    assert 0.6 < shares[-1] <= 1.0
    assert [*dict.fromkeys(words for _, words in told)][-1] == "drawing machines that the pulls leave possible"


def test_a_kept_fit_is_read_back_as_it_was_and_runs_nothing(seen, whole):
    fit, folder = whole
    again = fit_observations(seen, draws=4, store=folder, stopped=lambda: True)  # any run would be stopped at once
    assert again.machine == fit.machine
    assert again.learned == fit.learned
    assert {**again.as_json(), "setups": 0} == {**fit.as_json(), "setups": 0}
    for mine, theirs in zip(again.as_json()["setups"], fit.as_json()["setups"], strict=True):
        for name, value in mine.items():  # figures of fit are taken anew, of numbers that were rounded to be kept
            assert np.all(value == theirs[name] if name == "name" else np.isclose(value, theirs[name], atol=2e-5)), name


def test_a_fit_of_other_code_is_made_anew_and_not_refused(seen, whole, tmp_path: Path):
    fit = whole[0]
    path = tmp_path / f"{fit.identity.sheets}-{fit.identity.data}" / fit.identity.name
    path.parent.mkdir()
    store_fit(replace(fit, identity=replace(fit.identity, code="of yesterday")), path)
    assert stored_fit(fit.identity, tmp_path) is None
    with pytest.raises(CancelledError):  # it sets out to run the model
        fit_observations(seen, draws=4, store=tmp_path, stopped=lambda: True)


@pytest.mark.parametrize(
    ("change", "named"),
    [({"seed": 2}, "seed"), ({"sheets": "0" * 12}, "sheets"), ({"data": "0" * 12}, "data"), ({"code": "0"}, "code")],
)
def test_a_fit_of_something_else_is_refused(whole, tmp_path: Path, change: dict, named: str):
    fit, path = whole[0], tmp_path / "fit.json"
    store_fit(fit, path)
    with pytest.raises(InputError, match=f"other {named}"):
        load_fit(path, replace(fit.identity, **change))


def test_a_torn_file_is_no_fit(whole, tmp_path: Path):
    path = tmp_path / "fit.json"
    store_fit(whole[0], path)
    path.write_text(path.read_text()[:-40])
    with pytest.raises(InputError, match="no fit"):
        load_fit(path)


def test_other_pulls_are_another_identity(seen):
    mine = identity_of(seen, seed=1, draws=4, quick=False)
    moved = replace(seen, setups=(replace(seen.setups[0], torque=seen.setups[0].torque * 1.001),))
    assert identity_of(moved, seed=1, draws=4, quick=False).data != mine.data
    assert identity_of(moved, seed=1, draws=4, quick=False).sheets == mine.sheets


def test_the_fitted_machine_follows_its_pulls(seen, whole):
    """The pulls were made by the model with 20 % more friction; only noise-free torque at four speeds tells."""
    fit = whole[0]
    assert fit.setups[0].torque_rms < 0.02
    assert fit.setups[0].torque_rms_corrected < 0.01
    curves = fit.machine.few(1).sweep(seen.setups[0].setup, SPEEDS)
    assert curves.reading[0] == pytest.approx(seen.setups[0].torque, rel=0.02)
    assert curves.torque[0] * fit.machine.draws[0].gain == pytest.approx(curves.reading[0])
