"""What the model takes for granted beyond the sheet, in words."""

from __future__ import annotations

from pulsewright.bench.assumption import Assumption
from pulsewright.bench.setup import Setup
from pulsewright.network import engine_parts, exhaust_line, metering, mouth
from pulsewright.network.options import Options
from pulsewright.simulate import cycle


def model_assumptions(setup: Setup, options: Options) -> list[Assumption]:
    """The assumptions that move torque or mixture most, with their values."""
    k = options.calibration
    rows = [
        (
            "model.burn_duration",
            f"{k.burn * engine_parts.BURN_DURATION:.0f} deg",
            "whole burn at the reference point, scaled by speed, mixture and residual gas",
        ),
        (
            "model.friction",
            f"{k.friction * cycle.FRICTION_FACTOR:.2f} x Chen-Flynn",
            "published friction is of a heavier engine",
        ),
        ("model.pipe_walls", f"{100.0 * k.wall_warmth:.0f} % of the way from shop air to balance", "short pulls"),
        ("model.exhaust_port_wall", f"{exhaust_line.PORT_WALL:.0f} K", "not measured"),
        (
            "model.chamber_wall",
            f"{engine_parts.CHAMBER_WALL[setup.engine.cooling]:.0f} K",
            f"{setup.engine.cooling} cooling",
        ),
        (
            "model.outside_exhaust_end",
            f"{mouth.ZONE_LENGTH * 1e3:.0f} mm of pipe filled with mixed gas",
            "what is drawn back in at the open end; nobody measures it",
        ),
    ]  # fmt: skip
    if options.mixture is None:
        rows += [
            (
                "model.blown_back_fuel",
                f"{100.0 * k.kept_fuel:.0f} % breathed in again",
                "fuel blown out of the mouth stays as fog in front of it",
            ),
            (
                "model.fuel_column",
                f"{k.column * metering.COLUMN:.0f} 1/m",
                "length over area of the fuel passages; sets how fast fuel follows suction",
            ),
            (
                "model.nozzle_suction",
                f"{100.0 * k.nozzle_suction * metering.MAIN_SHARE:.0f} % of the throat's",
                "where the nozzle ends in the venturi",
            ),
            _film(setup),
        ]  # fmt: skip
        rows += _throttle(setup)
    return [Assumption(key=key, value=value, why=why) for key, value, why in rows]


def _film(setup: Setup) -> tuple[str, str, str]:
    """What becomes of the fuel on the manifold's walls."""
    share = setup.intake.wall_film
    if share == 0.0:
        return "model.wall_film", "none", "fuel is carried as vapour; say wall_film where one cylinder runs richer"
    why = "runs to the ports evenly over the cycle and evaporates on their wall; how much it is nobody measures"
    return "model.wall_film", f"{100.0 * share:.3g} % of the fuel", why


def _throttle(setup: Setup) -> list[tuple[str, str, str]]:
    """What is assumed where a throttle, a slide or a needle has a say."""
    rows = []
    if any(not part.wide_open for part in setup.carburettors):
        spans = {metering.UNCOVERS[part.kind] for part in setup.carburettors}
        said = " or ".join(f"{100.0 * a:.0f} to {100.0 * b:.0f} %" for a, b in sorted(spans))
        rows.append(
            ("model.progression_holes", f"passed by the throttle's edge from {said} of its way", "common practice")
        )
    if any(part.needle for part in setup.carburettors):
        rows.append(("model.needle", "one taper, in the middle of its jet", "not measured"))
    return rows
