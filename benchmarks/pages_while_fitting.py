"""How long pages take while a fit runs beside them.

    python benchmarks/pages_while_fitting.py [--rounds 40]

Aim: 50 ms p95 on two free cores. Prints the same without a fit, so that the ratio says something on a busy machine.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

import httpx

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.pages.screen_server import Server

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store

PAGES = ("/", "/jobs/1", "/jobs/1/pulls", "/jobs/1/cause", "/work/1.json")


def asked(address: str, rounds: int) -> list[float]:
    """Seconds of every answer, warm."""
    found = []
    with httpx.Client(base_url=address, timeout=60) as client:
        for path in PAGES:
            client.get(path)
        for _ in range(rounds):
            for path in PAGES:
                begin = time.perf_counter()
                client.get(path).raise_for_status()
                found.append(time.perf_counter() - begin)
    return found


def line(name: str, seconds: list[float]) -> str:
    """Median and p95 in milliseconds."""
    p95 = statistics.quantiles(seconds, n=20)[-1]
    return f"{name:16s} median {1e3 * statistics.median(seconds):4.0f} ms, p95 {1e3 * p95:4.0f} ms"


def main() -> None:
    """Without a fit, then while one runs."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=40)
    rounds = parser.parse_args().rounds
    with tempfile.TemporaryDirectory() as folder, Store.open(folder) as store:
        work = store.queue_work(store.take_in(SESSION).id, "fit")
        store.ask_to_stop(work.id)
        server = Server(Path(folder))
        try:
            print(line("without a fit", asked(server.address, rounds)))
            fit = store.queue_work(1, "fit")
            while store.work(fit.id).progress <= 0.0:
                time.sleep(0.5)
            print(line("while one runs", asked(server.address, rounds)))
            print(f"the fit: {store.work(fit.id).state}, {100 * store.work(fit.id).progress:.0f} %")
        finally:
            server.kill()
    print(f"load of the machine at the end: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
