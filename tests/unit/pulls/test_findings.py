"""Artefacts put into invented sessions are found; healthy sessions raise none."""

from dataclasses import replace

import numpy as np
import pytest
from tests.pull_logs import Log, day, smooth_torque, wavy_mixture, with_dip, write_session

from pulsewright.bench.session import read_session
from pulsewright.pulls.finding import KINDS
from pulsewright.pulls.misfire import relative_rest
from pulsewright.pulls.session_pulls import SessionPulls, read_session_pulls

JETS = '[ ["carburettor.1.main_jet", "1.45 mm"] ]'


def _session(folder, pulls, **more) -> SessionPulls:
    return read_session_pulls(read_session(write_session(folder, pulls, **more)))


def _kinds(found: SessionPulls) -> set[str]:
    assert all(f.kind in KINDS for f in found.findings)
    assert all(0.0 <= f.strength <= 3.0 for f in found.findings)
    return {f.kind for f in found.findings}


@pytest.mark.parametrize("seed", range(12))
def test_healthy_sessions_raise_nothing(tmp_path, seed):
    logs = day("AAABBB", seed=seed)
    heads = [150.0, 157.0, 164.0, 166.0, 169.0, 171.0]
    found = _session(tmp_path / "s", [(s, log.columns()) for s, log in logs], changes={"B": JETS}, heads=heads)
    assert _kinds(found) <= {"warm-up"}
    assert found.hole is None


def _peaky(rpm: np.ndarray) -> np.ndarray:
    return 50.0 - 30.0 * ((rpm - 3800.0) / 2000.0) ** 2


@pytest.mark.parametrize("seed", range(5))
def test_slip_is_found_with_its_speed(tmp_path, seed):
    logs = day("AAA", log=Log(torque=_peaky, slip=0.035), seed=seed)
    found = _session(tmp_path / "s", [(s, log.columns()) for s, log in logs])
    slips = [f for f in found.findings if f.kind == "slip"]
    assert {f.pull for f in slips} == {1, 2, 3}
    assert all(f.rpm and f.rpm[0] < 3800.0 < f.rpm[1] for f in slips)


def test_a_doubled_pull_is_left_out_and_named(tmp_path):
    pulls = [(s, log.columns()) for s, log in day("AAAA")]
    pulls[2][1]["roller"] /= 2.0
    found = _session(tmp_path / "s", pulls)
    assert [f.pull for f in found.findings if f.kind == "pick-up"] == [3]
    assert found.used == (True, True, False, True)
    assert found.setups["A"].pulls == (1, 2, 4)


def test_many_dropped_samples_are_a_finding_and_a_few_are_not(tmp_path):
    pulls = [(s, log.columns()) for s, log in day("AAA")]
    pulls[0][1]["rpm"][50:150:50] = 0.0
    pulls[1][1]["rpm"][20:200:10] *= 2.0
    found = _session(tmp_path / "s", pulls)
    assert [f.pull for f in found.findings if f.kind == "pick-up"] == [2]


def test_misfire_is_found(tmp_path):
    pulls = [(s, log.columns()) for s, log in day("AAA")]
    for k in (80, 110, 140, 171):
        pulls[1][1]["torque"][k] *= 0.8
        pulls[1][1]["lambda"][k + 4 : k + 6] += 0.2
    found = _session(tmp_path / "s", pulls)
    misfires = [f for f in found.findings if f.kind == "misfire"]
    assert [f.pull for f in misfires] == [2]
    assert "lambda spikes lean" in misfires[0].evidence


def test_starvation_is_told_from_a_lean_top_end(tmp_path):
    pulls = [(s, log.columns()) for s, log in day("AAA")]
    starving = pulls[2][1]
    late = np.clip((starving["time"] - 6.0) / 3.0, 0.0, None)
    starving["lambda"] += 0.25 * late
    starving["torque"] *= 1.0 - 0.12 * late
    found = _session(tmp_path / "s", pulls)
    hits = [f for f in found.findings if f.kind == "fuel starvation"]
    assert [f.pull for f in hits] == [3]
    lean = Log(mixture=lambda rpm: wavy_mixture(rpm) + 0.2 * np.clip((rpm - 4500.0) / 1500.0, 0, None))
    found = _session(tmp_path / "lean", [(s, log.columns()) for s, log in day("AAA", log=lean)])
    assert "fuel starvation" not in _kinds(found)


def _diluted(rpm: np.ndarray) -> np.ndarray:
    return 0.86 + 0.28 * np.exp(-(((rpm - 1800.0) / 1200.0) ** 2))


def test_dilution_needs_a_sensor_near_the_open_end(tmp_path):
    pulls = [(s, log.columns()) for s, log in day("AAA", log=Log(mixture=_diluted))]
    near = _session(tmp_path / "near", pulls, pipe=400.0)
    finding = next(f for f in near.findings if f.kind == "dilution")
    assert "2.5 bores (100 mm)" in finding.evidence
    assert "dilution" not in _kinds(_session(tmp_path / "far", pulls, pipe=900.0))


def test_heat_soak_is_named_with_the_setup_that_ran_hotter(tmp_path):
    heads = [160.0, 163.0, 165.0, 198.0, 202.0, 200.0, 203.0, 164.0]
    logs = [
        (s, replace(log, gain=log.gain * (1.0 - 0.03 / 40.0 * max(0.0, head - 165.0))))
        for (s, log), head in zip(day("AAABBAAA", scatter=0.004), heads, strict=True)
    ]
    found = _session(tmp_path / "s", [(s, log.columns()) for s, log in logs], changes={"B": "[]"}, heads=heads)
    finding = next(f for f in found.findings if f.kind == "heat soak")
    assert "B was measured" in finding.evidence
    assert finding.strength > 1.0
    assert not found.comparisons[0].proven


def test_a_pull_that_does_not_belong_is_named(tmp_path):
    logs = day("AAAAAA", scatter=0.004)
    logs[3] = ("A", replace(logs[3][1], gain=0.93))
    found = _session(tmp_path / "s", [(s, log.columns()) for s, log in logs])
    assert [f.pull for f in found.findings if f.kind == "odd pull"] == [4]


def _falling(order: str, share: float, **more):
    logs = day(order, scatter=0.004, **more)
    return [(s, replace(log, gain=log.gain * (1.0 - share) ** k).columns()) for k, (s, log) in enumerate(logs)]


def test_drift_without_a_head_temperature_is_named_whichever_setup(tmp_path):
    found = _session(tmp_path / "s", _falling("ABABAB", 0.015), changes={"B": JETS}, heads=[])
    drift = next(f for f in found.findings if f.kind == "drift")
    assert "falls 1." in drift.evidence
    assert "whichever setup" in drift.evidence
    assert "no head temperature was noted: heat soak is the usual reason" in drift.evidence
    assert drift.strength > 1.0


def test_drift_with_a_steady_head_is_no_heat_and_with_a_hot_one_is(tmp_path):
    pulls = _falling("ABABAB", 0.015)
    steady = _session(tmp_path / "a", pulls, changes={"B": JETS}, heads=[165.0, 166.0, 164.0, 165.0, 166.0, 165.0])
    assert "does not explain it" in next(f for f in steady.findings if f.kind == "drift").evidence
    hot = _session(tmp_path / "b", pulls, changes={"B": JETS}, heads=[160.0 + 16.0 * k for k in range(6)])
    assert {"heat soak"} <= _kinds(hot)
    assert "drift" not in _kinds(hot)


def test_a_better_setup_measured_last_is_no_drift(tmp_path):
    logs = [(s, replace(log, gain=log.gain * (1.06 if s == "B" else 1.0))) for s, log in day("AAABBB", scatter=0.004)]
    found = _session(tmp_path / "s", [(s, log.columns()) for s, log in logs], changes={"B": JETS}, heads=[])
    assert "drift" not in _kinds(found)


def test_a_change_of_weather_is_named_with_what_it_did_to_the_mixture(tmp_path):
    airs = [(20.0, 100.5, 45.0)] * 3 + [(30.0, 100.5, 45.0)] * 3
    pulls = [(s, log.columns()) for s, log in day("AAAAAA", scatter=0.004)]
    for _, columns in pulls[3:]:
        columns["torque"] *= 0.97
    found = _session(tmp_path / "s", pulls, airs=airs)
    weather = next(f for f in found.findings if f.kind == "weather change")
    assert "from pull 3 to pull 5" in weather.evidence or "from pull 1 to pull" in weather.evidence
    assert "% richer" in weather.evidence
    assert "torque is corrected" in weather.evidence
    assert "drift" not in _kinds(found)
    one = [(20.0, 100.5, 45.0)] * 2 + [(30.0, 100.5, 45.0)] + [(20.0, 100.5, 45.0)] * 3
    assert "weather change" not in _kinds(_session(tmp_path / "one", pulls, airs=one))  # a single reading


def test_a_late_lambda_is_named_where_the_pulls_show_it(tmp_path):
    def made(delay: float, lag: float):
        logs = day("AAAA", log=Log(delay=delay, lag=lag))
        return [(s, replace(log, rate=350.0 + 250.0 * (k % 2)).columns()) for k, (s, log) in enumerate(logs)]

    late = next(f for f in _session(tmp_path / "late", made(0.42, 0.15)).findings if f.kind == "lag")
    assert "a sensor in the pipe is at most 0.4 s" in late.evidence
    assert "lag" not in _kinds(_session(tmp_path / "usual", made(0.12, 0.08)))


def test_a_fast_pull_with_an_unknown_delay_leaves_lambda_without_a_place(tmp_path):
    fast = _session(tmp_path / "s", [(s, log.columns()) for s, log in day("AAA", log=Log(rate=1100.0, step=0.02))])
    assert "make pulls at two rates" in next(f for f in fast.findings if f.kind == "lag").evidence


def test_a_pull_that_slips_all_through_is_named(tmp_path):
    pulls = [(s, log.columns()) for s, log in day("AAAA")]
    pulls[1][1]["roller"] *= 0.98
    found = _session(tmp_path / "s", pulls)
    slip = next(f for f in found.findings if f.kind == "slip")
    assert (slip.pull, slip.rpm) == (2, None)
    assert "all through the pull" in slip.evidence
    assert found.used == (True,) * 4


def test_a_doubled_pull_is_seen_without_a_roller(tmp_path):
    pulls = [(s, {k: v for k, v in log.columns().items() if k != "roller"}) for s, log in day("AAAA")]
    pulls[2][1]["rpm"] *= 2.0
    found = _session(tmp_path / "s", pulls)
    assert found.used == (True, True, False, True)
    assert "2 times that of the other pulls" in next(f for f in found.findings if f.kind == "pick-up").evidence


def test_torque_that_falls_steeply_to_the_end_is_no_drop(tmp_path):
    steep = Log(torque=_peaky, rate=600.0)
    found = _session(tmp_path / "s", [(s, log.columns()) for s, log in day("AAA", log=steep)])
    assert _kinds(found) == set()
    assert all(np.nanmin(relative_rest(pull)) > -0.04 for pull in found.pulls)


def test_a_rough_log_is_no_misfire_and_one_that_misses_every_other_time_is(tmp_path):
    random = np.random.default_rng(5)
    rough = [(s, log.columns()) for s, log in day("AAA")]
    for _, columns in rough:
        spikes = random.random(columns["torque"].size) < 0.05
        columns["torque"] *= 1.0 + spikes * random.choice([-0.1, 0.1], size=spikes.size)
    assert "misfire" not in _kinds(_session(tmp_path / "rough", rough))
    missing = [(s, log.columns()) for s, log in day("AAA")]
    missing[2][1]["torque"] *= 1.0 - 0.25 * (random.random(missing[2][1]["torque"].size) < 0.4)
    found = _session(tmp_path / "missing", missing)
    assert [f.pull for f in found.findings if f.kind == "misfire"] == [3]


# What engines do, which is no artefact: broad losses and mixtures that are the same in every pull.
ENGINES = {
    "lean from end to end": Log(mixture=lambda rpm: 1.02 + 0.0 * rpm),
    "rich from end to end": Log(mixture=lambda rpm: 0.72 + 0.0 * rpm),
    "lean at the top": Log(
        torque=lambda rpm: smooth_torque(rpm) * (1.0 - 0.1 * np.clip((rpm - 4500.0) / 1500.0, 0.0, 1.0)),
        mixture=lambda rpm: wavy_mixture(rpm) + 0.2 * np.clip((rpm - 4500.0) / 1500.0, 0.0, 1.0),
    ),
    "restricted": Log(torque=lambda rpm: smooth_torque(rpm) * (1.0 - 0.3 * np.clip((rpm - 3000.0) / 3000.0, 0, 1))),
    "low compression": Log(torque=lambda rpm: 0.88 * smooth_torque(rpm)),
    "deep wave hole": Log(torque=with_dip(smooth_torque, 3000.0, 0.22, 450.0)),
    "intake wave": Log(torque=with_dip(with_dip(smooth_torque, 2600.0, 0.08, 400.0), 4200.0, 0.1, 500.0)),
}


@pytest.mark.parametrize("name", ENGINES)
def test_what_the_engine_does_in_every_pull_is_no_artefact(tmp_path, name):
    pulls = [(s, log.columns()) for s, log in day("AAABBB", log=ENGINES[name])]
    assert _kinds(_session(tmp_path / "s", pulls, changes={"B": JETS})) == set()


def test_a_misfiring_pull_is_not_called_starving(tmp_path):
    random = np.random.default_rng(3)
    pulls = [(s, log.columns()) for s, log in day("AAAA")]
    columns = pulls[1][1]
    late = columns["rpm"] > 4200.0
    hit = late & (random.random(late.size) < 0.5)
    columns["torque"] *= 1.0 - 0.3 * hit
    columns["lambda"] += 0.25 * late
    assert _kinds(_session(tmp_path / "s", pulls)) - {"odd pull"} == {"misfire"}


def test_two_pulls_are_too_few(tmp_path):
    found = _session(tmp_path / "s", [(s, log.columns()) for s, log in day("AA")])
    assert "too few pulls" in _kinds(found)


def test_a_clipped_sensor_is_unknown_not_a_number(tmp_path):
    pulls = [(s, log.columns()) for s, log in day("AAA")]
    for _, columns in pulls:
        columns["lambda"] = np.maximum(columns["lambda"], 0.80)
    found = _session(tmp_path / "s", pulls)
    assert "sensor limit" in _kinds(found)
    curves = found.setups["A"]
    assert np.isnan(found.pulls[0].lambdas["1"]).any()
    assert not (np.nan_to_num(curves.mixture[curves.rpm < 2500.0], nan=1.0) == 0.80).any()


def test_findings_come_strongest_first(tmp_path):
    pulls = [(s, log.columns()) for s, log in day("AA", log=Log(torque=_peaky, slip=0.03))]
    strengths = [f.strength for f in _session(tmp_path / "s", pulls).findings]
    assert strengths == sorted(strengths, reverse=True)
    assert len(strengths) > 1
