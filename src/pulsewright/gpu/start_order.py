"""Which speeds of a design start by themselves, and which are drawn through others that have come to rest.

As `simulate.warm_start` does it, for many designs at once: every fourth speed starts from rest, then the ones half
way between, then all others.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from pulsewright.gpu.batch import Job
from pulsewright.simulate.outcome import CONVERGED, FAILED
from pulsewright.simulate.warm_start import BETWEEN_WITHIN, ON_A_SIDE, weights

FIRST_OF = 4  # speeds: one of so many starts by itself
ALONE = 2560  # jobs: up to so many start all at once, since drawn ones wait for others while the card idles
MOST_SOURCES = 2 * ON_A_SIDE


@dataclass(frozen=True, slots=True)
class StartOrder:
    """For every job the jobs it is drawn through, nearest speed first; -1 behind the last. (jobs, MOST_SOURCES)"""

    sources: np.ndarray
    weights: np.ndarray  # of each, adding up to 1

    def ready(self, waiting: np.ndarray, ended: np.ndarray) -> np.ndarray:
        """Numbers of those waiting jobs whose sources have all ended. waiting, ended : (jobs,) of bool"""
        told = ended[self.sources] | (self.sources < 0)
        return np.flatnonzero(waiting & told.all(axis=1))


def all_at_once(jobs: Sequence[Job]) -> StartOrder:
    """No job waits for another."""
    return StartOrder(np.full((len(jobs), MOST_SOURCES), -1), np.zeros((len(jobs), MOST_SOURCES)))


def by_neighbours(jobs: Sequence[Job]) -> StartOrder:
    """Jobs of one design wait for each other."""
    of_design: dict[int, list[int]] = defaultdict(list)
    for number, job in enumerate(jobs):
        of_design[job.design].append(number)
    order = all_at_once(jobs)
    for numbers in of_design.values():
        mine = np.array(sorted(numbers, key=lambda n: jobs[n].rpm))
        sources, shares = _of_speeds(tuple(jobs[n].rpm for n in mine))
        order.sources[mine] = np.where(sources >= 0, mine[sources], -1)
        order.weights[mine] = shares
    return order


def usable(order: StartOrder, job: int, jobs: Sequence[Job], outcome: Sequence[str]) -> tuple[np.ndarray, np.ndarray]:
    """Sources and weights of a job where one of its sources has not come to rest; no weight: it starts by itself.

    The engine may then run in two ways, and has the one of the next speed above.
    """
    sources, shares = np.full(MOST_SOURCES, -1), np.zeros(MOST_SOURCES)
    around = [int(n) for n in order.sources[job] if n >= 0 and outcome[n] != FAILED]
    above = min((n for n in around if jobs[n].rpm > jobs[job].rpm), key=lambda n: jobs[n].rpm, default=-1)
    at_rest = [n for n in around if outcome[n] == CONVERGED]
    one = above if above >= 0 and outcome[above] != CONVERGED else next(iter(at_rest), -1)
    if one >= 0:
        sources[0], shares[0] = one, 1.0
    return sources, shares


@cache
def _of_speeds(speeds: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Sources (places among the speeds) and weights of speeds in rising order. (speeds, MOST_SOURCES) each"""
    sources, shares = np.full((len(speeds), MOST_SOURCES), -1), np.zeros((len(speeds), MOST_SOURCES))
    known = sorted({*range(0, len(speeds), FIRST_OF), len(speeds) - 1})
    for step in (FIRST_OF // 2, 1):
        new = [k for k in range(0, len(speeds), step) if k not in known]
        for k in new:
            around = _around(speeds, known, k)
            sources[k, : len(around)] = around
            shares[k, : len(around)] = weights([1.0 / speeds[n] for n in around], 1.0 / speeds[k])
        known = sorted([*known, *new])
    return sources, shares


def _around(speeds: Sequence[float], known: Sequence[int], k: int) -> list[int]:
    """The known speeds that one between them is drawn through, nearest first; one where they lie too far apart."""
    below, above = [n for n in known if n < k][::-1], [n for n in known if n > k]
    each_side = min(len(below), len(above), ON_A_SIDE)
    around = sorted((*below[:each_side], *above[:each_side]), key=lambda n: abs(math.log(speeds[n] / speeds[k])))
    return around[:1] if math.log(speeds[above[0]] / speeds[below[0]]) > BETWEEN_WITHIN else around
