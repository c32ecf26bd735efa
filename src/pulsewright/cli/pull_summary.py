"""One pull in plain values for programs: how it was read and what it holds."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pulsewright.pulls.pull import Pull


def pull_summary(pull: "Pull") -> dict[str, Any]:
    """File, dialect, samples, channels with their reasons, questions, notes."""
    speed = pull.engine_speed[pull.usable]
    return {
        "file": pull.file.name,
        "number_in_file": pull.number,
        "setup": pull.setup,
        "encoding": pull.encoding,
        "separator": pull.separator,
        "decimal": pull.decimal,
        "samples": int(pull.engine_speed.size),
        "usable": int(pull.usable.sum()),
        "rpm": [float(speed.min()), float(speed.max())],
        "torque_at": pull.torque_at,
        "channels": [
            {
                "column": c.column, "heading": c.heading, "quantity": c.quantity, "unit": c.unit,
                "confidence": c.confidence, "overruled": c.overruled, "reason": c.reason,
                **({"sensor": c.sensor} if c.sensor else {}),
            }
            for c in pull.channels
        ],
        **power_doubt(pull),
        "lambda_is": pull.mixture_is,
        "questions": [{"about": q.about, "text": q.text, "taken": q.taken} for q in pull.questions],
        "notes": list(pull.notes),
        "recipe": pull.recipe.as_json(),
    }  # fmt: skip


def power_doubt(pull: "Pull") -> dict[str, Any]:
    """Standard deviation of power over power, of the usable samples, where the pull shows it."""
    if pull.power_sd is None:
        return {}
    import numpy as np

    shares = (pull.power_sd / pull.power)[pull.usable]
    low, middle, high = np.nanpercentile(shares, [5, 50, 95])
    return {"power_relative_sd": {"middle": float(middle), "low": float(low), "high": float(high)}}
