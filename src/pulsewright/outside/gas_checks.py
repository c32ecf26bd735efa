"""Working gas: species, dry air and burned gas by temperature and mixture."""

from __future__ import annotations

import math
from collections.abc import Iterator

from pulsewright.bench.air import Air
from pulsewright.bench.fuel import Fuel
from pulsewright.network.gas import charge_of
from pulsewright.outside.burned_gas_checks import FUELS
from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table
from pulsewright.physics.gas_properties import WorkingGas, blend, heat_capacity_at
from pulsewright.physics.nasa_species import MOLAR_MASS, molar_heat_capacity
from pulsewright.physics.stoichiometry import stoichiometric_afr
from pulsewright.physics.viscosity import viscosity


def checks() -> Iterator[Check]:
    """Species, then dry air, then burned gas of four fuels."""
    yield worst(
        "cp of single species in J/(mol K)",
        "NASA seven-coefficient polynomials in Cantera 3.2.0",
        (
            (
                f"{r['species']} at {r['T_K']:g} K",
                r["cp_J_molK"],
                float(molar_heat_capacity(r["species"], r["T_K"])),
            )
            for r in table("nasa7_species")
            if r["species"] in MOLAR_MASS
        ),
        1e-5,
    )
    gas = _gas_of(*FUELS["gasoline CH1.87"])
    air = [(r, _state(gas, 0.0, 0.0, r["T_K"])) for r in table("dry_air")]
    for column, index, tolerance in (
        # the polynomial reaches to 3000 K, which costs 0.4 % at 250 K; gamma and a hardly feel it
        ("cp_J_kgK", 0, 5e-3),
        ("R_J_kgK", 1, 1e-3),
        ("gamma", 2, 3e-3),
        ("a_m_s", 3, 1e-3),
    ):
        yield worst(
            f"dry air, {column}",
            "Cantera 3.2.0 (NASA-9)",
            ((f"{r['T_K']:g} K", r[column], got[index]) for r, got in air),
            tolerance,
        )
    yield worst(
        "viscosity of air in Pa s",
        "ICAO Doc 7488 by ambiance 1.3.1",
        ((f"{r['T_K']:g} K", r["mu_Pa_s"], viscosity(r["T_K"])) for r in table("isa")),
        1e-6,
    )
    for fuel, atoms in FUELS.items():
        yield from _burned(fuel, _gas_of(*atoms))


def _burned(fuel: str, gas: WorkingGas) -> Iterator[Check]:
    rows = [
        (r, _state(gas, 1.0, 1.0 / (1.0 + r["lambda"] * gas.air_fuel_ratio), r["T_K"]))
        for r in table("burned_gas")
        if r["fuel"] == fuel
    ]
    for column, index in (("R_J_kgK", 1), ("gamma", 2), ("a_m_s", 3)):
        yield worst(
            f"burned {fuel}, {column}",
            "Cantera 3.2.0, composition frozen at 1740 K",
            ((f"lambda {r['lambda']:g}, {r['T_K']:g} K", r[column], got[index]) for r, got in rows),
            3e-3,
        )


def _gas_of(hydrogen: float, oxygen: float) -> WorkingGas:
    """The gas that the solver runs on with a CHyOz fuel in dry air; heat and density play no part here."""
    fuel = Fuel(
        kind="custom",
        stoichiometric_afr=stoichiometric_afr(hydrogen, oxygen),
        density=745.0,
        heating_value=43e6,
        latent_heat=340e3,
        hydrogen_per_carbon=hydrogen,
        oxygen_per_carbon=oxygen,
        octane=95.0,
    )
    return charge_of(fuel, Air(temperature=298.15, pressure=99e3, humidity=0.0)).gas


def _state(gas: WorkingGas, burned: float, burned_fuel: float, temperature: float) -> tuple[float, ...]:
    """cp [J/(kg K)], R [J/(kg K)], gamma [-] and speed of sound [m/s] of a blend."""
    shares = blend(burned, 0.0, burned_fuel, gas.correct_fuel, gas.rich_fuel)
    constant = sum(x * r for x, r in zip(shares, gas.gas_constant, strict=True))
    cv = sum(x * heat_capacity_at(temperature, *k) for x, k in zip(shares, gas.energy, strict=True))
    gamma = 1.0 + constant / cv
    return cv + constant, constant, gamma, math.sqrt(gamma * constant * temperature)
