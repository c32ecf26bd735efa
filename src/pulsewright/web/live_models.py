"""The models under the sliders: one for each browser and machine, the least used let go."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence

from pulsewright.fit.machine import FittedMachine
from pulsewright.remedies.live_model import USUAL_REACH, LiveModel, nominal_machine
from pulsewright.remedies.model_of_session import known_fit
from pulsewright.remedies.reference import reference_of
from pulsewright.simulate.speed_point import SpeedPoint
from pulsewright.web.desk import Day, Desk

MOST_KEPT = 8


class LiveModels:
    """Safe for threads; two browsers never share one."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._models: OrderedDict[tuple[object, ...], LiveModel] = OrderedDict()
        self._known: OrderedDict[tuple[object, ...], dict[str, Sequence[SpeedPoint]]] = OrderedDict()
        self._machines: OrderedDict[tuple[object, ...], FittedMachine] = OrderedDict()
        self._lock = threading.Lock()

    def model(self, visit: str, day: Day, setup: str) -> LiveModel:
        """The model of a setup of a job for one browser; another one as soon as pulls, sheets or fits change."""
        machine = self.machine(day)
        key = visit, day.job, day.hashes, setup, machine.fitted
        with self._lock:
            if key in self._models:
                self._models.move_to_end(key)
                return self._models[key]
            known = self._known.setdefault(key[1:], {})
            while len(self._known) > MOST_KEPT:
                self._known.popitem(last=False)
            made = _made(day, setup, machine, known)
            self._models[key] = made
            while len(self._models) > MOST_KEPT:
                self._models.popitem(last=False)
            return made

    def machine(self, day: Day) -> FittedMachine:
        """The machine as the newest fit of these very pulls knows it, else as the sheet has it."""
        if day.pulls is None:
            return nominal_machine()
        key = day.job, day.hashes, self._desk.store.newest_id(day.job, "explain")
        with self._lock:
            if key in self._machines:
                return self._machines[key]
        fits = (known_fit(day.session, day.pulls, self._desk.fits, quick=quick) for quick in (False, True))
        fit = next((f for f in fits if f is not None), None)
        machine = fit.machine if fit else nominal_machine()
        with self._lock:
            self._machines[key] = machine
            while len(self._machines) > MOST_KEPT:
                self._machines.popitem(last=False)
        return machine


def _made(day: Day, setup: str, machine: FittedMachine, known: dict[str, Sequence[SpeedPoint]]) -> LiveModel:
    before = day.session.setup(setup).setup
    if day.pulls is None:
        return LiveModel(before=before, machine=machine, reach=USUAL_REACH, known=known)
    measured = setup if setup in day.pulls.setups else day.pulls.baseline
    curves = day.pulls.setups[measured]
    reference = reference_of(day.session, day.pulls, setup) if setup in day.pulls.setups else None
    reach = float(curves.rpm[0]), float(curves.rpm[-1])
    pulled = tuple(day.session.setup(name).setup for name in day.pulls.setups if name != setup)
    return LiveModel(before=before, machine=machine, reference=reference, reach=reach, pulled=pulled, known=known)
