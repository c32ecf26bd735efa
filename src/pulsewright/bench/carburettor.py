"""The carburettor with what sets its throat: a fixed venturi, a slide, or a piston that suction lifts."""

from dataclasses import dataclass

AIRBOX, OUTSIDE = "airbox", "outside"  # where the bowl is vented
FIXED, SLIDE, SUCTION = "fixed venturi", "slide", "constant velocity"  # kinds
MIDDLE_GROOVE = 3  # of a needle with five


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRow:
    """One row of holes round an emulsion tube."""

    below: float  # [m] their middle under the fuel in the bowl
    holes: int
    bore: float  # [m] of each


@dataclass(frozen=True, slots=True, kw_only=True)
class Needle:
    """The needle of a slide or piston, and the jet it stands in."""

    jet: float  # [m] bore of the needle jet
    diameter: float  # [m] of the straight part
    taper_deg: float  # whole angle of the taper
    straight: float  # [m] straight part above the jet's rim, slide down, clip in the middle groove
    clip: int  # groove of the clip, counted from the blunt end: a higher number raises the needle
    clip_pitch: float  # [m] from groove to groove

    @property
    def raised(self) -> float:
        """How much higher the clip holds it than in the middle groove. [m]"""
        return (self.clip - MIDDLE_GROOVE) * self.clip_pitch


@dataclass(frozen=True, slots=True, kw_only=True)
class Piston:
    """The piston of a constant velocity carburettor, pushed up by the throat's suction on its diaphragm."""

    mass: float  # [kg] with slide and needle
    diameter: float  # [m] of the diaphragm, where it works
    vent: float  # [m] bore of the hole between throat and chamber, which damps
    spring_down: float  # [N] force of the spring, piston down
    spring_up: float  # [N] piston fully raised


@dataclass(frozen=True, slots=True, kw_only=True)
class Carburettor:
    """One barrel; jets and bleeds as bore diameters, 0 = not fitted."""

    kind: str  # "fixed venturi", "slide", "constant velocity"
    feeds: tuple[int, ...]  # numbers of the cylinders behind it
    venturi: float  # [m] throat diameter, slide or piston fully raised
    throttle_bore: float  # [m]
    body_length: float  # [m] flange to flange; not part of the intake lengths
    venturi_from_front: float  # [m] throat behind the front face of the body
    throttle: float  # share of the way from shut to wide open, 1 = wide open
    throttle_closed_deg: float  # butterfly: angle to the cross-section at which it shuts
    main_jet: float  # [m]
    main_air_bleed: float  # [m]
    main_nozzle: float  # [m]; where a needle stands in a jet, that jet's bore
    nozzle_lip: float  # [m] height of the nozzle lip above the fuel in the bowl
    bowl_vent: str  # "airbox", "outside"
    intermediate_jet: float  # [m] idle and progression; the pilot jet of a slide
    intermediate_air_bleed: float  # [m]
    idle_outlet: float  # [m] hole as large as what the mixture screw leaves open
    emulsion_tube: tuple[HoleRow, ...] = ()  # through which the main air bleed works; none: it opens above the fuel
    pump_volume: float = 0.0  # [m³] that the accelerator pump gives on the throttle's whole way; 0: no pump
    pump_time: float = 0.0  # [s] in which its shot falls to 1/e of itself
    cutaway: float = 0.0  # [m] of a slide, on its air side
    needle: Needle | None = None
    piston: Piston | None = None

    @property
    def needle_jet(self) -> float:
        """Bore of the jet that the needle stands in, 0 where there is none. [m]"""
        return self.needle.jet if self.needle else 0.0

    @property
    def wide_open(self) -> bool:
        """Nothing stands in the bore behind the venturi."""
        return self.throttle >= 1.0 and self.piston is None
