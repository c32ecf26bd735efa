"""A setup in words: one line for each part, for a terminal or a report."""

from collections.abc import Sequence

from pulsewright.bench.air import Air
from pulsewright.bench.carburettor import Carburettor
from pulsewright.bench.engine import Engine
from pulsewright.bench.exhaust import (
    CrossBolt,
    Crossover,
    Disc,
    End,
    ExhaustValve,
    Insert,
    Join,
    Muffler,
    Piece,
    Pipe,
    Plate,
)
from pulsewright.bench.fuel import Fuel
from pulsewright.bench.intake import Duct, Intake
from pulsewright.bench.setup import Setup
from pulsewright.bench.valve import Valve
from pulsewright.units import show


def describe(setup: Setup) -> list[tuple[str, str]]:
    """(part, what was read) in the order of the sheet."""
    lines = [
        ("engine", _engine(setup.engine)),
        ("intake valve", _valve(setup.engine.intake_valve, intake=True)),
        ("exhaust valve", _valve(setup.engine.exhaust_valve, intake=False)),
        ("ports", _ports(setup.engine)),
        ("ignition", ", ".join(f"{angle:g}° at {rpm:g}" for rpm, angle in setup.ignition.advance) + " rpm"),
        ("fuel", _fuel(setup.fuel)),
    ]
    for number, carburettor in enumerate(setup.carburettors, 1):
        lines.append((f"carburettor {number}", _carburettor(carburettor)))
    lines.append(("intake", _intake(setup.intake)))
    for cylinder, ducts in setup.intake.branch.items():
        lines.append((f"branch {cylinder}", _ducts(ducts)))
    for cylinder, pieces in setup.exhaust.route.items():
        lines.append((f"exhaust {cylinder}", describe_route(pieces)))
    for name, pieces in setup.exhaust.after.items():
        lines.append((f"after {name}", describe_route(pieces)))
    for name, distance in setup.exhaust.lambda_sensor.items():
        lines.append((f"lambda {name}", f"{_mm(distance)} from the flange"))
    return [*lines, ("air", describe_air(setup.air))]


def describe_route(pieces: Sequence[Piece]) -> str:
    """An exhaust route in one line, from the port outwards."""
    return ", ".join(describe_piece(piece) for piece in pieces)


def describe_air(air: Air | None) -> str:
    """The air of the day in one line."""
    if air is None:
        return "reference air"
    temperature, pressure = show(air.temperature, "temperature"), show(air.pressure, "pressure")
    return f"{temperature}, {pressure}, {100 * air.humidity:.0f} % humidity"


def describe_piece(piece: Piece) -> str:
    """One exhaust piece in a few words."""
    match piece:
        case Pipe():
            bends = " bent " + " + ".join(f"{angle:g}°" for angle in piece.bends) if piece.bends else ""
            return f"{piece.wall} pipe {_tube(piece.length, piece.bore_in, piece.bore_out)}{bends}"
        case Plate():
            return f"plate {_mm(piece.width)} at {piece.angle_deg:g}°, {_mm(piece.from_end)} before the end"
        case CrossBolt():
            return f"cross-bolt {_mm(piece.diameter)}, {_mm(piece.from_end)} before the end"
        case Disc():
            return f"disc {100 * piece.open_area_fraction:.0f} % open"
        case Insert():
            kind = "packed" if piece.packed else "plain"
            return f"{kind} insert {_tube(piece.length, piece.bore, piece.bore)}"
        case Muffler():
            body = _tube(piece.body_length, piece.body_bore, piece.body_bore)
            chambers = _count(piece.chambers, "chamber")
            packing = "" if piece.packing == "new" else f", packing {piece.packing}"
            return f"{piece.core} muffler {body}, core {_mm(piece.core_bore)}, {chambers}{packing}"
        case ExhaustValve():
            return f"butterfly {_mm(piece.bore)}"
        case Join():
            return f"into {piece.into}"
        case Crossover():
            return f"crossover to {piece.to} at {_mm(piece.at)}, {_tube(piece.length, piece.bore, piece.bore)}"
        case End():
            return f"{piece.kind} end"


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}" + ("" if number == 1 else "s")


def _mm(length: float) -> str:
    return show(length, "length", digits=4)


def _tube(length: float, bore_in: float, bore_out: float) -> str:
    bore = _mm(bore_in) if bore_in == bore_out else f"{_mm(bore_in)} to {_mm(bore_out)}"
    return f"{_mm(length)} × {bore}"


def _engine(engine: Engine) -> str:
    firing = ", ".join(f"{angle:g}" for angle in engine.firing)
    return (
        f"{_count(engine.cylinders, 'cylinder')}, {show(engine.displacement, 'volume', digits=4)},"
        f" {_mm(engine.bore)} × {_mm(engine.stroke)}, rod {_mm(engine.rod)},"
        f" compression {engine.compression_ratio:g}, {engine.cooling}-cooled, fires at {firing}°"
    )


def timing_text(valve: Valve, *, intake: bool) -> tuple[str, str]:
    """Opening and closing as a cam card writes them."""
    centres = (("T", 360.0), ("B", 540.0)) if intake else (("B", 180.0), ("T", 360.0))
    words = []
    for angle, (letter, centre) in zip((valve.opens_deg, valve.closes_deg), centres, strict=True):
        words.append(f"{abs(angle - centre):.4g}° {'A' if angle > centre else 'B'}{letter}DC")
    return words[0], words[1]


def _valve(valve: Valve, *, intake: bool) -> str:
    opens, closes = timing_text(valve, intake=intake)
    at = f"at {_mm(valve.check_lift)}" if valve.check_lift else "seat to seat"
    table = f", lift table of {len(valve.lift_table)} rows" if valve.lift_table else ""
    size = f"{valve.count} × {_mm(valve.diameter)}, lift {_mm(valve.lift)}"
    return f"{size}, {opens} to {closes} {at}{table}"


def _ports(engine: Engine) -> str:
    intake, exhaust = engine.intake_port, engine.exhaust_port
    return (
        f"intake {_tube(intake.length, intake.bore, intake.bore)},"
        f" exhaust {_tube(exhaust.length, exhaust.bore, exhaust.bore)}"
    )


def _fuel(fuel: Fuel) -> str:
    return (
        f"{fuel.kind}, stoichiometric {fuel.stoichiometric_afr:.2f}, "
        f"{show(fuel.density, 'density', digits=4)}, {show(fuel.heating_value, 'specific_energy', digits=4)}"
    )


def _carburettor(part: Carburettor) -> str:
    cylinders = ", ".join(str(number) for number in part.feeds)
    outlet = "needle jet" if part.needle else "nozzle"
    low = "pilot" if part.needle else "intermediate"
    opening = "wide open" if part.throttle >= 1.0 else f"throttle {100.0 * part.throttle:g} %"
    return (
        f"{part.kind}, {opening}, cylinder {cylinders}; venturi {_mm(part.venturi)} in {_mm(part.throttle_bore)};"
        f" main {_fitted(part.main_jet)}, bleed {_fitted(part.main_air_bleed)}{_tube_of(part)},"
        f" {outlet} {_mm(part.main_nozzle)}, lip {_mm(part.nozzle_lip)};"
        f" {low} {_fitted(part.intermediate_jet)}, bleed {_fitted(part.intermediate_air_bleed)}"
        f"{_slide(part)}"
    )


def _tube_of(part: Carburettor) -> str:
    """The emulsion tube, where there is one."""
    if not part.emulsion_tube:
        return ""
    holes = sum(row.holes for row in part.emulsion_tube)
    top, bottom = (_mm(part.emulsion_tube[n].below) for n in (0, -1))
    return f" through {_count(holes, 'hole')} of an emulsion tube, {top} to {bottom} under the fuel"


def _slide(part: Carburettor) -> str:
    """Needle, cutaway and piston, where there are any."""
    text = ""
    if needle := part.needle:
        text += (
            f"; needle {_mm(needle.diameter)}, taper {needle.taper_deg:g}° from {_mm(needle.straight)},"
            f" clip in groove {needle.clip}"
        )
    if part.pump_volume:
        text += f"; accelerator pump {show(part.pump_volume, 'volume', digits=3)}"
    if part.cutaway:
        text += f"; cutaway {_mm(part.cutaway)}"
    if piston := part.piston:
        spring = f"{piston.spring_down:g} to {piston.spring_up:g} N"
        text += f"; piston {piston.mass * 1e3:g} g, diaphragm {_mm(piston.diameter)}, spring {spring}"
    return text


def _fitted(bore: float) -> str:
    return _mm(bore) if bore else "none"


def _intake(intake: Intake) -> str:
    loss = f" with loss {intake.mouth.loss:.3g}" if intake.mouth.kind == "filter" else ""
    plenum = f", plenum {show(intake.plenum, 'volume', digits=4)}" if intake.plenum else ""
    before, after = _ducts(intake.before_carburettor), _ducts(intake.after_carburettor)
    return (
        f"{intake.mouth.kind} mouth{loss}{plenum}; before the carburettor {before}; after it {after}{film_of(intake)}"
    )


def film_of(intake: Intake) -> str:
    """The film on the manifold's walls, where there is one."""
    if not intake.wall_film:
        return ""
    shares = " / ".join(f"{100.0 * share:.0f}" for share in intake.film_split.values())
    return f"; {100.0 * intake.wall_film:.3g} % of the fuel along the walls, to the cylinders {shares} %"


def _ducts(ducts: Sequence[Duct]) -> str:
    return ", ".join(_tube(duct.length, duct.bore_in, duct.bore_out) for duct in ducts) or "nothing"
