"""A shop's way of writing is remembered, proposed again, and never stronger than the numbers."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from tests.pull_logs import Log, write_log, write_session

from pulsewright.bench.session import read_session
from pulsewright.cli.pulls import command
from pulsewright.errors import InputError, UsageError
from pulsewright.pulls.mapping import Mapping, read_mapping, with_mapping, write_mapping
from pulsewright.pulls.read_pull import read_pull
from pulsewright.pulls.reading import Reading
from pulsewright.pulls.session_pulls import read_session_pulls
from pulsewright.pulls.session_reading import confirmed


def _run(*arguments: object):
    return CliRunner().invoke(command, [str(a) for a in arguments], catch_exceptions=False)


def _odd_file(path, seed=0, factor=1.0):
    """Columns that no reader could name, decimal comma, torque in lbf ft."""
    log = Log(seed=seed).columns()
    rows = zip(log["time"], log["rpm"], log["torque"] * factor / 1.3558, strict=True)
    text = "Ch1;Ch2;Ch3\n" + "".join(f"{t:.2f};{n:.1f};{m:.2f}\n".replace(".", ",") for t, n, m in rows)
    path.write_text(text)
    return path


SAID = ("--column", "time=Ch1", "--column", "engine_speed=Ch2", "--column", "torque=Ch3",
        "--as", "torque=lbf ft")  # fmt: skip


def test_what_was_said_once_reads_the_next_file(tmp_path):
    first, second = _odd_file(tmp_path / "a.csv"), _odd_file(tmp_path / "b.csv", seed=1)
    with pytest.raises(InputError, match="no column reads as engine speed"):
        _run("read", second)
    _run("read", first, *SAID, "--remember", tmp_path / "shop.toml")
    mapping = read_mapping(tmp_path / "shop.toml")
    assert mapping.columns == {"time": "Ch1", "engine_speed": "Ch2", "torque": "Ch3"}
    assert (mapping.units["torque"], mapping.separator, mapping.decimal) == ("lbf ft", ";", ",")
    data = json.loads(_run("read", second, "--mapping", tmp_path / "shop.toml", "--json").stdout)
    assert [(c["quantity"], c["unit"]) for c in data["channels"]] == [
        ("time", "s"), ("engine_speed", "rpm"), ("torque", "lbf ft"),
    ]  # fmt: skip


def test_a_fitting_mapping_is_proposed_and_another_is_not(tmp_path):
    path = write_log(tmp_path / "a.csv", Log().columns())
    _run("read", path, "--remember", tmp_path / "shop.toml")
    write_mapping(tmp_path / "other.toml", Mapping(columns={"torque": "Ch3"}))
    told = _run("read", path).stderr
    assert "shop.toml" in told
    assert "other.toml" not in told


def test_a_mapping_gives_way_to_what_is_said_now_and_to_the_numbers(tmp_path):
    path = _odd_file(tmp_path / "a.csv")
    _run("read", path, *SAID, "--remember", tmp_path / "shop.toml")
    told = _run("read", path, "--mapping", tmp_path / "shop.toml", "--as", "torque=Nm", "--json").stdout
    assert json.loads(told)["channels"][2]["unit"] == "N m"
    wild = _odd_file(tmp_path / "wild.csv", factor=200.0)
    with pytest.raises(InputError, match="gives a torque of"):
        _run("read", wild, "--mapping", tmp_path / "shop.toml")


def test_every_separator_and_default_survives_the_file(tmp_path):
    for separator in (",", ";", "\t", "|"):
        mapping = Mapping(
            columns={"torque": 'M "x" [1]'}, units={"torque": "N m"}, separator=separator, decimal=".",
            torque_at="wheel", stoichiometric_afr=9.0,
        )  # fmt: skip
        write_mapping(tmp_path / "m.toml", mapping)
        assert read_mapping(tmp_path / "m.toml") == mapping


def test_a_wrong_mapping_file_is_refused_and_other_files_are_not_overwritten(tmp_path):
    (tmp_path / "m.toml").write_text('format = "pulsewright mapping 1"\n[columns]\ntorqe = "M"\n')
    with pytest.raises(InputError, match="'torqe' is no channel"):
        read_mapping(tmp_path / "m.toml")
    (tmp_path / "notes.toml").write_text('mine = "yes"\n')
    with pytest.raises(UsageError, match="no mapping"):
        write_mapping(tmp_path / "notes.toml", Mapping())


def test_a_session_reads_by_its_mapping_and_by_its_own_words(tmp_path):
    folder = write_session(tmp_path / "s", [("A", Log(seed=k).columns()) for k in range(3)])
    for k in range(3):
        _odd_file(folder / "pulls" / f"0{k + 1}.csv", seed=k)
    _run("read", folder / "pulls" / "01.csv", *SAID, "--remember", folder / "shop.toml")
    text = (folder / "session.toml").read_text()
    toml = folder / "session.toml"
    toml.write_text(text.replace("[logger]", '[logger]\nmapping = "shop.toml"'))
    by_mapping = read_session_pulls(read_session(folder))
    words = ('separator = ";"\ndecimal = ","\nunits.torque = "lbf ft"\ncolumns.time = "Ch1"\n'
             'columns.engine_speed = "Ch2"\ncolumns.torque = "Ch3"')  # fmt: skip
    toml.write_text(text.replace("[logger]", f"[logger]\n{words}"))
    by_words = read_session_pulls(read_session(folder))
    truth = read_pull(write_log(tmp_path / "a.csv", Log(seed=0).columns()))
    for found in (by_mapping, by_words):
        np.testing.assert_allclose(found.pulls[0].torque, truth.torque, atol=0.01)


def test_columns_of_a_session_are_named_either_way_round():
    said = {"lambda": "O2 front", "Kanal 3": "torque [Nm]"}
    assert confirmed(said, {"power": "kW"}) == (
        {"lambda": "O2 front", "torque": "Kanal 3"}, {"torque": "Nm", "power": "kW"},
    )  # fmt: skip
    with pytest.raises(InputError, match="is a channel known here"):
        confirmed({"a": "b"}, {})
    with pytest.raises(InputError, match="no channel known"):
        confirmed({}, {"torqe": "Nm"})


def _three_sensors(path, seed=0):
    """A collector and two cylinders, the second 0.05 leaner and shown as AFR; a target that is no reading."""
    log = Log(seed=seed).columns()
    names = "time (s);rpm;torque (Nm);O2 front;O2 rear;O2 Y;AFR target\n"
    rows = zip(log["time"], log["rpm"], log["torque"], log["lambda"], strict=True)
    path.write_text(
        names
        + "".join(
            f"{t:.2f};{n:.1f};{m:.2f};{x:.4f};{(x + 0.05) * 14.7:.4f};{x + 0.02:.4f};12.6\n" for t, n, m, x in rows
        )
    )
    return path, log["lambda"]


SENSORS = ("--column", "lambda:1=O2 front", "--column", "lambda:2=O2 rear", "--column", "lambda:collector=O2 Y",
           "--as", "lambda:2=AFR")  # fmt: skip


def test_lambda_of_cylinders_and_of_the_collector_are_named_remembered_and_told_apart(tmp_path):
    path, truth = _three_sensors(tmp_path / "a.csv")
    told = _run("read", path, *SENSORS, "--remember", tmp_path / "shop.toml").output
    assert "mean of the lambda of cylinders 1, 2" in told
    mapping = read_mapping(tmp_path / "shop.toml")
    assert mapping.columns["lambda:2"] == "O2 rear"
    assert mapping.columns["lambda:collector"] == "O2 Y"
    assert mapping.units["lambda:2"] == "AFR"
    second, truth = _three_sensors(tmp_path / "b.csv", seed=1)
    data = json.loads(_run("read", second, "--mapping", tmp_path / "shop.toml", "--json").stdout)
    assert [c["sensor"] for c in data["channels"] if c["quantity"] == "lambda"] == ["1", "2", "collector"]
    assert data["lambda_is"] == "mean of the lambda of cylinders 1, 2"
    pull = read_pull(second, reading=with_mapping(Reading(), mapping))
    for sensor, more in (("1", 0.0), ("2", 0.05), ("collector", 0.02)):
        np.testing.assert_allclose(pull.lambdas[sensor], truth + more, atol=1e-4)
    assert pull.mixture is not None
    np.testing.assert_allclose(pull.mixture, truth + 0.025, atol=1e-4)  # of the cylinders: the collector is not counted


@pytest.mark.parametrize(
    ("said", "means", "more"),
    [
        ({"lambda:2": "O2 rear"}, "lambda of cylinder 2", 0.05),
        ({"lambda:collector": "O2 Y"}, "lambda at 'collector', averaged by the pipe", 0.02),
        ({"lambda": "O2 front"}, "lambda, place of the sensor not said", 0.0),
    ],
)
def test_one_sensor_says_whether_it_is_of_a_cylinder_or_of_all(tmp_path, said, means, more):
    path, truth = _three_sensors(tmp_path / "a.csv")
    pull = read_pull(path, reading=Reading(columns=said))
    assert pull.mixture_is == means
    assert pull.mixture is not None
    np.testing.assert_allclose(pull.mixture, truth + more, atol=1e-4)


def test_a_channel_that_nobody_knows_is_refused(tmp_path):
    path, _ = _three_sensors(tmp_path / "a.csv")
    for reading in (
        Reading(columns={"torque:1": "O2 Y"}), Reading(columns={"lambda:": "O2 Y"}), Reading(units={"torqe": "Nm"}),
    ):  # fmt: skip
        with pytest.raises(InputError, match="no channel known"):
            read_pull(path, reading=reading)
    with pytest.raises(InputError, match="no column is lambda:3"):
        read_pull(path, reading=Reading(units={"lambda:3": "AFR"}))


def test_a_session_names_its_lambda_sensors(tmp_path):
    assert confirmed({"lambda:1": "O2 front", "O2 rear": "Lambda:2 [AFR]"}, {}) == (
        {"lambda:1": "O2 front", "lambda:2": "O2 rear"}, {"lambda:2": "AFR"},
    )  # fmt: skip
    folder = write_session(tmp_path / "s", [("A", Log(seed=k).columns()) for k in range(3)])
    for k in range(3):
        _three_sensors(folder / "pulls" / f"0{k + 1}.csv", seed=k)
    _run("read", folder / "pulls" / "01.csv", *SENSORS, "--remember", folder / "shop.toml")
    toml = folder / "session.toml"
    toml.write_text(toml.read_text().replace("[logger]", '[logger]\nmapping = "shop.toml"'))
    curves = read_session_pulls(read_session(folder)).setups["A"]
    apart = np.nanmean(curves.lambdas["2"] - curves.lambdas["1"])
    assert apart == pytest.approx(0.05, abs=1e-3)
