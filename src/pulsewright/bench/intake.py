"""The intake, from the outside to the cylinder heads."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Mouth:
    """Where the air comes in."""

    kind: str  # "open", "stack", "filter"
    loss: float  # [-] pressure loss of a filter over the dynamic head in the first duct behind it; else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Duct:
    """A straight or tapered intake duct, in the direction of the air."""

    length: float  # [m]
    bore_in: float  # [m] bore at the upstream end
    bore_out: float  # [m] bore at the downstream end


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """Ducts in the order in which the air meets them.

    With a carburettor for each cylinder (or group), `before_carburettor` and `after_carburettor` are
    repeated for each of them; `branch` is keyed by cylinder number.
    """

    mouth: Mouth
    before_carburettor: tuple[Duct, ...]
    after_carburettor: tuple[Duct, ...]
    branch: dict[int, tuple[Duct, ...]]
    plenum: float | None = None  # [m³] still-air volume between the mouth and the carburettors
    wall_film: float = 0.0  # share of the metered fuel that runs along the walls to the ports
    film_split: dict[int, float] = field(default_factory=dict)  # by cylinder, of its carburettor's film; each sums to 1
