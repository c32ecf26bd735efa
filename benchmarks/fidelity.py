"""How far the torque of every level lies from that of level `final`, and what it costs, on random sheets.

What `pulsewright.simulate.fidelity` states comes from here: the values of half and of nine in ten speeds,
rounded up. Regression values of this code, not a check against anything outside it.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SHEETS, SPEEDS = 30, 6


def main(arguments: list[str]) -> int:
    """Print the table, or with --json the numbers."""
    import numpy as np

    sys.path.insert(0, str(ROOT))
    from tests.property.test_cycles_study import drawn

    from pulsewright.simulate.fidelity import FINAL, LEVELS
    from pulsewright.simulate.outcome import CONVERGED
    from pulsewright.simulate.predict import predict
    from pulsewright.simulate.settle import small_torque_of

    errors = {name: [] for name in LEVELS}
    seconds = dict.fromkeys(LEVELS, 0.0)
    for setup, speeds in drawn(SHEETS, SPEEDS):
        found = {}
        for name, level in LEVELS.items():
            predict(setup, speeds[:1], level=level)  # loads the kernels of this size
            begin = time.process_time()
            found[name] = predict(setup, speeds, level=level)
            seconds[name] += time.process_time() - begin
        final = found[FINAL.name]
        scale = np.maximum(np.abs(final.torque_nm), small_torque_of(setup))
        for name, coarse in found.items():
            both = [a == b == CONVERGED for a, b in zip(final.outcome, coarse.outcome, strict=True)]
            errors[name] += list((np.abs(coarse.torque_nm - final.torque_nm) / scale)[both])
    rows = {
        name: {
            "half": float(np.median(each)), "nine_in_ten": float(np.quantile(each, 0.9)), "worst": float(np.max(each)),
            "speeds": len(each), "cpu_s": seconds[name],
        }
        for name, each in errors.items()
    }  # fmt: skip
    if "--json" in arguments:
        print(json.dumps({"format": "pulsewright fidelity benchmark 1", "levels": rows}))
        return 0
    for name, row in rows.items():
        print(
            f"{name:6s} half {row['half']:.2%}, nine in ten {row['nine_in_ten']:.2%}, worst {row['worst']:.2%} of "
            f"{row['speeds']} speeds; {row['cpu_s'] / seconds[FINAL.name]:.2f} of the processor time of final"
        )
    stated = {name: (level.usual_error, level.large_error) for name, level in LEVELS.items()}
    kept = all(rows[n]["half"] <= half and rows[n]["nine_in_ten"] <= nine for n, (half, nine) in stated.items())
    print(f"what the levels state: {'kept' if kept else 'BROKEN'}", file=sys.stderr)
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
