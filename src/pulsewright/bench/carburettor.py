"""The carburettor, wide open."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Carburettor:
    """One barrel; jets and bleeds as bore diameters, 0 = not fitted."""

    kind: str  # "fixed venturi", "slide", "constant velocity"
    feeds: tuple[int, ...]  # numbers of the cylinders behind it
    venturi: float  # [m] throat diameter
    throttle_bore: float  # [m]
    body_length: float  # [m] flange to flange; not part of the intake lengths
    venturi_from_front: float  # [m] throat behind the front face of the body
    main_jet: float  # [m]
    main_air_bleed: float  # [m]
    main_nozzle: float  # [m]
    nozzle_lip: float  # [m] height of the nozzle lip above the fuel in the bowl
    intermediate_jet: float  # [m]
    intermediate_air_bleed: float  # [m]
