"""One design through the model: a sheet with changes in, one result out, whatever happens on the way."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from pulsewright.bench.changes import changed_text
from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import CancelledError, InputError
from pulsewright.many.code_version import code_version
from pulsewright.many.design import CONVERGED, FAILED, NOT_CONVERGED, REFUSED, Design, DesignResult
from pulsewright.simulate import outcome as told
from pulsewright.simulate.fidelity import FINAL, LEVELS
from pulsewright.simulate.flat_curves import flat_curves
from pulsewright.simulate.predict import predict
from pulsewright.simulate.prediction import Prediction

Stopped = Callable[[], bool]
Compute = Callable[[Design, Stopped], DesignResult]


def never() -> bool:
    """For a computation that nobody stops."""
    return False


@dataclass(frozen=True, slots=True)
class DesignModel:
    """The full model of a sheet at given speeds. Pickled whole, so that it can be sent to other machines."""

    sheet_text: str
    speeds: tuple[float, ...]  # [rpm]
    code: str
    level: str = FINAL.name

    def __call__(self, design: Design, stopped: Stopped = never) -> DesignResult:
        """Curves of one design, on one thread, each speed started from its neighbour.

        Raises
        ------
        CancelledError : `stopped` said True, which is asked after every speed.
        InputError : the code here is not the code that the plan was made with.
        """
        if self.code != code_version():
            raise InputError(
                f"a worker has other code: {code_version()} in place of {self.code}",
                hint="install the same version of pulsewright, and of what it computes with, on every worker",
            )
        begin = time.perf_counter()
        try:
            outcome, why, curves = self._curves(design, stopped)
        except CancelledError:
            raise
        except InputError as error:
            outcome, why, curves = REFUSED, error.what, {}
        except Exception as error:  # one design that cannot be computed must not end the others
            outcome, why, curves = FAILED, f"{type(error).__name__}: {error}", {}
        seconds = time.perf_counter() - begin
        return DesignResult(
            number=design.number, id=design.id, outcome=outcome, why=why, seconds=round(seconds, 4), curves=curves
        )

    def _curves(self, design: Design, stopped: Stopped) -> tuple[str, str, dict[str, list]]:
        def ask(_done: int, _in_all: int, _rpm: float) -> None:
            if stopped():
                raise CancelledError

        where = f"design {design.number}"
        text = changed_text(self.sheet_text, design.changes, where=where)
        setup = setup_from_text(text, where, lines=False)
        prediction = predict(setup, self.speeds, progress=ask, threads=1, level=LEVELS[self.level])
        return *judge(prediction), flat_curves(prediction)


def judge(prediction: Prediction) -> tuple[str, str]:
    """Outcome of a whole curve, and how many speeds ended otherwise than converged."""
    others = Counter(each for each in prediction.outcome if each != told.CONVERGED)
    if not others:
        return CONVERGED, ""
    outcome = FAILED if others[told.FAILED] == len(prediction.outcome) else NOT_CONVERGED
    return outcome, "; ".join(f"{n} of {len(prediction.outcome)} speeds: {said}" for said, n in others.most_common())
