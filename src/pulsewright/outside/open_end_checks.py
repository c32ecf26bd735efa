"""Radiation of sound from the open end of a pipe."""

from __future__ import annotations

from collections.abc import Iterator

from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table
from pulsewright.physics.open_end import radiation, reflection

UNFLANGED = "Levine & Schwinger, Phys. Rev. 73 (1948) 383"
FLANGED = "Nomura et al., J. Phys. Soc. Japan 15 (1960) 510, by modal matching"
UP_TO = 0.5  # ka


def checks() -> Iterator[Check]:
    """Low-frequency limits, then magnitude and end correction up to ka 0.5."""
    yield Check(
        what="end correction of the unflanged end, low frequency, in radii",
        source=UNFLANGED,
        expected=0.6133,
        got=radiation(False)[1],
        tolerance=0.001,
        kind="absolute",
    )
    yield Check(
        what="end correction of the flanged end, low frequency, in radii",
        source=FLANGED,
        expected=0.82159,
        got=radiation(True)[1],
        tolerance=0.001,
        kind="absolute",
    )
    for name, flanged, source in (("unflanged", False, UNFLANGED), ("flanged", True, FLANGED)):
        rows = [r for r in table("open_end") if r["ka"] <= UP_TO]
        both = [(f"ka {r['ka']:g}", r, reflection(r["ka"], flanged)) for r in rows]
        yield worst(
            f"reflection of the {name} end up to ka 0.5",
            source,
            ((label, r[f"R_{name}"], got[0]) for label, r, got in both),
            0.03,
        )
        yield worst(
            f"end correction of the {name} end up to ka 0.5",
            source,
            ((label, r[f"l/a_{name}"], got[1]) for label, r, got in both),
            0.03,
        )
