"""How long pages of the bench screen take until what is in view is drawn, in the system's Chromium.

    python benchmarks/page_ready.py [--rounds 5] [--page /jobs/1/pulls] [--parts]

Cold: a browser that was just started and has fetched nothing before; warm: the same page once more in it. There: text
and pictures. Ready: every chart in view shows its curves and tells them on its readout line. Whole: every chart of the
page, also below what is in view, is drawn by the chart library, which can be zoomed. All reckoned from the start of the
navigation to the frame that shows it. Aims: ready in 1.5 s cold, 0.7 s warm on two free cores.

The browser is watched while it loads, and that costs: with the watcher the chart library takes 0.8 s to start, without
about 0.45 s (an exception that it throws on purpose makes a watched browser compile it again).
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.pages.conftest import keep_answers
from tests.pages.screen_server import Server

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store

PAGES = ("/", "/jobs/1", "/jobs/1/pulls", "/jobs/1/cause", "/jobs/1/change", "/jobs/1/plan", "/jobs/1/report")
SIZE = {"width": 1280, "height": 900}
# Resolves with the milliseconds since the navigation began
WATCH = """() => new Promise(done => {
  let there = null, ready = null;
  const boxes = () => [...document.querySelectorAll("[data-chart], [data-difference], [data-plot]")];
  const inView = box => { const r = box.getBoundingClientRect(); return r.top < innerHeight && r.bottom > 0; };
  const drawn = box => Boolean(box.querySelector(".plot .main-svg .scatterlayer path"));
  const shown = box => drawn(box) || [...box.querySelectorAll("figure.still svg path")].some(p => p.checkVisibility());
  const told = box => Boolean((box.closest("[data-change]") || box).querySelector(".readout tr"));
  const look = () => {
    const now = performance.now();
    if (document.readyState !== "loading" && document.querySelector("footer")) {
      there ??= now;
      if (boxes().filter(inView).every(box => shown(box) && told(box))) ready ??= now;
      if (document.readyState === "complete" && boxes().every(drawn)) { done([there, ready, now]); return; }
    }
    requestAnimationFrame(look);
  };
  look();
})"""


def once(play: Any, server: Server, path: str, parts: bool) -> tuple[list[float], list[float]]:
    """Seconds of a page in a new browser, and once more in it: there, ready, whole."""
    arguments = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=arguments)
    page = browser.new_context(base_url=server.address, viewport=SIZE, reduced_motion="reduce").new_page()
    found = []
    for _ in range(2):
        page.goto(path, wait_until="commit")
        found.append([t / 1e3 for t in page.evaluate(WATCH)])
        if parts:
            print_parts(page)
        page.wait_for_timeout(300)
    browser.close()
    return found[0], found[1]


def print_parts(page: Any) -> None:
    """When each thing that the page fetched was asked for and was there [ms]."""
    rows = page.evaluate(
        """() => performance.getEntriesByType("navigation").concat(performance.getEntriesByType("resource"),
             performance.getEntriesByType("paint"), performance.getEntriesByType("measure")).map(e =>
             [e.name.replace(location.origin, ""), e.startTime, e.responseEnd || e.startTime + e.duration])"""
    )
    for name, begin, end in sorted(rows, key=lambda row: row[1]):
        print(f"    {begin:7.0f} {end:7.0f}  {name}")


def main() -> None:
    """Every page, cold and warm."""
    from playwright.sync_api import sync_playwright

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--page", action="append")
    parser.add_argument("--parts", action="store_true", help="what was fetched, and when")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        with Store.open(folder) as store:
            keep_answers(store, store.take_in(SESSION).id)
        server = Server(Path(folder))
        try:
            print(f"{'page':16s} {'':5s} {'there':>7s} {'ready':>7s} {'worst':>7s} {'whole':>7s}   (median, s)")
            for path in asked.page or PAGES:
                rounds = [once(play, server, path, asked.parts) for _ in range(asked.rounds)]
                for name, rows in zip(("cold", "warm"), zip(*rounds, strict=True), strict=True):
                    there, ready, whole = (statistics.median(column) for column in zip(*rows, strict=True))
                    worst = max(row[1] for row in rows)
                    print(f"{path:16s} {name:5s} {there:7.2f} {ready:7.2f} {worst:7.2f} {whole:7.2f}")
        finally:
            server.stop()
    print(f"load of the machine at the end: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
