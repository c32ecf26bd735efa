"""What is reported of one engine speed."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pulsewright.network.case import Case
from pulsewright.simulate.settle import Settled


@dataclass(slots=True)
class SpeedPoint:
    """Results at one speed. Lists run over the cylinders."""

    rpm: float
    torque: float  # [N m]
    power: float  # [W]
    indicated_torque: float  # [N m]
    friction_torque: float  # [N m]
    volumetric_efficiency: float  # fresh air drawn over air of the outside density in the swept volume
    lambda_delivered: float
    lambda_trapped: float
    residual: float
    reversed_air: float
    exhaust_temperature: float  # [K] mean of the flow at the first port flange
    back_pressure: float  # [Pa] above outside, mean at the exhaust port
    knock_margin: float
    outcome: str
    cycles: int
    torque_left: float  # [N m] how far torque may still be from where more cycles would take it, estimated
    lambda_sensor: dict[str, float] = field(default_factory=dict)
    torque_by_cylinder: list[float] = field(default_factory=list)  # [N m] of the gas, without friction
    filling_by_cylinder: list[float] = field(default_factory=list)
    delivered_by_cylinder: list[float] = field(default_factory=list)  # lambda
    trapped_by_cylinder: list[float] = field(default_factory=list)
    residual_by_cylinder: list[float] = field(default_factory=list)
    knock_by_cylinder: list[float] = field(default_factory=list)
    firing_by_cylinder: list[float] = field(default_factory=list)  # share of the cycles that burn
    header_pressure: dict[int, float] = field(default_factory=dict)  # [Pa] mean, by cylinder
    mean_suction: list[float] = field(default_factory=list)  # [Pa] by carburettor
    fuel_by_circuit: list[list[float]] = field(default_factory=list)  # [kg] a cycle by carburettor: main, intermediate
    piston_lift: list[float] = field(default_factory=list)  # [m] mean by carburettor; nan: none that suction lifts
    pressure_behind: float = float("nan")  # [Pa] mean behind the throttles; nan: wide open


def speed_point(case: Case, rpm: float, settled: Settled) -> SpeedPoint:
    """Gather the results of the cycle that a case has just run."""
    a = case.arrays
    r = settled.last
    seconds = 120.0 / rpm
    air = case.charge.air
    rho = air.pressure / (case.charge.gas.gas_constant[0] * air.temperature)
    swept = case.setup.engine.displacement
    trapped = [float(x) for x in r.trapped_lambda]
    y = a["cylinders"]
    carburettors = a["carburettors"]
    forward = float(np.sum(carburettors["sum_forward"]))
    return SpeedPoint(
        rpm=rpm,
        torque=settled.torque,
        power=settled.torque * rpm * np.pi / 30.0,
        indicated_torque=r.indicated,
        friction_torque=r.friction,
        volumetric_efficiency=r.fresh_air / (rho * swept),
        lambda_delivered=r.delivered_lambda,
        lambda_trapped=_mixed(case),
        residual=float(np.mean(r.residual)),
        reversed_air=float(np.sum(carburettors["sum_back"])) / forward if forward > 0.0 else float("nan"),
        exhaust_temperature=_exhaust_temperature(case),
        back_pressure=_port_pressure(case, seconds) - air.pressure,
        knock_margin=1.0 - float(np.max(y["knock"])),
        outcome=settled.outcome,
        cycles=settled.cycles,
        torque_left=settled.torque_left,
        lambda_sensor=_sensors(case, seconds),
        torque_by_cylinder=[float(x) / (4.0 * np.pi) for x in r.work],
        filling_by_cylinder=[float(x) / (rho * case.setup.engine.cylinder_volume) for x in r.air],
        delivered_by_cylinder=[float(x) for x in r.delivered_by_cylinder],
        trapped_by_cylinder=trapped,
        residual_by_cylinder=[float(x) for x in r.residual],
        knock_by_cylinder=[1.0 - float(x) for x in y["knock"]],
        firing_by_cylinder=[float(x) for x in y["complete"]],
        header_pressure=_header_pressure(case, seconds),
        mean_suction=[float(x) / seconds for x in carburettors["sum_suction"]],
        fuel_by_circuit=[[float(x) for x in row] for row in carburettors["circuit"]["sum_fuel"]],
        piston_lift=[float(b["sum_lift"]) / seconds if b["moves"] == 1 else float("nan") for b in carburettors],
        pressure_behind=_behind_throttles(case, seconds),
    )


def _mixed(case: Case) -> float:
    """Trapped air over trapped fuel of all cylinders together, as lambda."""
    y = case.arrays["cylinders"]
    fuel = float(np.sum(y["trapped_fuel"]))
    return float(np.sum(y["trapped_air"])) / (fuel * case.charge.air_fuel_ratio) if fuel > 0.0 else float("inf")


def slot_at(cells: list[tuple[int, float, float]], place: float) -> int:
    """Slot of the cell nearest to a place along a line [m]."""
    return min(cells, key=lambda row: abs(row[1] - place))[0]


def _sensors(case: Case, seconds: float) -> dict[str, float]:
    """What a lambda sensor sees: the time mean of all fuel against all air where it sits."""
    c = case.arrays["cells"][0]
    ratio = case.charge.air_fuel_ratio
    port = case.setup.engine.exhaust_port.length
    readings = {}
    for name, distance in case.setup.exhaust.lambda_sensor.items():
        if name in case.exhaust.after:
            cells, place = case.exhaust.after[name].cells, distance
        else:
            cells, place = case.exhaust.lines[int(name)].cells, port + distance
        if not cells:
            continue
        fuel = float(c["mean_fuel"][slot_at(cells, place)]) / seconds
        readings[name] = (1.0 - fuel) / (fuel * ratio) if fuel > 1e-9 else float("inf")
    return readings


def _exhaust_temperature(case: Case) -> float:
    """Flow-weighted mean gas temperature at the port flanges. [K]"""
    c = case.arrays["cells"][0]
    port = case.setup.engine.exhaust_port.length
    slots = [slot_at(line.cells, port) for line in case.exhaust.lines.values()]
    flow = float(np.sum(c["mean_flow"][slots]))
    return float(np.sum(c["mean_flow_T"][slots])) / flow if flow > 0.0 else float("nan")


def _port_pressure(case: Case, seconds: float) -> float:
    c = case.arrays["cells"][0]
    slots = [line.cells[0][0] for line in case.exhaust.lines.values()]
    return float(np.mean(c["mean_p"][slots])) / seconds


def _behind_throttles(case: Case, seconds: float) -> float:
    cells = [int(b["behind"]) for b in case.arrays["carburettors"] if b["behind"] >= 0]
    return float(np.mean(case.arrays["cells"][0]["mean_p"][cells])) / seconds if cells else float("nan")


def _header_pressure(case: Case, seconds: float) -> dict[int, float]:
    c = case.arrays["cells"][0]
    found = {}
    for number, length in case.exhaust.header.items():
        slot = slot_at(case.exhaust.lines[number].cells, length)
        found[number] = float(c["mean_p"][slot]) / seconds
    return found
