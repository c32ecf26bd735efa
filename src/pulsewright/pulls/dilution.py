"""Suspicion that air drawn in at the open pipe end makes lambda read lean at low speed.

Common practice, no published source: the sensor wants 10 bores of pipe behind it; between 1 and 10 it reads
leaner by up to 2 AFR below 3000 rpm. Three signs are weighed, each worth log10 odds of its own:
place    distance from the sensor to the open end under 10 bores;
lambda   leaner at the low end than anything the engine runs well on: over the lean gate at full throttle;
torque   the torque does not know of that lean mixture: against the published law it moves too little
         between setups.
A sensor with its 10 bores is never suspected.
"""

from __future__ import annotations

import numpy as np

from pulsewright.bench.exhaust import Exhaust, Join, Muffler, Pipe
from pulsewright.physics.power_versus_mixture import torque_of_mixture
from pulsewright.pulls.finding import GREATEST_STRENGTH, Finding
from pulsewright.pulls.limits import USUAL, Limits

MISFIRE_LIMIT = 1.10  # [-] where carburetted engines start to miss (common practice)
RISE = 0.05  # [-] of lambda towards low speed that a diluted reading shows at least
LOW_SPEED = 3500.0  # [rpm] dilution fades with gas flow; seen mostly below 3000 rpm
DEAF = 0.5  # [-] share of the lawful torque change under which the torque contradicts lambda


def bores_to_end(exhaust: Exhaust) -> tuple[float, float] | None:
    """Distance from the nearest lambda sensor to an open end, in bores and [m]; None where it is not known.

    Mufflers and joins end the search: behind them no fresh air comes back to the sensor.
    """
    found = []
    for key, place in exhaust.lambda_sensor.items():
        pieces = exhaust.route.get(int(key)) if key.isdigit() else exhaust.after.get(key)
        if not pieces:
            continue
        length, bore = 0.0, 0.0
        for piece in pieces:
            if isinstance(piece, Pipe):
                length, bore = length + piece.length, piece.bore_out
            elif isinstance(piece, Muffler | Join):
                length = bore = 0.0
                break
        if bore > 0.0 and length > place:
            found.append(((length - place) / bore, length - place))
    return min(found) if found else None


def dilution_finding(
    setup: str,
    exhaust: Exhaust,
    rpm: np.ndarray,
    mixture: np.ndarray,
    contradicted: float | None,
    limits: Limits = USUAL,
) -> Finding | None:
    """Dilution suspicion of one setup.

    rpm, mixture : (n_bin,) unlagged lambda. contradicted : torque change seen over torque change the
    published law asks for, between this setup and one that reads richer; None where there is no such pair.
    """
    place = bores_to_end(exhaust)
    known = np.isfinite(mixture)
    if place is None or place[0] >= limits.sensor_bores or known.sum() < 10:
        return None
    speeds, values = rpm[known], mixture[known]
    low = values[speeds <= speeds[0] + 500.0].mean()
    later = values[speeds > speeds[0] + 500.0]
    rise = float(low - later.min())
    strength = 0.5
    signs = [f"the sensor sits {place[0]:.1f} bores ({1e3 * place[1]:.0f} mm) from the open end"]
    if rise > RISE and low > limits.lean_gate:
        strength += 0.7
        signs.append(f"lambda {low:.2f} at the low end is {rise:.2f} over its least value further up")
    if low > MISFIRE_LIMIT - 0.05 and rise > RISE:
        strength += 0.5
        signs.append("the engine should miss there, and does not")
    if contradicted is not None and contradicted < DEAF:
        strength += 0.8
        signs.append(f"torque moved only {contradicted:.0%} of what such lambdas would ask for")
    if len(signs) < 2:
        return None
    top = min(LOW_SPEED, float(speeds[-1]))
    return Finding(
        kind="dilution", setup=setup, pull=None, rpm=(float(speeds[0]), max(top, float(speeds[0]))),
        strength=min(GREATEST_STRENGTH, strength), evidence="; ".join(signs),
    )  # fmt: skip


def torque_answer(
    rpm: np.ndarray, mixtures: tuple[np.ndarray, np.ndarray], torques: tuple[np.ndarray, np.ndarray]
) -> float | None:
    """Torque change seen over the change that the published law asks for, below 3500 rpm; None where it
    asks little.

    Two setups that differ in jets only. A true reading gives about 1, a diluted one near 0.
    """
    ok = np.all(np.isfinite(np.vstack([*mixtures, *torques])), axis=0) & (rpm <= max(LOW_SPEED, rpm[0] + 500.0))
    if ok.sum() < 5:
        return None
    first, second = (np.array([torque_of_mixture(float(m)) for m in mix[ok]]) for mix in mixtures)
    asked = float(np.mean(np.log(second / first)))
    if abs(asked) < 0.02:  # twice the scatter of a pull: less cannot be told from noise
        return None
    return float(np.mean(np.log(torques[1][ok] / torques[0][ok]))) / asked
