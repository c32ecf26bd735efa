"""Poppet valves and their timing, as a cam card gives them."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Valve:
    """The valves of one kind (intake or exhaust) of one cylinder.

    Timing counts in crank degrees after the cylinder's own firing top dead centre, 0 to 720. It holds at
    `check_lift`: with 0 it is seat to seat, otherwise the valve leaves its seat earlier and comes back later.
    """

    count: int
    diameter: float  # [m] of the valve head
    lift: float  # [m] highest
    opens_deg: float  # [deg] where the lift rises through check_lift
    closes_deg: float  # [deg] where the lift falls through check_lift; always above opens_deg
    check_lift: float  # [m] 0 = seat to seat
    lift_table: tuple[tuple[float, float], ...] | None = None  # rows (crank angle [deg], lift [m])
    flow_factor: float = 1.0  # [-] effective area with the port, over that of a usual valve of this size

    @property
    def duration_deg(self) -> float:
        """Crank angle between opening and closing at check_lift. [deg]"""
        return self.closes_deg - self.opens_deg
