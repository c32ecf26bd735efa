"""A jet: a bore with its unit, or a number of the trade with its meaning.

A number stamped on a jet means its bore in hundredths of a millimetre, its bore in thousandths of an inch, or
its flow in cubic centimetres a minute under a test head. The last says nothing without the head and the shape
of the jet: the same number from two makers is not the same flow (common practice, no published source).
"""

import math
from dataclasses import dataclass
from typing import Any

from pulsewright.bench.keys import Quantity, Table, Word
from pulsewright.bench.place import Place, found
from pulsewright.units import show

HUNDREDTHS, THOUSANDTHS, FLOW = "hundredths of a millimetre", "thousandths of an inch", "cc per minute"
STANDARD_GRAVITY = 9.80665  # [m/s²] by definition
TEST_HEAD = 0.5  # [m] of the fuel itself; assumed where the sheet does not say
# Short tube with a chamfered entry: 0.70 to 0.85, middle of the band (from memory, no single source).
DISCHARGE_COEFFICIENT = 0.78

_NUMBER = Quantity("ratio", 0.0, 5000.0)
_TABLE = Table(
    {
        "number": _NUMBER,
        "means": Word((HUNDREDTHS, THOUSANDTHS, FLOW)),
        "head": Quantity("length", 0.05, 5.0),
        "discharge_coefficient": Quantity("ratio", 0.4, 1.0),
    },
    required=("number", "means"),
)


@dataclass(frozen=True, slots=True)
class Jet:
    """Bore of a jet, a bleed or a nozzle in a range; 0 = not fitted, where that is allowed."""

    low: float  # [m]
    high: float  # [m]
    zero: bool = False

    @property
    def keys(self) -> dict[str, Any]:
        """Keys of the table form."""
        return dict(_TABLE.keys)

    @property
    def bore(self) -> Quantity:
        """The same range as a plain length."""
        return Quantity("length", self.low, self.high, zero=self.zero)

    def read(self, value: Any, place: Place) -> float:
        """Diameter of the bore. [m]"""
        if isinstance(value, dict):
            return self._from_number(_TABLE.read(value, place), value, place)
        if isinstance(value, int | float) and not isinstance(value, bool) and value > 0:
            raise place.error(
                f"{place.key} is the bare number {value}; allowed: {self.bore.range}",
                f"write '1.85 mm', or {{ number = 185, means = '{HUNDREDTHS}' }}",
            )
        return self.bore.read(value, place)

    def _from_number(self, jet: dict[str, Any], written: Any, place: Place) -> float:
        scale = {HUNDREDTHS: 1e-5, THOUSANDTHS: 25.4e-6}
        if jet["means"] == FLOW:
            bore = self._from_flow(jet, place)
        elif {"head", "discharge_coefficient"} & jet.keys():
            raise place.error(
                f"{place.key} gives a test head or a coefficient for a bore number; allowed: only for '{FLOW}'",
                "leave out head and discharge_coefficient",
            )
        else:
            bore = jet["number"] * scale[jet["means"]]
        if self.low <= bore <= self.high or (self.zero and bore == 0.0):
            return bore
        raise place.error(
            f"{place.key} is {found(written)}, a bore of {show(bore, 'length', digits=3)}; allowed: {self.bore.range}",
            "check the number and what it means",
        )

    def _from_flow(self, jet: dict[str, Any], place: Place) -> float:
        head = jet.get("head", TEST_HEAD)
        coefficient = jet.get("discharge_coefficient", DISCHARGE_COEFFICIENT)
        bore = flow_number_bore(jet["number"] * 1e-6 / 60.0, head, coefficient)
        if bore > 0 and not {"head", "discharge_coefficient"} <= jet.keys():
            place.assume(
                f"a bore of {show(bore, 'length', digits=3)}",
                f"flow number read for {show(head, 'length')} of fuel above the jet and a discharge"
                f" coefficient of {coefficient:g} (chamfered short tube 0.70 to 0.85, from memory); give head"
                " and discharge_coefficient if you know them: numbers of different makers are not the same",
            )
        return bore


def flow_number_bore(flow: float, head: float, discharge_coefficient: float) -> float:
    r"""Bore of a jet that passes a flow of liquid under its own head. [m]

    .. math:: d = \sqrt{\frac{4 \dot V}{\pi C_d \sqrt{2 g h}}}

    Source: Torricelli's law with a discharge coefficient, closed form; the liquid's density cancels.

    Parameters
    ----------
    flow : volume flow. [m³/s]
    head : height of the liquid above the jet. [m]
    discharge_coefficient : of the jet. [-]
    """
    speed = discharge_coefficient * math.sqrt(2.0 * STANDARD_GRAVITY * head)
    return math.sqrt(4.0 * flow / (math.pi * speed))
