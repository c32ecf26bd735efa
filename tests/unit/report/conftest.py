"""A made-up story: an invented twin with a hole, a jet change that did not help and a bolt that did."""

from __future__ import annotations

import numpy as np
import pytest

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

RPM = np.arange(1800.0, 5600.0, 50.0)
HILL = 124.0 - 9e-6 * (RPM - 3600.0) ** 2  # [N m]


def dip(depth: float, bottom: float = 3050.0) -> np.ndarray:
    return depth * np.exp(-(((RPM - bottom) / 330.0) ** 2))


def measured(setup: str, role: str, torque: np.ndarray, lam: np.ndarray, words: str) -> MeasuredCurve:
    wobble = 0.5 * np.sin(RPM / 37.0)
    return MeasuredCurve(
        setup=setup,
        role=role,  # pyright: ignore[reportArgumentType]
        words=words,
        rpm=list(RPM),
        torque=list(torque + wobble),
        low=list(torque - 1.4),
        high=list(torque + 1.4),
        lambda_=list(lam),
        pulls=3,
    )


def made_up_story(echo_svg: str = "", echo_svg_narrow: str = "") -> Story:
    before, jets, after = HILL - dip(17.0), HILL - dip(16.5), HILL - 0.8 - dip(7.0)
    rich = 0.86 - dip(0.09)
    return Story(
        machine="Twin with open pipes",
        verdict="exhaust wave",
        complaint="flat at 3000, then it kicks; black smoke there",
        confidence=0.93,
        invented=True,
        date="12 May",
        riding_band=(2200.0, 4000.0),
        hole=Hole(rpm_from=2600, rpm_to=3600, rpm_bottom=3050, depth=0.14, depth_low=0.12, depth_high=0.16),
        curves=(
            measured("A", "before", before, rich, "as it came"),
            measured("B", "other", jets, rich + 0.05, "main jet two steps leaner"),
            measured("C", "after", after, 0.86 - dip(0.04), "8 mm bolt 50 mm from the end"),
        ),
        model=(
            ModelCurve(
                setup="A",
                role="before",
                rpm=list(RPM),
                torque=list(before + 1.0),
                lambda_=list(rich + 0.01),
                torque_without_echo=list(HILL - 1.5),
            ),
            ModelCurve(
                setup="C",
                role="after",
                rpm=list(RPM),
                torque=list(after + 0.6),
                lambda_=list(0.865 - dip(0.04)),
            ),
        ),
        target_lambda=(0.84, 0.90),
        lean_limit=0.92,
        shares=(
            Share(cause="exhaust wave", share=0.71, low=0.58, high=0.82),
            Share(cause="mixture", share=0.17, low=0.08, high=0.27),
            Share(cause="restriction", share=0.08, low=-0.02, high=0.15),
            Share(cause="intake wave", share=0.04, low=-0.03, high=0.09),
        ),
        shares_rpm=3050.0,
        unexplained=Unexplained(share=0.16, low=0.05, high=0.27),
        fit=FitStory(
            setups=(
                FollowedSetup(setup="A", torque_percent=1.4, lambda_=0.02),
                FollowedSetup(setup="C", torque_percent=2.1),
            ),
            draws=16,
            learned=("flow of the main jet",),
            open=("place of obstacle losses",),
        ),
        would_change_our_mind=("a change at the pipe end that leaves the hole as it was",),
        echo_svg=echo_svg,
        echo_svg_narrow=echo_svg_narrow,
        evidence=(
            Evidence(
                what="The hole stayed when the main jet changed",
                supports="exhaust wave",
                against="mixture",
                weight=2.1,
            ),
            Evidence(
                what="The hole shrank when a bolt was fitted near the pipe end",
                supports="exhaust wave",
                weight=1.2,
            ),
        ),
        tried=(
            Tried(
                setup="B",
                change="main jet 1.85 to 1.70 mm",
                band_percent=0.4,
                low=-0.9,
                high=1.7,
                bottom_percent=0.5,
                lambda_change=0.05,
                pulls=3,
                note="two steps leaner",
            ),
            Tried(
                setup="C",
                change="8 mm bolt across the pipe, 50 mm from the end",
                band_percent=4.1,
                low=2.6,
                high=5.6,
                bottom_percent=8.9,
                lambda_change=0.02,
                pulls=3,
            ),
        ),
        next=(
            NextStep(
                do="Fit a plate that blocks 25 % near the pipe end",
                expect="hole shallower by 6 % of torque",
                tells_apart=("exhaust wave", "ignition"),
                minutes=20,
            ),
            NextStep(do="Try a muffler with baffles", expect="most of the hole gone, 2 % less on top", minutes=30),
        ),
        safety=(SafetyNote(what="Lambda above the lean limit", level="amber", setup="B", rpm=5200),),
        leanest=Leanest(value=0.94, rpm=5200, setup="B", limit=0.92),
        unknowns=("How much fuel that is blown out of the carburettor is breathed in again.",),
        assumptions=(Assumed(key="engine.exhaust_port.length", value="70 mm", why="not on the sheet"),),
        conditions=(
            Condition(name="pulls", value="3 as it came, 3 with the jets, 3 with the bolt"),
            Condition(name="gear", value="4th, about 1:1"),
            Condition(name="correction", value="SAE J1349 to 25 °C, 99.0 kPa dry"),
            Condition(name="smoothing", value="none; means over 50 rpm"),
            Condition(name="weather", value="21 to 24 °C, 100.8 to 101.0 kPa, 42 to 47 % humidity"),
        ),
    )


@pytest.fixture(scope="session")
def story() -> Story:
    return made_up_story()
