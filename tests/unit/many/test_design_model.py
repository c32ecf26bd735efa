"""One design through the real model, and through ways to fail."""

import pickle
from pathlib import Path

import pytest

from pulsewright.errors import CancelledError
from pulsewright.many import design_model as module
from pulsewright.many.code_version import code_version
from pulsewright.many.design import CONVERGED, FAILED, NOT_CONVERGED, REFUSED, Design
from pulsewright.many.design_model import DesignModel

SHEET = (Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml").read_text(encoding="utf-8")
MODEL = DesignModel(SHEET, (3500.0, 4000.0), code_version())
LENGTH = "exhaust.route.1.1.length"


def test_a_design_is_what_predict_says():
    from pulsewright.bench.sheet import setup_from_text
    from pulsewright.simulate.predict import predict

    result = MODEL(Design(1, "id", ((LENGTH, "850 mm"),)))
    alone = predict(
        setup_from_text(SHEET.replace('length = "900 mm"', 'length = "850 mm"', 1), "twin"), MODEL.speeds, threads=1
    )
    assert (result.outcome, result.why) == (CONVERGED, "")
    assert result.curves["torque_nm"] == pytest.approx([float(f"{x:.6g}") for x in alone.torque_nm])
    assert result.curves["rpm"] == [3500.0, 4000.0]
    assert result.seconds > 0.0


@pytest.mark.parametrize(
    ("change", "said"),
    [((LENGTH, "-5 mm"), "length"), (("engine.intake_valve.diameter", "93 mm"), ""), (("engine.rod", "40 mm"), "rod")],
)
def test_what_cannot_be_built_is_refused(change, said):
    result = MODEL(Design(1, "id", (change,)))
    assert (result.outcome, result.curves) == (REFUSED, {})
    assert said in result.why
    assert result.why


def test_what_breaks_the_model_is_a_failed_design(monkeypatch):
    def broken(*_arguments, **_more):
        raise ZeroDivisionError("no mass")

    monkeypatch.setattr(module, "predict", broken)
    result = MODEL(Design(1, "id", ()))
    assert (result.outcome, result.why) == (FAILED, "ZeroDivisionError: no mass")


def test_what_does_not_converge_keeps_its_curve(monkeypatch):
    from pulsewright.simulate.settle import Tolerance

    whole = module.predict
    monkeypatch.setattr(module, "predict", lambda *a, **k: whole(*a, **k, within=Tolerance(most_cycles=1, run_on=0)))
    result = MODEL(Design(1, "id", ()))
    assert result.outcome == NOT_CONVERGED
    assert result.why.startswith("2 of 2 speeds: cycle limit")
    assert all(result.curves["torque_nm"])


def test_a_stop_is_heeded_after_a_speed():
    with pytest.raises(CancelledError):
        MODEL(Design(1, "id", ()), lambda: True)


def test_a_model_can_be_sent_to_another_process():
    assert pickle.loads(pickle.dumps(MODEL)) == MODEL


def test_a_level_computes_as_predict_does_at_that_level():
    from pulsewright.bench.sheet import setup_from_text
    from pulsewright.simulate.fidelity import DRAG
    from pulsewright.simulate.predict import predict

    result = DesignModel(SHEET, (3500.0,), code_version(), "drag")(Design(1, "id", ()))
    alone = predict(setup_from_text(SHEET, "twin"), [3500.0], threads=1, level=DRAG)
    assert result.curves["torque_nm"] == pytest.approx([float(f"{x:.6g}") for x in alone.torque_nm])
    assert result.curves["torque_nm"] != MODEL(Design(1, "id", ())).curves["torque_nm"][:1]
