"""What was heard, as a person reads it: a sentence, a table over speed, the loudest orders, what to believe."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from pulsewright.sound.at_a_speed import SpeedSound
    from pulsewright.sound.listen import Listening

MOST_ROWS = 12  # of a sweep
LOUDEST = 5
NEAR_THE_RULE = 0.05  # share of a speed within which the model may be on the wrong side
HEARD_BY_NOBODY = 1.0  # [dB] change that hardly anybody hears (common practice)
WORTH_A_SCALE = 5.0  # [dB] from which a reader is helped by a measure of loudness (common practice: 10 dB is half)
LAW = (
    "No proof of anything: what counts is a measurement with an approved meter by those who may make it, and local "
    "rules. The stationary test is held without load and is quieter than this, full throttle on the dyno."
)


def print_sound(heard: list[Listening], rated: float | None, swept: bool) -> None:
    """Print everything to standard output."""
    sounds = heard[0].sounds
    rows = _spread(len(sounds)) if swept else list(range(len(sounds)))
    click.echo(_title(heard))
    if rated is not None:
        click.echo(_wrapped(_speed_words(sounds[0].rpm, rated)))
    if len(heard) == 2:
        click.echo(_wrapped(_finding(heard, rows)))
        if any(each.has_perforated_core for each in heard):
            click.echo(_wrapped(_harshness(heard, rows)))
    _print_levels(heard, rows)
    _print_louder_intake(heard)
    if len(sounds) == 1:
        _print_orders(heard)
        _print_bands(heard)
    _print_doubts(heard)


def _title(heard: list[Listening]) -> str:
    names = [each.setup.name for each in heard]
    if len(names) == 1:
        return f"{names[0]}, full throttle"
    second = "the other one, of the same name" if names[1] == names[0] else names[1]
    return f"1: {names[0]}\n2: {second}\nfull throttle"


def _speed_words(rpm: float, rated: float) -> str:
    from pulsewright.sound.stationary_speed import SLOW_ENGINE

    share = "three quarters" if rpm > 0.6 * rated else "half"
    where = f"where the stationary test is held: {share} of {rated:.0f}, the speed of most power in the model"
    near = abs(rated / SLOW_ENGINE - 1.0) < NEAR_THE_RULE
    doubt = f". The rule changes at {SLOW_ENGINE:.0f}: see the machine's papers" if near else ""
    return f"{rpm:.0f} rpm, {where}{doubt}"


def _finding(heard: list[Listening], rows: list[int]) -> str:
    from pulsewright.sound.listen import differences
    from pulsewright.sound.places import PLACES

    parts, largest = [], 0.0
    for place in PLACES:
        every = differences(heard[0], heard[1], place.key)
        change = [every[row] for row in rows]
        low, high = min(change), max(change)
        parts.append(f"{_change_words(low, high)} at {place.words.split(' ')[0]} m")
        largest = max(largest, abs(low), abs(high))
    scale = " Ten decibels less sound about half as loud." if largest >= WORTH_A_SCALE else ""
    return f"2 against 1: {'; '.join(parts)}.{scale}"


def _harshness(heard: list[Listening], rows: list[int]) -> str:
    """The high part alone, where packing does its work."""
    from pulsewright.sound.listen import HARSH_FROM, differences_above

    every = differences_above(heard[0], heard[1], "near")
    change = [every[row] for row in rows]
    return (
        f"Of it above {HARSH_FROM:.0f} Hz, what is heard as harsh: {_change_words(min(change), max(change))} at 0.5 m."
    )


def _change_words(low: float, high: float) -> str:
    if max(abs(low), abs(high)) < HEARD_BY_NOBODY:
        return "as loud"
    if low * high < 0.0 and min(abs(low), abs(high)) >= HEARD_BY_NOBODY:
        return f"{-low:.0f} dB(A) quieter to {high:.0f} louder, by speed"
    middle = 0.5 * (low + high)
    least, most = sorted((abs(low), abs(high))) if low * high > 0.0 else (0.0, max(abs(low), abs(high)))
    size = f"{most:.0f}" if round(least) == round(most) else f"{least:.0f} to {most:.0f}"
    return f"{size} dB(A) {'quieter' if middle < 0.0 else 'louder'}"


def _print_levels(heard: list[Listening], rows: list[int]) -> None:
    from pulsewright.sound.listen import differences
    from pulsewright.sound.places import PLACES

    table = _Table(["rpm"])
    table.add_column([f"{heard[0].sounds[row].rpm:.0f}" for row in rows])
    for place in PLACES:
        words = place.words.split(",")[0].split(" from")[0].split(" to")[0]
        for number, each in enumerate(heard, start=1):
            which = f" ({number})" if len(heard) == 2 else ""
            table.heading(f"dB(A)\n{words}{which}")
            table.add_column([f"{each.sounds[row].heard[place.key].level:.1f}" for row in rows])
        if len(heard) == 2:
            change = differences(heard[0], heard[1], place.key)
            table.heading("2 - 1")
            table.add_column([f"{change[row]:+.1f}" for row in rows])
    for number, each in enumerate(heard, start=1):
        which = f" ({number})" if len(heard) == 2 else ""
        for side in ("exhaust", "intake"):
            table.heading(f"{side} alone\n7.5 m{which}")
            table.add_column([_level(each.sounds[row].heard["far"].by_side[side]) for row in rows])
    table.show()


def _print_louder_intake(heard: list[Listening]) -> None:
    for number, each in enumerate(heard, start=1):
        sides = [(sound.rpm, sound.heard["far"].by_side) for sound in each.sounds]
        louder = [rpm for rpm, side in sides if side["intake"] >= side["exhaust"]]
        if louder:
            which = f"In {number} the" if len(heard) == 2 else "The"
            share = "" if len(sides) == 1 else f" at {len(louder)} of {len(sides)} speeds, from {min(louder):.0f} rpm"
            click.echo(
                _wrapped(f"{which} intake is the louder side{share}; there a quieter exhaust would hardly be heard.")
            )


def _print_orders(heard: list[Listening]) -> None:
    for number, each in enumerate(heard, start=1):
        which = f" of {number}" if len(heard) == 2 else ""
        loudest = each.sounds[0].heard["near"].loudest(LOUDEST)
        said = ", ".join(f"{o.order:g} ({o.frequency:.0f} Hz, {o.level:.0f} dB(A))" for o in loudest)
        click.echo(_wrapped(f"Loudest orders of crank speed{which} at 0.5 m: {said}"))


def _print_bands(heard: list[Listening]) -> None:
    """Third octaves at 0.5 m."""
    first: SpeedSound = heard[0].sounds[0]
    names = [f"{band.name:g}" for band, _ in first.heard["near"].bands(first.highest)]
    table = _Table(["third octave\nHz"])
    table.add_column(names)
    for number, each in enumerate(heard, start=1):
        which = f" ({number})" if len(heard) == 2 else ""
        table.heading(f"dB(A)\n0.5 m{which}")
        table.add_column([_level(level, 0) for _, level in each.sounds[0].heard["near"].bands(first.highest)])
    table.show()


def _print_doubts(heard: list[Listening]) -> None:
    from pulsewright.sound.as_json import assumed
    from pulsewright.sound.listen import DIFFERENCE_BAND, LEVEL_BAND, NOT_IN_IT, PERFORATED_CORE

    for number, each in enumerate(heard, start=1):
        for outcome in dict.fromkeys(o for o in each.outcomes if o != "converged"):
            at = [f"{s.rpm:.0f}" for s, o in zip(each.sounds, each.outcomes, strict=True) if o == outcome]
            which = f"setup {number}, " if len(heard) == 2 else ""
            click.echo(_wrapped(f"{which}{', '.join(at)} rpm: {outcome}. Heard is one cycle of many"))
        if each.has_perforated_core:
            which = f" ({number})" if len(heard) == 2 else ""
            click.echo(_wrapped(f"Note{which}: {PERFORATED_CORE}."))
    believed = f"a level is good to about ±{LEVEL_BAND:.0f} dB"
    if len(heard) == 2:
        believed += f", the difference to about ±{DIFFERENCE_BAND:.0f} dB"
    highest = heard[0].sounds[0].highest
    click.echo(
        _wrapped(
            f"How far to believe it: {believed} (our estimate, no measurement stands behind it). Counted up to "
            f"{highest:.0f} Hz, where the model ends. Not in it: {NOT_IN_IT}."
        )
    )
    at = assumed(heard[0])
    ends = f"exhaust ends {at['exhaust_end_height_m']:g} m high and {at['ends_apart_m']:g} m apart"
    intake = f"intake {at['intake_mouth_height_m']:g} m high, {at['intake_ahead_m']:.2g} m ahead of them"
    click.echo(_wrapped(f"Assumed: hard ground, nothing else that reflects or shields; {ends}; {intake}."))
    click.echo(_wrapped(LAW))


def _spread(count: int) -> list[int]:
    """Rows of a sweep that are shown, the first and the last among them."""
    shown = min(count, MOST_ROWS)
    return sorted({round(n * (count - 1) / max(shown - 1, 1)) for n in range(shown)})


def _level(level: float, digits: int = 1) -> str:
    from pulsewright.sound.tone_lines import SILENCE

    return "-" if level <= SILENCE else f"{level:.{digits}f}"


class _Table:
    """Columns one after the other, printed as in `predict`."""

    def __init__(self, headings: list[str]) -> None:
        self.headings, self.columns = headings, []

    def heading(self, text: str) -> None:
        self.headings.append(text)

    def add_column(self, texts: list[str]) -> None:
        self.columns.append(texts)

    def show(self) -> None:
        from rich.console import Console
        from rich.table import Table
        from rich.text import Text

        console = Console(highlight=False)
        if not console.is_terminal:
            console = Console(highlight=False, width=140)
        table = Table(box=None, header_style="bold", pad_edge=False)
        for text in self.headings:
            table.add_column(Text(text), justify="right")
        for row in zip(*self.columns, strict=True):
            table.add_row(*(Text(text) for text in row))
        console.print(table)


def _wrapped(text: str) -> str:
    from shutil import get_terminal_size
    from textwrap import fill

    return fill(text, max(get_terminal_size((100, 24)).columns, 60), subsequent_indent="  ")
