r"""Mean temperature of a pipe wall between pulsating gas and the shop air.

Over a cycle a wall takes up :math:`\overline{h T} - \bar h T_w`; that heat must pass the lagging and
leave the skin by convection and radiation. One unknown, the skin temperature, solved by false position with
halved ends.

Source   heat balance (closed form), solved after M. Dowell & P. Jarratt, BIT 11 (1971) 168 (from memory);
         outside coefficients in pipe_heat.py. Conductivities and emissivities are handbook values from memory,
         no published source looked up.
Holds    steady state: a pipe takes minutes to get there, a pull lasts seconds (see the caution in
         the sheet's assumptions about a cold pipe).
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar
from pulsewright.physics.pipe_heat import outside_coefficient, radiation_coefficient
from pulsewright.physics.viscosity import PRANDTL_AIR, conductivity

SINGLE, DOUBLE, WRAPPED, COATED = 0, 1, 2, 3  # kinds of wall

EMISSIVITY_STEEL = 0.75  # [-] oxidised steel 0.6-0.85 (from memory)
EMISSIVITY_BRIGHT = 0.25  # [-] plated outer tube 0.1-0.4 (from memory)
AIR_GAP = 3.0e-3  # [m] between the tubes of a double wall (assumed)
WRAP_THICKNESS = 2.5e-3  # [m] one layer overlapped (assumed)
WRAP_CONDUCTIVITY = 0.10  # [W/(m K)] woven mineral fibre, hot (from memory)
COATING_THICKNESS = 0.25e-3  # [m] sprayed ceramic (assumed)
COATING_CONDUCTIVITY = 1.0  # [W/(m K)] (from memory)
EMISSIVITY_COATING = 0.5  # [-] (from memory)
CLOSE, MOST_TRIES = 1e-9, 60  # [K] that may be left


@scalar
def lagging_resistance(kind: int, inner: float, skin: float, bore: float) -> float:
    """Heat resistance between inner wall and skin, on the bore's area. [m2 K/W]

    kind 0 single, 1 double (air gap), 2 wrapped, 3 coated; inner, skin [K]; bore [m].
    """
    if kind == DOUBLE:
        mean = 0.5 * (inner + skin)
        gap = conductivity(mean, 1050.0, PRANDTL_AIR) / AIR_GAP
        return 1.0 / (gap + radiation_coefficient(0.5, inner, skin))
    if kind == WRAPPED:
        return 0.5 * bore * math.log(1.0 + 2.0 * WRAP_THICKNESS / bore) / WRAP_CONDUCTIVITY
    if kind == COATED:
        return COATING_THICKNESS / COATING_CONDUCTIVITY
    return 0.0


@scalar
def outer_diameter(kind: int, bore: float, thickness: float) -> float:
    """Diameter of the skin that meets the shop air. [m], wall thickness [m]"""
    added = AIR_GAP + thickness if kind == DOUBLE else 0.0
    added += WRAP_THICKNESS if kind == WRAPPED else 0.0
    return bore + 2.0 * (thickness + added)


@scalar
def skin_emissivity(kind: int) -> float:
    """Emissivity of the skin of each kind of wall. [-]"""
    if kind == DOUBLE:
        return EMISSIVITY_BRIGHT
    return EMISSIVITY_COATING if kind == COATED else EMISSIVITY_STEEL


@scalar
def at_skin(
    skin: float,
    gas: float,
    h_mean: float,
    kind: int,
    bore: float,
    thickness: float,
    ambient: float,
    pressure: float,
    wind: float,
) -> tuple[float, float]:
    """Inner wall at a skin temperature, and what is left of the drop across the lagging: more than 0 is too cold. [K]

    gas : temperature that the gas side drives with [K]; all else as in `wall_temperature`.
    """
    outside = outer_diameter(kind, bore, thickness)
    to_air = outside_coefficient(outside, skin, ambient, pressure, wind, skin_emissivity(kind))
    flux = to_air * (skin - ambient) * outside / bore  # on the bore's area
    inner = gas - flux / max(h_mean, 1e-9)
    return inner, (inner - skin) - flux * lagging_resistance(kind, max(inner, skin), skin, bore)


@scalar
def wall_temperature(
    h_mean: float,
    h_times_t_mean: float,
    kind: int,
    bore: float,
    thickness: float,
    ambient: float,
    pressure: float,
    wind: float,
) -> tuple[float, float]:
    """Inner wall and skin temperature in balance. [K], [K]

    h_mean : cycle mean of the gas-side coefficient. [W/(m2 K)]
    h_times_t_mean : cycle mean of coefficient times gas temperature. [W/m2]
    kind 0 single, 1 double, 2 wrapped, 3 coated; bore and wall thickness [m];
    ambient [K], pressure [Pa]; wind across the pipe [m/s] (0 = still shop, a fan gives 3 to 10).
    """
    gas = h_times_t_mean / max(h_mean, 1e-9)
    low, high = min(ambient, gas), max(ambient, gas)
    _inner, too_cold = at_skin(low, gas, h_mean, kind, bore, thickness, ambient, pressure, wind)
    inner, too_hot = at_skin(high, gas, h_mean, kind, bore, thickness, ambient, pressure, wind)
    skin, side = high, 0
    for _ in range(MOST_TRIES):
        if high - low < CLOSE:
            break
        skin = (low * too_hot - high * too_cold) / (too_hot - too_cold)
        inner, left = at_skin(skin, gas, h_mean, kind, bore, thickness, ambient, pressure, wind)
        if abs(left) < CLOSE:  # the skin's error is no more: its own temperature counts once in this
            break
        if left > 0.0:
            low, too_cold = skin, left
            too_hot *= 0.5 if side == 1 else 1.0
            side = 1
        else:
            high, too_hot = skin, left
            too_cold *= 0.5 if side == -1 else 1.0
            side = -1
    return inner, skin
