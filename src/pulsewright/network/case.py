"""A setup ready to run: the kernel's arrays, and where to find things in them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.errors import InputError
from pulsewright.kernel.layout import CYLINDER, RUN, TRACE_STEPS
from pulsewright.network.assembly import Assembly, GasState
from pulsewright.network.engine_parts import carburettor_rows, cylinder_rows, valve_table
from pulsewright.network.exhaust_line import ExhaustBuilder, ExhaustPlan
from pulsewright.network.gas import Charge, charge_of
from pulsewright.network.intake_line import IntakeBuilder, IntakePlan
from pulsewright.network.options import Options
from pulsewright.physics.slider_crank import cylinder_volume

COURANT = 0.9
LONGEST_STEP = 1e-4  # [s]
START_EXHAUST_T = 850.0  # [K]
START_LAMBDA = 0.9  # of the burned gas to start from
INTAKE, EXHAUST = 0, 1  # rows of the valve table


@dataclass(slots=True)
class Case:
    """Arrays of one setup under one set of options. Not shared between threads: `copy` it."""

    setup: Setup
    options: Options
    charge: Charge
    arrays: dict[str, np.ndarray]
    exhaust: ExhaustPlan
    intake: IntakePlan
    intake_valves: list[int]  # joint by cylinder
    exhaust_valves: list[int]
    jets: np.ndarray  # [m²] effective areas by carburettor and circuit, before the trim of a speed

    def copy(self) -> Case:
        """A twin with arrays of its own."""
        return replace(self, arrays={name: a.copy() for name, a in self.arrays.items()})

    def with_traces(self) -> Case:
        """Make room for one row of every cell and reservoir per crank degree."""
        slots = int(self.arrays["run"]["slots"][0])
        self.arrays["traces"] = np.zeros((4, TRACE_STEPS, slots))
        self.arrays["reservoir_traces"] = np.zeros((TRACE_STEPS, self.arrays["reservoirs"].size))
        self.arrays["run"]["trace"] = 1
        return self


def build_case(setup: Setup, options: Options, rpm: float) -> Case:
    """Lay out a setup; `rpm` matters only for parts that move with engine speed.

    Raises InputError where the sheet describes something that cannot be laid.
    """
    charge = charge_of(setup.fuel, setup.air)
    assembly = Assembly(gas=charge.gas)
    air = charge.air
    fuel = 1.0 / (1.0 + (options.mixture or START_LAMBDA) * charge.air_fuel_ratio)
    inside = GasState(p=air.pressure, T=air.temperature, yv=fuel)
    outside = GasState(p=air.pressure, T=air.temperature)
    breathed = outside if options.mixture is None else inside
    hot = GasState(p=air.pressure, T=START_EXHAUST_T, yb=1.0, yz=1.0 / (1.0 + START_LAMBDA * charge.air_fuel_ratio))
    intake = IntakeBuilder(setup=setup, assembly=assembly, options=options, outside=breathed, inside=inside).build()
    builder = ExhaustBuilder(setup=setup, assembly=assembly, options=options, rpm=rpm, hot=hot, outside=outside)
    exhaust = builder.build()
    cylinders = [_cylinder(setup, assembly, inside, firing) for firing in setup.engine.firing]
    intake_valves, exhaust_valves = [], []
    for n, reservoir in enumerate(cylinders):
        phase = (720.0 - setup.engine.firing[n]) % 720.0
        head = exhaust.lines[n + 1].head
        if head is None:
            raise InputError(f"cylinder {n + 1} has no exhaust pipe", hint="give its route at least one pipe")
        intake_valves.append(assembly.join(intake.ports[n + 1], reservoir, 0.0, 0.0, valve=INTAKE, phase=phase))
        exhaust_valves.append(assembly.join(head, reservoir, 0.0, 0.0, valve=EXHAUST, phase=phase))
    arrays = assembly.layout_arrays()
    calibration = options.calibration
    arrays["cylinders"] = cylinder_rows(setup, charge, cylinders, calibration)
    arrays["cylinders"]["best_burn"] = int(options.best_burn)
    arrays["carburettors"] = carburettor_rows(setup, charge, intake, arrays, calibration)
    jets = options.fuel_trim * arrays["carburettors"]["circuit"]["jet"]
    arrays["carburettors"]["on"] = int(options.mixture is None)
    arrays["carburettors"]["mean_metering"] = int(options.mean_metering)
    arrays["valves"] = valve_table(setup.engine, calibration)
    arrays["run"] = np.zeros(1, dtype=RUN)
    arrays["run"]["courant"], arrays["run"]["longest"] = COURANT, LONGEST_STEP
    arrays["run"]["slots"] = assembly.slots + 1
    arrays["traces"] = np.zeros((4, 0, 1))
    arrays["reservoir_traces"] = np.zeros((0, 1))
    return Case(
        setup=setup, options=options, charge=charge, arrays=arrays, exhaust=exhaust, intake=intake,
        intake_valves=intake_valves, exhaust_valves=exhaust_valves, jets=jets,
    )  # fmt: skip


def _cylinder(setup: Setup, assembly: Assembly, start: GasState, firing: float) -> int:
    """A cylinder full of warm fresh gas, its piston where it stands at the start of the cycle."""
    e = setup.engine
    volume = cylinder_volume(-firing % 720.0, e.bore, e.stroke, e.rod, e.compression_ratio)
    return assembly.add_reservoir(CYLINDER, GasState(p=start.p, T=400.0, yv=start.yv), volume=volume)
