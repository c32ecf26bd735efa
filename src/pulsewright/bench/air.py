"""The air of the day."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Air that the engine breathes."""

    temperature: float  # [K]
    pressure: float  # [Pa] absolute, of the moist air
    humidity: float  # [-] relative, 0 to 1


REFERENCE_AIR = Air(temperature=298.15, pressure=99.0e3, humidity=0.0)
"""Reference air for model torque: 25 degC, 99.0 kPa dry (SAE J1349)."""
