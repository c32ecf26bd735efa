"""The groups of checks by name, each imported only when it is run."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Iterator, Sequence

from pulsewright.errors import UsageError, did_you_mean
from pulsewright.outside.check import Check

# Name -> module under pulsewright.outside with a function `checks()`, quick ones first.
GROUPS: dict[str, str] = {
    "restriction": "restriction_checks",
    "open-end": "open_end_checks",
    "acoustics": "acoustic_checks",
    "losses": "loss_checks",
    "gas": "gas_checks",
    "burned-gas": "burned_gas_checks",
    "engine": "engine_checks",
    "carburettor": "carburettor_checks",
    "estimates": "estimate_checks",
    "weather": "weather_checks",
    "statistics": "statistics_checks",
    "listening": "listening_checks",
    # the compiled solver: a first start compiles it, which takes half a minute
    "riemann": "riemann_checks",
    "order": "smooth_flow_checks",
    "rest": "rest_checks",
    "steady-flow": "steady_flow_checks",
    "waves": "wave_checks",
    "sound": "solver_acoustics_checks",
    "cones": "cone_and_box_checks",
    "radiation": "radiation_checks",
}


def chosen(only: Sequence[str] = ()) -> list[str]:
    """Names of the groups to run, all of them where none is asked for."""
    for name in only:
        if name not in GROUPS:
            raise UsageError(f"no group of checks is called '{name}'", hint=did_you_mean(name, GROUPS))
    return [name for name in GROUPS if not only or name in only]


def checks_of(group: str) -> list[Check]:
    """Run one group."""
    function: Callable[[], Iterable[Check]] = importlib.import_module(f"pulsewright.outside.{GROUPS[group]}").checks
    return list(function())


def run(only: Sequence[str] = ()) -> Iterator[tuple[str, Check]]:
    """Every check of the groups asked for, as (group, check), as they are done."""
    for group in chosen(only):
        for check in checks_of(group):
            yield group, check
