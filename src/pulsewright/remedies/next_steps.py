"""What to do next: the test that tells the suspects apart for least time, and the safe step after it.

Times are common practice (no published source). Expected effects are runs of the unfitted model at the
hole; a rejet is offered only where the leanest trusted lambda leaves room for it.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from pulsewright.bench.exhaust import End, Pipe, Plate
from pulsewright.bench.session import Session
from pulsewright.bench.setup import Setup
from pulsewright.cause.causes import (
    CANNOT_TELL,
    ENGINE,
    EXHAUST_WAVE,
    IGNITION,
    INTAKE_WAVE,
    MEASUREMENT,
    MIXTURE_LEAN,
    MIXTURE_RICH,
    NO_HOLE,
    RESTRICTION,
    STARVATION,
)
from pulsewright.cause.evidence import doubted_sensor, exhaust_only, jets_only
from pulsewright.cause.explanation import NextTest
from pulsewright.cause.safety import SENSOR_MARGIN, LeanPoint, lean_gate
from pulsewright.network.options import Options
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.simulate.sweep import sweep

PLATE_BLOCKS = 0.25  # share of the bore
PLATE_FROM_END = 0.04  # [m]
PLATE_WORDS = (
    f"fit a plate that blocks {100.0 * PLATE_BLOCKS:.0f} % of the bore, {PLATE_FROM_END * 1e3:.0f} mm from the pipe end"
)
LONGER_BY = 0.15  # [m] slip-on extension
STEP_LEANER = 1.03  # what one main jet step does to lambda at most, common practice
LEAN_ROOM = 2  # steps that must fit under the gate


def next_tests(
    session: Session,
    pulls: SessionPulls,
    verdict: str,
    *,
    bottom: float | None,
    mixture: float | None,
    lean: LeanPoint | None,
) -> list[NextTest]:
    """The next steps for a verdict, cheapest and most telling first.

    bottom : speed at which the model is asked [rpm]; mixture : lambda imposed there, None = carburettor.
    """
    machine = session.setup(pulls.baseline).setup
    if verdict in (EXHAUST_WAVE, INTAKE_WAVE, CANNOT_TELL) and bottom is not None:
        return _wave_tests(session, pulls, verdict, machine, bottom, mixture)
    if verdict == MIXTURE_RICH:
        return [*_kept_jets(session, pulls), _leaner(lean)]
    if verdict == MIXTURE_LEAN:
        return [RICHER]
    if verdict == MEASUREMENT:
        return _measuring(pulls)
    return FIXED.get(verdict, [REPEAT])


def with_plate(setup: Setup, blocked: float = PLATE_BLOCKS) -> Setup | None:
    """The setup with a square-on plate near every open pipe end; None where no route ends in a plain pipe."""
    routes = {}
    for number, route in setup.exhaust.route.items():
        if len(route) < 2 or not isinstance(route[-1], End) or not isinstance(route[-2], Pipe):
            return None
        width = blocked * math.pi / 4.0 * route[-2].bore_out
        plate = Plate(width=width, angle_deg=90.0, from_end=min(PLATE_FROM_END, 0.5 * route[-2].length))
        routes[number] = (*route[:-1], plate, route[-1])
    return replace(setup, exhaust=replace(setup.exhaust, route=routes))


def with_longer_pipe(setup: Setup, extra: float = LONGER_BY) -> Setup | None:
    """The setup with every last pipe longer by `extra` [m]; None where a route ends otherwise."""
    routes = {}
    for number, route in setup.exhaust.route.items():
        if len(route) < 2 or not isinstance(route[-1], End) or not isinstance(route[-2], Pipe):
            return None
        last = route[-2]
        routes[number] = (*route[:-2], replace(last, length=last.length + extra), route[-1])
    return replace(setup, exhaust=replace(setup.exhaust, route=routes))


def _wave_tests(
    session: Session, pulls: SessionPulls, verdict: str, machine: Setup, bottom: float, mixture: float | None
) -> list[NextTest]:
    tried = [s for s in session.setups if s.name != pulls.baseline and exhaust_only(s)]
    good = [c for c in pulls.comparisons if c.second in {s.name for s in tried} and (c.bottom_percent or 0.0) > 3.0]
    if verdict == EXHAUST_WAVE and good:
        best = max(good, key=lambda c: c.bottom_percent or 0.0)
        return [
            NextTest(
                do=f"put the exhaust of setup {best.second} back and prove it: three pulls with, three without, three "
                "with again, head at the same temperature",
                expect=f"torque at {best.bottom_rpm:.0f} rpm {best.bottom_percent:+.0f} % as before, within its "
                "interval",
                tells_apart=(EXHAUST_WAVE, MEASUREMENT),
                minutes=45.0,
            ),
            AFTER_EXHAUST,
        ]
    options = Options(mixture=mixture)
    before = sweep(machine, [bottom], options)[0].torque
    tests = []
    for setup, do, minutes in (
        (with_plate(machine), PLATE_WORDS, 20.0),
        (with_longer_pipe(machine), f"slip {LONGER_BY * 1e3:.0f} mm of pipe on every end", 20.0),
    ):
        if setup is None:
            continue
        change = sweep(setup, [bottom], options)[0].torque / before - 1.0
        tests.append(
            NextTest(
                do=do,
                expect=f"about {100.0 * change:+.0f} % of torque near {bottom:.0f} rpm by the unfitted model if the "
                "exhaust wave is to blame; nothing if it is not",
                tells_apart=(EXHAUST_WAVE, MIXTURE_RICH, IGNITION),
                minutes=minutes,
            )
        )
    return [*tests, REPEAT] if tests else [SOFTER_END, REPEAT]


def _kept_jets(session: Session, pulls: SessionPulls) -> list[NextTest]:
    """Jets already pulled that gained torque and stay under the lean gate: keep the best of them."""
    safe = []
    for comparison in pulls.comparisons:
        name = comparison.second
        mixture = pulls.setups[name].mixture
        known = mixture[np.isfinite(mixture)]
        gain = comparison.proven and comparison.mean_percent > 0.0
        if not jets_only(session.setup(name)) or not gain or not known.size or doubted_sensor(pulls, name):
            continue
        if known.max() + SENSOR_MARGIN < lean_gate(session, name):
            safe.append((comparison, float(known.max())))
    if not safe:
        return []
    best, highest = max(safe, key=lambda row: row[0].mean_percent)
    return [
        NextTest(
            do=f"keep the jets of setup {best.second} and prove them in the order "
            f"{best.first}-{best.second}-{best.first}",
            expect=f"{best.mean_percent:+.1f} % of torque in the riding band again, lambda no higher than "
            f"{highest:.2f}",
            tells_apart=(MIXTURE_RICH, MEASUREMENT),
            minutes=30.0,
        )
    ]


def _leaner(lean: LeanPoint | None) -> NextTest:
    if lean is None or not lean.trusted:
        return NextTest(
            do="find out the true mixture first: a lambda sensor near the port, free-air check done",
            expect="a lambda that can be trusted; without it no leaner jet is safe",
            tells_apart=(MIXTURE_RICH, MEASUREMENT),
            minutes=30.0,
        )
    if lean.value * STEP_LEANER**LEAN_ROOM > lean.gate:
        return NextTest(
            do=f"go no leaner: setup {lean.setup} already reads lambda {lean.value:.2f} at {lean.rpm:.0f} rpm, "
            f"{LEAN_ROOM} more steps could pass the lean gate of {lean.gate:.2f}",
            expect="the jets of the pull with most torque in the riding band stay in",
            tells_apart=(),
            minutes=0.0,
        )
    return NextTest(
        do="go one main jet step leaner, and one step only between pulls",
        expect=f"lambda up by about 0.03 everywhere, highest about {lean.value * STEP_LEANER:.2f}; stop at "
        f"{lean.gate:.2f}",
        tells_apart=(MIXTURE_RICH, EXHAUST_WAVE),
        minutes=15.0,
    )


def _measuring(pulls: SessionPulls) -> list[NextTest]:
    kinds = [f.kind for f in pulls.findings]
    tests = [test for kind, test in MEASURING.items() if kind in kinds]
    return tests or [REPEAT]


REPEAT = NextTest(
    do="three more pulls of the same setup, same gear, head at one temperature",
    expect="the curve repeats within 1 %; what does not repeat is not the engine's",
    tells_apart=(MEASUREMENT, NO_HOLE),
    minutes=20.0,
)
SOFTER_END = NextTest(
    do="change the pipe end for one pull: a slip-on length or another end piece",
    expect="the hole moves or shrinks if the exhaust wave is to blame; nothing if it is not",
    tells_apart=(EXHAUST_WAVE, MIXTURE_RICH, IGNITION),
    minutes=20.0,
)
AFTER_EXHAUST = NextTest(
    do="then trim the jets by the measured lambda, one step at a time, and check knock where the hole was: filling is "
    "higher there now",
    expect="lambda inside the target window at every speed; no knock",
    tells_apart=(),
    minutes=30.0,
)
RICHER = NextTest(
    do="go one main jet step richer before anything else",
    expect="lambda down by about 0.03 everywhere, torque up where it was lean",
    tells_apart=(MIXTURE_LEAN, STARVATION),
    minutes=15.0,
)
MEASURING = {
    "heat soak": NextTest(
        do="cool to one head temperature before every pull and repeat in the order A-B-B-A",
        expect="the difference between the setups goes to zero if it was heat",
        tells_apart=(MEASUREMENT, ENGINE),
        minutes=60.0,
    ),
    "dilution": NextTest(
        do="move the lambda sensor nearer to the port, or lengthen the pipe for the measurement; do not enrich by this "
        "reading",
        expect="the lean reading at low speed goes away while torque stays",
        tells_apart=(MEASUREMENT, MIXTURE_LEAN),
        minutes=30.0,
    ),
    "slip": NextTest(
        do="tighten the strap, check tyre pressure and heat, and repeat in the same gear",
        expect="the ratio of engine to roller speed stays constant through the pull",
        tells_apart=(MEASUREMENT, EXHAUST_WAVE),
        minutes=20.0,
    ),
    "pick-up": NextTest(
        do="move the ignition pick-up to a plain plug lead and check the ratio of engine to roller speed",
        expect="the ratio agrees with the gearing",
        tells_apart=(MEASUREMENT, IGNITION),
        minutes=15.0,
    ),
}
FIXED = {
    NO_HOLE: [
        NextTest(
            do="leave it as it is",
            expect="no loss in the riding band that these pulls could show",
            tells_apart=(),
            minutes=0.0,
        )
    ],
    STARVATION: [
        NextTest(
            do="measure fuel flow at the bowl and look at tap, filter, tank vent and float valve",
            expect="lambda no longer climbs with time at full load",
            tells_apart=(STARVATION, MIXTURE_LEAN),
            minutes=20.0,
        )
    ],
    IGNITION: [
        NextTest(
            do="new plugs at the right gap, look at leads and coil, strobe the advance, then one pull",
            expect="the ragged torque goes away",
            tells_apart=(IGNITION, EXHAUST_WAVE),
            minutes=30.0,
        )
    ],
    ENGINE: [
        NextTest(
            do="compression and leak-down test, valve clearance, cam timing",
            expect="a reason for a loss that is the same at every speed",
            tells_apart=(ENGINE, MEASUREMENT),
            minutes=60.0,
        )
    ],
    RESTRICTION: [
        NextTest(
            do="one pull with the air filter off, one with the insert or muffler core out (ear protection, neighbours)",
            expect="the top end comes back",
            tells_apart=(RESTRICTION, ENGINE),
            minutes=30.0,
        )
    ],
}
