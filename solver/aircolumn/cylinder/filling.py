"""Filling and emptying of volumes: cylinders, plenums, reservoirs.

Single zone, perfectly mixed (Heywood 1988, section 14.2):

    dm/dt = sum m_i,   dU/dt = sum m_i h0_i - p dV/dt - Q_wall,   d(m Y)/dt = sum m_i Y_i + burn

U is sensible energy; burning converts fuel and air to burned gas and adds the heat released.
"""

from math import pi

from aircolumn.compiled import routine, small
from aircolumn.cylinder.crank import volume_and_slope, within_cycle
from aircolumn.cylinder.heat import ANNAND, HOHENBERG, NONE, annand, hohenberg, woschni
from aircolumn.ends.arrays import CYLINDER, RESERVOIR, VESSEL
from aircolumn.ends.nozzle import mass_flux
from aircolumn.ends.solve import table_value
from aircolumn.gas.kernels import cv_at_most, cv_coefficients, energy, gas_constant, temperature_of

MASS, ENERGY, FUEL, BURNED = 0, 1, 2, 3
PREMIXED, DIRECT, PORT = 0, 1, 2  # how fuel reaches the cylinder
LIQUID = 298.15  # K


@small
def cylinder_volume(cranks, c, angle):
    """Volume, m3, and dV/d(angle), m3/rad, of cylinder ``c``."""
    return volume_and_slope(
        cranks.throw[c],
        cranks.rod[c],
        cranks.pin_offset[c],
        cranks.area[c],
        cranks.clearance[c],
        cranks.top[c],
        angle - cranks.phase[c],
    )


@routine
def settle(gas, vols, cranks, contents, angle, box):
    """State of every volume from its contents (volumes x 4) at crank angle ``angle`` (deg)."""
    for b in range(vols.kind.size):
        if vols.kind[b] == RESERVOIR:
            continue
        if vols.kind[b] == CYLINDER:
            box.volume[b], _ = cylinder_volume(cranks, vols.cylinder[b], angle)
        m = contents[b, MASS]
        yf, yb = contents[b, FUEL] / m, contents[b, BURNED] / m
        e = contents[b, ENERGY] / m
        t = temperature_of(gas, yf, yb, e, box.temperature[b])
        r = gas_constant(gas, yf, yb)
        box.rho[b] = m / box.volume[b]
        box.p[b] = box.rho[b] * r * t
        box.temperature[b], box.yf[b], box.yb[b], box.e[b] = t, yf, yb, e
        box.gamma[b] = 1.0 + r / cv_at_most(cv_coefficients(gas, yf, yb), t)


@routine
def wall_heat(vols, cranks, engine, box, b, angle, omega):
    """Heat flow from the gas of volume ``b`` to its walls, W."""
    if vols.kind[b] == VESSEL:
        return vols.conductance[b] * (box.temperature[b] - vols.wall[b])
    c = vols.cylinder[b]
    if engine.heat_model[c] == NONE:
        return 0.0
    local = within_cycle(angle - cranks.phase[c])
    closed = local < cranks.evo[c] or local > cranks.ivc[c]
    after_start = within_cycle(local - cranks.burn_start[c]) < 360.0
    burning = closed and after_start
    bore = (4.0 * cranks.area[c] / pi) ** 0.5
    speed = cranks.stroke[c] * omega / pi
    p, t, volume = box.p[b], box.temperature[b], box.volume[b]
    if engine.heat_model[c] == ANNAND:
        cp = box.gamma[b] / (box.gamma[b] - 1.0) * p / (box.rho[b] * t)
        wall = (engine.head_wall[c] + engine.piston_wall[c] + engine.liner_wall[c]) / 3.0
        h = annand(bore, box.rho[b], cp, t, speed, burning, wall)
    elif engine.heat_model[c] == HOHENBERG:
        h = hohenberg(volume, p, t, speed)
    else:
        reference = (engine.ivc_p[c], engine.ivc_t[c], engine.ivc_v[c])
        h = woschni(bore, p, t, speed, not closed, burning, cranks.swept[c], reference, volume)
    liner = 4.0 * (volume - cranks.clearance[c]) / bore
    if not closed:
        h *= engine.exchange_heat[c]
    loss = cranks.area[c] * (2.0 * t - engine.head_wall[c] - engine.piston_wall[c])
    return engine.heat_factor[c] * h * (loss + liner * (t - engine.liner_wall[c]))


@routine
def own_rates(vols, cranks, engine, orifices, box, angle, omega, out):
    """Rates of change not coming through duct ends; fills ``out`` (volumes x 6).

    Columns: mass, energy, fuel, burned (work and wall heat included), work W, wall heat W.
    """
    for b in range(vols.kind.size):
        for q in range(6):
            out[b, q] = 0.0
        if vols.kind[b] == RESERVOIR:
            continue
        slope = 0.0
        if vols.kind[b] == CYLINDER:
            _, slope = cylinder_volume(cranks, vols.cylinder[b], angle)
        out[b, 4] = box.p[b] * slope * omega
        out[b, 5] = wall_heat(vols, cranks, engine, box, b, angle, omega)
        out[b, ENERGY] = -out[b, 4] - out[b, 5]
    for o in range(orifices.first.size):
        i, j = orifices.first[o], orifices.second[o]
        up, down = (i, j) if box.p[i] >= box.p[j] else (j, i)
        flux = mass_flux(box.p[up], box.rho[up], box.gamma[up], box.p[down])
        flow = orifices.area[o] * flux
        h = box.e[up] + box.p[up] / box.rho[up]
        for b, sign in ((up, -1.0), (down, 1.0)):
            out[b, MASS] += sign * flow
            out[b, ENERGY] += sign * flow * h
            out[b, FUEL] += sign * flow * box.yf[up]
            out[b, BURNED] += sign * flow * box.yb[up]


@routine
def add_end_flow(mesh, ends, nodes, dt, contents):
    """Add to ``contents`` what flows through duct ends in ``dt`` at the rates of ``nodes``."""
    for k in range(ends.kind.size):
        if ends.to_volume[k] == 0:
            continue
        j, b = ends.node[k], ends.volume[k]
        flow = dt * ends.side[k] * mesh.area[j] * nodes.rho[j] * nodes.u[j]
        h = nodes.e[j] + nodes.p[j] / nodes.rho[j] + 0.5 * nodes.u[j] * nodes.u[j]
        contents[b, MASS] += flow
        contents[b, ENERGY] += flow * h
        contents[b, FUEL] += flow * nodes.yf[j]
        contents[b, BURNED] += flow * nodes.yb[j]


@routine
def burn(vols, cranks, burn_table, engine, contents, start, stop, counted):
    """Convert the fuel that burns between crank angles ``start`` and ``stop`` (deg).

    counted: 1.0 to add it to the cylinder's account, 0.0 in a prediction.
    """
    for b in range(vols.kind.size):
        if vols.kind[b] != CYLINDER:
            continue
        c = vols.cylinder[b]
        if engine.charge_fuel[c] <= 0.0:
            continue
        stretch = engine.burn_stretch[c]
        begin = cranks.phase[c] + engine.ca50[c] - stretch * (engine.ca50[c] - cranks.burn_start[c])
        x0 = table_value(burn_table, c, within_cycle(start - begin) / stretch)
        x1 = table_value(burn_table, c, within_cycle(stop - begin) / stretch)
        if x1 < x0:  # the burn of this cycle starts within the step
            x0 = 0.0
        fuel = min(engine.charge_fuel[c] * (x1 - x0), contents[b, FUEL])
        contents[b, FUEL] -= fuel
        contents[b, BURNED] += fuel * (1.0 + engine.air_fuel_ratio[c])
        contents[b, ENERGY] += fuel * engine.heat_release[c]
        engine.burned_fuel[c] += counted * fuel


@routine
def inject(gas, engine, contents, b, c, fuel):
    """Add ``fuel`` (kg) to cylinder ``c`` as liquid of 25 degC that evaporates at once.

    Its energy is that of vapour, enthalpy h = e + R T, less the latent heat; of that the charge
    supplies the share included in engine.latent_heat, walls the rest.
    """
    vapour = energy(gas, 1.0, 0.0, LIQUID) + gas_constant(gas, 1.0, 0.0) * LIQUID
    e = vapour - engine.latent_heat[c]
    contents[b, MASS] += fuel
    contents[b, FUEL] += fuel
    contents[b, ENERGY] += fuel * e
    engine.injected[c] += fuel
    engine.injected_energy[c] += fuel * e


@routine
def port_fuel(gas, vols, engine, through, contents):
    """Fuel injected at the back of the intake valves: goes in with the air, in proportion.

    through: what has passed each duct end so far (mass, energy, fuel, burned). Fuel is metered on
    the air that has passed less what went back, so mixture pushed out and drawn in again is not
    metered twice.
    """
    for b in range(vols.kind.size):
        if vols.kind[b] == CYLINDER and engine.delivery[vols.cylinder[b]] == PORT:
            c = vols.cylinder[b]
            passed = through[int(engine.injector_end[c])]
            air = passed[MASS] - passed[FUEL] - passed[BURNED]
            due = air / engine.air_fuel_ratio[c] - passed[FUEL] - engine.injected[c]
            if due > 0.0:
                inject(gas, engine, contents, b, c, due)


@routine
def at_ivc(gas, vols, engine, contents, box, b):
    """Note the trapped charge when the intake valve shuts; meter and add directly injected fuel."""
    c = vols.cylinder[b]
    engine.ivc_p[c], engine.ivc_t[c], engine.ivc_v[c] = box.p[b], box.temperature[b], box.volume[b]
    air = contents[b, MASS] - contents[b, FUEL] - contents[b, BURNED]
    engine.trapped_air[c] = air
    engine.trapped_mass[c] = contents[b, MASS]
    engine.trapped_burned[c] = contents[b, BURNED]
    if engine.delivery[c] == DIRECT:
        inject(gas, engine, contents, b, c, air / engine.air_fuel_ratio[c])
    engine.charge_fuel[c] = contents[b, FUEL]
    residual = contents[b, BURNED] / contents[b, MASS]
    engine.burn_stretch[c] = 1.0 + engine.residual_factor[c] * residual
