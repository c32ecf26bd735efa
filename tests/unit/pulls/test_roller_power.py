"""Power from an accelerating roller, against mechanics; invented rollers and engines throughout."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from tests.pull_logs import smooth_torque, with_dip, write_session

from pulsewright.bench.roller import RollerDyno
from pulsewright.bench.session import read_session
from pulsewright.cli.pulls import command
from pulsewright.errors import InputError
from pulsewright.pulls.read_pull import read_pull
from pulsewright.pulls.reading import Reading
from pulsewright.pulls.roller_power import coast_down_losses, lost_power, roller_doubt, roller_power, slopes
from pulsewright.pulls.session_pulls import read_session_pulls

DYNO = RollerDyno(inertia=16.0, radius=0.2, engine_inertia=0.04, window=200.0)
GEAR = 5.0  # engine turns a roller turn
LOSS = ((5.0, 150.0), (20.0, 900.0), (40.0, 3000.0))


def _sweep(torque, dyno=DYNO, *, step=0.02, fine=1e-4):
    """Roller and engine pulled up from 1600 to 6000 rpm by a torque curve: time [s], roller [rad/s], rpm."""
    turning, time, log = 1600.0 * np.pi / 30 / GEAR, 0.0, []
    every = round(step / fine)
    inertia = dyno.inertia + dyno.engine_inertia * GEAR**2
    while turning * GEAR * 30 / np.pi < 6000.0:
        if round(time / fine) % every == 0:
            log.append((time, turning))
        rpm = turning * GEAR * 30 / np.pi
        power = float(torque(rpm)) * rpm * np.pi / 30 - float(
            lost_power(np.array([turning * dyno.radius]), dyno.losses)[0]
        )
        turning += power / turning / inertia * fine
        time += fine
    t, w = np.array(log).T
    return t, w, w * GEAR * 30 / np.pi


def test_constant_power_follows_the_energy_law():
    # work = kinetic energy: J w^2 / 2 = P t + J w0^2 / 2, exact
    power, inertia, time = 15e3, 2.2, np.arange(0.0, 8.0, 0.02)
    turning = np.sqrt(30.0**2 + 2.0 * power * time / inertia)
    dyno = RollerDyno(inertia=inertia, radius=0.2, drive_ratio=GEAR)
    found = roller_power(time, turning, turning * GEAR * 30 / np.pi, dyno)
    known = np.isfinite(found)
    assert known.mean() > 0.8
    np.testing.assert_allclose(found[known], power, rtol=2e-3)


def test_spinning_up_the_engine_takes_what_mechanics_says():
    # 0.05 kg m2 at 400 rpm/s takes 2.1 N m (worked from T = J dw/dt)
    time = np.arange(0.0, 8.0, 0.02)
    rpm = 1800.0 + 400.0 * time
    turning = rpm * np.pi / 30 / GEAR
    powers = [
        roller_power(time, turning, rpm, RollerDyno(inertia=2.0, radius=0.2, engine_inertia=inertia))
        for inertia in (0.0, 0.05)
    ]
    difference = (powers[1] - powers[0]) / (rpm * np.pi / 30)
    np.testing.assert_allclose(difference[np.isfinite(difference)], 2.094, rtol=1e-3)


@pytest.mark.parametrize("losses", [(), LOSS])
def test_a_known_torque_curve_comes_back(losses):
    dyno = RollerDyno(inertia=16.0, radius=0.2, engine_inertia=0.04, losses=losses)
    time, roller, rpm = _sweep(smooth_torque, dyno)
    noisy = roller * (1.0 + 1e-4 * np.random.default_rng(1).normal(size=roller.size))
    torque = roller_power(time, noisy, rpm, dyno) / (rpm * np.pi / 30)
    inside = (rpm > 2200) & (rpm < 5700)
    off = torque[inside] / smooth_torque(rpm[inside]) - 1.0
    assert np.abs(np.mean(off)) < 0.003
    assert np.std(off) < 0.02


def test_a_dip_keeps_its_depth_by_the_window():
    curve = with_dip(smooth_torque, 3500.0, 0.15, 500.0)
    time, roller, rpm = _sweep(curve)
    depth = {}
    for window in (100.0, 200.0, 800.0):
        dyno = RollerDyno(inertia=16.0, radius=0.2, engine_inertia=0.04, window=window)
        torque = roller_power(time, roller, rpm, dyno) / (rpm * np.pi / 30)
        depth[window] = 1.0 - np.interp(3500.0, rpm, torque / smooth_torque(rpm))
    assert depth[200.0] == pytest.approx(0.15, abs=0.01)
    assert depth[100.0] > depth[200.0] > depth[800.0]
    assert depth[800.0] < 0.12


def test_slopes_of_a_straight_line_are_exact_and_the_ends_are_unknown():
    time = np.arange(0.0, 5.0, 0.05)
    level, slope = slopes(time, 10.0 + 3.0 * time, 2.0)
    known = np.isfinite(slope)
    np.testing.assert_allclose(slope[known], 3.0, rtol=1e-12)
    np.testing.assert_allclose(level[known], (10.0 + 3.0 * time)[known], rtol=1e-12)
    assert not known[[0, -1]].any()


def test_coasting_down_gives_the_losses_back():
    # force = 40 N + 0.5 v^2: dv/dt = -(r^2/J) (40 + 0.5 v^2), solved by the arc tangent (calculus)
    dyno, a, c = RollerDyno(inertia=16.0, radius=0.2), 40.0, 0.5
    mass = dyno.inertia / dyno.radius**2
    time = np.arange(0.0, 120.0, 0.05)
    start = np.arctan(35.0 * np.sqrt(c / a))
    speed = np.sqrt(a / c) * np.tan(start - np.sqrt(a * c) / mass * time)
    roller = speed / dyno.radius * (1.0 + 1e-4 * np.random.default_rng(2).normal(size=time.size))
    losses = coast_down_losses(time, roller, dyno, where="coast")
    at = np.linspace(speed.min() + 1.0, 34.0, 7)
    np.testing.assert_allclose(lost_power(at, losses), (a + c * at**2) * at, rtol=0.02)
    with pytest.raises(InputError, match="far enough"):
        coast_down_losses(time[:30], roller[:30], dyno, where="coast")


def _write(path, torque, *, with_speed=True, dyno=DYNO):
    time, roller, rpm = _sweep(torque, dyno)
    columns = {"Time (s)": time, "Roller (km/h)": roller * dyno.radius * 3.6}
    if with_speed:
        columns["RPM"] = rpm
    text = ",".join(columns) + "\n"
    text += "".join(",".join(f"{v:.4f}" for v in row) + "\n" for row in zip(*columns.values(), strict=True))
    path.write_text(text)
    return path


def test_a_file_with_roller_speed_only_reads_by_the_command(tmp_path):
    path = _write(tmp_path / "a.csv", smooth_torque)
    said = ["--roller-inertia", "16 kg m^2", "--roller-circumference", f"{0.4 * np.pi} m",
            "--engine-inertia", "0.04 kg m^2"]  # fmt: skip
    told = CliRunner().invoke(command, ["read", str(path), *said, "--json"], catch_exceptions=False)
    note = next(n for n in json.loads(told.stdout)["notes"] if "from the roller" in n)
    assert "slope over 200 rpm" in note
    assert "5.00 engine turns" in note
    with pytest.raises(InputError, match="no column reads as torque"):
        read_pull(path)
    pull = read_pull(path, reading=Reading(roller=DYNO))
    good = pull.usable & (pull.engine_speed < 5700)
    np.testing.assert_allclose(pull.torque[good], smooth_torque(pull.engine_speed[good]), rtol=0.02)


def test_a_wrong_inertia_is_refused_by_the_torque_it_gives(tmp_path):
    path = _write(tmp_path / "a.csv", smooth_torque)
    with pytest.raises(InputError, match="a roller of 2200 kg m² gives a torque of"):
        read_pull(path, reading=Reading(roller=RollerDyno(inertia=2200.0, radius=0.2), displacement=5e-4))


def test_a_session_takes_inertia_ratio_and_coast_down(tmp_path):
    folder = write_session(tmp_path / "s", [("A", {"time": np.zeros(1)})] * 3)
    for k, gain in enumerate((1.0, 1.006, 0.995)):
        _write(folder / "pulls" / f"0{k + 1}.csv", lambda n, g=gain: g * smooth_torque(n), with_speed=False)
    time = np.arange(0.0, 250.0, 0.05)
    force = 30.0
    speed = 40.0 - force * DYNO.radius**2 / DYNO.inertia * time
    coast = "t (s);roller speed (m/s)\n" + "".join(f"{t:.2f};{v:.5f}\n" for t, v in zip(time, speed, strict=True))
    (folder / "coast.csv").write_text(coast)
    toml = folder / "session.toml"
    keys = ('roller_inertia = "16 kg m^2"\nroller_radius = "200 mm"\nengine_inertia = "0.04 kg m^2"\n'
            'drive_ratio = 5.0\ncoast_down = "coast.csv"')  # fmt: skip
    text = toml.read_text()
    toml.write_text(text.replace("[logger]", f"[logger]\n{keys}"))
    found = read_session_pulls(read_session(folder))
    curves = found.setups["A"]
    at = (curves.rpm > 2300) & (curves.rpm < 5600)
    expected = smooth_torque(curves.rpm[at]) + force * DYNO.radius / GEAR  # the losses come on top
    raw = curves.torques[:, at].mean(axis=0) / found.weather[0].factor
    np.testing.assert_allclose(raw, expected, rtol=0.02)
    assert any("losses by coasting down" in note for note in found.notes)
    toml.write_text(text.replace("[logger]", '[logger]\nengine_inertia = "0.04 kg m^2"'))
    with pytest.raises(InputError, match="roller_inertia is not"):
        read_session(folder)


@pytest.mark.parametrize(("noise", "step", "window"), [(1e-4, 0.02, 200.0), (4e-4, 0.02, 400.0), (4e-4, 0.05, 200.0)])
def test_noise_of_the_roller_speed_makes_the_doubt_that_is_said(noise, step, window):
    dyno = RollerDyno(inertia=16.0, radius=0.2, engine_inertia=0.04, window=window)
    time, roller, rpm = _sweep(smooth_torque, dyno, step=step)
    random, powers, said = np.random.default_rng(3), [], []
    for _ in range(40):
        noisy = roller * (1.0 + noise * random.normal(size=roller.size))
        powers.append(roller_power(time, noisy, rpm, dyno))
        said.append(roller_doubt(time, noisy, rpm, dyno).noise)
    inside = (rpm > 2300) & (rpm < 5600)
    true = np.std(powers, axis=0, ddof=1)[inside]
    assert np.median(said, axis=0)[inside].mean() == pytest.approx(true.mean(), rel=0.15)


def test_the_window_and_the_tolerance_have_their_part_of_the_doubt():
    curve = with_dip(smooth_torque, 3500.0, 0.15, 500.0)
    time, roller, rpm = _sweep(curve)
    omega = rpm * np.pi / 30
    at = int(np.argmin(np.abs(rpm - 3500.0)))
    for window in (200.0, 300.0, 400.0):
        dyno = RollerDyno(inertia=16.0, radius=0.2, engine_inertia=0.04, window=window, inertia_tolerance=0.04)
        doubt = roller_doubt(time, roller, rpm, dyno)
        power = roller_power(time, roller, rpm, dyno)
        missed = abs(power[at] - curve(rpm)[at] * omega[at])
        assert doubt.window[at] == pytest.approx(missed, rel=0.3)
        # 2 % of the 16 of 16 + 0.04 * 5^2 = 17 kg m2 (arithmetic)
        assert doubt.inertia[at] / power[at] == pytest.approx(0.02 * 16.0 / 17.0, rel=1e-6)
        assert doubt.whole[at] > max(doubt.window[at], doubt.inertia[at])


def test_the_doubt_is_shown_and_covers_the_truth(tmp_path):
    path = _write(tmp_path / "a.csv", smooth_torque)
    said = ["--roller-inertia", "16 kg m^2", "--roller-circumference", f"{0.4 * np.pi} m",
            "--engine-inertia", "0.04 kg m^2", "--roller-inertia-tolerance", "3 %"]  # fmt: skip
    told = CliRunner().invoke(command, ["read", str(path), *said, "--json"], catch_exceptions=False)
    data = json.loads(told.stdout)
    note = next(n for n in data["notes"] if "is known to" in n)
    assert "inertia ± 2.8 %" in note  # 3 % of 16 of 17 kg m2
    assert 0.014 < data["power_relative_sd"]["middle"] < 0.02
    exact = CliRunner().invoke(command, ["read", str(path), *said[:-2]], catch_exceptions=False)
    assert "no tolerance of the inertia given" in exact.stdout
    corrected = CliRunner().invoke(
        command, ["correct", str(path), "--standard", "raw", *said, "--json"], catch_exceptions=False
    )
    assert len(json.loads(corrected.stdout)["pulls"][0]["power_sd_kw"])
    pull = read_pull(path, reading=Reading(roller=DYNO))
    assert pull.power_sd is not None
    off = pull.torque - smooth_torque(pull.engine_speed)
    ratio = (off / (pull.power_sd / (pull.engine_speed * np.pi / 30)))[pull.usable & (pull.engine_speed < 5700)]
    assert np.mean(np.abs(ratio) < 2.0) > 0.9
