"""How far each value of a sheet may be off: one standard deviation, where it was assumed and where it was measured.

What no sheet holds (friction, burn, jets' flow ...) has its doubts in `fit.unknowns`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from pulsewright.bench.given import MEMORY, PRACTICE

CARD = f"chain, keys and clearance against the card, {PRACTICE}"
CAMS = f"road cams differ so, {PRACTICE}"
TAPE = f"tape along a bent pipe, {PRACTICE}"
GAUGE = f"bore gauge, {PRACTICE}"
VALVES = f"shares of the bore in Heywood 1988, chapter 6, differ so, {MEMORY}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """The doubt about one kind of value.

    `assumed`, `measured` : in the inside unit of the value, or a share of it where `share`; None: not varied.
    """

    pattern: str  # of the dotted path, as a regular expression
    what: str
    assumed: float | None = None
    measured: float | None = None
    share: bool = False
    source: str
    how: str = ""  # how to find it out

    def of(self, *, assumed: bool) -> float | None:
        """The doubt about a value of this kind."""
        return self.assumed if assumed else self.measured


CAM_HOW = "cam card, or a degree wheel and `pulsewright estimate cam-timing`"
JET_HOW = "read its number, or measure its flow: `pulsewright estimate jet-bore`"
PORT_HOW = "fill it from a burette: `pulsewright estimate port-volume`"
DOUBTS = (
    Doubt(pattern=r"engine\.compression_ratio", what="compression ratio", assumed=0.7, measured=0.3,
          source=f"head milled, pistons changed, {PRACTICE}", how="fluid in the chamber at top dead centre"),
    Doubt(pattern=r"engine\.rod", what="length of the rod", assumed=0.08, share=True,
          source=f"1.5 to 2 strokes, Heywood 1988, chapter 2, {MEMORY}", how="workshop book"),
    *(
        Doubt(pattern=rf"engine\.{valve}_valve\.{event}", what=f"{valve} {event}", assumed=8.0, measured=4.0,
              source=f"assumed: {CAMS}; measured: {CARD}", how=CAM_HOW)
        for valve in ("intake", "exhaust") for event in ("opens", "closes")
    ),
    *(
        Doubt(pattern=rf"engine\.{valve}_valve\.check_lift", what=f"check lift of the {valve} card", assumed=0.5e-3,
              source=f"cards are given at 0 to 1.27 mm, {PRACTICE}", how="cam card")
        for valve in ("intake", "exhaust")
    ),
    *(
        Doubt(pattern=rf"engine\.{valve}_valve\.diameter", what=f"diameter of the {valve} valve", assumed=0.05,
              share=True, source=VALVES, how="callipers")
        for valve in ("intake", "exhaust")
    ),
    *(
        Doubt(pattern=rf"engine\.{valve}_valve\.lift", what=f"lift of the {valve} valve", assumed=1.5e-3,
              measured=0.2e-3, source=VALVES, how="dial gauge")
        for valve in ("intake", "exhaust")
    ),
    *(
        Doubt(pattern=rf"engine\.{port}_port\.length", what=f"length of the {port} port", assumed=15e-3, measured=3e-3,
              source=f"bent wire, {PRACTICE}", how=PORT_HOW)
        for port in ("intake", "exhaust")
    ),
    *(
        Doubt(pattern=rf"engine\.{port}_port\.bore", what=f"bore of the {port} port", assumed=2.5e-3, measured=0.5e-3,
              source=f"ports are not round, {PRACTICE}", how=PORT_HOW)
        for port in ("intake", "exhaust")
    ),
    Doubt(pattern=r"ignition\.advance", what="spark advance", assumed=4.0, measured=2.0,
          source=f"timing light, {PRACTICE}", how="timing light at three speeds"),
    Doubt(pattern=r"carburettor\.\d+\.venturi", what="venturi", assumed=0.05, share=True,
          source=PRACTICE, how="bore gauge"),
    Doubt(pattern=r"carburettor\.\d+\.throttle_bore", what="throttle bore", assumed=0.04, share=True,
          source=PRACTICE, how="bore gauge"),
    Doubt(pattern=r"carburettor\.\d+\.body_length", what="length of the carburettor", assumed=15e-3,
          source=PRACTICE, how="tape"),
    Doubt(pattern=r"carburettor\.\d+\.main_jet", what="bore of the main jet", assumed=0.08, share=True,
          source=f"starting points of tuners, {PRACTICE}", how=JET_HOW),
    Doubt(pattern=r"carburettor\.\d+\.intermediate_jet", what="bore of the intermediate jet", assumed=0.2, share=True,
          source=f"starting points of tuners, {PRACTICE}", how=JET_HOW),
    *(
        Doubt(pattern=rf"carburettor\.\d+\.{bleed}", what=bleed.replace("_", " "), assumed=0.2, share=True,
              source=f"starting points of tuners, {PRACTICE}", how="pin gauge")
        for bleed in ("main_air_bleed", "intermediate_air_bleed", "main_nozzle")
    ),
    Doubt(pattern=r"carburettor\.\d+\.nozzle_lip", what="nozzle above the fuel", assumed=3e-3, measured=1e-3,
          source=f"float level, {PRACTICE}", how="clear tube at the bowl"),
    Doubt(pattern=r"intake\.branch\.\d+", what="length of the intake runner", assumed=30e-3,
          source=f"short runners differ so, {PRACTICE}", how="tape along the middle"),
    Doubt(pattern=r"intake\.(branch\.\d+|before_carburettor|after_carburettor)\.\d+\.length",
          what="length of an intake duct", measured=5e-3, source=TAPE, how="tape along the middle"),
    Doubt(pattern=r"exhaust\.route\.\d+\.\d+\.length", what="length of the exhaust pipe", measured=10e-3, source=TAPE,
          how="tape along the middle of the bends"),
    Doubt(pattern=r"exhaust\.route\.\d+\.\d+\.bore", what="bore of the exhaust pipe", measured=0.5e-3, source=GAUGE,
          how="bore gauge, or outside less twice the wall"),
    Doubt(pattern=r"exhaust\.after\..+\.\d+\.length", what="length after the collector", measured=10e-3, source=TAPE,
          how="tape"),
    Doubt(pattern=r"exhaust\.route\.\d+\.\d+\.from_end", what="place of an obstacle", assumed=15e-3, measured=3e-3,
          source=TAPE, how="tape from the end"),
)  # fmt: skip


def doubt_of(path: str) -> Doubt | None:
    """The doubt about what stands at a dotted path; None where it is not varied."""
    return next((doubt for doubt in DOUBTS if re.fullmatch(doubt.pattern, path)), None)
