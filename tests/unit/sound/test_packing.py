"""What packing does to the sound: the published formula, the march, and what `listen` makes of it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.trade.generic_twin import OPEN, pipe, route, twin

from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.cli import sound_table
from pulsewright.network.assembly import area_of
from pulsewright.network.perforated import GRAZING
from pulsewright.outside.acoustic_formulas import perforated_tube, transmission_loss
from pulsewright.physics.packing import resistivity, softer_spring, way_through
from pulsewright.sound.as_json import as_json
from pulsewright.sound.listen import HARSH_FROM, Listening, differences, differences_above, listen
from pulsewright.sound.tone_lines import ToneLines

LOW, HIGH = (250.0, 300.0, 400.0, 500.0), (800.0, 1000.0, 1600.0, 2000.0)  # [Hz]
MUFFLER = (
    '{ piece = "muffler", body_length = "350 mm", body_bore = "110 mm", core_bore = "40 mm",'
    ' core = "perforated packed", packing = "%s" }'
)


def packed(state: str) -> Setup:
    text = twin(route(pipe(0.6), MUFFLER % state, pipe(0.10, 40.0), OPEN))
    return setup_from_text(text, state)


@pytest.fixture(scope="module")
def pair() -> list[Listening]:
    """The generic twin with new packing and with none."""
    return listen([packed("new"), packed("gone")], [3000.0, 4500.0])


def formula(frequency: float, fibre: float, mach: float) -> float:
    """Loss of a body of 350 mm, core 40 mm, body 110 mm, holes 30 % of its wall, gas at 900 K. [dB]"""
    sound, density = math.sqrt(1.33 * 290.0 * 900.0), 101325.0 / (290.0 * 900.0)
    core, body, spring = area_of(0.040), area_of(0.110), softer_spring(fibre)
    holes = resistivity(fibre) * way_through(0.040, 0.110, 0.30) / (sound * density) + GRAZING * mach
    tube = perforated_tube(
        2.0 * math.pi * frequency / sound, 0.350, core, spring * (body - core), 0.30 * math.pi * 0.040 / holes,
        spring * resistivity(fibre) / (sound * density), mach,
    )  # fmt: skip
    return transmission_loss(tube, core)


@pytest.mark.parametrize("mach", [0.1, 0.2, 0.4])
def test_by_the_formula_an_empty_body_takes_more_low_and_less_high(mach: float):
    """Sullivan & Crocker 1978, Munjal ch. 3 (from memory), holes in a stream by Rao & Munjal 1986 (from memory)."""
    low, high = (np.array([[formula(f, fibre, mach) for f in at] for fibre in (0.0, 0.5, 1.0)]) for at in (LOW, HIGH))
    assert np.all(low[0] > low[2] + 0.5)
    assert np.all(high[0] < high[2] - 4.0)
    assert np.all(high[0] < 0.7 * high[2])
    assert np.mean(low[1] - low[2]) > 0.0  # half of it left is no loss


@pytest.mark.slow
def test_lost_packing_is_louder_where_it_is_harsh(pair: list[Listening]):
    """Common practice, no published source: worn packing is louder; the formula: above some 700 Hz."""
    new, gone = pair
    high, low = differences_above(new, gone, "near"), _below(new, gone)
    print(high, low, differences(new, gone, "near"))
    assert min(high) > 0.5
    assert max(low) < 0.0


@pytest.mark.slow
def test_a_person_reads_what_is_harsh(pair: list[Listening], capsys: pytest.CaptureFixture[str]):
    sound_table.print_sound(pair, None, False)
    said = " ".join(capsys.readouterr().out.split())
    assert "Of it above 700 Hz, what is heard as harsh: " in said
    assert "louder at 0.5 m." in said


def _below(new: Listening, gone: Listening) -> list[float]:
    return [
        10.0 * np.log10(_low_power(b.heard["near"].lines) / _low_power(a.heard["near"].lines))
        for a, b in zip(new.sounds, gone.sounds, strict=True)
    ]


def _low_power(lines: ToneLines) -> float:
    return float(np.sum(lines.weighted_powers[lines.frequencies <= HARSH_FROM]))


@pytest.mark.slow
def test_the_high_part_stands_in_the_answer(pair: list[Listening]):
    answer = as_json(pair)["difference_above"]
    assert answer["hz"] == HARSH_FROM
    assert answer["near"] == differences_above(pair[0], pair[1], "near")
    assert as_json(pair[:1])["difference_above"] is None


def test_the_high_part_of_a_spectrum():
    """Two lines of 1 Pa at 500 and 1000 Hz, of which the second counts: 91.0 dB less 3.0, A-weight 0 at 1 kHz."""
    pressure = np.zeros(20, dtype=complex)
    pressure[[9, 19]] = 1.0  # lines of 50 Hz at 6000 rpm
    lines = ToneLines(6000.0, pressure)
    assert lines.frequencies[19] == pytest.approx(1000.0)
    assert lines.level_above(HARSH_FROM) == pytest.approx(10.0 * np.log10(0.5 / 4e-10), abs=0.01)
    assert lines.level_above(2000.0) < -100.0
