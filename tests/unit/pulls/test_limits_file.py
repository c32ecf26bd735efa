"""A shop's own limits: written with their reasons, read back, refused where they cannot be."""

from dataclasses import replace

import pytest

from pulsewright.errors import InputError, UsageError
from pulsewright.pulls.limits import LIMITS, USUAL
from pulsewright.pulls.limits_file import limits_text, read_limits, write_limits

HEAD = 'format = "pulsewright limits 1"\n'


def _file(tmp_path, text):
    path = tmp_path / "limits.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    return path


def test_written_limits_read_back(tmp_path):
    mine = replace(USUAL, slip=0.015, hot_head=20.0, fewest_pulls=4.0, lambda_place=120.0)
    write_limits(tmp_path / "limits.toml", mine)
    assert read_limits(tmp_path / "limits.toml") == mine
    assert set(mine.changed()) == {"slip", "hot_head", "fewest_pulls", "lambda_place"}
    write_limits(tmp_path / "limits.toml", USUAL)
    assert read_limits(tmp_path / "limits.toml") == USUAL


def test_what_is_left_out_stays_usual_and_units_count(tmp_path):
    found = read_limits(_file(tmp_path, 'slip = "1.5 %"\nhot_head = "18 degF"\nmisfire_drops = 5\n'))
    assert found.slip == pytest.approx(0.015)
    assert found.hot_head == pytest.approx(10.0)
    assert set(found.changed()) == {"slip", "hot_head", "misfire_drops"}


@pytest.mark.parametrize(
    ("line", "what", "hint"),
    [
        ('slipp = "2 %"', "unknown key 'slipp'", "slip"),
        ('slip = "80 %"', "allowed: 0.2 % to 20 %", "unit"),
        ('hot_head = "12 %"', "hot_head", "K"),
        ("hot_head = 12", "has no unit", "K"),
        ("fewest_pulls = 2.5", "a whole number from 2 to 100", ""),
    ],
)
def test_what_cannot_be_is_refused(tmp_path, line, what, hint):
    with pytest.raises(InputError) as error:
        read_limits(_file(tmp_path, line + "\n"))
    assert what in error.value.what
    assert hint in (error.value.hint or "")
    assert "limits.toml" in (error.value.where or "")


def test_no_other_file_is_overwritten(tmp_path):
    other = tmp_path / "notes.toml"
    other.write_text("mine = 1\n", encoding="utf-8")
    with pytest.raises(UsageError, match="no limits file"):
        write_limits(other, USUAL)
    assert other.read_text(encoding="utf-8") == "mine = 1\n"


def test_every_limit_lies_in_its_bounds_and_has_a_reason():
    for name, limit in LIMITS.items():
        assert limit.low <= getattr(USUAL, name) <= limit.high, name
        assert len(limit.why) > 10, name
        assert name in limits_text(USUAL), name
