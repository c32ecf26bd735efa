"""Steps, plates, rods, butterfly plates and walls: losses of steady flow."""

from __future__ import annotations

from collections.abc import Iterator

from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table
from pulsewright.physics.area_losses import jet_loss, sharp_orifice, sudden_contraction, sudden_expansion
from pulsewright.physics.obstacle_losses import butterfly_loss, disc_loss, rod_blocked_fraction, rod_loss
from pulsewright.physics.pipe_friction import darcy_factor, turbulent_factor

BORDA = "Borda-Carnot, momentum balance"
IDELCHIK = "Idelchik, Handbook of Hydraulic Resistance (form from memory)"
WEISBACH = "Weisbach 1855 (form from memory)"


def checks() -> Iterator[Check]:
    """All loss tables."""
    yield from _steps()
    yield from _obstacles()
    yield from _walls()


def _steps() -> Iterator[Check]:
    relations = (
        ("sudden expansion", BORDA, "K_sudden_expansion_on_small_velocity", sudden_expansion),
        ("sudden contraction", IDELCHIK, "K_contraction_idelchik_on_small_velocity", sudden_contraction),
        ("sharp orifice", IDELCHIK, "K_sharp_orifice_on_pipe_velocity_idelchik", sharp_orifice),
        ("contracted jet", WEISBACH, "K_orifice_weisbach_contraction_on_pipe_velocity", jet_loss),
    )
    for what, source, column, relation in relations:
        rows = [
            (f"area ratio {r['small/large_area_s']:g}", r[column], relation(r["small/large_area_s"]))
            for r in table("area_losses")
        ]
        yield worst(what, source, rows, 1e-6)
    yield worst(
        "sudden expansion",
        "fluids 1.3.1 (Rennels)",
        (
            (
                f"d ratio {r['d_small/d_large']:g}",
                r["K_expansion_fluids_Rennels_on_small"],
                sudden_expansion(r["d_small/d_large"] ** 2),
            )
            for r in table("step_losses_fluids")
        ),
        1e-6,
    )
    yield worst(
        "sharp orifice, lasting loss",
        "ISO 5167 by fluids 1.3.1",
        (
            (f"beta {r['beta']:g}", r["K_permanent_on_pipe_velocity"], sharp_orifice(r["beta"] ** 2))
            for r in table("orifice_iso5167")
        ),
        0.10,
    )


def _obstacles() -> Iterator[Check]:
    rods = table("rod_across_pipe")
    yield worst(
        "area covered by a rod",
        "circle and strip, closed form",
        ((f"d/D {r['d/D']:g}", r["blocked_area_fraction"], rod_blocked_fraction(r["d/D"])) for r in rods),
        1e-5,
    )
    yield worst(
        "rod across a pipe, central",
        "drag of a cylinder, Cd 1.2 (Hoerner 1965), with blocked area",
        ((f"d/D {r['d/D']:g}", r["K_drag_Cd1.2_on_pipe_velocity"], rod_loss(r["d/D"])[1]) for r in rods),
        1e-5,
    )
    yield worst(
        "rod across a pipe, low bound",
        BORDA,
        ((f"d/D {r['d/D']:g}", r["K_borda_carnot_wake_on_pipe_velocity"], rod_loss(r["d/D"])[0]) for r in rods),
        1e-5,
    )
    yield worst(
        "rod across a pipe, high bound up to d/D 0.2",
        IDELCHIK,
        ((f"d/D {r['d/D']:g}", r["K_idelchik_form_recalled"], rod_loss(r["d/D"])[2]) for r in rods if r["d/D"] <= 0.2),
        1e-4,
    )
    yield worst(
        "butterfly plate",
        "Weisbach's table (5, 10, 20, 40, 60 degrees secondary, rest memory)",
        (
            (
                f"{r['deg_closed_from_open']:g} degrees",
                r["K_on_pipe_velocity"],
                butterfly_loss(r["deg_closed_from_open"])[1],
            )
            for r in table("butterfly")
        ),
        1e-6,
    )
    for share in (0.3, 0.5, 0.7):
        low, _, high = disc_loss(share)
        row = next(r for r in table("area_losses") if r["small/large_area_s"] == share)
        idelchik = row["K_sharp_orifice_on_pipe_velocity_idelchik"]
        what = f"the band of a disc with {share:.0%} open holds the sharp orifice"
        yield Check(what=what, source=IDELCHIK, expected=idelchik, got=high, tolerance=0.0, kind="at least")
        yield Check(what=what, source=IDELCHIK, expected=idelchik, got=low, tolerance=0.0, kind="at most")


def _walls() -> Iterator[Check]:
    rows = table("friction_factor")
    yield worst(
        "friction of laminar flow",
        "Hagen-Poiseuille",
        ((f"Re {r['Re']:g}", 64.0 / r["Re"], darcy_factor(r["Re"], 0.0)) for r in rows if r["Re"] < 2000),
        1e-12,
    )
    for name, roughness, column in (
        ("smooth", 0.0, "darcy_smooth_fluids"),
        ("rough (1/1000 of the bore)", 1e-3, "darcy_eD0.001_fluids"),
    ):
        yield worst(
            f"friction of turbulent flow, {name} pipe",
            "fluids 1.3.1",
            ((f"Re {r['Re']:g}", r[column], turbulent_factor(r["Re"], roughness)) for r in rows if r["Re"] > 4000),
            0.02,
        )
