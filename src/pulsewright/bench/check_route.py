"""Does one exhaust route hold together: order of its pieces, and whether each fits where it sits."""

from collections.abc import Sequence

from pulsewright.bench.exhaust import CrossBolt, End, Insert, Join, Muffler, Piece, Pipe, Plate
from pulsewright.bench.place import Place
from pulsewright.bench.route import Host, bore_in_host, host_of, piece_length
from pulsewright.units import show


def check_route(pieces: Sequence[Piece], place: Place) -> None:
    """Raise an InputError for the first piece that cannot be where it is."""
    if not isinstance(pieces[0], Pipe | Muffler):
        raise (place / 1).error(
            f"{place.key} starts with '{pieces[0].piece}'; allowed: a pipe or a muffler",
            "write the pieces in order from the port outwards; obstacles come after the pipe they sit in",
        )
    for index, piece in enumerate(pieces):
        here = place / (index + 1)
        _check_last(piece, index == len(pieces) - 1, here)
        host = host_of(pieces, index)
        if host is not None:
            _check_fit(piece, host, here)
        if isinstance(piece, Muffler):
            _check_muffler(piece, here)


def _check_last(piece: Piece, last: bool, place: Place) -> None:
    if isinstance(piece, End | Join) and not last:
        raise place.error(
            f"{place.key} is '{piece.piece}', but more pieces follow; allowed: only as the last piece",
            'after a collector the route goes on under exhaust.after."name of the collector"',
        )


def _check_fit(piece: Piece, host: Host, place: Place) -> None:
    """An obstacle against the pipe or muffler it sits in."""
    if isinstance(piece, Plate | CrossBolt):
        key, width = ("width", piece.width) if isinstance(piece, Plate) else ("diameter", piece.diameter)
        if piece.from_end >= piece_length(host):
            raise (place / "from_end").error(
                f"{place.key}.from_end is {show(piece.from_end, 'length')}, but the {host.piece} before it is"
                f" {show(piece_length(host), 'length')} long",
                "measure from the outlet end of the piece in which it sits",
            )
        _check_narrower(width, bore_in_host(host, piece.from_end), place / key)
    elif isinstance(piece, Insert):
        _check_narrower(piece.bore, bore_in_host(host, 0.0), place / "bore")
        if piece.length > piece_length(host):
            raise (place / "length").error(
                f"{place.key}.length is {show(piece.length, 'length')}, but the {host.piece} before it is"
                f" {show(piece_length(host), 'length')} long",
                "an insert is pushed into the end of the piece before it",
            )


def _check_narrower(width: float, bore: float, place: Place) -> None:
    if width >= bore:
        raise place.error(
            f"{place.key} is {show(width, 'length')} in a bore of {show(bore, 'length')}; allowed: less than the bore",
            "check the unit and the decimal point",
        )


def _check_muffler(muffler: Muffler, place: Place) -> None:
    if muffler.core_bore >= muffler.body_bore:
        raise (place / "core_bore").error(
            f"{place.key}.core_bore is {show(muffler.core_bore, 'length')} in a body of"
            f" {show(muffler.body_bore, 'length')}; allowed: less than the body",
            "the core is the tube inside the body",
        )
