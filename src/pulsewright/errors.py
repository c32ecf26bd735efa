"""What a person is told when something cannot be done: what, where, what to try.

::

    PulsewrightError
     |- InputError         exit 4    a sheet, a session or a pull file is wrong
     |- UsageError         exit 2    the command was typed in a way that cannot work
     |- MissingToolError   exit 3    an optional package or program is not installed
     |- LimitError         exit 1    a limit or an expectation was not met
     `- CancelledError     exit 130  the person stopped the run

Nobody who uses the tool should see a traceback for one of these; a traceback means a defect in the tool.
"""

import difflib
from collections.abc import Iterable


class PulsewrightError(Exception):
    """A failure that has a plain explanation.

    Parameters
    ----------
    what : one sentence without a full stop, with the value that was found and the range that is allowed.
    where : file and line, key or channel; None where there is no place to point at.
    hint : what to try next; None where there is nothing useful to say.
    """

    exit_code: int = 1

    def __init__(self, what: str, *, where: str | None = None, hint: str | None = None) -> None:
        super().__init__(what, where, hint)
        self.what = what
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        lines = [self.what]
        if self.where:
            lines.append(f"  where: {self.where}")
        if self.hint:
            lines.append(f"  try:   {self.hint}")
        return "\n".join(lines)

    def __reduce__(self) -> tuple:
        # where and hint are keyword-only, so the default would fail when an error crosses to another process
        return _rebuild, (type(self), self.what, self.where, self.hint)

    def at(self, where: str) -> "PulsewrightError":
        """The same error pointing at `where`, unless it points somewhere already."""
        return type(self)(self.what, where=self.where or where, hint=self.hint)

    def as_json(self) -> dict[str, str | int | None]:
        """The one shape of an error for programs that read our output."""
        return {
            "format": "pulsewright error 1",
            "what": self.what,
            "where": self.where,
            "hint": self.hint,
            "exit_code": self.exit_code,
        }


class InputError(PulsewrightError):
    """A sheet, a session or a pull file holds something that cannot be used."""

    exit_code = 4


class UsageError(PulsewrightError):
    """The command or the call cannot work as it was given."""

    exit_code = 2


class MissingToolError(PulsewrightError):
    """An optional package or program is needed and not there."""

    exit_code = 3


class LimitError(PulsewrightError):
    """The run finished, but a limit or an expectation was not met."""

    exit_code = 1


class CancelledError(PulsewrightError):
    """The person stopped the run."""

    exit_code = 130

    def __init__(self, what: str = "stopped", *, where: str | None = None, hint: str | None = None) -> None:
        super().__init__(what, where=where, hint=hint)


def nearest(word: str, known: Iterable[str], count: int = 3) -> list[str]:
    """Known words that look like `word`, best first; empty when none comes close."""
    return difflib.get_close_matches(word, list(known), n=count, cutoff=0.5)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A hint for an unknown name: the nearest known ones, or the whole list where nothing is near."""
    names = sorted(known)
    close = nearest(word, names)
    return "did you mean " + " or ".join(close) + "?" if close else "known here: " + ", ".join(names)


def _rebuild(kind: type[PulsewrightError], what: str, where: str | None, hint: str | None) -> PulsewrightError:
    return kind(what, where=where, hint=hint)
