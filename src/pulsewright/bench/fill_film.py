"""Which cylinder gets how much of the fuel that runs along the walls of a shared manifold."""

from collections.abc import Sequence

from pulsewright.bench.carburettor import Carburettor
from pulsewright.bench.engine import Engine
from pulsewright.bench.given import NOT_GIVEN, PRACTICE, Given

ONE_MOMENT = 1.0  # [deg] cylinders that fire closer together draw as one
SUM_SLACK = 0.005  # shares that people round to whole per cent


def pauses(firing: Sequence[float]) -> list[float]:
    """Share of the cycle that has passed when each cylinder draws, since the one before it drew; they sum to 1.

    firing : crank degrees of firing top dead centre of the cylinders behind one carburettor. Cylinders that draw at
    the same moment share their pause.
    """
    moments: list[float] = []
    for angle in sorted(firing):
        if not moments or angle - moments[-1] > ONE_MOMENT:
            moments.append(angle)
    owner = [max(n for n, moment in enumerate(moments) if moment <= angle) for angle in firing]
    gaps = [(moment - moments[n - 1]) % 720.0 or 720.0 for n, moment in enumerate(moments)]
    return [gaps[n] / 720.0 / owner.count(n) for n in owner]


def fill_film_split(given: Given, engine: Engine, carburettors: tuple[Carburettor, ...]) -> dict[int, float]:
    """Share of its carburettor's film that each cylinder gets; raises InputError where the shares do not fit."""
    place = given.place / "film_split"
    said: dict[int, float] = given.values.get("film_split", {})
    for cylinder in said:
        if cylinder > engine.cylinders:
            raise (place / cylinder).error(
                f"{place.key}.{cylinder} names a cylinder that is not there; allowed: 1 to {engine.cylinders}",
                "check the number, or engine.cylinders",
            )
    if said and not given.values.get("wall_film"):
        raise (given.place / "wall_film").error(
            f"{place.key} is given, but there is no wall film to share out",
            "say how much of the fuel runs along the walls, like wall_film = '30 %', or leave film_split out",
        )
    split: dict[int, float] = {}
    for part in carburettors:
        own = {n: said[n] for n in part.feeds if n in said}
        if own:
            split |= _checked(given, part, own)
            continue
        usual = pauses([engine.firing[n - 1] for n in part.feeds])
        split |= dict(zip(part.feeds, usual, strict=True))
        if given.values.get("wall_film") and len(part.feeds) > 1:
            place.assume(
                " / ".join(f"{100.0 * share:.0f}" for share in usual) + " %",
                f"{NOT_GIVEN}; what runs together in the manifold goes with the cylinder that draws next, {PRACTICE}",
            )
    return dict(sorted(split.items()))


def _checked(given: Given, part: Carburettor, own: dict[int, float]) -> dict[int, float]:
    """Shares that name every cylinder of a carburettor and sum to the whole."""
    place = given.place / "film_split"
    missing = [n for n in part.feeds if n not in own]
    if missing:
        raise (place / missing[0]).error(
            f"{place.key}.{missing[0]} is missing, where cylinder {min(own)} of the same carburettor has a share",
            "give the share of every cylinder behind this carburettor, or of none",
        )
    whole = sum(own.values())
    if abs(whole - 1.0) > SUM_SLACK:
        raise (place / part.feeds[0]).error(
            f"the shares of {place.key} behind one carburettor sum to {100.0 * whole:.4g} %; allowed: 100 %",
            "they say how its wall film is shared out, so nothing may be left over",
        )
    return {n: share / whole for n, share in own.items()}
