"""Random setup sheets that are valid, for property tests (hypothesis).

The engines are invented and stay in a range that a solver can be asked to run: 1 to 4 cylinders of 50
to 110 mm bore, pipes of 0.25 to 1.2 m. Lengths come in several units, with point and comma; keys that
may be left out
sometimes are; comments stand where people write them.
"""

from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st

SPELLINGS = [("mm", 1.0, 1, "."), ("mm", 1.0, 1, ","), ("cm", 0.1, 3, "."), ("in", 1 / 25.4, 4, ",")]
Draw = Callable[[st.SearchStrategy[Any]], Any]

FIRING = {1: [[0]], 2: [[0, 360], [0, 412], [0, 270], [0, 180]], 3: [[0, 240, 480]], 4: [[0, 540, 180, 360]]}
COMMENTS = [
    "as measured",
    "# from the parts list",
    "",
    "guess",
    "44,5 on the other side",
    'the "old" one',
    "æøå = ü",
]


@st.composite
def valid_sheets(draw: Draw) -> str:
    """TOML text of a random valid setup sheet."""
    bore = draw(st.integers(50, 110))
    cylinders = draw(st.integers(1, 4))
    throttle = round(0.42 * bore)
    parts = [
        _head(draw),
        _engine(draw, cylinders, bore),
        _ignition(draw),
        _fuel(draw),
        _carburettors(draw, cylinders, throttle),
        _intake(draw, cylinders, throttle),
        _exhaust(draw, cylinders, bore),
        _air(draw),
    ]
    return "\n".join(part for part in parts if part)


def length(draw: Draw, low_mm: float, high_mm: float) -> str:
    """A length between two bounds [mm], in one of the units and spellings of a bench; in TOML quotes."""
    value, (unit, scale, digits, point) = draw(
        st.tuples(st.integers(round(low_mm * 10), round(high_mm * 10)), st.sampled_from(SPELLINGS))
    )
    return f'"{f"{value / 10 * scale:.{digits}f}".replace(".", point)} {unit}"'


def _some(draw: Draw, *lines: str) -> str:
    """The lines, each left out now and then."""
    kept = draw(st.integers(0, 2 ** len(lines) - 1))
    return "\n".join(line for number, line in enumerate(lines) if kept >> number & 1)


def _comment(draw: Draw) -> str:
    text = draw(st.sampled_from(COMMENTS))
    return f"   # {text}" if text else ""


def _head(draw: Draw) -> str:
    return f'# invented for a test\nformat = "pulsewright setup 1"{_comment(draw)}\nname = "drawn at random"\n'


def _engine(draw: Draw, cylinders: int, bore: int) -> str:
    stroke = draw(st.integers(round(0.7 * bore), round(1.25 * bore)))
    firing = draw(st.sampled_from(FIRING[cylinders]))
    return f"""[engine]{_comment(draw)}
cylinders = {cylinders}
bore = "{bore} mm"{_comment(draw)}
stroke = "{stroke} mm"
{_some(draw, f"rod = {length(draw, 1.6 * stroke, 2.2 * stroke)}", f"firing = {firing}", 'cooling = "air"')}
compression_ratio = {draw(st.integers(70, 115)) / 10}
{_valve(draw, "intake", bore, ("BTDC", "ABDC"))}
{_valve(draw, "exhaust", 0.87 * bore, ("BBDC", "ATDC"))}
{_port(draw, "intake", bore)}
{_port(draw, "exhaust", 0.9 * bore)}"""


def _valve(draw: Draw, name: str, bore: float, sides: tuple[str, str]) -> str:
    count = draw(st.integers(1, 2))
    diameter = bore * draw(st.integers(42, 47)) / 100 / count**0.35
    near, far = draw(st.integers(2, 42)), draw(st.integers(35, 72))
    opens, closes = (near, far) if name == "intake" else (far, near)
    check_lift = draw(st.sampled_from(["0", '"0 mm"', '"1.0 mm"', '"0.040 in"']))
    return f"""[engine.{name}_valve]
count = {count}
diameter = "{diameter:.1f} mm"{_comment(draw)}
lift = "{diameter * draw(st.integers(20, 30)) / 100:.2f} mm"
opens = "{opens} deg {sides[0]}"
closes = "{closes} deg {sides[1]}"
check_lift = {check_lift}"""


def _port(draw: Draw, name: str, bore: float) -> str:
    lines = _some(draw, f"length = {length(draw, 30, 120)}", f"bore = {length(draw, 0.35 * bore, 0.45 * bore)}")
    return f"[engine.{name}_port]\n{lines}" if lines else ""


def _ignition(draw: Draw) -> str:
    if draw(st.booleans()):
        return ""
    first, last = draw(st.integers(0, 15)), draw(st.integers(24, 38))
    return f"[ignition]\nadvance = [[1000, {first}], [3000, {last}], [7000, {last}]]{_comment(draw)}"


def _fuel(draw: Draw) -> str:
    kind = draw(st.sampled_from(["", "petrol", "E5", "E10", "E85", "ethanol", "custom"]))
    if kind == "custom":
        return '[fuel]\nstoichiometric_afr = 14.2\ndensity = "740 kg/m^3"\nheating_value = "42,4 MJ/kg"'
    return f'[fuel]\nkind = "{kind}"{_comment(draw)}' if kind else ""


def _carburettors(draw: Draw, cylinders: int, throttle: int) -> str:
    groups = [list(range(1, cylinders + 1))]
    if draw(st.booleans()):
        groups = [[number] for number in range(1, cylinders + 1)]
    return "\n".join(_carburettor(draw, group, throttle) for group in groups)


def _carburettor(draw: Draw, feeds: list[int], throttle: int) -> str:
    venturi = throttle * draw(st.integers(78, 92)) / 100
    jet = draw(st.integers(42, 56)) / 1000 * venturi
    main = draw(
        st.sampled_from([f'"{jet:.3f} mm"', f'{{ number = {100 * jet:.0f}, means = "hundredths of a millimetre" }}'])
    )
    rest = _some(
        draw,
        'body_length = "55 mm"',
        f'main_air_bleed = "{0.03 * venturi:.2f} mm"{_comment(draw)}',
        f'main_nozzle = "{0.12 * venturi:.2f} mm"',
        'nozzle_lip = "7 mm"',
        f"intermediate_jet = {draw(st.sampled_from(['0', chr(34) + '0.6 mm' + chr(34)]))}",
        'intermediate_air_bleed = "1.1 mm"',
    )
    return f"""[[carburettor]]{_comment(draw)}
feeds = {feeds}
venturi = "{venturi:.2f} mm"
throttle_bore = "{throttle} mm"
main_jet = {main}
{rest}"""


def _intake(draw: Draw, cylinders: int, throttle: int) -> str:
    if draw(st.integers(0, 4)) == 0:
        return ""
    mouth = draw(st.sampled_from(["open", "stack", "filter"]))
    loss = "loss = 1.5" if mouth == "filter" and draw(st.booleans()) else ""
    bore = f"{throttle} mm"
    ducts = _some(
        draw,
        f'before_carburettor = [ {{ length = {length(draw, 20, 120)}, bore = "{throttle + 5} mm" }} ]',
        f'after_carburettor = [ {{ length = {length(draw, 20, 80)}, bore = "{bore}" }} ]{_comment(draw)}',
        *[
            f'branch.{number} = [ {{ length = {length(draw, 60, 200)}, bore_in = "{bore}",'
            f' bore_out = "{throttle - 1} mm" }} ]'
            for number in range(1, cylinders + 1)
        ],
    )
    return f'[intake]\nmouth = "{mouth}"\n{loss}\n{ducts}'


def _exhaust(draw: Draw, cylinders: int, bore: int) -> str:
    pipe = round(0.45 * bore)
    shape = draw(st.sampled_from(["apart", "collector", "crossover"])) if cylinders > 1 else "apart"
    lines = ["[exhaust]"]
    for number in range(1, cylinders + 1):
        pieces = [_pipe(draw, pipe, 250, 1200)]
        if shape == "collector":
            pieces.append('{ piece = "join", into = "collector 1" }')
        else:
            if shape == "crossover" and number == 1:
                pieces.append('{ piece = "crossover", to = 2, at = "200 mm", bore = "18 mm", length = "150 mm" }')
            pieces += _outlet(draw, pipe)
        lines.append(_route(f"route.{number}", pieces))
    if shape == "collector":
        wide = round(1.25 * pipe)
        lines.append(_route('after."collector 1"', [_pipe(draw, wide, 250, 800), *_outlet(draw, wide)]))
    if draw(st.booleans()):
        lines.append(f'lambda_sensor.1 = "150 mm"{_comment(draw)}')
    return "\n".join(lines)


def _route(key: str, pieces: list[str]) -> str:
    listed = "".join(f"  {piece},\n" for piece in pieces)
    return f"{key} = [   # from the port outwards\n{listed}]"


def _pipe(draw: Draw, bore: int, low: int, high: int) -> str:
    wall = draw(st.sampled_from(["", ', wall = "single"', ', wall = "double"', ', wall = "wrapped"']))
    bends = draw(st.sampled_from(["", ", bends = [90, 45]", ", bends = []"]))
    bores = f'bore = "{bore} mm"'
    if draw(st.integers(0, 3)) == 0:
        bores = f'bore_in = "{bore} mm", bore_out = "{bore + 6} mm"'
    return f'{{ piece = "pipe", length = {length(draw, low, high)}, {bores}{wall}{bends} }}'


def _outlet(draw: Draw, bore: int) -> list[str]:
    """Obstacles, a muffler or an insert near the end, and the end."""
    middle = {
        "nothing": [],
        "bolt": [f'{{ piece = "cross-bolt", diameter = "{0.2 * bore:.1f} mm", from_end = "40 mm" }}'],
        "plate": [f'{{ piece = "plate", width = "{0.35 * bore:.1f} mm", angle = "45 deg", from_end = "40 mm" }}'],
        "disc": ['{ piece = "disc", open_area_fraction = "60 %" }'],
        "insert": [f'{{ piece = "insert", length = "180 mm", bore = "{0.75 * bore:.1f} mm", packed = true }}'],
        "muffler": [_muffler(draw, bore), f'{{ piece = "pipe", length = "120 mm", bore = "{bore} mm" }}'],
        "valve": [f'{{ piece = "valve", bore = "{bore} mm", angle_by_rpm = [[2000, 40], [4000, 0]] }}'],
    }
    kind = draw(st.sampled_from(sorted(middle)))
    end = draw(st.sampled_from(["open", "flanged", "turn-out", "non-reflecting"]))
    return [*middle[kind], f'{{ piece = "end", kind = "{end}" }}']


def _muffler(draw: Draw, bore: int) -> str:
    core = draw(st.sampled_from(["perforated packed", "baffled", "louvred"]))
    chambers = draw(st.sampled_from(["", ", chambers = 2"]))
    return (
        f'{{ piece = "muffler", body_length = "350 mm", body_bore = "{2.2 * bore:.0f} mm",'
        f' core_bore = "{0.9 * bore:.0f} mm", core = "{core}"{chambers} }}'
    )


def _air(draw: Draw) -> str:
    if draw(st.booleans()):
        return ""
    return '[air]\ntemperature = "21,5 degC"\npressure = "29.6 inHg"\nhumidity = "45 %"'
