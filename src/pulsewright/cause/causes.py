"""The words for causes; verdicts use the same ones."""

from __future__ import annotations

EXHAUST_WAVE = "exhaust wave"
INTAKE_WAVE = "intake wave"
MIXTURE = "mixture"  # shares only: rich or lean
MIXTURE_RICH = "mixture rich"
MIXTURE_LEAN = "mixture lean"
STARVATION = "fuel starvation"
RESTRICTION = "restriction"
IGNITION = "ignition"
ENGINE = "engine"
MEASUREMENT = "measurement"
NO_HOLE = "no hole"
CANNOT_TELL = "cannot tell"
UNEXPLAINED = "unexplained"

# Prior odds of what a shop sees after an open exhaust was fitted: common practice, no published source.
PRIOR = {
    EXHAUST_WAVE: 0.30,
    INTAKE_WAVE: 0.05,
    MIXTURE_RICH: 0.12,
    MIXTURE_LEAN: 0.06,
    STARVATION: 0.05,
    RESTRICTION: 0.06,
    IGNITION: 0.08,
    ENGINE: 0.06,
    MEASUREMENT: 0.12,
    NO_HOLE: 0.10,
}
