"""A session of 30 pulls read, checked and compared: processor time in a process of its own.

The pulls are the ten of the invented example three times over, each with a gain of its own.
Promise: under 2 s, once the libraries are imported.
"""

from __future__ import annotations

import json
import os
import re
import sys
import tempfile
import time
from pathlib import Path

# Idle threads of the linear algebra spin, and would be counted as work.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

EXAMPLE = Path(__file__).resolve().parent.parent / "examples" / "narrow-twin"
PROMISE = 2.0  # [s]
TIMES_OVER = 3
SCATTER = 0.007  # [-] one standard deviation of a pull's gain


def write_session(folder: Path) -> Path:
    """The example with three times its pulls."""
    (folder / "pulls").mkdir()
    (folder / "setup.toml").write_bytes((EXAMPLE / "setup.toml").read_bytes())
    head, *pulls = (EXAMPLE / "session.toml").read_text(encoding="utf-8").split("[[pull]]")
    gains = np.random.default_rng(1).normal(1.0, SCATTER, TIMES_OVER * len(pulls))
    tables = []
    for n, gain in enumerate(gains):
        table = pulls[n // TIMES_OVER]
        found = re.search(r'file = "(.+?)"', table)
        assert found is not None
        name = f"pulls/{n + 1:02d}.csv"
        (folder / name).write_bytes(with_gain((EXAMPLE / found.group(1)).read_bytes(), float(gain)))
        tables.append(table.replace(found.group(1), name))
    (folder / "session.toml").write_text("[[pull]]".join([head, *tables]), encoding="utf-8")
    return folder


def with_gain(text: bytes, gain: float) -> bytes:
    """A file of the example with its torque, the fourth column, times `gain`."""
    lines = text.decode("latin-1").splitlines()
    for k, line in enumerate(lines):
        cells = line.split(";")
        if len(cells) > 3 and re.fullmatch(r"\d+,\d+", cells[3]):
            cells[3] = f"{gain * float(cells[3].replace(',', '.')):.1f}".replace(".", ",")
            lines[k] = ";".join(cells)
    return "\n".join(lines).encode("latin-1")


def main(arguments: list[str]) -> int:
    from pulsewright.bench.session import read_session
    from pulsewright.pulls.session_comparison import compare_setups
    from pulsewright.pulls.session_pulls import read_session_pulls

    read_session_pulls(read_session(EXAMPLE))  # imports what is imported on first use
    with tempfile.TemporaryDirectory() as folder:
        session = read_session(write_session(Path(folder)))
        begin = time.process_time()
        pulls = read_session_pulls(session)
        compare_setups(session, pulls, "A", "C")
        spent = time.process_time() - begin
    found = {"format": "pulsewright pull benchmark 1", "pulls": len(pulls.pulls), "cpu_s": round(spent, 2)}
    if "--json" in arguments:
        print(json.dumps(found))
    else:
        print(f"{found['pulls']} pulls read, checked and compared in {spent:.2f} s of processor time")
        print(f"promise {PROMISE:.0f} s: {'kept' if spent < PROMISE else 'BROKEN'}")
    return 0 if spent < PROMISE else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
