"""Mass and energy that go into and out of an engine over one cycle, from outside the kernel.

The kernel marches step by step; what the duct walls take is added up here, from the state before each
step, since the kernel keeps no sum of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pulsewright.kernel.cells import fastest_signal
from pulsewright.kernel.layout import ATMOSPHERE
from pulsewright.kernel.march import clear_sums, one_step
from pulsewright.network.case import Case


@dataclass(frozen=True, slots=True)
class Books:
    """One cycle. Masses in kg, energies in J; into the engine counts positive."""

    mass_gained: float  # of all gas inside, end of the cycle against its beginning
    mass_through_mouths: float  # net
    mass_from_carburettors: float  # fuel and bleed air, what the wall film keeps less what it gives counted
    mass_drawn: float  # everything that came in anywhere, for scale
    energy_gained: float
    energy_through_mouths: float
    energy_from_carburettors: float
    released: float  # by the burn
    work: float  # given to the pistons
    chamber_heat: float  # given to the chamber walls
    duct_heat: float  # given to the duct walls

    @property
    def mass_left_over(self) -> float:
        """What the books do not explain, of the mass drawn."""
        known = self.mass_through_mouths + self.mass_from_carburettors
        return (known - self.mass_gained) / self.mass_drawn

    @property
    def energy_left_over(self) -> float:
        """What the books do not explain, of the heat released."""
        known = self.energy_through_mouths + self.energy_from_carburettors + self.released
        spent = self.work + self.chamber_heat + self.duct_heat
        return (known - spent - self.energy_gained) / self.released


def inside(case: Case) -> tuple[float, float]:
    """Mass [kg] and energy [J] of the gas in all ducts, chambers and cylinders."""
    c = case.arrays["cells"][0]
    volume = volumes(c)
    rooms = case.arrays["reservoirs"]
    rooms = rooms[rooms["kind"] != ATMOSPHERE]
    mass = float(np.sum(c["rho"] * volume)) + float(np.sum(rooms["mass"]))
    return mass, float(np.sum(c["energy"] * volume)) + float(np.sum(rooms["energy"]))


def volumes(c: np.void) -> np.ndarray:
    """Of every slot, 0 where it is no cell. [m³]"""
    real = c["inverse_volume"] > 0.0
    return np.where(real, 1.0 / np.where(real, c["inverse_volume"], 1.0), 0.0)


def march_with_books(case: Case) -> Books:
    """March one cycle of a case and keep its books."""
    a = case.arrays
    c, run = a["cells"][0], a["run"][0]
    rate = 6.0 * float(run["rpm"])
    volume = volumes(c)
    mass, energy = inside(case)
    clear_sums(c, a["joints"], a["cylinders"], a["carburettors"])
    degrees, duct_heat, from_carburettors = 0.0, 0.0, 0.0
    behind = a["carburettors"]["behind"]
    films = [
        int(b["film_cell"][n]) - m for b in a["carburettors"] for n in range(b["fed"]) for m in range(b["port_cells"])
    ]
    fed = np.concatenate([a["carburettors"]["cell"], behind[behind >= 0], np.array(films, dtype=np.int64)])
    from_film = float(np.sum(a["carburettors"]["film_flow"])) * 120.0 / float(run["rpm"])
    while degrees < 720.0:
        dt = min(float(run["courant"]) / fastest_signal(c, int(run["slots"])), float(run["longest"]))
        width = min(dt * rate, 720.0 - degrees)
        dt = width / rate
        heating = c["heat"] * np.abs(c["momentum"]) * c["R"] * c["gamma"] / (c["gamma"] - 1.0)
        duct_heat += dt * float(np.sum(heating * (c["T"] - c["wall"]) * volume))
        one_step(
            c, a["ends"], a["joints"], a["reservoirs"], a["cylinders"], a["carburettors"], a["leaks"],
            a["valves"], degrees, width, dt,
        )  # fmt: skip
        from_carburettors += dt * float(np.sum(c["energy_source"][fed]))
        degrees += width if 720.0 - degrees - width > 1e-9 else 720.0
    new_mass, new_energy = inside(case)
    joints, cylinders, circuits = a["joints"], a["cylinders"], a["carburettors"]["circuit"]
    mouths = joints[a["reservoirs"]["kind"][joints["b_reservoir"]] == ATMOSPHERE]
    mouths = mouths[mouths["b_reservoir"] >= 0]
    to_film = float(np.sum(a["carburettors"]["film_share"] * circuits["sum_fuel"].sum(axis=1)))
    metered = float(np.sum(circuits["sum_fuel"]) + np.sum(circuits["sum_air"])) - to_film + from_film
    return Books(
        mass_gained=new_mass - mass,
        mass_through_mouths=float(np.sum(mouths["sum_ba"] - mouths["sum_ab"])),
        mass_from_carburettors=metered,
        mass_drawn=float(np.sum(mouths["sum_ba"])) + metered,
        energy_gained=new_energy - energy,
        energy_through_mouths=-float(np.sum(mouths["sum_energy"])),
        energy_from_carburettors=from_carburettors,
        released=float(np.sum(cylinders["released"])),
        work=float(np.sum(cylinders["work"])),
        chamber_heat=float(np.sum(cylinders["wall_heat"])),
        duct_heat=duct_heat,
    )
