"""The echo that the report shows: the baseline at the speed where the model has its hole."""

from __future__ import annotations

from pulsewright.cause.causes import EXHAUST_WAVE
from pulsewright.network.options import Options
from pulsewright.remedies.explain import Answer
from pulsewright.simulate.echo import compute_echo
from pulsewright.simulate.echo_field import EchoField


def echo_of(answer: Answer) -> EchoField | None:
    """The pressure in the first exhaust pipe; None where no hole was split into causes."""
    split = answer.explanation.split
    if split is None or answer.pulls.hole is None or answer.explanation.verdict != EXHAUST_WAVE:
        return None
    setup = answer.session.setup(answer.pulls.baseline).setup
    return compute_echo(setup, split.rpm, options=Options(calibration=answer.machine.draws[0].calibration))
