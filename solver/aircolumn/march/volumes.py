"""The volumes in a step: what flows in and out, what they do themselves, what cylinders pass that
are not computed."""

from math import sqrt

from aircolumn.compiled.decorators import inlined
from aircolumn.compiled.lookup import within_cycle
from aircolumn.cylinder.filling import (
    add_end_flow,
    at_ivc,
    burn,
    direct_fuel,
    own_rates,
    port_fuel,
    settle,
)
from aircolumn.ends.arrays import CYLINDER, Orifices, Valves
from aircolumn.ends.echo import MOST_DRAWN, SLOW, answer, echo, remember, send
from aircolumn.march.blocks import (
    AREA,
    CONTENTS,
    GUESS,
    KEPT,
    LAG,
    NODE,
    PRESSURE,
    RATE_HALF,
    RATE_NEW,
    RATE_OLD,
    chambers_of,
    cranks_of,
    ends_of,
    fluxes_of,
    mesh_of,
    nodes_at,
    volume_states,
    volumes_of,
)


@inlined
def add_echo(b, contents, dt, start, stop, counted):
    """What the other cylinders pass into the plenum between two crank angles;
    counted: 1.0 to add it to the running sum, 0.0 in a prediction."""
    if b.echo_phases.size > 0:
        states, v, count = volume_states(b.states), b.echo_links[1], b.echo_phases.size
        middle, degrees = 0.5 * (start + stop), stop - start
        h, yf, yb = states.e[v] + states.p[v] / states.rho[v], states.yf[v], states.yb[v]
        mass, energy, fuel, burned = echo(
            b.echo_flow, b.echo_phases, start, stop, states.p[v], h, yf, yb
        )
        a = sqrt(states.gamma[v] * states.p[v] / states.rho[v])
        area = b.mesh[AREA, b.end_links[NODE, b.echo_links[0]]]
        travel = 2.0 * b.echo_length[0] / a * degrees / dt
        valves, row = Valves(b.valve_out, b.valve_in, b.valve_offset), b.echo_links[2]
        off = answer(b.echo_flow, valves, row, b.echo_phases, middle, states.p[v], travel)
        b.clock[LAG] += counted * (off - b.clock[LAG]) * degrees / SLOW
        off -= b.clock[LAG]
        # Implicit in the plenum's own pressure, which the answer moves.
        more = -area / a * off * dt / (1.0 + count * area * a / states.volume[v] * dt)
        more = max(more, -mass - MOST_DRAWN * states.rho[v] * states.volume[v])
        amounts = mass + more, energy + more * h, fuel + more * yf, burned + more * yb
        for q in range(4):
            contents[v, q] += amounts[q]
            b.tally_echo[q] += counted * amounts[q]
        if counted > 0.0:
            send(b.echo_flow, valves, row, b.echo_phases, start, stop, states.p[v], travel)


@inlined
def predict(gas, b, rates, stage, dt, start, stop):
    """Volumes at crank angle ``stop`` from the old contents, own rates and flow of ``stage``.

    rates: which of b.volumes to take.
    """
    vols, cranks = volumes_of(b.volume_links, b.volume_values), cranks_of(b.cranks)
    guess = b.volumes[GUESS]
    for v in range(vols.kind.size):
        for q in range(4):
            guess[v, q] = b.volumes[CONTENTS, v, q] + dt * b.volumes[rates, v, q]
    ends = ends_of(b.end_links, b.end_values)
    add_end_flow(mesh_of(b.mesh), ends, nodes_at(b, stage), dt, guess)
    add_echo(b, guess, dt, start, stop, 0.0)
    burn(vols, cranks, b.burn_table, chambers_of(b.chambers), guess, start, stop, 0.0)
    settle(gas, b.products, vols, cranks, guess, stop, volume_states(b.states))


@inlined
def rates_now(b, angle, omega, stage):
    """Own rates of all volumes at one stage (what flows through duct ends apart)."""
    own_rates(
        volumes_of(b.volume_links, b.volume_values),
        cranks_of(b.cranks),
        chambers_of(b.chambers),
        Orifices(b.orifice_links[0], b.orifice_links[1], b.orifice_area),
        volume_states(b.states),
        angle,
        omega,
        b.volumes[stage],
    )


@inlined
def tally_ends(b, dt, start, stop):
    """Add the step's end fluxes to the volumes' contents and to the running sums; remember what
    the other cylinders are to repeat."""
    ends, flux = ends_of(b.end_links, b.end_values), fluxes_of(b.flux)
    for k in range(ends.kind.size):
        j, outward = ends.node[k], dt * ends.side[k]
        mass, energy = outward * flux.mass[j], outward * flux.energy[j]
        fuel, burned = outward * flux.fuel[j], outward * flux.burned[j]
        if ends.to_volume[k] == 1:
            v = ends.volume[k]
            b.volumes[CONTENTS, v, 0] += mass
            b.volumes[CONTENTS, v, 1] += energy
            b.volumes[CONTENTS, v, 2] += fuel
            b.volumes[CONTENTS, v, 3] += burned
        b.tally_ends[k, 0] += mass
        b.tally_ends[k, 1] += energy
        b.tally_ends[k, 2] += fuel
        b.tally_ends[k, 3] += burned
        if b.echo_phases.size > 0 and k == b.echo_links[0] and stop > start:
            pressure = b.states[PRESSURE, b.echo_links[1]] * (stop - start)
            remember(
                b.echo_flow, (mass, energy, fuel, burned, pressure), start, stop, b.clock[KEPT]
            )


@inlined
def finish_volumes(gas, b, dt, start, stop):
    """Contents at the end of the step: Simpson-weighted own rates and burning.

    The contents of a reservoir only count what flowed into it; its state does not follow.
    """
    vols, cranks = volumes_of(b.volume_links, b.volume_values), cranks_of(b.cranks)
    chambers, states, amounts = chambers_of(b.chambers), volume_states(b.states), b.volumes
    for v in range(vols.kind.size):
        for q in range(6):
            rate = amounts[RATE_OLD, v, q] + 4.0 * amounts[RATE_HALF, v, q]
            amounts[RATE_NEW, v, q] = dt / 6.0 * (rate + amounts[RATE_NEW, v, q])
        for q in range(4):
            amounts[CONTENTS, v, q] += amounts[RATE_NEW, v, q]
        if vols.kind[v] == CYLINDER:
            c = vols.cylinder[v]
            chambers.work[c] += amounts[RATE_NEW, v, 4]
            chambers.wall_heat[c] += amounts[RATE_NEW, v, 5]
            if 180.0 < within_cycle(0.5 * (start + stop) - cranks.phase[c]) < 540.0:
                chambers.pumping[c] += amounts[RATE_NEW, v, 4]
        else:
            b.vessel_heat[v] += amounts[RATE_NEW, v, 5]
    contents = amounts[CONTENTS]
    add_echo(b, contents, dt, start, stop, 1.0)
    port_fuel(gas, vols, chambers, b.tally_ends, contents)
    direct_fuel(gas, vols, cranks, chambers, contents, start, stop)
    burn(vols, cranks, b.burn_table, chambers, contents, start, stop, 1.0)
    settle(gas, b.products, vols, cranks, contents, stop, states)
    for v in range(vols.kind.size):
        if vols.kind[v] == CYLINDER:
            c = vols.cylinder[v]
            chambers.peak_pressure[c] = max(chambers.peak_pressure[c], states.p[v])
            shut = cranks.phase[c] + cranks.ivc[c] - 1e-6
            if stop > start and within_cycle(stop - shut) < within_cycle(start - shut):
                at_ivc(gas, vols, chambers, contents, states, v)
