"""Advice in words: the sentence on top, and the cautions that always hold."""

from __future__ import annotations

from collections.abc import Sequence

from pulsewright.cause.causes import CANNOT_TELL, MEASUREMENT, NO_HOLE
from pulsewright.remedies.as_it_stands import TOO_LEAN, AsItStands
from pulsewright.remedies.gates import LEAN, UNKNOWN
from pulsewright.remedies.interval import Interval
from pulsewright.remedies.next_pull import NextPull
from pulsewright.remedies.ranking import CURES, FRONT, REFUSED, Judged
from pulsewright.remedies.reference import Reference

CAUTIONS = (
    "A forecast is no proof: pull it in the order before, after, before, and compare.",
    "Lambda is held at every speed with 0.02 for the sensor; watch it in the first pull after every change and stop "
    "above the gate.",
    "Knock is judged as a change against the machine as it is: the model's delay to self-ignition holds to 30 %, so "
    "its absolute margin says little. More filling is a new risk where the hole was: listen, and check heat and plugs.",
    "Louder, same or quieter is a tendency from what stands in the pipe end; nothing is computed, no limit is checked.",
    "Whether a change is lawful on the road depends on the machine and the country.",
)

NOTHING_LOST = (
    "no loss in the riding band that these pulls could show, so no change was looked for: there is nothing that one "
    "could win back."
)


def sentence(
    verdict: str, reference: Reference, judged: Sequence[Judged], tests: Sequence[NextPull], stands: AsItStands
) -> str:
    """What to do, in a sentence or two: first what cannot wait."""
    too_lean = stands.level == TOO_LEAN
    if too_lean and (verdict == NO_HOLE or not any(j.standing == FRONT for j in judged)):
        return f"{stands.text} Next: {tests[0].do if tests else 'fit a larger main jet'}."
    said = _leave_it(stands) if verdict == NO_HOLE else _what_to_do(verdict, reference, judged, tests)
    return f"{stands.text} {said}" if too_lean else said


def _leave_it(stands: AsItStands) -> str:
    if stands.comes_first:
        return f"{stands.text} Else leave it as it is: {NOTHING_LOST}"
    return f"Leave it as it is: {NOTHING_LOST} {stands.text}"


def _what_to_do(verdict: str, reference: Reference, judged: Sequence[Judged], tests: Sequence[NextPull]) -> str:
    chosen = next((j for j in judged if j.standing == FRONT), None)
    first = tests[0].do if tests else "repeat the pulls"
    if verdict == MEASUREMENT:
        return f"Change nothing on the machine yet, the measurement is in doubt: {first}."
    if chosen is not None:
        return _recommendation(chosen, reference)
    if reference.mixture_unknown:
        return (
            "Nothing is recommended while lambda is unknown: get a reading that can be trusted first "
            f"({'outside air may reach the sensor' if reference.doubted else 'no reading at some speeds'})."
        )
    held = [j for j in judged if j.standing == REFUSED and j.forecast.gain.low > 0.0]
    if verdict in CURES and held:
        lean = sum(any(r.gate == LEAN for r in j.refusals) for j in held)
        why = "most of them past the lean gate" if 2 * lean > len(held) else "past a gate"
        return f"Nothing can be recommended: {len(held)} changes could help, {why}; next: {first}."
    if verdict == CANNOT_TELL:
        return f"The cause is not sure enough to change parts for it; next: {first}."
    return f"No part on the list is sure to help; next: {first}."


def _recommendation(j: Judged, reference: Reference) -> str:
    f = j.forecast
    what = f"keep {j.candidate.words}" if j.pulled else j.candidate.words
    verb = "it gave" if j.pulled else "it should bring"
    bottom = f" and {_percent(f.bottom)} at {reference.bottom:.0f} rpm" if f.bottom and reference.bottom else ""
    top = f", {_percent(f.top)} at the top end" if abs(f.top.value) >= 0.5 else ", nothing lost at the top end"
    time = "" if j.pulled else f"; about {j.candidate.minutes:.0f} min"
    return f"{what[0].upper()}{what[1:]}: {verb} {_percent(f.gain)} of torque in the riding band{bottom}{top}{time}."


def _percent(i: Interval) -> str:
    return f"{i.value:+.1f} % ({i.low:+.1f} to {i.high:+.1f})"


def refused_reasons(j: Judged) -> str:
    """Why a change is refused, in a line."""
    unknown = [r.why for r in j.refusals if r.gate == UNKNOWN]
    return "; ".join(unknown[:1] or [r.why for r in j.refusals])
