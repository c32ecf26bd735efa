"""A generic engine of the tests' own: a narrow-angle twin of 1.39 litres with separate straight pipes.

No particular engine stands behind it; the sizes are ordinary ones for the kind. The jets were chosen
once, so that with its open pipes it runs near lambda 0.9 over its range, and are never touched for a test.
"""

from __future__ import annotations

PIPE = 0.90  # [m]
BORE = 42.0  # [mm]
OPEN = '{ piece = "end", kind = "open" }'


def pipe(length: float = PIPE, bore: float = BORE) -> str:
    """A straight pipe as a piece of a route; length [m], bore [mm]."""
    return f'{{ piece = "pipe", length = "{1000.0 * length:.1f} mm", bore = "{bore} mm" }}'


def route(*pieces: str) -> str:
    """Both routes of the exhaust made of the same pieces, and the sensors."""
    listed = ", ".join(pieces)
    return f"""[exhaust]
route.1 = [ {listed} ]
route.2 = [ {listed} ]
lambda_sensor.1 = "300 mm"
lambda_sensor.2 = "300 mm"
"""


def twin(
    exhaust: str | None = None,
    *,
    main_jet: float = 1.80,
    main_air_bleed: float = 1.10,
    intermediate_jet: float = 0.80,
    intermediate_air_bleed: float = 1.10,
    nozzle_lip: float = 6.0,
) -> str:
    """The sheet. Jets and lip in mm; `exhaust` is the whole table, open pipes by default."""
    return f"""format = "pulsewright setup 1"
name = "generic twin of the tests"

[engine]
cylinders = 2
bore = "96 mm"
stroke = "96 mm"
rod = "190 mm"
compression_ratio = 9.0
firing = [0, 412]
cooling = "air"

[engine.intake_valve]
count = 1
diameter = "47 mm"
lift = "11 mm"
opens = "34 deg BTDC"
closes = "62 deg ABDC"
check_lift = 0
[engine.exhaust_valve]
count = 1
diameter = "41 mm"
lift = "11 mm"
opens = "62 deg BBDC"
closes = "32 deg ATDC"
check_lift = 0

[engine.intake_port]
length = "80 mm"
bore = "42 mm"
[engine.exhaust_port]
length = "70 mm"
bore = "41 mm"

[ignition]
advance = [[1000, 12], [2800, 32], [8000, 32]]

[fuel]
kind = "petrol"

[[carburettor]]
kind = "fixed venturi"
feeds = [1, 2]
venturi = "38 mm"
throttle_bore = "44 mm"
body_length = "55 mm"
main_jet = "{main_jet} mm"
main_air_bleed = "{main_air_bleed} mm"
main_nozzle = "4 mm"
nozzle_lip = "{nozzle_lip} mm"
intermediate_jet = "{intermediate_jet} mm"
intermediate_air_bleed = "{intermediate_air_bleed} mm"

[intake]
mouth = "open"
before_carburettor = [ {{ length = "40 mm", bore = "48 mm" }} ]
after_carburettor = [ {{ length = "50 mm", bore = "44 mm" }} ]
branch.1 = [ {{ length = "90 mm", bore = "42 mm" }} ]
branch.2 = [ {{ length = "90 mm", bore = "42 mm" }} ]

{exhaust or route(pipe(), OPEN)}"""
