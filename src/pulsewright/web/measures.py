"""How one browser wants to see numbers, and what it wants the page to look like. Kept in a cookie of that browser."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any
from urllib.parse import parse_qsl, urlencode

from pulsewright.figures.numbers import number, signed

COOKIE = "pw_view"
CHOICES: dict[str, tuple[str, ...]] = {
    "lengths": ("mm", "in"),
    "torque": ("N·m", "lbf·ft"),
    "mixture": ("lambda", "AFR"),
    "theme": ("auto", "paper", "slate"),
    "size": ("normal", "large"),
    "decimal": ("point", "comma"),
}
INCH = 25.4  # [mm], exact by definition
POUND_FOOT = 1.3558179483  # [N m], from the exact pound, inch and standard gravity


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One browser's choices. Metric, N·m, lambda and the system's own theme where nothing was chosen."""

    lengths: str = "mm"
    torque: str = "N·m"
    mixture: str = "lambda"
    theme: str = "auto"
    size: str = "normal"
    decimal: str = "point"

    def torque_of(self, newton_metres: float) -> float:
        """Torque in the chosen unit."""
        return newton_metres / POUND_FOOT if self.torque == "lbf·ft" else newton_metres

    def mixture_of(self, lambda_: float, stoichiometric: float) -> float:
        """Lambda, or the air-fuel ratio of the named fuel."""
        return lambda_ * stoichiometric if self.mixture == "AFR" else lambda_

    def length_of(self, metres: float) -> float:
        """A length in mm or inches."""
        return 1e3 * metres / (INCH if self.lengths == "in" else 1.0)

    def metres(self, shown: float) -> float:
        """The length that is shown so. [m]"""
        return shown * 1e-3 * (INCH if self.lengths == "in" else 1.0)

    def say(self, value: float | None, digits: int = 0, *, plus: bool = False) -> str:
        """A number as this browser reads it."""
        text = (signed if plus else number)(value, digits)
        return text.replace(".", ",") if self.decimal == "comma" else text

    def say_torque(self, newton_metres: float, digits: int = 1) -> str:
        """Torque with its unit."""
        return f"{self.say(self.torque_of(newton_metres), digits)}\u202f{self.torque}"

    def say_length(self, metres: float) -> str:
        """A length with its unit."""
        return f"{self.say(self.length_of(metres), 2 if self.lengths == 'in' else 0)}\u202f{self.lengths}"

    def as_cookie(self) -> str:
        """The choices as the text of a cookie."""
        return urlencode({f.name: getattr(self, f.name) for f in fields(self)})


def view_from(cookie: str) -> View:
    """The choices in a cookie; what it does not know, or says wrongly, is as if not chosen."""
    return chosen(View(), dict(parse_qsl(cookie[:500])))


def chosen(view: View, wanted: Mapping[str, Any]) -> View:
    """The view with choices taken over where they are known."""
    good = {name: wanted[name] for name, values in CHOICES.items() if wanted.get(name) in values}
    return replace(view, **good)
