"""Many sheets over engine speed on the card: what `simulate.sweep` gives for one, for all at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.errors import UsageError
from pulsewright.gpu.batch import Job
from pulsewright.gpu.card import open_card
from pulsewright.gpu.settle_many import SettledBatch, settle_many
from pulsewright.network.case import Case, build_case
from pulsewright.network.options import AS_BUILT, Options
from pulsewright.simulate.cycle import cycle_result
from pulsewright.simulate.settle import Settled, Tolerance
from pulsewright.simulate.speed_point import SpeedPoint, speed_point
from pulsewright.simulate.sweep import moves_with_speed

RESULT_TABLES = ("run", "joints", "cylinders", "carburettors")
AT_ONCE = 4096  # jobs whose tables are read back together: some 40 MB


def sweep_many(
    setups: Sequence[Setup],
    speeds: Sequence[float],
    options: Options | None = None,
    *,
    within: Tolerance | None = None,
    stopped: Callable[[], bool] | None = None,
) -> list[list[SpeedPoint]]:
    """Results of every setup at every speed [rpm], in the order given; every speed starts from gas at rest.

    A sweep on the processor starts each speed from its neighbour; both end within the tolerance of each other.

    Raises
    ------
    MissingToolError : no card, or the package for it is missing.
    LimitError : a setup has more cells than fit the card's fast memory.
    UsageError : exhaust ends that need a sweep before the sweep.
    """
    open_card()
    options = options or Options()
    if options.exhaust_ends != AS_BUILT:
        raise UsageError("the card computes exhausts as built only", hint="compute without the echo on the processor")
    points: dict[tuple[int, float], SpeedPoint] = {}
    for cases, owners in _classes(setups, speeds, options):
        jobs = [Job(n, rpm) for n, (_setup, own_speeds) in enumerate(owners) for rpm in own_speeds]
        keys = [(setup, rpm) for setup, own_speeds in owners for rpm in own_speeds]
        points |= zip(keys, speed_points(settle_many(cases, jobs, within, stopped)), strict=True)
    return [[points[n, float(rpm)] for rpm in speeds] for n in range(len(setups))]


def speed_points(result: SettledBatch) -> list[SpeedPoint]:
    """Results of every job of a batch, in its order."""
    batch, points = result.batch, []
    for rows in np.array_split(np.arange(len(batch.jobs)), -(-len(batch.jobs) // AT_ONCE)):
        tables = {name: batch.table(name, rows) for name in RESULT_TABLES}
        tables["cells"] = batch.means(rows)
        for k, row in enumerate(rows):
            case = batch.case_after(row, {name: table[k] for name, table in tables.items()})
            points.append(speed_point(case, batch.jobs[row].rpm, _settled(case, result, row)))
    return points


def _settled(case: Case, result: SettledBatch, row: int) -> Settled:
    torque, left = float(result.torque[row]), float(result.torque_left[row])
    return Settled(cycle_result(case), torque, int(result.cycles[row]), result.outcome[row], left)


def _classes(
    setups: Sequence[Setup], speeds: Sequence[float], options: Options
) -> list[tuple[list[Case], list[tuple[int, list[float]]]]]:
    """Cases of one capacity class together, with the setup and the speeds that each stands for."""
    found: dict[int, tuple[list[Case], list[tuple[int, list[float]]]]] = defaultdict(lambda: ([], []))
    wanted = [float(rpm) for rpm in dict.fromkeys(speeds)]
    for n, setup in enumerate(setups):
        for own in [[rpm] for rpm in wanted] if moves_with_speed(setup) else [wanted]:
            case = build_case(setup, options, own[0])
            cases, owners = found[case.arrays["cells"].dtype.itemsize]
            cases.append(case)
            owners.append((n, own))
    return list(found.values())
