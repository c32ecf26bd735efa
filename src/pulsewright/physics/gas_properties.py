r"""Working gas in pipe and cylinder: energy, heat capacity and gas constant by temperature and composition.

The gas is a blend of four stocks: air, fuel vapour, products of a chemically correct mixture and
products of a rich one. A place carries three mass fractions,

* `burned`       all combustion products, the fuel in them included,
* `vapour`       fuel that has not burned,
* `burned_fuel`  fuel that has burned (a part of `burned`),

and the blend follows from them: products leaner than chemically correct are correct products and
spare air; richer ones lie on the line between correct and rich products. With that, both the
residual gas and what a lambda sensor sees (all fuel against all air) are known everywhere.

Source   species by `nasa_species`; product gas by `burned_composition` (atom balance, water-gas ratio).
Holds    250 to 3000 K (polynomial in T fitted there, error of cp below 0.6 %), ideal gas, no dissociation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pulsewright.physics.compiled import scalar
from pulsewright.physics.nasa_species import MOLAR_MASS, UNIVERSAL_GAS_CONSTANT, molar_heat_capacity

DRY_AIR = {
    "N2": 0.78084,
    "O2": 0.20946,
    "Ar": 0.00970,
}  # mole fractions, common rounding of the standard atmosphere
RICH_LAMBDA = 0.7  # the rich stock; leaner and richer products lie on the line through it
TERMS = 6  # polynomial terms in T/1000 K of the energy, from the first power up


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingGas:
    """The four stocks as numbers for the compiled code.

    gas_constant : (4,) air, vapour, correct products, rich products. [J/(kg K)]
    energy : (4, 6) coefficients k of e = sum k_n (T/1000 K)^(n+1), zero at 0 K. [J/kg]
    correct_fuel, rich_fuel : mass of burned fuel in a mass of the last two stocks. [-]
    air_fuel_ratio : chemically correct mass of air for a mass of fuel. [-]
    """

    gas_constant: npt.NDArray[np.float64]
    energy: npt.NDArray[np.float64]
    correct_fuel: float
    rich_fuel: float
    air_fuel_ratio: float


def stock_of(moles: dict[str, float]) -> tuple[float, npt.NDArray[np.float64]]:
    """Gas constant [J/(kg K)] and energy coefficients (6,) of a gas given by mole fractions."""
    total = sum(moles.values())
    mass = sum(x * MOLAR_MASS[s] for s, x in moles.items()) / total
    t = np.concatenate([np.linspace(250.0, 1500.0, 126), np.linspace(1550.0, 3000.0, 30)])
    cp = sum((x / total * molar_heat_capacity(s, t) for s, x in moles.items()), start=np.zeros_like(t)) / mass
    constant = UNIVERSAL_GAS_CONSTANT / mass
    cv = np.polynomial.polynomial.polyfit(t / 1000.0, cp - constant, TERMS - 1)
    return constant, 1000.0 * cv / np.arange(1, TERMS + 1)


def working_gas(
    *,
    air: dict[str, float],
    vapour: dict[str, float],
    correct: dict[str, float],
    rich: dict[str, float],
    air_fuel_ratio: float,
) -> WorkingGas:
    """Blend from the mole fractions of the four stocks; `rich` is burned at `RICH_LAMBDA`."""
    stocks = [stock_of(m) for m in (air, vapour, correct, rich)]
    return WorkingGas(
        gas_constant=np.array([s[0] for s in stocks]),
        energy=np.array([s[1] for s in stocks]),
        correct_fuel=1.0 / (1.0 + air_fuel_ratio),
        rich_fuel=1.0 / (1.0 + RICH_LAMBDA * air_fuel_ratio),
        air_fuel_ratio=air_fuel_ratio,
    )


def perfect_gas(gamma: float, gas_constant: float) -> WorkingGas:
    """A gas of constant `gamma` [-] for comparisons with closed formulas; all stocks alike."""
    energy = np.zeros((4, TERMS))
    energy[:, 0] = 1000.0 * gas_constant / (gamma - 1.0)
    return WorkingGas(
        gas_constant=np.full(4, gas_constant),
        energy=energy,
        correct_fuel=1.0 / 15.6,
        rich_fuel=1.0 / 11.2,
        air_fuel_ratio=14.6,
    )


@scalar
def blend(burned, vapour, burned_fuel, correct_fuel, rich_fuel):
    """Mass fractions of the stocks (air, vapour, correct products, rich products). [-]"""
    rich = max(0.0, (burned_fuel - correct_fuel * burned) / (rich_fuel - correct_fuel))
    correct = min(burned_fuel / correct_fuel, burned - rich)
    return 1.0 - vapour - rich - correct, vapour, correct, rich


@scalar
def energy_at(temperature, k0, k1, k2, k3, k4, k5):
    """Internal energy above 0 K. [J/kg]"""
    t = 0.001 * temperature
    return t * (k0 + t * (k1 + t * (k2 + t * (k3 + t * (k4 + t * k5)))))


@scalar
def heat_capacity_at(temperature, k0, k1, k2, k3, k4, k5):
    """Heat capacity at constant volume. [J/(kg K)]"""
    t = 0.001 * temperature
    return 0.001 * (k0 + t * (2.0 * k1 + t * (3.0 * k2 + t * (4.0 * k3 + t * (5.0 * k4 + t * 6.0 * k5)))))
