"""Filling and emptying of volumes: cylinders, plenums, reservoirs.

Single zone, perfectly mixed (Heywood 1988, section 14.2):

    dm/dt = sum m_i,   dU/dt = sum m_i h0_i - p dV/dt - Q_wall,   d(m Y)/dt = sum m_i Y_i + burn

U is sensible energy; burning converts fuel and air to burned gas and adds the heat released.

Burned gas in a cylinder is in chemical equilibrium at the zone's temperature and density
(gas/products.py). What leaves recombines in the valve and freezes: it passes into the duct with the
enthalpy it had, as frozen gas, hence with the density of frozen gas of that enthalpy ("leaving").
"""

from math import log, pi

from aircolumn.compiled.decorators import routine, small
from aircolumn.compiled.lookup import table_value, within_cycle
from aircolumn.cylinder.crank import volume_and_slope
from aircolumn.cylinder.heat import ANNAND, HOHENBERG, NONE, annand, hohenberg, woschni
from aircolumn.ends.arrays import CYLINDER, RESERVOIR, VESSEL
from aircolumn.ends.nozzle import mass_flux
from aircolumn.gas.kernels import (
    cv_at_most,
    cv_coefficients,
    energy,
    energy_at_most,
    gas_constant,
    temperature_of,
)
from aircolumn.gas.products import FROZEN, beyond_frozen

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


@small
def in_equilibrium(c, products, yb, e, log_density, guess):
    """Temperature (K) of gas of energy ``e`` (J/kg) whose burned share is in equilibrium, and the
    gas constant (J/(kg K)) that adds. Newton from a temperature close by (the last one): two steps,
    more where burning is sudden."""
    t, r, step = guess, 0.0, 0.0
    for k in range(6):
        held, slope, r = beyond_frozen(products, t, log_density)
        step = (energy_at_most(c, t) + yb * held - e) / (cv_at_most(c, t) + yb * slope)
        t -= step
        if k > 0 and abs(step) < 0.1:  # what is left is of its square
            break
    return t, yb * r


@routine
def settle(gas, products, vols, cranks, contents, angle, states):
    """State of every volume from its contents (volumes x 4) at crank angle ``angle`` (deg);
    products: table of gas/products.py."""
    for b in range(vols.kind.size):
        if vols.kind[b] == RESERVOIR:
            continue
        if vols.kind[b] == CYLINDER:
            states.volume[b], _ = cylinder_volume(cranks, vols.cylinder[b], angle)
        m = contents[b, MASS]
        yf, yb = contents[b, FUEL] / m, contents[b, BURNED] / m
        e = contents[b, ENERGY] / m
        rho = m / states.volume[b]
        c, t, more = cv_coefficients(gas, yf, yb), states.temperature[b], 0.0
        if vols.kind[b] == CYLINDER and t > FROZEN:
            t, more = in_equilibrium(c, products, yb, e, log(rho), t)
        else:
            t = temperature_of(gas, yf, yb, e, t)
        r, cv = gas_constant(gas, yf, yb), cv_at_most(c, t)
        p = rho * (r + more) * t
        recombined = t + (e + p / rho - energy_at_most(c, t) - r * t) / (cv + r)
        states.rho[b], states.p[b], states.leaving[b] = rho, p, p / (r * recombined)
        states.temperature[b], states.yf[b], states.yb[b], states.e[b] = t, yf, yb, e
        states.gamma[b] = 1.0 + r / cv


@routine
def wall_heat(vols, cranks, chambers, states, b, angle, omega):
    """Heat flow from the gas of volume ``b`` to its walls, W."""
    if vols.kind[b] == VESSEL:
        return vols.conductance[b] * (states.temperature[b] - vols.wall[b])
    c = vols.cylinder[b]
    if chambers.heat_model[c] == NONE:
        return 0.0
    local = within_cycle(angle - cranks.phase[c])
    closed = local < cranks.evo[c] or local > cranks.ivc[c]
    after_start = within_cycle(local - cranks.burn_start[c]) < 360.0
    burning = closed and after_start
    bore = (4.0 * cranks.area[c] / pi) ** 0.5
    speed = cranks.stroke[c] * omega / pi
    p, t, volume = states.p[b], states.temperature[b], states.volume[b]
    if chambers.heat_model[c] == ANNAND:
        cp = states.gamma[b] / (states.gamma[b] - 1.0) * p / (states.rho[b] * t)
        wall = (chambers.head_wall[c] + chambers.piston_wall[c] + chambers.liner_wall[c]) / 3.0
        h = annand(bore, states.rho[b], cp, t, speed, burning, wall)
    elif chambers.heat_model[c] == HOHENBERG:
        h = hohenberg(volume, p, t, speed)
    else:
        reference = (chambers.ivc_p[c], chambers.ivc_t[c], chambers.ivc_v[c])
        h = woschni(bore, p, t, speed, not closed, burning, cranks.swept[c], reference, volume)
    liner = 4.0 * (volume - cranks.clearance[c]) / bore
    if not closed:
        h *= chambers.exchange_heat[c]
    loss = cranks.area[c] * (2.0 * t - chambers.head_wall[c] - chambers.piston_wall[c])
    return chambers.heat_factor[c] * h * (loss + liner * (t - chambers.liner_wall[c]))


@routine
def own_rates(vols, cranks, chambers, orifices, states, angle, omega, out):
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
        out[b, 4] = states.p[b] * slope * omega
        out[b, 5] = wall_heat(vols, cranks, chambers, states, b, angle, omega)
        out[b, ENERGY] = -out[b, 4] - out[b, 5]
    for o in range(orifices.first.size):
        i, j = orifices.first[o], orifices.second[o]
        up, down = (i, j) if states.p[i] >= states.p[j] else (j, i)
        flux = mass_flux(states.p[up], states.leaving[up], states.gamma[up], states.p[down])
        flow = orifices.area[o] * flux
        h = states.e[up] + states.p[up] / states.rho[up]
        for b, sign in ((up, -1.0), (down, 1.0)):
            out[b, MASS] += sign * flow
            out[b, ENERGY] += sign * flow * h
            out[b, FUEL] += sign * flow * states.yf[up]
            out[b, BURNED] += sign * flow * states.yb[up]


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
def burn(vols, cranks, burn_table, chambers, contents, start, stop, counted):
    """Convert the fuel that burns between crank angles ``start`` and ``stop`` (deg).

    counted: 1.0 to add it to the cylinder's account, 0.0 in a prediction.
    """
    for b in range(vols.kind.size):
        if vols.kind[b] != CYLINDER:
            continue
        c = vols.cylinder[b]
        if chambers.charge_fuel[c] <= 0.0:
            continue
        stretch = chambers.burn_stretch[c]
        begin = (
            cranks.phase[c] + chambers.ca50[c] - stretch * (chambers.ca50[c] - cranks.burn_start[c])
        )
        x0 = table_value(burn_table, c, within_cycle(start - begin) / stretch)
        x1 = table_value(burn_table, c, within_cycle(stop - begin) / stretch)
        if x1 < x0:  # the burn of this cycle starts within the step
            x0 = 0.0
        fuel = min(chambers.charge_fuel[c] * (x1 - x0), contents[b, FUEL])
        contents[b, FUEL] -= fuel
        contents[b, BURNED] += fuel * (1.0 + chambers.air_fuel_ratio[c])
        contents[b, ENERGY] += fuel * chambers.heat_release[c]
        chambers.burned_fuel[c] += counted * fuel


@routine
def inject(gas, chambers, contents, b, c, fuel):
    """Add ``fuel`` (kg) to cylinder ``c`` as liquid of 25 degC that evaporates at once.

    Its energy is that of vapour, enthalpy h = e + R T, less what the charge supplies for it
    (chambers.cooling, J/kg); walls supply the rest.
    """
    vapour = energy(gas, 1.0, 0.0, LIQUID) + gas_constant(gas, 1.0, 0.0) * LIQUID
    e = vapour - chambers.cooling[c]
    contents[b, MASS] += fuel
    contents[b, FUEL] += fuel
    contents[b, ENERGY] += fuel * e
    chambers.injected[c] += fuel
    chambers.injected_energy[c] += fuel * e


@routine
def port_fuel(gas, vols, chambers, through, contents):
    """Fuel injected at the back of the intake valves: goes in with the air, in proportion.

    through: what has passed each duct end so far (mass, energy, fuel, burned). Fuel is metered on
    the air that has passed less what went back, so mixture pushed out and drawn in again is not
    metered twice.
    """
    for b in range(vols.kind.size):
        if vols.kind[b] == CYLINDER and chambers.delivery[vols.cylinder[b]] == PORT:
            c = vols.cylinder[b]
            passed = through[int(chambers.injector_end[c])]
            air = passed[MASS] - passed[FUEL] - passed[BURNED]
            due = air / chambers.air_fuel_ratio[c] - passed[FUEL] - chambers.injected[c]
            if due > 0.0:
                inject(gas, chambers, contents, b, c, due)


@routine
def direct_fuel(gas, vols, cranks, chambers, contents, start, stop):
    """Fuel injected into the cylinder between crank angles ``start`` and ``stop`` (deg), at a
    steady rate from injection_start on, as long as the intake valve has not shut: in all the dose
    that the cycles before were found to need (at_ivc)."""
    for b in range(vols.kind.size):
        if vols.kind[b] == CYLINDER and chambers.delivery[vols.cylinder[b]] == DIRECT:
            c = vols.cylinder[b]
            until = within_cycle(stop - cranks.phase[c] - chambers.injection_start[c])
            shut = within_cycle(cranks.ivc[c] - chambers.injection_start[c])
            most = min(chambers.injection_duration[c], shut)
            share = min(until, most) - min(max(until - (stop - start), 0.0), most)
            if shut < 360.0 and share > 0.0:
                dose = chambers.dose[c] * share / chambers.injection_duration[c]
                inject(gas, chambers, contents, b, c, dose)


@routine
def at_ivc(gas, vols, chambers, contents, states, b):
    """Note the trapped charge when the intake valve shuts; meter directly injected fuel, and add
    what is still due."""
    c = vols.cylinder[b]
    chambers.ivc_p[c], chambers.ivc_t[c], chambers.ivc_v[c] = (
        states.p[b],
        states.temperature[b],
        states.volume[b],
    )
    air = contents[b, MASS] - contents[b, FUEL] - contents[b, BURNED]
    chambers.trapped_air[c] = air
    chambers.trapped_mass[c] = contents[b, MASS]
    chambers.trapped_burned[c] = contents[b, BURNED]
    if chambers.delivery[c] == DIRECT:
        due = air / chambers.air_fuel_ratio[c] - contents[b, FUEL]
        chambers.dose[c] = max(chambers.dose[c] + due, 0.0)
        inject(gas, chambers, contents, b, c, max(due, 0.0))
    chambers.charge_fuel[c] = contents[b, FUEL]
    residual = contents[b, BURNED] / contents[b, MASS]
    chambers.burn_stretch[c] = 1.0 + chambers.residual_factor[c] * residual
