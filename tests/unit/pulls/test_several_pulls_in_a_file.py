"""Files as loggers leave them: several pulls, rows out of order, repeated or lost; each with its recipe."""

import hashlib
from dataclasses import replace

import numpy as np
import pytest
from tests.pull_logs import HEADINGS, Log, write_log, write_session

from pulsewright.bench.session import read_session
from pulsewright.errors import InputError
from pulsewright.pulls.read_pull import read_pull, read_pulls
from pulsewright.pulls.reading import Reading
from pulsewright.pulls.session_pulls import read_session_pulls

GAINS = (1.0, 0.9, 1.1)


def _logs(**more) -> list[dict[str, np.ndarray]]:
    return [Log(noise=0.001, gain=gain, seed=k, **more).columns() for k, gain in enumerate(GAINS)]


def _joined(logs, *, gap: float | None = None) -> dict[str, np.ndarray]:
    """One table of several pulls; gap: the clock runs on, with so many seconds between them."""
    joined = {name: np.concatenate([log[name] for log in logs]) for name in logs[0]}
    if gap is not None:
        start = 0.0
        times = []
        for log in logs:
            times.append(log["time"] + start)
            start = times[-1][-1] + gap
        joined["time"] = np.concatenate(times)
    return joined


def _coasting(log: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The pull with ten seconds of coasting down after it."""
    time = np.arange(0.04, 10.0, 0.04)
    fall = log["rpm"][-1] + (1800.0 - log["rpm"][-1]) * time / 10.0
    more = {
        "time": log["time"][-1] + time, "rpm": fall, "roller": fall / 140.0,
        "torque": np.full(time.size, -4.0), "lambda": np.full(time.size, 1.2),
    }  # fmt: skip
    return {name: np.concatenate([log[name], more[name]]) for name in log}


def _same_as_alone(path, tmp_path, logs):
    for k, (pull, log) in enumerate(zip(read_pulls(path), logs, strict=True), start=1):
        alone = read_pull(write_log(tmp_path / "alone.csv", log))
        assert pull.number == k
        np.testing.assert_array_equal(pull.torque[pull.usable], alone.torque[alone.usable])
        np.testing.assert_array_equal(pull.engine_speed[pull.usable], alone.engine_speed[alone.usable])


def test_time_that_starts_again_splits_the_file(tmp_path):
    logs = _logs()
    path = write_log(tmp_path / "a.csv", _joined(logs))
    _same_as_alone(path, tmp_path, logs)
    assert read_pulls(path)[1].recipe.of("take pull")[0]["by"] == "time starts again"


def test_a_number_column_splits_the_file(tmp_path):
    logs = _logs()
    columns = _joined(logs)
    numbers = np.repeat([7, 8, 9], [log["time"].size for log in logs])
    text = "Lauf Nr;" + ";".join(HEADINGS[name] for name in columns) + "\n"
    for n, row in zip(numbers, zip(*columns.values(), strict=True), strict=True):
        text += f"{n};" + ";".join(f"{value:.4f}" for value in row) + "\n"
    path = tmp_path / "a.csv"
    path.write_text(text)
    _same_as_alone(path, tmp_path, logs)
    assert next(c.quantity for c in read_pulls(path)[0].channels) == "pull_number"


@pytest.mark.parametrize("gap", [5.0, 200.0])
def test_speed_that_turns_back_splits_a_clock_that_runs_on(tmp_path, gap):
    # 200 s between pulls: the file spans longer than any pull, and its seconds are not taken for milliseconds
    logs = _logs()
    path = write_log(tmp_path / "a.csv", _joined([_coasting(log) for log in logs], gap=gap))
    pulls = read_pulls(path)
    assert len(pulls) == 3
    for pull, log in zip(pulls, logs, strict=True):
        assert pull.time is not None
        assert np.ptp(pull.time[pull.usable]) == pytest.approx(np.ptp(log["time"][log["rpm"] > 2200]), abs=0.3)
        assert pull.torque[pull.usable].max() == pytest.approx(log["torque"].max(), rel=1e-3)
        assert (pull.torque[pull.usable] > 0).all()


def test_up_and_down_under_load_are_two_pulls_and_coasting_is_none(tmp_path):
    up, down = Log(seed=1).columns(), Log(rate=-450.0, seed=2).columns()
    both = write_log(tmp_path / "both.csv", _joined([up, down], gap=0.1))
    first, second = read_pulls(both)
    assert first.engine_speed[first.usable][0] < first.engine_speed[first.usable][-1]
    assert second.engine_speed[second.usable][0] > second.engine_speed[second.usable][-1]
    coasted = write_log(tmp_path / "coasted.csv", _coasting(up))
    assert len(read_pulls(coasted)) == 1


def test_one_pull_is_never_split(tmp_path):
    for k, log in enumerate([Log(), Log(rate=-300.0), Log(step=0.2), Log(rate=700.0, step=0.01)]):
        assert len(read_pulls(write_log(tmp_path / f"{k}.csv", log.columns()))) == 1
    doubled = Log().columns()
    doubled["rpm"][30:55] *= 2.0  # a clamp that doubles for a second is no second pull
    assert len(read_pulls(write_log(tmp_path / "doubled.csv", doubled))) == 1


def test_which_pull_must_be_said(tmp_path):
    path = write_log(tmp_path / "a.csv", _joined(_logs()))
    with pytest.raises(InputError, match="holds 3 pulls"):
        read_pull(path)
    assert read_pull(path, reading=Reading(pull=2)).number == 2
    with pytest.raises(InputError, match="no pull 4"):
        read_pull(path, reading=Reading(pull=4))


def test_a_session_takes_its_pulls_by_number(tmp_path):
    logs = _logs()
    folder = write_session(tmp_path / "s", [("A", log) for log in logs])
    apart = read_session_pulls(read_session(folder))
    write_log(folder / "pulls" / "01.csv", _joined(logs))
    text = (folder / "session.toml").read_text()
    for k in (1, 2, 3):
        text = text.replace(f'"pulls/0{k}.csv"', f'"pulls/01.csv"\nnumber = {k}')
    (folder / "session.toml").write_text(text)
    together = read_session_pulls(read_session(folder))
    np.testing.assert_array_equal(together.setups["A"].torques, apart.setups["A"].torques)


def _shuffled(columns, seed=0):
    """Neighbours change places here and there, as buffers of a logger do."""
    order = np.arange(columns["time"].size)
    for i in np.random.default_rng(seed).integers(1, order.size - 1, 15):
        order[[i - 1, i]] = order[[i, i - 1]]
    return {name: values[order] for name, values in columns.items()}


def test_rows_out_of_order_and_repeated_give_the_same_pull(tmp_path):
    columns = Log().columns()
    sound = read_pull(write_log(tmp_path / "sound.csv", columns))
    twice = np.sort(np.concatenate([np.arange(columns["time"].size), np.arange(40, 60)]))
    bad = _shuffled({name: values[twice] for name, values in columns.items()})
    read = read_pull(write_log(tmp_path / "bad.csv", bad))
    np.testing.assert_array_equal(read.engine_speed, sound.engine_speed)
    np.testing.assert_array_equal(read.torque, sound.torque)
    assert read.recipe.of("leave out rows")[0]["count"] == 20
    assert read.recipe.of("sort rows")[0]["by"] == "time"
    assert not sound.recipe.of("sort rows")


def test_repeated_rows_without_a_time_are_left_out(tmp_path):
    columns = Log().columns()
    del columns["time"]
    sound = read_pull(write_log(tmp_path / "sound.csv", columns))
    twice = np.repeat(np.arange(columns["rpm"].size), 2)
    read = read_pull(write_log(tmp_path / "bad.csv", {name: v[twice] for name, v in columns.items()}))
    np.testing.assert_array_equal(read.torque, sound.torque)
    assert any("equal to the one before" in note for note in read.notes)


def test_dropouts_and_doubled_speed_are_masked_and_recorded(tmp_path):
    columns = Log().columns()
    columns["rpm"][[50, 80]] = 0.0
    columns["rpm"][[60, 90, 120]] *= 2.0
    columns["torque"][100] = np.nan
    read = read_pull(write_log(tmp_path / "a.csv", columns))
    assert read.recipe.of("mask pick-up faults") == [{"samples": 5}]
    assert read.recipe.of("mask samples without torque") == [{"samples": 1}]
    assert not read.usable[[50, 60, 80, 90, 100, 120]].any()


def test_the_recipe_knows_the_raw_file_and_leads_to_the_same_pull(tmp_path):
    path = write_log(tmp_path / "a.csv", _joined(_logs()))
    pull = read_pull(path, reading=Reading(pull=3))
    recipe = pull.recipe
    assert recipe.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    recipe.check(path)
    cells, took = recipe.of("split cells")[0], recipe.of("take pull")[0]
    again = read_pull(
        path,
        reading=Reading(
            separator=cells["separator"], decimal=cells["decimal"], pull=took["number"],
            columns={"torque": "torque (Nm)"}, units={"torque": "Nm"},
        ),
    )  # fmt: skip
    np.testing.assert_array_equal(again.torque, pull.torque)
    changed = replace(recipe, sha256="0" * 64)
    with pytest.raises(InputError, match="fingerprint"):
        changed.check(path)
