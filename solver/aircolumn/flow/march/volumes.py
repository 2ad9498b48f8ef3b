"""The volumes in a step: what flows in and out, what they do themselves, what cylinders pass that
are not computed."""

from math import sqrt

from aircolumn.flow.arrays.blocks import (
    CONTENTS,
    GUESS,
    LAG,
    RATE_HALF,
    RATE_NEW,
    RATE_OLD,
    RELAXATION,
    amounts_of,
    chambers_of,
    clock_of,
    cranks_of,
    echo_flow_of,
    echo_length_of,
    echo_links_of,
    echo_phases_of,
    echoes_in,
    ends_in,
    ends_of,
    fluxes_of,
    mesh_of,
    states_of,
    tally_echo_of,
    tally_ends_of,
    valves_of,
    vessel_heat_of,
    volumes_in,
    volumes_of,
)
from aircolumn.flow.arrays.ends import CYLINDER
from aircolumn.flow.compiled.decorators import inlined, routine
from aircolumn.flow.compiled.lookup import within_cycle
from aircolumn.flow.cylinder.crevices import breathe_crevices
from aircolumn.flow.cylinder.filling import (
    add_end_flow,
    at_ivc,
    burn,
    direct_fuel,
    evaporate,
    move_pistons,
    port_fuel,
    update_states,
)
from aircolumn.flow.ends.echo import MOST_DRAWN, SLOW, answer_echoes, echo, remember, send


@routine
def add_echo(net, stage, dt, start, stop, counted):
    """What the other cylinders pass into the plenum between two crank angles, into its contents of
    ``stage``; counted: 1.0 to add it to the running sum, 0.0 in a prediction."""
    phases, count = echo_phases_of(net), echoes_in(net)
    if count == 0:
        return
    states, links, flow, clock = states_of(net), echo_links_of(net), echo_flow_of(net), clock_of(net)
    contents, volume = amounts_of(net, stage), links[1]
    middle, degrees = 0.5 * (start + stop), stop - start
    h, yf, yb = states.e[volume] + states.p[volume] / states.rho[volume], states.yf[volume], states.yb[volume]
    mass, energy, fuel, burned = echo(flow, phases, count, start, stop, states.p[volume], h, yf, yb)
    a = sqrt(states.gamma[volume] * states.p[volume] / states.rho[volume])
    area = mesh_of(net).area[ends_of(net).node[links[0]]]
    travel = 2.0 * echo_length_of(net)[0] / a * degrees / dt
    valves, row = valves_of(net), links[2]
    pressure_offset = answer_echoes(flow, valves, row, phases, count, middle, states.p[volume], travel)
    clock[LAG] += counted * (pressure_offset - clock[LAG]) * degrees / SLOW
    pressure_offset -= clock[LAG]
    # Implicit in the plenum's own pressure, which the answer moves.
    more = -area / a * pressure_offset * dt / (1.0 + count * area * a / states.volume[volume] * dt)
    more = max(more, -mass - MOST_DRAWN * states.rho[volume] * states.volume[volume])
    amounts = mass + more, energy + more * h, fuel + more * yf, burned + more * yb
    tally = tally_echo_of(net)
    for q in range(4):
        contents[volume, q] += amounts[q]
        tally[q] += counted * amounts[q]
    if counted > 0.0:
        send(flow, valves, row, phases, count, start, stop, states.p[volume], travel)


@routine
def predict_volumes(net, rates, stage, dt, start, stop):
    """Volumes at crank angle ``stop`` from the old contents, own rates and flow of ``stage``.

    rates: which of the amounts to take.
    """
    contents, rate, guess = amounts_of(net, CONTENTS), amounts_of(net, rates), amounts_of(net, GUESS)
    for v in range(guess.shape[0]):
        for q in range(4):
            guess[v, q] = contents[v, q] + dt * rate[v, q]
    add_end_flow(net, stage, dt)
    add_echo(net, GUESS, dt, start, stop, 0.0)
    burn(net, GUESS, start, stop, 0.0)
    move_pistons(net, stop)
    update_states(net, GUESS)


@inlined
def tally_ends(net, dt, start, stop):
    """Add the step's end fluxes to the volumes' contents and to the running sums; remember what
    the other cylinders are to repeat."""
    ends, flux, contents, tally = (
        ends_of(net),
        fluxes_of(net),
        amounts_of(net, CONTENTS),
        tally_ends_of(net),
    )
    echoed = echoes_in(net) > 0
    for end in range(ends_in(net)):
        node, outward = ends.node[end], dt * ends.side[end]
        mass, energy = outward * flux.mass[node], outward * flux.energy[node]
        fuel, burned = outward * flux.fuel[node], outward * flux.burned[node]
        if ends.to_volume[end] == 1:
            volume = ends.volume[end]
            contents[volume, 0] += mass
            contents[volume, 1] += energy
            contents[volume, 2] += fuel
            contents[volume, 3] += burned
        tally[end, 0] += mass
        tally[end, 1] += energy
        tally[end, 2] += fuel
        tally[end, 3] += burned
        if echoed and end == echo_links_of(net)[0] and stop > start:
            pressure = states_of(net).p[echo_links_of(net)[1]] * (stop - start)
            amounts = mass, energy, fuel, burned, pressure
            remember(echo_flow_of(net), amounts, start, stop, clock_of(net)[RELAXATION])


@inlined
def add_own(net, dt, start, stop):
    """Add the volumes' own rates over the step, Simpson-weighted, and what they did and lost; the next step
    begins with the last of them."""
    vols, cranks, chambers = volumes_of(net), cranks_of(net), chambers_of(net)
    contents, old = amounts_of(net, CONTENTS), amounts_of(net, RATE_OLD)
    half, new, lost = amounts_of(net, RATE_HALF), amounts_of(net, RATE_NEW), vessel_heat_of(net)
    for v in range(volumes_in(net)):
        for q in range(6):
            now = new[v, q]
            new[v, q] = dt / 6.0 * (old[v, q] + 4.0 * half[v, q] + now)
            old[v, q] = now
        for q in range(4):
            contents[v, q] += new[v, q]
        if vols.kind[v] == CYLINDER:
            c = vols.cylinder[v]
            chambers.work[c] += new[v, 4]
            chambers.wall_heat[c] += new[v, 5]
            if 180.0 < within_cycle(0.5 * (start + stop) - cranks.phase[c]) < 540.0:
                chambers.pumping[c] += new[v, 4]
        else:
            lost[v] += new[v, 5]


@inlined
def note_cylinders(net, start, stop):
    """Peak pressures, and the trapped charge of cylinders whose intake valve shut in the step."""
    vols, cranks, chambers, states = volumes_of(net), cranks_of(net), chambers_of(net), states_of(net)
    for v in range(volumes_in(net)):
        if vols.kind[v] == CYLINDER:
            c = vols.cylinder[v]
            chambers.peak_pressure[c] = max(chambers.peak_pressure[c], states.p[v])
            shut = cranks.phase[c] + cranks.ivc[c] - 1e-6
            if stop > start and within_cycle(stop - shut) < within_cycle(start - shut):
                at_ivc(net, v)


@routine
def finish_volumes(net, dt, start, stop):
    """Contents and states at the end of the step, to which the pistons have moved.

    The contents of a reservoir only count what flowed into it; its state does not follow.
    """
    tally_ends(net, dt, start, stop)
    add_own(net, dt, start, stop)
    add_echo(net, CONTENTS, dt, start, stop, 1.0)
    port_fuel(net)
    direct_fuel(net, start, stop)
    evaporate(net)
    burn(net, CONTENTS, start, stop, 1.0)
    breathe_crevices(net, stop)
    update_states(net, CONTENTS)
    note_cylinders(net, start, stop)
