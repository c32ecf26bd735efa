"""`pulsewright listen SHEET`: how loud the machine is, what of it one hears, and a sound file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.json_output import STANDARD_OUTPUT, json_option, write_json
from pulsewright.cli.speeds import parse_speeds
from pulsewright.errors import InputError, UsageError

if TYPE_CHECKING:
    from pulsewright.bench.setup import Setup
    from pulsewright.sound.listen import Listening

SHORTEST, LONGEST = 0.2, 60.0  # [s] of one machine in a file
NEXT_TO_IT = "far"  # the microphone of the sound file


@click.command(name="listen")
@click.argument("sheet", metavar="SHEET")
@click.option(
    "--rpm",
    "speeds",
    metavar="SPEEDS",
    help="Engine speeds, as for predict. Default: the speed of the published stationary test.",
)
@click.option("--sweep", metavar="FROM:TO", help="From one engine speed to another, as when the engine revs up.")
@click.option(
    "--against", metavar="SHEET2", help="Compare with another sheet, or with another setup of the session SHEET."
)
@click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="PATH=VALUE",
    help="Compare with SHEET changed like this, such as exhaust.route.1.1.length='800 mm'. May be repeated.",
)
@click.option("--setup", "setup_name", metavar="NAME", help="Where SHEET is a session: which of its setups.")
@click.option(
    "--wav",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write what is heard at 7.5 m; two setups one after the other, at one volume.",
)
@click.option("--seconds", type=float, default=5.0, show_default=True, metavar="S", help="Length of each in the file.")
@click.option("--quiet", "-q", is_flag=True, help="No progress.")
@json_option
def command(
    sheet: str, speeds: str | None, sweep: str | None, against: str | None, changes: tuple[str, ...],
    setup_name: str | None, wav: Path | None, seconds: float, quiet: bool, json_to: str | None,
) -> None:  # fmt: skip
    """Say how loud the machine is at full throttle, where the sound comes from, and how a change sounds.

    SHEET is a setup sheet, or a session folder with its setups.
    """
    asked = parse_speeds(speeds) if speeds else None
    swept = _swept(sweep) if sweep else None
    _check(asked, swept, against, changes, wav, seconds, json_to)
    from pulsewright.cli.first_start import tell_first_start

    setups = _setups(sheet, setup_name, against, changes)
    tell_first_start()
    rated = None if asked or swept else _rated(setups[0])
    rpm = asked or _speeds(swept, rated)
    heard = _listen(setups, rpm, quiet)
    file = _write_wav(heard, wav, swept, seconds) if wav else None
    if json_to:
        from pulsewright.sound.as_json import as_json

        extra = {"sheet": sheet, "against": against, "changes": list(changes), "rated_rpm": rated, "wav": file}
        write_json({**as_json(heard), **extra}, json_to)
    if json_to != STANDARD_OUTPUT:
        from pulsewright.cli.sound_table import print_sound

        print_sound(heard, rated, swept is not None)
    if file:
        click.echo(f"written: {wav}", err=True)


def _swept(text: str) -> tuple[float, float]:
    parts = text.split(":")
    if len(parts) != 2:
        raise UsageError(f"'{text}' is no sweep", where="--sweep", hint="write --sweep 2000:6000")
    try:
        start, end = (parse_speeds(part)[0] for part in parts)
    except UsageError as error:
        raise UsageError(error.what, where="--sweep", hint="write --sweep 2000:6000") from None
    if start == end:
        raise UsageError("the sweep ends where it starts", where="--sweep", hint="--rpm takes one speed")
    return start, end


def _check(
    asked: list[float] | None, swept: tuple[float, float] | None, against: str | None, changes: tuple[str, ...],
    wav: Path | None, seconds: float, json_to: str | None,
) -> None:  # fmt: skip
    """Fail before the model runs, not after it."""
    if asked and swept:
        raise UsageError("--rpm and --sweep cannot go together", hint="leave one of them out")
    if against and changes:
        raise UsageError(
            "--against and --set cannot go together", hint="--set compares SHEET with itself, changed; or edit SHEET2"
        )
    if wav and asked and len(asked) > 1:
        raise UsageError("a sound file is of one speed or of a sweep", hint="--rpm 3000, or --sweep 2000:6000")
    if wav and wav.suffix.lower() != ".wav":
        raise UsageError(f"'{wav}' is no name for a sound file", where="--wav", hint="end it in .wav")
    if not SHORTEST <= seconds <= LONGEST:
        raise UsageError(f"--seconds {seconds:g} is not between {SHORTEST:g} and {LONGEST:g}")
    for target in (wav, Path(json_to) if json_to and json_to != STANDARD_OUTPUT else None):
        if target and not target.absolute().parent.is_dir():
            raise InputError(f"there is no folder '{target.parent}'", hint="make it first, or name another one")


def _setups(sheet: str, name: str | None, against: str | None, changes: tuple[str, ...]) -> list[Setup]:
    from pulsewright.cli.sheet_argument import is_session, setup_of

    setups = [setup_of(sheet, (), name)]
    if changes:
        setups.append(setup_of(sheet, changes, name))
    if against:
        named = is_session(sheet) and not Path(against).exists()
        setups.append(setup_of(sheet, (), against) if named else setup_of(against, ()))
    return setups


def _rated(setup: Setup) -> float:
    from pulsewright.sound.stationary_speed import rated_speed

    return rated_speed(setup)


def _speeds(swept: tuple[float, float] | None, rated: float | None) -> list[float]:
    from pulsewright.sound.listen import sweep_speeds
    from pulsewright.sound.stationary_speed import stationary_speed

    if swept:
        return sweep_speeds(*swept)
    assert rated is not None
    return [stationary_speed(rated)]


def _listen(setups: list[Setup], rpm: list[float], quiet: bool) -> list[Listening]:
    from pulsewright.cli.progress import progress_of
    from pulsewright.sound.listen import listen

    with progress_of("listening", len(setups) * len(rpm), quiet) as progress:
        return listen(setups, rpm, progress)


def _write_wav(heard: list[Listening], file: Path, swept: tuple[float, float] | None, seconds: float) -> dict[str, Any]:
    from pulsewright.sound.resynthesis import pressure_over_time, steady_speed, swept_speed
    from pulsewright.sound.wav_file import PAUSE, RATE, one_after_the_other, write_wav

    only = heard[0].sounds[0].rpm
    rpm = swept_speed(*swept, seconds, RATE) if swept else steady_speed(only, seconds, RATE)
    parts = [pressure_over_time(each.spectra(NEXT_TO_IT), rpm, RATE) for each in heard]
    full_scale = write_wav(file, one_after_the_other(parts))
    return {
        "file": str(file), "place": NEXT_TO_IT, "rate_hz": RATE, "seconds_each": seconds, "pause_s": PAUSE,
        "full_scale_pa": full_scale,
    }  # fmt: skip
