"""A visit to the moving echo page in a real browser: it draws, and it says where the crank is."""

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from pulsewright.figures.echo_page import write_echo_page
from pulsewright.simulate.echo_field import EchoField, OutlinePart

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")


def page(tmp_path: Path) -> Path:
    crank, place = np.linspace(0.0, 720.0, 361), np.linspace(0.0, 0.9, 40)
    wave = 2e4 * np.exp(-(((crank[None, :] - 360.0 + 40.0 * place[:, None]) / 30.0) ** 2))
    pipe = OutlinePart(kind="pipe", start=0.0, end=0.9, bore_start=0.044, bore_end=0.044)
    field = EchoField(
        rpm=3000.0, cylinder=1, crank_deg=crank, place=place, pressure=1e5 + wave, forward=0 * wave,
        returning=wave, ambient=1e5, intake_window=(338.0, 594.0), exhaust_window=(126.0, 382.0),
        lift_intake=0 * crank, lift_exhaust=0 * crank, outline=(pipe,),
        echo_arrival_deg=360.0, echo_pressure=2e4,
        echo_sign="pressure", sentence="One plain sentence.",
    )  # fmt: skip
    return write_echo_page(field, tmp_path / "echo.html")


def visit(path: Path, *more: str) -> str:
    """The page as the browser holds it after its scripts have run."""
    profile = f"--user-data-dir={path.parent / 'profile'}"
    command = [str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", profile, *more]
    command += ["--dump-dom", path.as_uri()]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=True).stdout


def test_with_motion_reduced_it_rests_at_the_echo(tmp_path):
    seen = visit(page(tmp_path), "--force-prefers-reduced-motion")
    state = re.search(r'id="state">([^<]*)<', seen)
    assert state is not None
    assert state.group(1).startswith("360°: both valves open, echo arrives.")
    assert "the wave coming back brings +20.0" in state.group(1)
    assert 'id="play" type="button">Play<' in seen
    assert seen.count("<svg") >= 2  # the still picture was taken out of noscript


def test_otherwise_it_plays(tmp_path):
    seen = visit(page(tmp_path), "--virtual-time-budget=500")
    assert 'id="play" type="button">Pause<' in seen
