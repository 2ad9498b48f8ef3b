"""The ``check`` command: what follows from an engine file before anything is marched."""

from math import sqrt

import numpy as np

from aircolumn import assembly
from aircolumn.cylinder.flow_bench import bench_flow
from aircolumn.description.reader import Description, pipe_length
from aircolumn.gas.humid_air import vapour_mole_fraction
from aircolumn.tuning.rules import NECK_K, mean_neck, neck_and_volume_speed


def check_text(description: Description) -> str:
    """Derived figures of the engine and its runners as text."""
    engine = description.engine
    g = assembly.geometry(engine)
    e, air = engine.engine, engine.intake.ambient
    gas = assembly.ambient_gas(engine)
    density = air.pressure / (gas.gas.Ra * air.temperature)
    vapour = vapour_mole_fraction(air.pressure, air.temperature, air.humidity) * air.pressure
    lines = [
        f"{description.path}: read without errors",
        f"displacement              {1e6 * g.swept * e.cylinders:.0f} cm3"
        f" ({e.cylinders} x {1e6 * g.swept:.1f} cm3), clearance {1e6 * g.clearance:.2f} cm3",
        f"air density               {density:.4f} kg/m3, vapour pressure {1e-3 * vapour:.3f} kPa",
        f"air-fuel ratio            {gas.air_fuel_ratio:.2f}"
        f" (lambda {gas.air_fuel_ratio / gas.stoichiometric:.3f})",
        f"valve overlap             {g.exhaust_closes - g.intake_opens:.0f} deg,"
        f" intake open {g.intake_closes - g.intake_opens:.0f} deg,"
        f" exhaust open {g.exhaust_closes - g.exhaust_opens:.0f} deg",
        *_valve_lines(engine, g),
        f"mean piston speed         {2 * e.stroke * engine.speeds.stop / 60:.1f} m/s at"
        f" {engine.speeds.stop:.0f} rpm",
    ]
    for name in description.runners:
        lines.append(_runner_line(name, description.with_runner(name), g))
    return "\n".join(lines)


def _valve_lines(engine, g) -> list[str]:
    lines = []
    sides = (
        ("intake", engine.intake.valve, g.intake_opens, g.intake_closes),
        ("exhaust", engine.exhaust.valve, g.exhaust_opens, g.exhaust_closes),
    )
    for name, valve, opens, closes in sides:
        lift = assembly.lift_curve(valve, opens, closes)
        area, _, _ = assembly.valve_tables(valve, opens, closes)
        step = assembly.TABLE_ANGLES[1]
        stop = engine.speeds.stop
        time_area = np.sum(area) * step / (6.0 * stop * g.swept)
        lines.append(
            f"{name + ' valve':26s}lift {1e3 * lift.max():.2f} mm, lobe area"
            f" {1e3 * np.sum(lift) * step:.0f} mm deg, largest effective area"
            f" {1e6 * area.max():.0f} mm2, time-area per swept volume {1e3 * time_area:.2f}"
            f" s/km at {stop:.0f} rpm"
        )
        lines += _bench_lines(valve)
    return lines


def _bench_lines(valve) -> list[str]:
    """Bench readings, the coefficients made of them, and the reading these give back."""
    bench = valve.discharge.bench
    if bench is None:
        return []
    area = assembly.bench_area(valve)
    _, forward, _ = assembly.discharge_tables(valve)
    again = bench_flow(forward, area, bench.depression, bench.pressure, bench.temperature)
    lines = [
        f"  bench at {1e-3 * bench.depression:.2f} kPa, Cd on {valve.discharge.reference} area:"
        " lift mm, reading L/s, Cd, reading from Cd L/s"
    ]
    for row in zip(bench.lift, bench.flow, forward, again, strict=True):
        lift, flow, cd, read = row
        lines.append(f"  {1e3 * lift:10.2f} {1e3 * flow:8.2f} {cd:8.3f} {1e3 * read:8.2f}")
    return lines


def _runner_line(name, engine, g) -> str:
    shape = assembly.intake_run(engine).shape
    gas = assembly.ambient_gas(engine).gas
    sound = sqrt(1.4 * gas.Ra * engine.intake.ambient.temperature)
    inverse = mean_neck(shape)
    speeds = [
        neck_and_volume_speed(1.0, inverse, g.swept, engine.engine.compression_ratio, sound, k)
        for k in reversed(NECK_K)
    ]
    return (
        f"{'runner ' + name:26s}{1e3 * pipe_length(engine.intake.runner):.0f} mm, with port and"
        f" mouth {1e3 * shape.length:.0f} mm; rule of thumb (neck and volume): tuned at"
        f" {speeds[0]:.0f} to {speeds[1]:.0f} rpm"
    )
