"""The listen command: what is refused before the model runs, and one run of the example twin to the end."""

import json
import wave
from pathlib import Path

import numpy as np
import pytest

from pulsewright.cli import sound_table
from pulsewright.cli.main import run

TWIN = str(Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml")
DISC = [
    "--set", "exhaust.route.1=[{piece='pipe',length='900 mm',bore='43 mm'},{piece='disc',open_area_fraction=0.25},"
    "{piece='end',kind='open'}]",
]  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["--rpm", "3000", "--sweep", "2000:3000"], 2, "cannot go together"),
        (["--rpm", "3000", "--against", TWIN, "--set", "a=b"], 2, "cannot go together"),
        (["--rpm", "3000,3500", "--wav", "a.wav"], 2, "one speed or of a sweep"),
        (["--rpm", "3000", "--wav", "a.mp3"], 2, "end it in .wav"),
        (["--rpm", "3000", "--wav", "/nowhere/at/all/a.wav"], 4, "no folder"),
        (["--rpm", "3000", "--json", "/nowhere/at/all/a.json"], 4, "no folder"),
        (["--rpm", "30"], 2, "no engine speed"),
        (["--sweep", "2000"], 2, "no sweep"),
        (["--sweep", "2000:2000"], 2, "ends where it starts"),
        (["--sweep", "2000:x"], 2, "--sweep"),
        (["--rpm", "3000", "--seconds", "0"], 2, "--seconds"),
        (["--rpm", "3000", "--seconds", "nan"], 2, "--seconds"),
    ],
)
def test_what_cannot_work_is_refused_before_the_model_runs(monkeypatch, capsys, arguments, code, said):
    def never(*_: object) -> None:
        raise AssertionError("the model was run")

    monkeypatch.setattr("pulsewright.cli.listen._listen", never)
    assert run(["listen", TWIN, *arguments]) == code
    assert said in capsys.readouterr().err


def test_one_speed_as_json_and_as_a_sound_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = tmp_path / "twin.wav"
    assert run(["listen", TWIN, "--rpm", "3600", *DISC, "--wav", str(file), "--seconds", "2.5", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["format"] == "pulsewright sound 1"
    assert answer["rpm"] == [3600.0]
    assert answer["rated_rpm"] is None
    first, second = answer["setups"]
    for each in (first, second):
        assert each["outcome"] == ["converged"]
        for place in ("near", "far"):
            assert len(each[place]["bands"][0]) == len(answer["bands_hz"])
            assert each[place]["orders"][0][0]["level"] <= each[place]["level"][0]
    for place in ("near", "far"):
        assert answer["difference"][place][0] == pytest.approx(second[place]["level"][0] - first[place]["level"][0])
    assert first["far"]["level"][0] < first["near"]["level"][0] - 10.0
    assert answer["wav"]["seconds_each"] == 2.5
    with wave.open(str(file)) as source:
        assert source.getframerate() == answer["wav"]["rate_hz"] == 48_000
        assert source.getnframes() == (2.5 + 0.5 + 2.5) * 48_000
        samples = np.frombuffer(source.readframes(source.getnframes()), "<i2")
    one_second = samples[24_000:72_000].astype(float)
    strength = np.abs(np.fft.rfft(one_second))
    lines = np.zeros(strength.size, dtype=bool)
    lines[::30] = True  # 3600 rpm: half an order is 30 Hz, and a bin is one hertz
    assert strength[lines].max() > 1000.0 * strength[~lines].max()
    loudest = max(first["far"]["orders"][0], key=lambda line: line["level"])
    assert strength[round(loudest["hz"])] > 0.1 * strength.max()


def test_a_tuner_reads_what_changed_and_how_far_to_believe_it(capsys: pytest.CaptureFixture[str]):
    assert run(["listen", TWIN, "--rpm", "3000,3600", *DISC, "--quiet"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    for words in (
        "2 against 1",
        "at 0.5 m",
        "2 - 1",
        "±6 dB",
        "±3 dB",
        "Not in it",
        "Assumed: hard ground",
        "local rules",
    ):
        assert words in shown
    assert "3000" in shown
    assert "Loudest orders" not in shown  # of one speed only


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (-0.4, 0.6, "as loud"),
        (-10.6, -10.6, "11 dB(A) quieter"),
        (-13.6, -8.4, "8 to 14 dB(A) quieter"),
        (2.0, 5.0, "2 to 5 dB(A) louder"),
        (-3.0, 4.0, "3 dB(A) quieter to 4 louder, by speed"),
        (-4.0, 0.3, "0 to 4 dB(A) quieter"),
    ],
)
def test_a_change_in_words(low: float, high: float, said: str):
    assert sound_table._change_words(low, high) == said


def test_a_long_sweep_shows_a_dozen_speeds_with_both_ends():
    rows = sound_table._spread(37)
    assert rows[0] == 0
    assert rows[-1] == 36
    assert len(rows) == 12
    assert sound_table._spread(2) == [0, 1]
