"""How long a person waits for help: the best of several starts, beside that of a bare Python.

Promise: `pulsewright --help` comes in under 200 ms.
"""

import subprocess
import sys
import time

PROMISE = 0.200  # [s]
TRIES = 7


def best_time(arguments: list[str]) -> float:
    """Shortest wall time of several runs. [s]"""
    times = []
    for _ in range(TRIES):
        started = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)
        times.append(time.perf_counter() - started)
    return min(times)


def main() -> int:
    bare = best_time(["-c", "pass"])
    helped = best_time(["-m", "pulsewright", "--help"])
    print(f"bare Python {bare * 1e3:.0f} ms, pulsewright --help {helped * 1e3:.0f} ms")
    print(f"promise {PROMISE * 1e3:.0f} ms: {'kept' if helped < PROMISE else 'BROKEN'}")
    return 0 if helped < PROMISE else 1


if __name__ == "__main__":
    sys.exit(main())
