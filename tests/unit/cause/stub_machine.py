"""A machine whose torque is a formula of what is switched off: for tests of the split, no engine in it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pulsewright.fit.machine import Draw, FittedMachine, MachineCurves
from pulsewright.network.options import NON_REFLECTING, Options

Torque = Callable[[int, float, bool, bool, bool, bool], float]
"""(draw, rpm, echo off, intake echo off, mixture off, restriction off) to torque [N m]."""


@dataclass(frozen=True)
class StubMachine(FittedMachine):
    """Counts its runs; stands in for the fitted machine."""

    formula: Torque = lambda *_: 100.0
    asked: list[Options] | None = None

    def few(self, count: int) -> "StubMachine":
        return StubMachine(draws=self.draws[:count], fitted=self.fitted, formula=self.formula, asked=self.asked)

    def sweep(self, setup, speeds, options=None, stopped=None, within=None) -> MachineCurves:
        if stopped is not None and stopped():
            raise KeyboardInterrupt
        o = options or Options()
        if self.asked is not None:
            self.asked.append(o)
        echo, intake = o.exhaust_ends == NON_REFLECTING, o.intake_ends == NON_REFLECTING
        mixture = o.best_burn or o.mixture is not None
        torque = np.array([
            [self.formula(k, float(s), echo, intake, mixture, o.lossless) for s in speeds]
            for k in range(len(self.draws))
        ])  # fmt: skip
        lambda_ = np.full(torque.shape, (0.75 if echo else 0.65) * (2.0 if o.mean_metering else 1.0))
        return MachineCurves(
            rpm=np.array(speeds, float), torque=torque, reading=torque, lambda_trapped=lambda_, lambda_sensor=lambda_,
            knock_margin=lambda_, exhaust_temperature=lambda_, failed=np.zeros(torque.shape, bool),
        )  # fmt: skip


def stub(formula: Torque, draws: int = 8, *, fitted: bool = True) -> StubMachine:
    """A machine of that many draws."""
    return StubMachine(draws=tuple(Draw() for _ in range(draws)), fitted=fitted, formula=formula, asked=[])
