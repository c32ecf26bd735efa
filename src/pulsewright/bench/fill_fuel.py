"""The fuel of a sheet: a name, or its own numbers.

Sources: stoichiometric ratios and atoms by atom balance with air of 3.773 N2 per O2 (Heywood 1988,
section 3.2); petrol CH1.87. Density, heating value and latent heat: middle of the bands in handbooks
(EN 228 for density), from memory; ethanol 789 kg/m³ at 20 degC, 26.8 MJ/kg, 840 kJ/kg, from memory.
Blends are by volume at 15 degC. Octane numbers from memory.
"""

from dataclasses import dataclass, fields, replace

from pulsewright.bench.fuel import Fuel
from pulsewright.bench.given import MEMORY, NOT_GIVEN, Given
from pulsewright.units import show

NITROGEN_PER_OXYGEN = 3.773
CARBON, HYDROGEN, OXYGEN = 12.011, 1.008, 15.999  # [g/mol]
AIR_PER_OXYGEN = 2 * OXYGEN + NITROGEN_PER_OXYGEN * 28.16  # [g/mol]; "nitrogen" with its argon
RATIO_AGREES = 0.05  # [-] given stoichiometric ratio against the given composition


@dataclass(frozen=True, slots=True)
class Liquid:
    """A pure component."""

    hydrogen_per_carbon: float
    oxygen_per_carbon: float
    density: float  # [kg/m³]
    heating_value: float  # [J/kg]
    latent_heat: float  # [J/kg]


PETROL = Liquid(1.87, 0.0, 745.0, 43.0e6, 350e3)
ETHANOL = Liquid(3.0, 0.5, 789.0, 26.8e6, 840e3)
METHANOL = Liquid(4.0, 1.0, 792.0, 20.0e6, 1100e3)
ETHANOL_VOLUME = {"petrol": 0.0, "E5": 0.05, "E10": 0.10, "E85": 0.85, "ethanol": 1.0}
OCTANE = {"petrol": 95.0, "E5": 95.0, "E10": 95.0, "E85": 104.0, "ethanol": 108.0}
OWN_OCTANE = 95.0
OWN_LATENT_HEAT = 350e3
_OWN = ("stoichiometric_afr", "density", "heating_value")


def stoichiometric_ratio(hydrogen_per_carbon: float, oxygen_per_carbon: float) -> float:
    """Mass of dry air over mass of fuel CHyOz that burns with nothing left. [-]

    Atom balance, Heywood 1988, section 3.2.
    """
    oxygen = 1.0 + hydrogen_per_carbon / 4.0 - oxygen_per_carbon / 2.0
    fuel = CARBON + HYDROGEN * hydrogen_per_carbon + OXYGEN * oxygen_per_carbon
    return oxygen * AIR_PER_OXYGEN / fuel


def fill_fuel(given: Given) -> Fuel:
    """The fuel; a named one may have single numbers of its own."""
    own = [key for key in _OWN if key in given]
    named = "kind" in given or not own
    kind = given.plain("kind", "petrol", "the usual fuel") if named else "custom"
    fuel = _custom(given) if kind == "custom" else _named(kind, given)
    _check_composition(fuel, given)
    return fuel


def blend(ethanol_volume: float) -> tuple[Liquid, float]:
    """Petrol with a share of ethanol by volume, and its stoichiometric ratio. [-]"""
    ethanol = ethanol_volume * ETHANOL.density
    mass = ethanol / (ethanol + (1.0 - ethanol_volume) * PETROL.density)
    density = ethanol_volume * ETHANOL.density + (1.0 - ethanol_volume) * PETROL.density
    return _mixed(PETROL, ETHANOL, mass, density)


def _mixed(first: Liquid, second: Liquid, mass: float, density: float) -> tuple[Liquid, float]:
    """Two liquids with a mass fraction of the second."""
    if mass in (0.0, 1.0):  # keeps the printed numbers of a pure liquid free of rounding
        pure = first if mass == 0.0 else second
        return pure, stoichiometric_ratio(pure.hydrogen_per_carbon, pure.oxygen_per_carbon)
    shares = ((first, 1.0 - mass), (second, mass))
    carbon = sum(share / _mass_per_carbon(part) for part, share in shares)
    hydrogen = sum(share * part.hydrogen_per_carbon / _mass_per_carbon(part) for part, share in shares)
    oxygen = sum(share * part.oxygen_per_carbon / _mass_per_carbon(part) for part, share in shares)
    liquid = Liquid(
        hydrogen / carbon,
        oxygen / carbon,
        density,
        sum(share * part.heating_value for part, share in shares),
        sum(share * part.latent_heat for part, share in shares),
    )
    return liquid, stoichiometric_ratio(liquid.hydrogen_per_carbon, liquid.oxygen_per_carbon)


def _mass_per_carbon(liquid: Liquid) -> float:
    return CARBON + HYDROGEN * liquid.hydrogen_per_carbon + OXYGEN * liquid.oxygen_per_carbon


def named_fuel(kind: str) -> Fuel:
    """A fuel by its name alone, a key of `ETHANOL_VOLUME`."""
    liquid, ratio = blend(ETHANOL_VOLUME[kind])
    return Fuel(
        kind=kind,
        stoichiometric_afr=ratio,
        density=liquid.density,
        heating_value=liquid.heating_value,
        latent_heat=liquid.latent_heat,
        hydrogen_per_carbon=liquid.hydrogen_per_carbon,
        oxygen_per_carbon=liquid.oxygen_per_carbon,
        octane=OCTANE[kind],
    )


def _named(kind: str, given: Given) -> Fuel:
    usual = named_fuel(kind)
    numbers = {field.name for field in fields(usual)} - {"kind"}
    fuel = replace(usual, **{key: given[key] for key in numbers if key in given})
    if not numbers <= given.values.keys():
        given.place.assume(
            f"{kind}: stoichiometric ratio {fuel.stoichiometric_afr:.2f}, {show(fuel.density, 'density')},"
            f" {show(fuel.heating_value, 'specific_energy', digits=3)}, octane {fuel.octane:g}",
            "typical for this fuel; ratio by atom balance (Heywood 1988, section 3.2),"
            f" the others from handbooks, {MEMORY}",
        )
    return fuel


def _custom(given: Given) -> Fuel:
    for key in _OWN:
        if key not in given:
            place = given.place / key
            raise place.error(
                f"{place.key} is missing; a fuel of your own needs {', '.join(_OWN)}",
                'add it, or name a fuel: kind = "petrol", "E5", "E10", "E85" or "ethanol"',
            )
    hydrogen, oxygen = _composition(given)
    return Fuel(
        kind="custom",
        stoichiometric_afr=given["stoichiometric_afr"],
        density=given["density"],
        heating_value=given["heating_value"],
        latent_heat=given.quantity("latent_heat", OWN_LATENT_HEAT, "specific_energy", f"as for petrol, {MEMORY}"),
        hydrogen_per_carbon=hydrogen,
        oxygen_per_carbon=oxygen,
        octane=given.plain("octane", OWN_OCTANE, f"as for petrol, {MEMORY}"),
    )


def _composition(given: Given) -> tuple[float, float]:
    """Atoms per carbon; from the stoichiometric ratio where they are not given."""
    guess = composition_of(given["stoichiometric_afr"])
    pair = []
    for key, value in zip(("hydrogen_per_carbon", "oxygen_per_carbon"), guess, strict=True):
        if key not in given:
            text = f"{NOT_GIVEN}; a hydrocarbon or a blend with alcohol that has this stoichiometric ratio"
            (given.place / key).assume(f"{value:.3f}", text)
        pair.append(given.values.get(key, value))
    return pair[0], pair[1]


def composition_of(ratio: float) -> tuple[float, float]:
    """Hydrogen and oxygen per carbon of a fuel with a stoichiometric ratio [-].

    Above petrol's ratio a hydrocarbon, below it a blend of petrol and ethanol, below ethanol's a blend
    of ethanol and methanol.
    """
    petrol, ethanol = stoichiometric_ratio(1.87, 0.0), stoichiometric_ratio(3.0, 0.5)
    methanol = stoichiometric_ratio(4.0, 1.0)
    if ratio >= petrol:
        hydrogen = (ratio * CARBON - AIR_PER_OXYGEN) / (AIR_PER_OXYGEN / 4.0 - ratio * HYDROGEN)
        return min(hydrogen, 4.0), 0.0
    first, second, low, high = (
        (PETROL, ETHANOL, ethanol, petrol) if ratio >= ethanol else (ETHANOL, METHANOL, methanol, ethanol)
    )
    mass = min((high - ratio) / (high - low), 1.0)  # the ratio of a blend is linear in its mass fractions
    liquid, _ = _mixed(first, second, mass, first.density)
    return liquid.hydrogen_per_carbon, liquid.oxygen_per_carbon


def _check_composition(fuel: Fuel, given: Given) -> None:
    """Refuse a ratio that the given atoms cannot have."""
    both = {"hydrogen_per_carbon", "oxygen_per_carbon"} & given.values.keys()
    expected = stoichiometric_ratio(fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon)
    if both and abs(fuel.stoichiometric_afr - expected) > RATIO_AGREES * expected:
        place = given.place / "stoichiometric_afr"
        raise place.error(
            f"{place.key} is {fuel.stoichiometric_afr:.2f}, but CH{fuel.hydrogen_per_carbon:.2f}"
            f"O{fuel.oxygen_per_carbon:.2f} needs {expected:.2f}; allowed: {100 * RATIO_AGREES:g} % apart",
            "check the ratio, or leave hydrogen_per_carbon and oxygen_per_carbon out",
        )
