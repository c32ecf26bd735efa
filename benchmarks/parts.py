"""What every part costs: a converged sweep of the example twin with it, processor time for each of its cells.

Promise: a sweep takes within 1.5 times the plain example twin by cell. Processor time, the best of three, so that
neighbours on the machine hardly count; cells are those that hold gas. A part may need more cycles until it repeats
itself: those count in the promise, and the time by cell and cycle stands beside it. Engines of more cylinders than
the example's are told at the end. A machine at the limit of ignition takes all the cycles allowed, whatever its parts.
So all are carburetted as a shop would: a filter or a box makes fixed jets richer, and the example has jets a tenth
smaller with them; the venturis of the larger engines, as the tests have them, draw no fuel below 2000 rpm, and are
replaced by smaller ones.

    python benchmarks/parts.py [--only WORD]     exit code 1 where the promise is broken
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SHEET = ROOT / "examples" / "narrow-twin" / "setup.toml"
SPEEDS = [2000.0, 2500.0, 3000.0, 3500.0, 4000.0, 4500.0, 5000.0, 5500.0]
PROMISE = 1.5
VENTURI = "26 mm"  # of engines with 0.24 l a cylinder: lambda 0.78 to 1.12 at all speeds
TRIES = 3

OPEN = "{ piece = 'end', kind = 'open' }"
OWN = ("main_air_bleed", "main_nozzle", "intermediate_jet", "intermediate_air_bleed")  # of a fixed venturi
MUFFLER = "{ piece = 'muffler', body_length = '400 mm', body_bore = '100 mm', core_bore = '40 mm', chambers = 2, core"
VALVE = "{ piece = 'valve', bore = '43 mm', angle_by_rpm = [[2500, 50], [5000, 0]] }"


def pipe(length: float = 900.0, into: float = 43.0, out: float = 43.0) -> str:
    """A straight pipe or a cone. [mm]"""
    return f"{{ piece = 'pipe', length = '{length} mm', bore_in = '{into} mm', bore_out = '{out} mm' }}"


def both(*pieces: str) -> list[tuple[str, str]]:
    """The same pieces on both routes."""
    listed = f"[ {', '.join(pieces)} ]"
    return [("exhaust.route.1", listed), ("exhaust.route.2", listed)]


def joined(*behind: str) -> list[tuple[str, str]]:
    """Both routes into one."""
    into = both(pipe(500.0), "{ piece = 'join', into = 'collector' }")
    return [*into, ("exhaust.after", f"{{ collector = [ {', '.join(behind)} ] }}")]


def crossed() -> list[tuple[str, str]]:
    """A tube between both routes."""
    tube = "{ piece = 'crossover', to = 2, at = '400 mm', bore = '25 mm', length = '150 mm' }"
    return [("exhaust.route.1", f"[ {pipe()}, {tube}, {OPEN} ]"), ("exhaust.route.2", f"[ {pipe()}, {OPEN} ]")]


SMALLER_JETS = [("carburettor.1.main_jet", "1.75 mm"), ("carburettor.1.intermediate_jet", "0.72 mm")]
TUBE = "[ { below = '8 mm', holes = 4, bore = '0.9 mm' }, { below = '18 mm', holes = 4, bore = '0.9 mm' } ]"
PARTS: dict[str, list[tuple[str, str]]] = {
    "emulsion tube": [("carburettor.1.emulsion_tube", TUBE)],
    "wall film": [("intake.wall_film", "30 %")],
    "throttle at 30 %": [("carburettor.1.throttle", "30 %")],
    "throttle at 8 %": [("carburettor.1.throttle", "8 %")],
    "stack": [("intake.mouth", "stack")],
    "filter": [("intake.mouth", "filter"), *SMALLER_JETS],
    "airbox": [("intake.mouth", "filter"), ("intake.plenum", "6 l"), *SMALLER_JETS],
    "cross-bolt": both(pipe(), "{ piece = 'cross-bolt', diameter = '8 mm', from_end = '50 mm' }", OPEN),
    "plate": both(pipe(), "{ piece = 'plate', width = '16 mm', angle = '90 deg', from_end = '50 mm' }", OPEN),
    "disc": both(pipe(), "{ piece = 'disc', open_area_fraction = '50 %' }", OPEN),
    "exhaust valve by rpm": both(pipe(700.0), VALVE, pipe(200.0), OPEN),
    "cone and reverse cone": both(pipe(500.0), pipe(250.0, 43.0, 60.0), pipe(150.0, 60.0, 43.0), OPEN),
    "anti-reversion step": both(pipe(60.0, 39.0, 39.0), pipe(840.0, 45.0, 45.0), OPEN),
    "turn-out end": both(pipe(), "{ piece = 'end', kind = 'turn-out' }"),
    "collector 2-1": joined(pipe(400.0, 50.0, 50.0), OPEN),
    "crossover": crossed(),
    "baffled muffler": both(pipe(600.0), f"{MUFFLER} = 'baffled' }}", pipe(150.0, 40.0, 40.0), OPEN),
    "packed muffler": both(pipe(600.0), f"{MUFFLER} = 'perforated packed' }}", pipe(150.0, 40.0, 40.0), OPEN),
    "louvred muffler": both(pipe(600.0), f"{MUFFLER} = 'louvred' }}", pipe(150.0, 40.0, 40.0), OPEN),
    "packed insert": both(pipe(), "{ piece = 'insert', length = '250 mm', bore = '32 mm', packed = true }", OPEN),
}


def cost(text: str) -> tuple[float, int, int]:
    """Processor time of the sweep [s], cells that hold gas, cycles."""
    from pulsewright.bench.sheet import setup_from_text
    from pulsewright.network.case import build_case
    from pulsewright.network.options import Options
    from pulsewright.simulate.predict import predict

    setup = setup_from_text(text, "part")
    cells = int((build_case(setup, Options(), SPEEDS[0]).arrays["cells"]["inverse_volume"][0] > 0.0).sum())
    predict(setup, SPEEDS[:1], threads=1)  # loads the kernels
    times, cycles = [], 0
    for _ in range(TRIES):
        begin = time.process_time()
        found = predict(setup, SPEEDS, threads=1)
        times.append(time.process_time() - begin)
        cycles = sum(found.cycles)
    return min(times), cells, cycles


def sheets() -> dict[str, str]:
    """The example twin with every part, and engines of more cylinders."""
    from pulsewright.bench.changes import changed_text

    text = SHEET.read_text(encoding="utf-8")
    found = {name: changed_text(text, changes) for name, changes in PARTS.items()}
    bare = "\n".join(line for line in text.splitlines() if not line.startswith(OWN))
    for kind in ("slide", "constant velocity"):
        found[kind] = bare.replace('kind = "fixed venturi"', f'kind = "{kind}"')
    sys.path.insert(0, str(ROOT))
    from tests.trade.layouts import ALIKE

    for name in ("four in a row, 4-2-1", "six in a row, 6-3-1"):
        found[name] = ALIKE[name].replace('venturi = "30 mm"', f'venturi = "{VENTURI}"')
    return found


def main(arguments: list[str]) -> int:
    only = arguments[arguments.index("--only") + 1] if "--only" in arguments else ""
    chosen = {name: text for name, text in sheets().items() if only in name}
    seconds, cells, cycles = cost(SHEET.read_text(encoding="utf-8"))
    plain, most, most_each = seconds / cells, 0.0, 0.0
    print(f"{'part':24s} {'sweep s':>8s} {'cells':>6s} {'cycles':>7s} {'time a cell':>12s} {'and cycle':>10s}")
    print(f"{'plain example twin':24s} {seconds:8.2f} {cells:6d} {cycles:7d} {1.0:12.2f} {1.0:10.2f}")
    each = plain / cycles
    for name, text in chosen.items():
        seconds, cells, cycles = cost(text)
        ratio, by_cycle = seconds / cells / plain, seconds / cells / cycles / each
        most, most_each = max(most, ratio), max(most_each, by_cycle)
        mark = "" if ratio <= PROMISE else "  BROKEN"
        print(f"{name:24s} {seconds:8.2f} {cells:6d} {cycles:7d} {ratio:12.2f} {by_cycle:10.2f}{mark}")
    for what, worst in (("by cell", most), ("by cell and cycle", most_each)):
        verdict = "kept" if worst <= PROMISE else "BROKEN"
        print(f"every part within {PROMISE} times the plain twin, {what}: {verdict}", file=sys.stderr)
    return 0 if most <= PROMISE else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
