"""A story goes into plain data and comes back whole: the page set out from it is the same."""

import json
import math

import numpy as np
import pytest

from pulsewright.report.kept_story import story_as_json, story_from_json
from pulsewright.report.story import (
    Assumed,
    Condition,
    Evidence,
    FitStory,
    FollowedSetup,
    Hole,
    Leanest,
    MeasuredCurve,
    ModelCurve,
    NextStep,
    SafetyNote,
    Share,
    Story,
    Tried,
    Unexplained,
)
from pulsewright.report.write import render_report

RPM = np.arange(2000.0, 4000.0, 50.0)
STORY = Story(
    machine="a machine", verdict="exhaust wave", complaint="flat", confidence=0.9, riding_band=(2200.0, 3800.0),
    hole=Hole(rpm_from=2500.0, rpm_to=3200.0, rpm_bottom=2900.0, depth=0.1, depth_low=0.08, depth_high=0.12),
    curves=(
        MeasuredCurve(
            setup="A", role="before", rpm=RPM, torque=np.where(RPM < 2100, math.nan, 90 + RPM / 1000),
            low=RPM / 40, high=RPM / 30, lambda_=(), pulls=3,
        ),
    ),
    model=(ModelCurve(setup="A", role="before", rpm=RPM, torque=RPM / 35, lambda_=RPM / 4000),),
    target_lambda=(0.84, 0.9), shares=(Share(cause="exhaust wave", share=0.7, low=0.5, high=0.9),), shares_rpm=2900.0,
    unexplained=Unexplained(share=0.1, low=0.0, high=0.2),
    fit=FitStory(setups=(FollowedSetup(setup="A", torque_percent=1.0, lambda_=0.02),), draws=8, learned=("friction",)),
    would_change_our_mind=("a longer pipe",),
    evidence=(Evidence(what="it repeats", supports="exhaust wave", weight=1.2),),
    tried=(Tried(setup="B", change="jet", band_percent=2.0, low=1.0, high=3.0, pulls=3),),
    next=(NextStep(do="a plate", tells_apart=("exhaust wave", "mixture rich"), minutes=20.0),),
    safety=(SafetyNote(what="lean", level="amber", rpm=3500.0),), leanest=Leanest(value=0.9, rpm=3500.0, setup="A"),
    assumptions=(Assumed(key="fuel", value="E5", why="usual"),), conditions=(Condition(name="gear", value="4th"),),
)  # fmt: skip


@pytest.fixture
def again() -> Story:
    return story_from_json(json.loads(json.dumps(story_as_json(STORY), allow_nan=False)))


def test_the_same_page_comes_out(again: Story):
    assert render_report(again) == render_report(STORY)


def test_gaps_stay_gaps(again: Story):
    assert np.isnan(again.curves[0].torque[0])
    assert again.curves[0].torque[-1] == pytest.approx(STORY.curves[0].torque[-1])


def test_a_story_of_another_version_is_refused():
    with pytest.raises(TypeError):
        story_from_json({**story_as_json(STORY), "moon": "full"})
