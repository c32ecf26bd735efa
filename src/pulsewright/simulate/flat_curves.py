"""A prediction as flat columns, one value a speed."""

from __future__ import annotations

from typing import Any

from pulsewright.simulate.prediction import Prediction


def flat_curves(prediction: Prediction) -> dict[str, list[Any]]:
    """One flat column a curve: sensors, pistons and cylinders get their name behind an underline."""
    data = prediction.as_json()
    columns: dict[str, list[Any]] = {}
    for name, values in data.items():
        if name in ("lambda_sensor", "piston_lift_mm"):
            columns.update({f"{name}_{which}": curve for which, curve in values.items()})
        elif isinstance(values, list) and name not in ("assumptions", "outcome", "cycles"):
            columns[name] = values
    for number, curves in data["per_cylinder"].items():
        columns.update({f"{name}_cylinder_{number}": curve for name, curve in curves.items()})
    return {**columns, "cycles": data["cycles"], "outcome": data["outcome"]}
