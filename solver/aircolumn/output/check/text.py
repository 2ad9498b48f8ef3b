"""The ``check`` command: what follows from an engine file before anything is marched."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.interest import stated_range
from aircolumn.display_units import percent, said_bore, said_place, unit
from aircolumn.engine.description.base import required
from aircolumn.engine.description.reader import Description
from aircolumn.engine.model.breathing import mach_index
from aircolumn.engine.model.fuel_film import (
    charge_share,
    follows_from_walls,
    heat_needed,
    heat_of_walls,
)
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.mixture import ambient_gas, drawn, evaporated, water_of_source
from aircolumn.engine.model.piping import exhaust_piping, intake_piping, pipe_shape
from aircolumn.engine.model.valves import TABLE_ANGLES, bench_area, discharge_tables, forward_area, lift_curve
from aircolumn.flow.cylinder.flow_bench import bench_flow
from aircolumn.flow.gas.humid_air import vapour_mole_fraction
from aircolumn.flow.network.items import along
from aircolumn.output.check.assumed import assumed_lines
from aircolumn.output.check.inlet import inlet_lines
from aircolumn.output.check.installed import installed_lines
from aircolumn.output.check.runner import change_lines, route_lines, runner_line
from aircolumn.output.check.valve_timing import timing_doubts, timing_lines

if TYPE_CHECKING:
    from aircolumn.engine.description.bottom_end import Cylinders
    from aircolumn.engine.description.candidates import Manifold
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.valves import Valve
    from aircolumn.engine.model.geometry import Geometry
    from aircolumn.flow.gas.mixture import WorkingGas


def check_text(description: Description) -> str:
    """Derived figures of the engine and its runners as text."""
    engine = description.engine
    sizes = geometry_of(engine)
    e, air = engine.block, engine.intake.ambient
    gas = ambient_gas(engine)
    density = air.pressure / (gas.gas.Ra * air.temperature)
    vapour = vapour_mole_fraction(air.pressure, air.temperature, air.humidity) * air.pressure
    volume, total = unit("volume"), sizes.swept * e.cylinders
    lines = [
        f"{description.path}: read without errors",
        f"displacement              {volume.said(total, volume.decimals - 1)}"
        f" ({e.cylinders} x {volume.said(sizes.swept)}),"
        f" clearance {volume.said(sizes.clearance, 2)}",
        f"air density               {density:.4f} kg/m3, vapour pressure {unit('pressure').said(vapour, 3)}",
        f"air-fuel ratio            {gas.air_fuel_ratio:.2f}"
        f" (lambda {gas.air_fuel_ratio / gas.stoichiometric:.3f})",
        *_fuel_lines(engine, gas),
        *timing_lines(engine, sizes),
        *_valve_lines(engine, sizes),
        f"leak past the rings       {_small(engine.rings.area(e.bore))} per cylinder"
        f"{_assumed(engine.rings.leak_area)}",
        f"mean piston speed         {unit('velocity').said(_piston_speed(e, engine))} at"
        f" {engine.speeds.stop:.0f} rpm",
    ]
    lines += installed_lines(description)
    lines += _condensed_lines(engine)
    lines += _interest_lines(engine)
    lines += inlet_lines(engine)
    lines += [f"doubtful: {doubt}" for doubt in doubts(engine)]
    intake, exhaust = engine.cells
    which = "all cylinders" if engine.computes_every_cylinder else "one cylinder"
    lines.append(
        f"computed                  {which}, cells of"
        f" {said_bore(intake)} in the intake and {said_bore(exhaust)} in the exhaust (smaller"
        " where the bore changes fast)"
    )
    lines += _differing_lines(engine)
    for name in description.runners:
        one = description.with_runner(name)
        lines.append(runner_line(name, one, sizes))
        lines += [*route_lines(one), *_also_differs(description.candidates[name])]
        piping = intake_piping(one)
        lines += change_lines(piping.shape, piping.open_air_before)
    changes = change_lines(exhaust_piping(engine).shape, 0.0)
    if changes:
        lines += ["exhaust port and primary", *changes]
    for name, pipe in engine.exhaust.gathered.items():
        changes = change_lines(pipe_shape(pipe), 0.0)
        if changes:
            lines += [f"exhaust {name}", *changes]
    return "\n".join(lines + assumed_lines(description))


def _also_differs(one: Manifold) -> list[str]:
    """What a candidate changes beside its runner."""
    keys = [".".join(map(str, path)) for path in one.own if path[:2] != ("intake", "runner")]
    return [f"  also differs in {', '.join(keys)}"] if keys else []


def _interest_lines(engine: Engine) -> list[str]:
    """The range that matters, and how much of it is not computed."""
    speeds = engine.speeds
    stated = stated_range(speeds)
    if stated is None:
        return []
    inside = stated.within(speeds.start, speeds.stop)
    outside = 1.0 - (inside.total / stated.total if inside is not None else 0.0)
    more = f"; {percent(outside, '.0f')} of it lies outside the speeds computed" if outside > 0.005 else ""
    return [f"range that matters        {stated.words}{more}"]


FASTEST = 25.0  # m/s of mean piston speed; racing engines reach 26 (common practice, no source)


def doubts(engine: Engine) -> list[str]:
    """Values of an engine that can hardly be so, though nothing forbids them."""
    found = []
    e, stop = engine.block, engine.speeds.stop
    speed, shown = _piston_speed(e, engine), unit("velocity")
    if speed > FASTEST:
        found.append(
            f"mean piston speed {shown.said(speed, 0)} at {stop:.0f} rpm: hardly any"
            f" engine goes beyond {shown.number(FASTEST, 0)}"
        )
    for side in ("intake", "exhaust"):
        valve = getattr(engine, side).valve
        most = max(discharge_tables(valve)[1])
        if most > 1.0:
            bench = valve.discharge.bench is not None
            hint = " (readings are of all valves of one cylinder together)" if bench else ""
            area = f"{valve.discharge.reference} area of the {side} valve"
            found.append(
                f"a discharge coefficient of {most:.2f} on the {area}: no valve passes"
                f" more than its area{hint}"
            )
    return found + _straight_doubts(engine) + timing_doubts(engine)


LONG_RUNNER = 0.3  # m, without port: hardly any manifold makes so long a runner straight


def _straight_doubts(engine: Engine) -> list[str]:
    """A long runner under a bonnet without a bend."""
    runner, length = engine.intake.runner, unit("length")
    if engine.intake.plenum is None or not runner.is_straight or runner.total_length < LONG_RUNNER:
        return []
    return [
        f"a runner of {length.said(runner.total_length)} without a bend: hardly any manifold has room for"
        " one; state bend_angle (0 deg if it is straight)"
    ]


def _piston_speed(block: Cylinders, engine: Engine) -> float:
    """Mean piston speed at the highest speed asked for, m/s."""
    return 2.0 * block.stroke * engine.speeds.stop / 60.0


def _small(area: float) -> str:
    """An effective area in words, to a hundredth of a square millimetre."""
    shown = unit("area")
    return shown.said(area, shown.decimals + 2)


def _differing_lines(engine: Engine) -> list[str]:
    """What the file says of single cylinders."""
    lines = []
    for number in range(1, engine.block.cylinders + 1):
        explanations = []
        for path, part in engine.of_each.items():
            own = (part.by_cylinder or {}).get(number)
            if own is not None:
                keys = [k for k in type(own).model_fields if k != "by_cylinder"]
                changed = [k for k in keys if getattr(own, k) != getattr(part, k)]
                explanations.append(f"{'.'.join(path)} ({', '.join(changed) or 'nothing changed'})")
        if explanations:
            lines.append(f"{f'cylinder {number} differs':26s}{', '.join(explanations)}")
    return lines


def _assumed(value: float | None) -> str:
    """Says so where the file does not give a value."""
    return " (assumed)" if value is None else ""


def _fuel_lines(engine: Engine, gas: WorkingGas) -> list[str]:
    """The fuel, how it arrives, and what of that is assumed."""
    m, fuel = engine.mixture, gas.fuel
    atoms = f"C{fuel.carbon:.3g} H{fuel.hydrogen:.3g}" + (f" O{fuel.oxygen:.3g}" if fuel.oxygen else "")
    walls = (
        f"liquid fuel in the cylinder takes {percent(m.from_charge, '.0f')} of its heat of evaporation"
        f" from the charge{_assumed(m.charge_cooling)}, the rest from the walls"
    )
    if follows_from_walls(engine):
        walls = _film(engine, gas)
    how = {
        "premixed": _premixed(engine, gas),
        "port": "at the port",
        "direct": f"direct, from {m.injection_start:.0f} deg before firing top dead centre on for"
        f" {m.injection_duration:.0f} deg",
    }[m.delivery]
    return [
        f"fuel                      {m.fuel.name or 'own'} ({atoms}), lower heating value"
        f" {1e-6 * fuel.heating_value:.2f} MJ/kg, latent heat {1e-3 * fuel.latent_heat:.0f} kJ/kg,"
        f" stoichiometric air-fuel ratio {gas.stoichiometric:.2f}",
        f"delivery                  {how}" + (f"; {walls}" if fuel.latent_heat > 0.0 else ""),
    ]


def _film(engine: Engine, gas: WorkingGas) -> str:
    """What walls and charge give to the fuel sprayed at the port, at the ends of the range."""
    power, n = unit("power"), engine.block.cylinders
    most = heat_of_walls(engine, gas) * n
    told = []
    for rpm in (engine.speeds.start, engine.speeds.stop):
        needed, share = heat_needed(engine, gas, rpm) * n, charge_share(engine, gas, rpm)
        told.append(
            f"{power.said((1.0 - share) * needed, 1)} of {power.said(needed, 1)} at {rpm:.0f} rpm"
            f" ({percent(share, '.0f')} from the charge)"
        )
    return (
        f"port walls and intake valves can give {power.said(most, 1)} to evaporate it, and give"
        f" {' and '.join(told)}"
    )


def _condensed_lines(engine: Engine) -> list[str]:
    """Says so where air that is supplied cold holds less vapour than the outside air brings."""
    a, source = engine.intake.ambient, engine.intake.source
    outside, kept = vapour_mole_fraction(a.pressure, a.temperature, a.humidity), water_of_source(engine)
    if kept >= (1.0 - 1e-6) * outside:
        return []
    said = unit("pressure").said(kept * source.pressure, 2)
    return [
        f"water                     the supplied air is saturated: it holds {said} of vapour,"
        f" {percent((1.0 - kept / outside), '.0f')} of what the outside air brings condenses before it"
    ]


def _premixed(engine: Engine, gas: WorkingGas) -> str:
    """How much of the fuel the air can hold as vapour, and how cold that makes it."""
    m = engine.mixture
    inlet = unit("temperature").said(along(drawn(engine, gas).temperature, 0.0))
    share, wanted = evaporated(engine, gas), m.vapour_share
    if share < wanted - 1e-6:
        return (
            f"premixed; of the {percent(wanted, '.0f')}{_assumed(m.evaporated)} that may evaporate in"
            f" the air {percent(share, '.0f')} does, when it is saturated at {inlet}; the rest reaches"
            " the cylinder as liquid"
        )
    stated = _assumed(m.evaporated)
    return f"premixed, {percent(wanted, '.0f')} of it as vapour{stated}, drawn in at {inlet}"


def _valve_lines(engine: Engine, sizes: Geometry) -> list[str]:
    lines = []
    sides = (
        (
            "intake",
            engine.intake.valve,
            sizes.intake_opens,
            sizes.intake_closes,
            engine.intake.port.last_bore,
        ),
        (
            "exhaust",
            engine.exhaust.valve,
            sizes.exhaust_opens,
            sizes.exhaust_closes,
            required(engine.exhaust.port.first_bore),
        ),
    )
    for name, valve, opens, closes, bore in sides:
        lift = lift_curve(valve, opens, closes)
        area = forward_area(valve, opens, closes)
        mean = float(area[area > 0.0].mean())
        index = f", {_mach_index(engine)}" if name == "intake" else ""
        lines.append(
            f"{name + ' valve':26s}lift {_lift(lift.max())}, lobe area"
            f" {said_place(np.sum(lift) * TABLE_ANGLES[1])} deg, effective area at most"
            f" {unit('area').said(area.max())}, mean while open {unit('area').said(mean)}{index}"
        )
        lines += _bench_lines(valve)
        lines += _capped_lines(valve, lift, area, bore)
    return lines


def _lift(lift: float) -> str:
    shown = unit("length")
    return shown.said(lift, shown.decimals + 2)


def _mach_index(engine: Engine) -> str:
    stop = engine.speeds.stop
    return f"Mach index {mach_index(engine, stop):.2f} at {stop:.0f} rpm (above 0.5 the valve throttles)"


def _capped_lines(valve: Valve, lift: np.ndarray, area: np.ndarray, bore: float) -> list[str]:
    """Says where the valve's effective area is more than the bore behind it has."""
    most = 0.25 * pi * bore**2
    beyond = lift[area > most]
    port = ["  its coefficients hold the port's friction and bends: the port pipe has none of its own"]
    lines = port if valve.discharge.holds_port else []
    if beyond.size == 0:
        return lines
    return [
        *lines,
        f"  from {_lift(beyond.min())} of lift on its effective area is more than the"
        f" {unit('area').said(most)} of the port's {said_bore(bore)} bore, and is taken as that",
    ]


def _bench_lines(valve: Valve) -> list[str]:
    """Bench readings, the coefficients made of them, and the reading these give back."""
    bench = valve.discharge.bench
    if bench is None:
        return []
    area, blown = bench_area(valve), valve.forward_is_out
    _, forward, _ = discharge_tables(valve)
    again = bench_flow(forward, area, bench.depression, bench.pressure, bench.temperature, blown)
    way = "blown out of" if blown else "drawn into"
    size, flow, drop = unit("length"), unit("volume flow"), unit("depression")
    lines = [
        f"  bench at {drop.said(bench.depression)}, {way} the cylinder,"
        f" Cd on {valve.discharge.reference} area:"
        f" lift {size.name}, reading {flow.name}, Cd, reading from Cd {flow.name}"
    ]
    for lift, reading, cd, read in zip(bench.lift, bench.flow, forward, again, strict=True):
        lines.append(
            f"  {size.number(lift, size.decimals + 2):>10} {flow.number(reading):>8}"
            f" {cd:8.3f} {flow.number(read):>8}"
        )
    return lines
