"""Louder or quieter: common practice (no published source); the words may only follow what stands in the pipe end."""

import pytest
from tests.cheap_machine import TWIN, machine

from pulsewright.remedies.candidates import single_candidates
from pulsewright.remedies.catalogue import general_catalogue
from pulsewright.remedies.loudness import LOUDER, QUIETER, SAME

WORN = TWIN.replace(
    '{ piece = "end", kind = "open" }',
    '{ piece = "muffler", body_length = "300 mm", body_bore = "90 mm", core_bore = "40 mm", '
    'core = "perforated packed", packing = "aged" }, { piece = "end", kind = "open" }',
)
PLATED = TWIN.replace(
    '{ piece = "end", kind = "open" }', '{ piece = "plate", width = "20 mm" }, { piece = "end", kind = "open" }'
)


@pytest.mark.parametrize(
    ("text", "start", "word"),
    [
        (TWIN, "plate that blocks 25", QUIETER),
        (TWIN, "perforated packed muffler", QUIETER),
        (TWIN, "main jet", SAME),
        (TWIN, "ignition", SAME),
        (TWIN, "pipe bore 43 mm to 47", LOUDER),
        (TWIN, "pipes 200 mm shorter", LOUDER),
        (TWIN, "last 200 mm a cone", LOUDER),
        (PLATED, "plate taken out", LOUDER),
        (WORN, "mufflers packed anew", QUIETER),
        (PLATED, "plate turned to 0", LOUDER),
    ],
)
def test_what_stands_in_the_end_makes_the_word(text: str, start: str, word: str):
    found = [c for c in single_candidates(machine(text), general_catalogue()) if c.words.startswith(start)]
    assert found
    assert {c.loudness.word for c in found} == {word}
