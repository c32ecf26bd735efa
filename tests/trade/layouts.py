"""Engines of the tests' own in the layouts that a shop meets, one to six cylinders. All invented.

Every cylinder is the same, so that where firing and pipes treat all alike, all must run alike.
"""

from __future__ import annotations

from collections.abc import Sequence

CYLINDER = """format = "pulsewright setup 1"
name = "{name}"
[engine]
cylinders = {cylinders}
bore = "72 mm"
stroke = "60 mm"
rod = "120 mm"
compression_ratio = 9.5
firing = {firing}
cooling = "{cooling}"
[engine.intake_valve]
diameter = "36 mm"
lift = "9 mm"
opens = "28 deg BTDC"
closes = "58 deg ABDC"
[engine.exhaust_valve]
diameter = "31 mm"
lift = "8.5 mm"
opens = "58 deg BBDC"
closes = "28 deg ATDC"
[ignition]
advance = [[1000, 10], [4000, 34], [9000, 36]]
"""
OPEN = '{ piece = "end", kind = "open" }'


def pipe(length_mm: float, bore_mm: float) -> str:
    """A straight pipe of a route."""
    return f'{{ piece = "pipe", length = "{length_mm} mm", bore = "{bore_mm} mm" }}'


def join(into: str) -> str:
    """The end of a route in a collector."""
    return f'{{ piece = "join", into = "{into}" }}'


def collected(groups: Sequence[Sequence[int]], *, first: str, second: str, last: str) -> str:
    """Primaries of each group into one secondary, the secondaries into one tail; with one group there are none."""
    lines = []
    for n, group in enumerate(groups, 1):
        into = f"pair {n}" if len(groups) > 1 else "collector"
        lines += [f"route.{cylinder} = [ {first}, {join(into)} ]" for cylinder in group]
        if len(groups) > 1:
            lines.append(f'after."{into}" = [ {second}, {join("collector")} ]')
    lines.append(f"after.collector = [ {last}, {OPEN} ]")
    lines += [f'lambda_sensor.{cylinder} = "150 mm"' for group in groups for cylinder in group]
    return "\n".join(["[exhaust]", *sorted(lines), 'lambda_sensor.collector = "100 mm"', ""])


def separate(cylinders: int) -> str:
    """A pipe for each."""
    lines = [f'route.{n} = [ {pipe(800, 36)}, {OPEN} ]\nlambda_sensor.{n} = "250 mm"' for n in range(1, cylinders + 1)]
    return "\n".join(["[exhaust]", *lines, ""])


def engine(
    name: str, firing: Sequence[float], exhaust: str, feeds: Sequence[Sequence[int]], cooling: str = "water"
) -> str:
    """A sheet; feeds: cylinders behind each carburettor."""
    text = CYLINDER.format(name=name, cylinders=len(firing), firing=list(firing), cooling=cooling)
    for group in feeds:
        venturi = 30 if len(group) == 1 else 33
        text += f'[[carburettor]]\nkind = "fixed venturi"\nfeeds = {list(group)}\nventuri = "{venturi} mm"\n'
    return text + exhaust


def each(cylinders: int) -> list[list[int]]:
    """A carburettor for every cylinder."""
    return [[n] for n in range(1, cylinders + 1)]


SIX = (0.0, 480.0, 240.0, 600.0, 120.0, 360.0)  # 1-5-3-6-2-4, in a row or opposed
FIVE = (0.0, 144.0, 576.0, 288.0, 432.0)  # 1-2-4-5-3
FOUR = (0.0, 540.0, 180.0, 360.0)  # 1-3-4-2
_SIX_PIPES = {"first": pipe(420, 34), "second": pipe(350, 42), "last": pipe(450, 52)}
_FOUR_PIPES = {"first": pipe(420, 34), "second": pipe(350, 40), "last": pipe(450, 48)}
_ONE_COLLECTOR = {"first": pipe(650, 34), "second": "", "last": pipe(450, 46)}

# All cylinders of these run alike: even firing, and each has the same pipes and partners.
ALIKE = {
    "six in a row, 6-3-1": engine(
        "six in a row", SIX, collected([(1, 6), (2, 5), (3, 4)], **_SIX_PIPES), each(6)
    ),
    "six in a row, 6-2-1": engine("six in a row", SIX, collected([(1, 2, 3), (4, 5, 6)], **_SIX_PIPES), each(6)),
    "opposed six, a pipe each": engine("opposed six", SIX, separate(6), each(6), "air"),
    "four in a row, 4-2-1": engine("four in a row", FOUR, collected([(1, 4), (2, 3)], **_FOUR_PIPES), each(4)),
    "four in a row, 4-1": engine("four in a row", FOUR, collected([(1, 2, 3, 4)], **_ONE_COLLECTOR), each(4)),
    "three in a row, 3-1": engine(
        "three in a row", (0.0, 480.0, 240.0), collected([(1, 2, 3)], **_ONE_COLLECTOR), each(3)
    ),
    "opposed twin": engine("opposed twin", (0.0, 360.0), separate(2), each(2), "air"),
}  # fmt: skip
# The middle cylinder of each bank gets more of the fuel that runs along the walls.
WET = """[intake]
wall_film = "30 %"
film_split = { 1 = 0.3, 2 = 0.4, 3 = 0.3, 4 = 0.3, 5 = 0.4, 6 = 0.3 }
"""
# The cylinders of these do not: uneven firing in a shared carburettor or a shared collector.
UNLIKE = {
    "narrow twin, 2-1": engine(
        "narrow twin", (0.0, 405.0), collected([(1, 2)], **_ONE_COLLECTOR), [[1, 2]], "air"
    ),
    "four in a V, uneven, 4-1": engine(
        "four in a V", (0.0, 180.0, 450.0, 630.0), collected([(1, 2, 3, 4)], **_ONE_COLLECTOR), each(4)
    ),
    "six on two carburettors, 6-2-1": engine(
        "six in a row", SIX, collected([(1, 2, 3), (4, 5, 6)], **_SIX_PIPES), [[1, 2, 3], [4, 5, 6]]
    ) + WET,
}  # fmt: skip
