"""Filling and emptying of volumes: cylinders, plenums, reservoirs.

Perfectly mixed (Heywood 1988, section 14.2), but for a charge that is burning (two_zones.py):

    dm/dt = sum m_i,   dU/dt = sum m_i h0_i - p dV/dt - Q_wall,   d(m Y)/dt = sum m_i Y_i + burn

U is sensible energy; burning converts fuel and air to burned gas and adds the heat released.

Burned gas in a cylinder is in chemical equilibrium at the zone's temperature and density
(gas/products.py). What leaves recombines in the valve and freezes: it passes into the duct with the
enthalpy it had, as frozen gas, hence with the density of frozen gas of that enthalpy ("leaving").
"""

from math import log, pi, sqrt

from aircolumn.flow.arrays.blocks import (
    CONTENTS,
    GUESS,
    amounts_of,
    burn_table_of,
    chambers_of,
    cranks_of,
    ends_in,
    ends_of,
    gas_of,
    mesh_of,
    nodes_at,
    orifices_in,
    orifices_of,
    products_of,
    states_of,
    tally_ends_of,
    volumes_in,
    volumes_of,
)
from aircolumn.flow.arrays.ends import BURNED, CYLINDER, ENERGY, FUEL, MASS, RESERVOIR, VESSEL
from aircolumn.flow.compiled.decorators import inlined, routine
from aircolumn.flow.compiled.lookup import table_value, within_cycle
from aircolumn.flow.cylinder.crank import volume_and_slope
from aircolumn.flow.cylinder.crevices import foreseen, note_before
from aircolumn.flow.cylinder.heat import NONE, film
from aircolumn.flow.cylinder.two_zones import LEAST, in_equilibrium, two_zones
from aircolumn.flow.ends.nozzle import mass_flux
from aircolumn.flow.gas.kernels import (
    cv_at_most,
    cv_coefficients,
    cv_from,
    energy,
    energy_at_most,
    gas_constant,
    temperature_of,
)
from aircolumn.flow.gas.products import FROZEN
from aircolumn.flow.gas.saturation import saturation_pressure

PREMIXED, DIRECT, PORT = 0, 1, 2  # how fuel reaches the cylinder
LIQUID = 298.15  # K
BURNS_AT = 2400.0  # K, a first guess
HALVINGS = 24  # of what might evaporate
COLDEST = 100.0  # K, of a trial: all fuels are saturated there, and the law still falls


@inlined
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
def move_pistons(net, angle):
    """Volume of every cylinder at crank angle ``angle`` (deg)."""
    vols, cranks, states = volumes_of(net), cranks_of(net), states_of(net)
    for v in range(volumes_in(net)):
        if vols.kind[v] == CYLINDER:
            found = cylinder_volume(cranks, vols.cylinder[v], angle)
            states.volume[v], states.growth[v] = found


@inlined
def burning_pressure(net, v, which, p, t):
    """Pressure of cylinder volume ``v``: that of one zone (``p`` with temperature ``t``), or of two while
    the charge burns; notes the state of the unburned gas at the end of a step."""
    chambers, c = chambers_of(net), volumes_of(net).cylinder[v]
    share, tu, tb = chambers.burnt[c], t, t
    if chambers.zones[c] > 1.0 and LEAST < share < 1.0 - LEAST:
        contents, states = amounts_of(net, which), states_of(net)
        unburned = (
            chambers.charge_fuel[c] / chambers.trapped_mass[c],
            chambers.trapped_burned[c] / chambers.trapped_mass[c],
        )
        last = chambers.unburned_p[c], chambers.unburned_t[c], max(chambers.burned_t[c], BURNS_AT)
        held = contents[v, MASS], contents[v, ENERGY], contents[v, FUEL], contents[v, BURNED]
        p, tu, tb = two_zones(gas_of(net), products_of(net), unburned, last, held, states.volume[v], share, p)
    if which == CONTENTS:
        chambers.unburned_p[c], chambers.unburned_t[c], chambers.burned_t[c] = p, tu, tb
    return p


@routine
def update_states(net, which):
    """State of every volume from what it holds (which: CONTENTS or GUESS) and its size."""
    gas, products, vols = gas_of(net), products_of(net), volumes_of(net)
    contents, states, chambers = amounts_of(net, which), states_of(net), chambers_of(net)
    for v in range(volumes_in(net)):
        if vols.kind[v] == RESERVOIR:
            continue
        m = contents[v, MASS]
        yf, yb = contents[v, FUEL] / m, contents[v, BURNED] / m
        e = contents[v, ENERGY] / m
        rho = m / states.volume[v]
        c, t, more = cv_coefficients(gas, yf, yb), states.temperature[v], 0.0
        if vols.kind[v] == CYLINDER and t > FROZEN:
            t, more = in_equilibrium(c, products, yb, e, log(rho), t)
        else:
            t = temperature_of(gas, yf, yb, e, t)
        r = gas_constant(gas, yf, yb)
        p = rho * (r + more) * t
        if vols.kind[v] == CYLINDER:
            p = burning_pressure(net, v, which, p, t)
            if which == GUESS and chambers.crevice_volume[vols.cylinder[v]] > 0.0:
                size, capacity = states.volume[v], cv_at_most(c, t) / r
                p, m, e = foreseen(gas, chambers, vols.cylinder[v], p, m, e, size, capacity)
                rho = m / size
            t = p / (rho * (r + more))
        cv = cv_at_most(c, t)
        recombined = t + (e + p / rho - energy_at_most(c, t) - r * t) / (cv + r)
        states.rho[v], states.p[v], states.leaving[v] = rho, p, p / (r * recombined)
        states.temperature[v], states.yf[v], states.yb[v], states.e[v] = t, yf, yb, e
        states.gamma[v] = 1.0 + r / cv
        if vols.kind[v] == CYLINDER and which == CONTENTS:
            note_before(chambers, vols.cylinder[v], e + p / rho, yf, yb)


@inlined
def wall_heat(vols, cranks, chambers, states, v, angle, omega):
    """Heat flow from the gas of volume ``v`` to its walls, W."""
    if vols.kind[v] == VESSEL:
        return vols.conductance[v] * (states.temperature[v] - vols.wall[v])
    c = vols.cylinder[v]
    if chambers.heat_model[c] == NONE:
        return 0.0
    local = within_cycle(angle - cranks.phase[c])
    closed = local < cranks.evo[c] or local > cranks.ivc[c]
    after_start = within_cycle(local - cranks.burn_start[c]) < 360.0
    burning = closed and after_start
    bore = sqrt(4.0 * cranks.area[c] / pi)
    speed = cranks.stroke[c] * omega / pi
    p, t, volume = states.p[v], states.temperature[v], states.volume[v]
    wall = (chambers.head_wall[c] + chambers.piston_wall[c] + chambers.liner_wall[c]) / 3.0
    reference = (chambers.ivc_p[c], chambers.ivc_t[c], chambers.ivc_v[c])
    crank, gas = (bore, speed, cranks.swept[c]), (p, t, states.rho[v], states.gamma[v], volume)
    h = film(chambers.heat_model[c], crank, gas, reference, wall, not closed, burning)
    liner = 4.0 * (volume - cranks.clearance[c]) / bore
    if not closed:
        h *= chambers.exchange_heat[c]
    loss = cranks.area[c] * (2.0 * t - chambers.head_wall[c] - chambers.piston_wall[c])
    return chambers.heat_factor[c] * h * (loss + liner * (t - chambers.liner_wall[c]))


@routine
def own_rates(net, which, angle, omega):
    """Rates of change not coming through duct ends, into the amounts ``which`` (volumes x 6).

    Columns: mass, energy, fuel, burned (work and wall heat included), work W, wall heat W.
    """
    vols, cranks, chambers, states = volumes_of(net), cranks_of(net), chambers_of(net), states_of(net)
    orifices, out = orifices_of(net), amounts_of(net, which)
    for v in range(volumes_in(net)):
        for q in range(6):
            out[v, q] = 0.0
        if vols.kind[v] == RESERVOIR:
            continue
        out[v, 4] = states.p[v] * states.growth[v] * omega
        out[v, 5] = wall_heat(vols, cranks, chambers, states, v, angle, omega)
        out[v, ENERGY] = -out[v, 4] - out[v, 5]
    for o in range(orifices_in(net)):
        i, j = orifices.first[o], orifices.second[o]
        up, down = (i, j) if states.p[i] >= states.p[j] else (j, i)
        flux = mass_flux(states.p[up], states.leaving[up], states.gamma[up], states.p[down])
        flow = orifices.area[o] * flux
        h = states.e[up] + states.p[up] / states.rho[up]
        for v, sign in ((up, -1.0), (down, 1.0)):
            out[v, MASS] += sign * flow
            out[v, ENERGY] += sign * flow * h
            out[v, FUEL] += sign * flow * states.yf[up]
            out[v, BURNED] += sign * flow * states.yb[up]


@routine
def add_end_flow(net, stage, dt):
    """Add to the predicted contents what flows through duct ends in ``dt`` at the rates of the
    nodes of ``stage``."""
    mesh, ends, nodes, contents = mesh_of(net), ends_of(net), nodes_at(net, stage), amounts_of(net, GUESS)
    for end in range(ends_in(net)):
        if ends.to_volume[end] == 0:
            continue
        node, volume = ends.node[end], ends.volume[end]
        flow = dt * ends.side[end] * mesh.area[node] * nodes.rho[node] * nodes.u[node]
        h = nodes.e[node] + nodes.p[node] / nodes.rho[node] + 0.5 * nodes.u[node] * nodes.u[node]
        contents[volume, MASS] += flow
        contents[volume, ENERGY] += flow * h
        contents[volume, FUEL] += flow * nodes.yf[node]
        contents[volume, BURNED] += flow * nodes.yb[node]


@routine
def burn(net, which, start, stop, counted):
    """Convert the fuel that burns between crank angles ``start`` and ``stop`` (deg) in what
    cylinders hold (which: CONTENTS or GUESS).

    counted: 1.0 to add it to the cylinder's account, 0.0 in a prediction.
    """
    vols, cranks, chambers = volumes_of(net), cranks_of(net), chambers_of(net)
    burn_table, contents = burn_table_of(net), amounts_of(net, which)
    for v in range(volumes_in(net)):
        if vols.kind[v] != CYLINDER:
            continue
        c = vols.cylinder[v]
        chambers.burnt[c] = 0.0
        if chambers.charge_fuel[c] <= 0.0:
            continue
        stretch = chambers.burn_stretch[c]
        begin = cranks.phase[c] + chambers.ca50[c] - stretch * (chambers.ca50[c] - cranks.burn_start[c])
        x0 = table_value(burn_table, c, within_cycle(start - begin) / stretch)
        x1 = table_value(burn_table, c, within_cycle(stop - begin) / stretch)
        if x1 < x0:  # the burn of this cycle starts within the step
            x0 = 0.0
        chambers.burnt[c] = x1
        # Of what is there: crevices hide some, and give it back (crevices.py).
        fuel = contents[v, FUEL] * min((x1 - x0) / max(1.0 - x0, 1e-12), 1.0)
        contents[v, FUEL] -= fuel
        contents[v, BURNED] += fuel * (1.0 + chambers.air_fuel_ratio[c])
        contents[v, ENERGY] += fuel * chambers.heat_release[c]
        chambers.burned_fuel[c] += counted * fuel


@inlined
def vapour_spare(net, v, more):
    """Saturation pressure less what the fuel vapour of cylinder volume ``v`` has, Pa, if ``more``
    (kg) evaporates: from the state that was predicted for the end of the step."""
    gas, chambers, states, contents = (
        gas_of(net),
        chambers_of(net),
        states_of(net),
        amounts_of(net, CONTENTS),
    )
    c = volumes_of(net).cylinder[v]
    t, held = states.temperature[v], contents[v, FUEL] + more
    gained = more * (vapour_energy(gas, chambers.cooling[c]) - energy(gas, 1.0, 0.0, t))
    capacity = states.p[v] * states.volume[v] / ((states.gamma[v] - 1.0) * t)  # m cv
    t = max(t + gained / (capacity + more * cv_from(cv_coefficients(gas, 1.0, 0.0), t)), COLDEST)
    return (
        saturation_pressure(
            chambers.steepness[c],
            chambers.shift[c],
            chambers.boils_from[c],
            chambers.boils_to[c],
            t,
            min(held / (contents[v, FUEL] + chambers.liquid[c]), 1.0),
        )
        - held * gas_constant(gas, 1.0, 0.0) * t / states.volume[v]
    )


@inlined
def vapour_energy(gas, cooling):
    """Energy, J/kg, that liquid of 25 degC brings as it evaporates: that of its vapour with the
    work of making room, h = e + R T, less what the charge supplies (``cooling``)."""
    return energy(gas, 1.0, 0.0, LIQUID) + gas_constant(gas, 1.0, 0.0) * LIQUID - cooling


@routine
def evaporate(net):
    """Let the liquid fuel of the cylinders evaporate, as far as its vapour is not saturated.

    In equilibrium at once (no time is left out of account for drops and films): the vapour's
    pressure stays at or below the fuel's saturation pressure (gas/volatility.py) at the temperature
    that the cylinder has after it. The rest waits as liquid of 25 degC.
    """
    gas, vols, chambers = gas_of(net), volumes_of(net), chambers_of(net)
    contents = amounts_of(net, CONTENTS)
    for v in range(volumes_in(net)):
        if vols.kind[v] != CYLINDER or chambers.liquid[vols.cylinder[v]] <= 0.0:
            continue
        c = vols.cylinder[v]
        more = chambers.liquid[c]
        if vapour_spare(net, v, more) < 0.0:
            low, high = 0.0, more
            for _ in range(HALVINGS):  # the spare pressure falls with what evaporates
                more = 0.5 * (low + high)
                if vapour_spare(net, v, more) < 0.0:
                    high = more
                else:
                    low = more
            more = low
        e = vapour_energy(gas, chambers.cooling[c])
        contents[v, MASS] += more
        contents[v, FUEL] += more
        contents[v, ENERGY] += more * e
        chambers.liquid[c] -= more
        chambers.injected[c] += more
        chambers.injected_energy[c] += more * e


@inlined
def inject(chambers, c, fuel):
    """Add ``fuel`` (kg) to cylinder ``c`` as liquid."""
    chambers.liquid[c] += fuel
    chambers.metered[c] += fuel


@routine
def port_fuel(net):
    """Fuel injected at the back of the intake valves: goes in with the air, in proportion.

    Fuel is metered on the air that has passed the valve's end so far less what went back, so
    mixture pushed out and drawn in again is not metered twice.
    """
    vols, chambers, through = volumes_of(net), chambers_of(net), tally_ends_of(net)
    for v in range(volumes_in(net)):
        if vols.kind[v] == CYLINDER and chambers.delivery[vols.cylinder[v]] == PORT:
            c = vols.cylinder[v]
            passed = through[int(chambers.injector_end[c])]
            air = passed[MASS] - passed[FUEL] - passed[BURNED]
            due = air / chambers.air_fuel_ratio[c] - passed[FUEL] - chambers.metered[c]
            if due > 0.0:
                inject(chambers, c, due)


@routine
def direct_fuel(net, start, stop):
    """Fuel injected into the cylinder between crank angles ``start`` and ``stop`` (deg), at a
    steady rate from injection_start on, as long as the intake valve has not shut: in all the dose
    that the cycles before were found to need (at_ivc)."""
    vols, cranks, chambers = volumes_of(net), cranks_of(net), chambers_of(net)
    for v in range(volumes_in(net)):
        if vols.kind[v] == CYLINDER and chambers.delivery[vols.cylinder[v]] == DIRECT:
            c = vols.cylinder[v]
            until = within_cycle(stop - cranks.phase[c] - chambers.injection_start[c])
            shut = within_cycle(cranks.ivc[c] - chambers.injection_start[c])
            most = min(chambers.injection_duration[c], shut)
            share = min(until, most) - min(max(until - (stop - start), 0.0), most)
            if shut < 360.0 and share > 0.0:
                inject(chambers, c, chambers.dose[c] * share / chambers.injection_duration[c])


@routine
def at_ivc(net, v):
    """Note the trapped charge of the cylinder that is volume ``v`` when its intake valve shuts;
    meter directly injected fuel, and add what is still due."""
    chambers, states, contents = chambers_of(net), states_of(net), amounts_of(net, CONTENTS)
    c = volumes_of(net).cylinder[v]
    chambers.ivc_p[c], chambers.ivc_t[c], chambers.ivc_v[c] = (
        states.p[v],
        states.temperature[v],
        states.volume[v],
    )
    air = contents[v, MASS] - contents[v, FUEL] - contents[v, BURNED]
    hidden = chambers.crevice_mass[c] - chambers.crevice_fuel[c] - chambers.crevice_burned[c]
    chambers.trapped_air[c] = air + hidden
    chambers.trapped_mass[c] = contents[v, MASS]
    chambers.trapped_burned[c] = contents[v, BURNED]
    if chambers.delivery[c] == DIRECT:
        due = air / chambers.air_fuel_ratio[c] - contents[v, FUEL] - chambers.liquid[c]
        chambers.dose[c] = max(chambers.dose[c] + due, 0.0)
        inject(chambers, c, max(due, 0.0))
    chambers.charge_fuel[c] = contents[v, FUEL] + chambers.liquid[c]
    residual = contents[v, BURNED] / contents[v, MASS]
    chambers.burn_stretch[c] = 1.0 + chambers.residual_factor[c] * residual
