"""From a slider that moves to the new coarse curve on the screen, in the system's Chromium, against the model alone.

    python benchmarks/slider_on_screen.py [--steps 30] [--store FOLDER]

Prints median and p95 of both, and their ratio. Aims: median below 150 ms, p95 below 300 ms on two free cores. Times
are wall times, so they mean something on a machine that does nothing else. On a busy one the processor time of a turn
says more: of the server, of the browser, and of the model alone (where the system tells it, in /proc).
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.pages.screen_server import Server

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store
from pulsewright.remedies.candidates import Machine
from pulsewright.remedies.catalogue import general_catalogue
from pulsewright.remedies.dials import dialled
from pulsewright.remedies.live_model import DRAG, LiveModel, nominal_machine
from pulsewright.web.desk import Desk

FIRST, STEP = 0.900, 0.005  # [m] of pipe
MOVE = """to => new Promise(done => {
  const box = document.querySelector("[data-change]"), input = document.querySelector("[data-name=pipe-length] input");
  const turns = box.dataset.turns, begun = performance.now();
  new MutationObserver((_, watch) => { if (box.dataset.turns !== turns) { watch.disconnect();
    requestAnimationFrame(() => done(performance.now() - begun)); } }).observe(box, { attributes: true });
  input.value = to; input.dispatchEvent(new Event("input", { bubbles: true })); })"""


def on_screen(server: Server, steps: int) -> tuple[list[float], dict[str, float]]:
    """Seconds from the event to the frame with the new curve, step by step; processor seconds of a turn by whom."""
    from playwright.sync_api import sync_playwright

    arguments = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=arguments)
        page = browser.new_page(base_url=server.address, reduced_motion="reduce")
        page.goto("/jobs/1/change")
        page.wait_for_selector("[data-change][data-level=show]", timeout=120_000)
        page.wait_for_timeout(1500)
        before = processor_seconds(server.process.pid)
        found = [page.evaluate(MOVE, 1e3 * (FIRST + STEP * k)) / 1e3 for k in range(1, steps + 1)]
        after = processor_seconds(server.process.pid)
        browser.close()
    return found[3:], {who: (after[who] - before.get(who, 0.0)) / steps for who in after}


def processor_seconds(server: int) -> dict[str, float]:
    """Of the server and of all Chromium processes until now [s]; nothing where there is no /proc."""
    total: dict[str, float] = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            command = (stat.parent / "cmdline").read_bytes()
            numbers = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue  # it has ended meanwhile
        who = "server" if int(stat.parent.name) == server else "browser" if b"chromium" in command else ""
        if who:
            total[who] = total.get(who, 0.0) + (int(numbers[11]) + int(numbers[12])) / os.sysconf("SC_CLK_TCK")
    return total


def alone(place: Path, steps: int) -> tuple[list[float], float]:
    """Seconds of the model for the same steps, without server and browser; processor seconds of one."""
    with Store.open(place) as store:
        day = Desk(store, place).day(1)
    machine: Machine = day.machine()
    assert day.pulls is not None
    curves = day.pulls.setups[day.baseline]
    model = LiveModel(
        before=machine.setup, machine=nominal_machine(), reach=(float(curves.rpm[0]), float(curves.rpm[-1]))
    )
    model.warm_up()
    found, used = [], 0.0
    for k in range(1, steps + 1):
        setup = dialled(machine, {"pipe-length": FIRST + STEP * k}, general_catalogue()).setup
        begin, used_before = time.perf_counter(), time.process_time()
        model.curve(setup, DRAG)
        found.append(time.perf_counter() - begin)
        used += time.process_time() - used_before
    return found[3:], used / steps


def line(name: str, seconds: list[float]) -> str:
    """Median and p95 in milliseconds."""
    p95 = statistics.quantiles(seconds, n=20)[-1]
    return f"{name:18s} median {1e3 * statistics.median(seconds):5.0f} ms, p95 {1e3 * p95:5.0f} ms"


def main() -> None:
    """Both, one after the other."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--steps", type=int, default=30)
    steps = parser.parse_args().steps
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        with Store.open(place) as store:
            store.take_in(SESSION)
        server = Server(place)
        try:
            seen, used = on_screen(server, steps)
        finally:
            server.stop()
        raw, raw_used = alone(place, steps)
    print(line("on the screen", seen))
    print(line("the model alone", raw))
    print(f"ratio of medians   {statistics.median(seen) / statistics.median(raw):.2f}")
    if used:
        said = ", ".join(f"{who} {1e3 * seconds:.0f} ms" for who, seconds in sorted(used.items()))
        print(f"processor time     {said}, the model alone {1e3 * raw_used:.0f} ms a turn")
        print(f"ratio of all of it {sum(used.values()) / raw_used:.2f}")
    print(f"load of the machine at the end: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
