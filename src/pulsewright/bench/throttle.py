"""The throttle of all carburettors of a machine, moved together."""

from dataclasses import replace

from pulsewright.bench.setup import Setup


def with_throttle(setup: Setup, opening: float) -> Setup:
    """The same machine with every throttle at a share of its way from shut to wide open, 0.01 to 1."""
    said = {f"carburettor.{number}.throttle" for number in range(1, len(setup.carburettors) + 1)}
    return replace(
        setup,
        carburettors=tuple(replace(each, throttle=opening) for each in setup.carburettors),
        assumptions=tuple(each for each in setup.assumptions if each.key not in said),
    )


def throttle_of(setup: Setup) -> float:
    """The opening of the throttle that is least open. [-]"""
    return min(each.throttle for each in setup.carburettors)
