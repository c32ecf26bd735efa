"""Values on a sheet that are marked as assumed."""

import pytest

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
