"""Setups that were pulled, with other jets: their pulls for what they are, the model for the jets alone.

First the part, then the mixture by its lambda (common practice). A forecast that starts from the machine as it came
carries the doubt about all that the part does to lambda; this one carries that of the jets only, so that a part
which cures the hole and stands at the lean gate is not given up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.remedies.candidates import Candidate, Machine, single_candidates
from pulsewright.remedies.catalogue import FUEL
from pulsewright.remedies.forecast import Forecast, usable_draws
from pulsewright.remedies.gates import refusals
from pulsewright.remedies.interval import HALF_OF_80, Interval, added
from pulsewright.remedies.loudness import loudness
from pulsewright.remedies.ranking import Judged
from pulsewright.remedies.reference import Reference, reference_of
from pulsewright.remedies.search import Search, forecast_on_draws
from pulsewright.remedies.trials import Trials

MOST_TRIMMED = 4  # of each setup, on all draws


def trimmed_setups(session: Session, pulls: SessionPulls, search: Search, pulled: Sequence[Judged]) -> list[Judged]:
    """The better jets for every pulled setup that changes more than jets."""
    found = []
    for base in pulled:
        if base.candidate.groups - {FUEL}:
            setup = session.setup(base.pulled)
            machine = Machine(name=setup.name, text=setup.text, setup=setup.setup)
            own = reference_of(session, pulls, base.pulled, bins_of=search.reference)
            found += with_other_jets(search, base, machine, own)
    return found


def with_other_jets(search: Search, base: Judged, machine: Machine, own: Reference) -> list[Judged]:
    """The better jets for one pulled setup, best first; what they give counts over the search's own machine.

    base : the setup as `pulled_setups` judges it. machine, own : it, and its measured curves on the search's bins.
    """
    jets = [each for each in single_candidates(machine, search.catalogue) if each.groups == {FUEL}]
    first = _judged(search, search.first, 1, own, base, jets)
    order = sorted(range(len(first)), key=lambda k: (bool(first[k].refusals), -first[k].merit))
    return _judged(search, search.final, search.draws, own, base, [jets[k] for k in order[:MOST_TRIMMED]])


def _judged(
    search: Search, trials: Trials, draws: int, own: Reference, base: Judged, jets: Sequence[Candidate]
) -> list[Judged]:
    """Jets on a pulled setup; none where the model gives no answer for it."""
    before, *after = trials.run([base.candidate.setup, *(each.setup for each in jets)], draws)
    if not usable_draws(before).any():
        return []
    stood = np.fmax(search.stood(trials, draws), trials.run([search.machine.setup], draws)[0].knock)
    found = []
    for each, curves in zip(jets, after, strict=True):
        change = forecast_on_draws(own, search.final.machine.draws, before, curves, stood)
        found.append(
            Judged(
                candidate=_together(search, base, each),
                forecast=_over_the_baseline(search.reference, own, change, base.forecast),
                refusals=refusals(own, change),
                start=own,
            )
        )
    return found


def _together(search: Search, base: Judged, jets: Candidate) -> Candidate:
    """The setup's own parts by its name alone, and the jets."""
    parts = [replace(option, words="") for option in base.candidate.options]
    parts[0] = replace(parts[0], words=f"setup {base.pulled} as it was pulled")
    return replace(jets, options=(*parts, *jets.options), loudness=loudness(search.machine.setup, jets.setup))


def _over_the_baseline(reference: Reference, own: Reference, change: Forecast, measured: Forecast) -> Forecast:
    """What the pulled setup gave, and the jets on top of it."""
    bottom = measured.bottom
    if bottom is not None and reference.bottom is not None:
        here = int(np.argmin(np.abs(reference.rpm - reference.bottom)))
        percent, half = 100.0 * (change.torque / own.torque - 1.0), 100.0 * HALF_OF_80 * change.torque_sd / own.torque
        bottom = added(bottom, Interval(percent[here], percent[here] - half[here], percent[here] + half[here]))
    return replace(change, gain=added(measured.gain, change.gain), bottom=bottom, top=added(measured.top, change.top))
