"""Values on a sheet that are marked as assumed."""

import pytest

from pulsewright.bench.changes import changed_text
from pulsewright.bench.marked import marked_assumptions


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ('[engine]\nrod = "190 mm"  # assumed: looks so', [("engine.rod", "190 mm", "marked on the sheet; looks so")]),
        (
            "[engine]\ncompression_ratio = 9.0 # assumed",
            [("engine.compression_ratio", "9.0", "marked on the sheet; assumed")],
        ),
        (
            '[[carburettor]]\n[[carburettor]]\nventuri = "36 mm"  # assumed, x',
            [("carburettor.2.venturi", "36 mm", "marked on the sheet; x")],
        ),
        (
            '[intake]\nbranch.1 = [ { length = "90 mm", bore = "41 mm" } ]  # assumed: short',
            [("intake.branch.1", '[ { length = "90 mm", bore = "41 mm" } ]', "marked on the sheet; short")],
        ),
        ('# assumed: rod = "190 mm"\n[engine]\nrod = "1 mm"  # measured, nothing assumed', []),
        ("", []),
    ],
)
def test_marks(text: str, found: list[tuple[str, str, str]]):
    assert [(a.key, a.value, a.why) for a in marked_assumptions(text)] == found


@pytest.mark.parametrize("comment", ["assumed: looks so", "with a tape"])
def test_a_value_that_is_set_is_no_longer_assumed(comment: str):
    text = f'[engine]\nrod = "190 mm"  # {comment}\nbore = "90 mm"  # assumed\n'
    changed = changed_text(text, [("engine.rod", "192 mm")])
    assert [a.key for a in marked_assumptions(changed)] == ["engine.bore"]
    assert ("with a tape" in changed) == ("tape" in comment)
