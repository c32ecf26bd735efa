"""Do the exhaust routes hold together: a route for each cylinder, collectors, crossovers, sensors."""

from pulsewright.bench.exhaust import Crossover, Exhaust, Join, Piece
from pulsewright.bench.place import Place, found
from pulsewright.bench.route import bore_at, crossovers, route_length
from pulsewright.errors import did_you_mean
from pulsewright.units import show

Routes = dict[str, tuple[tuple[Piece, ...], Place]]


def check_exhaust(exhaust: Exhaust, cylinders: int, place: Place) -> None:
    """Raise an InputError for the first thing that does not fit."""
    _check_numbers(exhaust, cylinders, place / "route")
    routes = _all_routes(exhaust, place)
    _check_collectors(exhaust, routes, place / "after")
    for cylinder, pieces in exhaust.route.items():
        for index, piece in enumerate(pieces, 1):
            if isinstance(piece, Crossover):
                _check_crossover(exhaust, cylinder, piece, cylinders, place / "route" / cylinder / index)
    _check_pairs(exhaust, place / "route")
    _check_sensors(exhaust, routes, place / "lambda_sensor")


def _all_routes(exhaust: Exhaust, place: Place) -> Routes:
    """Cylinder routes by number in digits and collector routes by name, each with its place."""
    cylinders = {str(number): (pieces, place / "route" / number) for number, pieces in exhaust.route.items()}
    return cylinders | {name: (pieces, place / "after" / name) for name, pieces in exhaust.after.items()}


def _check_numbers(exhaust: Exhaust, cylinders: int, place: Place) -> None:
    for cylinder in exhaust.route:
        if cylinder > cylinders:
            raise (place / cylinder).error(
                f"{place.key}.{cylinder} leads from a cylinder that is not there; allowed: 1 to {cylinders}",
                "check the number, or engine.cylinders",
            )
    for cylinder in range(1, cylinders + 1):
        if cylinder not in exhaust.route:
            raise (place / cylinder).error(
                f"{place.key}.{cylinder} is missing; each of the {cylinders} cylinders needs a route",
                f"add route.{cylinder} = [ ... ] with its pipe, in order from the port outwards",
            )


def _check_collectors(exhaust: Exhaust, routes: Routes, place: Place) -> None:
    into: dict[str, list[str]] = {name: [] for name in exhaust.after}
    for origin, (pieces, where) in routes.items():
        last = pieces[-1]
        if isinstance(last, Join):
            if last.into not in exhaust.after:
                raise (where / len(pieces) / "into").error(
                    f"{where.key} joins into '{last.into}', but nothing follows that collector",
                    f'add after."{last.into}" = [ ... ] under [exhaust]{_similar(last.into, exhaust)}',
                )
            into[last.into].append(origin)
    for name, origins in into.items():
        if len(origins) < 2:
            reason = f"only route {origins[0]} joins it" if origins else "no route joins it"
            raise (place / name).error(
                f"{place.key}.{name} is no collector: {reason}; allowed: two or more routes",
                f"let two routes end with {{ piece = 'join', into = '{name}' }}, or write the pieces in the route",
            )
    for name in exhaust.after:
        _check_leads_out(name, exhaust, place)


def _similar(name: str, exhaust: Exhaust) -> str:
    return f", or {did_you_mean(name, exhaust.after)}" if exhaust.after else ""


def _check_leads_out(name: str, exhaust: Exhaust, place: Place) -> None:
    """Follow collectors to an end; a ring of collectors has none."""
    seen = [name]
    while isinstance(last := exhaust.after[seen[-1]][-1], Join):
        if last.into in seen:
            raise (place / name).error(
                f"{place.key}.{name} leads back into itself through '{last.into}'",
                "end the last route with an end",
            )
        seen.append(last.into)


def _check_crossover(exhaust: Exhaust, cylinder: int, piece: Crossover, cylinders: int, place: Place) -> None:
    if piece.to == cylinder or piece.to > cylinders:
        raise (place / "to").error(
            f"{place.key}.to is {piece.to}; allowed: another cylinder from 1 to {cylinders}",
            "name the cylinder to whose route the tube leads",
        )
    ends = [cylinder]
    if all(back.to != cylinder for back in crossovers(exhaust.route[piece.to])):
        ends.append(piece.to)  # written once: the same distance holds in the other route
    for each in ends:
        pieces = exhaust.route[each]
        bore = bore_at(pieces, piece.at)
        if bore is None:
            raise (place / "at").error(
                f"{place.key}.at is {show(piece.at, 'length')}, but route {each} is"
                f" {show(route_length(pieces), 'length')} long",
                "measure from the port flange; if the other route differs, write the crossover there too",
            )
        if piece.bore > bore * (1.0 + 1e-9):
            raise (place / "bore").error(
                f"{place.key}.bore is {show(piece.bore, 'length')}, wider than route {each} at that place:"
                f" {show(bore, 'length')}",
                "check the unit and the place",
            )


def _check_pairs(exhaust: Exhaust, place: Place) -> None:
    """A crossover that is written in both routes must be the same tube."""
    for cylinder, pieces in exhaust.route.items():
        for other in {piece.to for piece in crossovers(pieces)}:
            there = [piece for piece in crossovers(pieces) if piece.to == other]
            back = [piece for piece in crossovers(exhaust.route[other]) if piece.to == cylinder]
            tubes = [(piece.bore, piece.length) for piece in there]
            if back and tubes != [(piece.bore, piece.length) for piece in back]:
                raise (place / cylinder).error(
                    f"the crossovers between routes {cylinder} and {other} differ in bore, length or number",
                    "write the same tube in both routes, or only in one of them",
                )


def _check_sensors(exhaust: Exhaust, routes: Routes, place: Place) -> None:
    for name, distance in exhaust.lambda_sensor.items():
        if name not in routes:
            raise (place / name).error(
                f"lambda_sensor {found(name)} sits in no route",
                f"name a cylinder or a collector: {did_you_mean(name, routes)}",
            )
        length = route_length(routes[name][0])
        if distance >= length:
            raise (place / name).error(
                f"{place.key}.{name} is {show(distance, 'length')}, but the route is {show(length, 'length')} long",
                "measure from the port flange along the route; behind a collector name the collector",
            )
