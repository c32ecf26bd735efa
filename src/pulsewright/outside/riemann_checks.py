"""Two gases meet: plateaus between the waves, shock place and density error of the compiled scheme."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from pulsewright.outside.bare_cells import BareDuct, Numbers, bare_duct, march
from pulsewright.outside.check import Check
from pulsewright.outside.tables import Row, table

TORO = "Toro, Riemann Solvers and Numerical Methods for Fluid Dynamics, 3rd ed., tables 4.1-4.3, 10.1"
NEAR_VACUUM = "toro2_123"
CELLS = 400  # on the unit length
MARGIN = 0.5  # more duct on both sides, so that the outer faces lie beyond every wave
# Every scheme of this kind heats the middle of two parting gases in its first steps; the error shrinks with
# the cells (60 % at 400, 13 % at 1200, 2 % at 2800, 0.5 % at 4000), so the near vacuum is judged on fine ones.
FINE_CELLS = 4800


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells on the unit length, and more duct on both sides."""

    cells: int = CELLS
    margin: float = MARGIN

    def places(self) -> Numbers:
        """Middles of the cells; the problem proper lies between 0 and 1."""
        count = round(self.cells * (1.0 + 2.0 * self.margin))
        return (np.arange(count) + 0.5) / self.cells - self.margin


USUAL, FINE = Grid(), Grid(FINE_CELLS, 0.0)


def checks() -> Iterator[Check]:
    """Every row of the table."""
    for row in table("riemann"):
        yield from checks_of(row)


def checks_of(row: Row) -> Iterator[Check]:
    """Plateaus; positivity where the gas almost vanishes; density error of the common tube."""
    near_vacuum = row["case"] == NEAR_VACUUM
    grid = FINE if near_vacuum else USUAL
    duct = solve(row, grid)
    name = f"{row['case'].replace('_', ' ')}, {grid.cells} cells"
    for what, expected, got, scale in plateau(row, duct, grid):
        yield Check(
            what=f"{name}: {what} between the waves",
            source=TORO,
            expected=expected,
            got=got,
            tolerance=0.01 * (scale or 1.0),
            kind="absolute" if scale else "relative",
        )
    if near_vacuum:
        yield from positivity(row)
    if row["case"] == "sod":
        yield Check(
            what=f"{name}: mean density error",
            source=TORO,
            expected=0.0,
            got=density_error(row, duct),
            tolerance=0.01,
            kind="absolute",
        )


def positivity(row: Row) -> Iterator[Check]:
    """On the usual cells nothing may fall to zero or below."""
    duct = solve(row, USUAL)
    for what, field in (("density", "rho"), ("pressure", "p")):
        yield Check(
            what=f"{row['case'].replace('_', ' ')}, {CELLS} cells: least {what} is above zero",
            source="positivity of the exact solution",
            expected=0.0,
            got=float(np.min(duct.field(field))),
            tolerance=-1e-6,  # strictly above
            kind="at least",
        )


def solve(row: Row, grid: Grid = USUAL) -> BareDuct:
    """March one row of the table to its end time."""
    x = grid.places()
    left = x < row["x0"]
    rho, u, p = (np.where(left, row[f"{q}L"], row[f"{q}R"]) for q in ("rho", "u", "p"))
    duct = bare_duct(1.0 + 2.0 * grid.margin, x.size, row["gamma"], rho, u, p)
    march(duct, row["t_end"])
    return duct


def plateau(row: Row, duct: BareDuct, grid: Grid) -> Iterator[tuple[str, float, float, float | None]]:
    """Mean pressure and speed over the middle half between the inner waves: name, expected, got, scale.

    The scale is what the difference is measured by where the value itself will not do: a speed of
    nothing by the sound speed.
    """
    t = row["t_end"]
    x = grid.places()
    begin, end = row["x0"] + t * row["left_tail"], row["x0"] + t * row["right_tail"]
    quarter = 0.25 * (end - begin)
    inside = (x > begin + quarter) & (x < end - quarter)
    yield "pressure", row["p_star"], float(np.mean(duct.field("p")[inside])), None
    still = abs(row["u_star"]) < 1e-3
    u_scale = float(np.sqrt(row["gamma"] * row["p_star"] / row["rho_starL"])) if still else None
    yield "speed", row["u_star"], float(np.mean(duct.field("u")[inside])), u_scale


def density_error(row: Row, duct: BareDuct) -> float:
    """Mean absolute difference of the density from the exact solution, over the unit length."""
    x = USUAL.places()
    inside = (x > 0.0) & (x < 1.0)
    return float(np.mean(np.abs(duct.field("rho") - exact_density(row, x))[inside]))


def exact_density(row: Row, x: Numbers) -> Numbers:
    """Left fan, contact, right shock (the pattern of the common tube), from the speeds of the table."""
    g = row["gamma"]
    s = (x - row["x0"]) / row["t_end"]
    sound = np.sqrt(g * row["pL"] / row["rhoL"])
    inside = 2.0 / (g + 1.0) + (g - 1.0) / ((g + 1.0) * sound) * (row["uL"] - s)
    fan = row["rhoL"] * np.maximum(inside, 0.0) ** (2.0 / (g - 1.0))
    return np.select(
        [s < row["left_head"], s < row["left_tail"], s < row["u_star"], s < row["right_head"]],
        [np.full_like(x, row["rhoL"]), fan, row["rho_starL"], row["rho_starR"]],
        row["rhoR"],
    )
