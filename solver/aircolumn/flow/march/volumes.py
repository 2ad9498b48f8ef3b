"""The volumes in a step: what flows in and out, what they do themselves, what cylinders pass that
are not computed."""

from math import sqrt

from aircolumn.flow.arrays.blocks import (
    CONTENTS,
    GUESS,
    KEPT,
    LAG,
    RATE_HALF,
    RATE_NEW,
    RATE_OLD,
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
from aircolumn.flow.cylinder.filling import (
    add_end_flow,
    at_ivc,
    burn,
    direct_fuel,
    evaporate,
    move_pistons,
    port_fuel,
    settle,
)
from aircolumn.flow.ends.echo import MOST_DRAWN, SLOW, answer_echoes, echo, remember, send


@routine
def add_echo(b, stage, dt, start, stop, counted):
    """What the other cylinders pass into the plenum between two crank angles, into its contents of
    ``stage``; counted: 1.0 to add it to the running sum, 0.0 in a prediction."""
    phases, count = echo_phases_of(b), echoes_in(b)
    if count == 0:
        return
    states, links, flow, clock = states_of(b), echo_links_of(b), echo_flow_of(b), clock_of(b)
    contents, v = amounts_of(b, stage), links[1]
    middle, degrees = 0.5 * (start + stop), stop - start
    h, yf, yb = states.e[v] + states.p[v] / states.rho[v], states.yf[v], states.yb[v]
    mass, energy, fuel, burned = echo(flow, phases, count, start, stop, states.p[v], h, yf, yb)
    a = sqrt(states.gamma[v] * states.p[v] / states.rho[v])
    area = mesh_of(b).area[ends_of(b).node[links[0]]]
    travel = 2.0 * echo_length_of(b)[0] / a * degrees / dt
    valves, row = valves_of(b), links[2]
    off = answer_echoes(flow, valves, row, phases, count, middle, states.p[v], travel)
    clock[LAG] += counted * (off - clock[LAG]) * degrees / SLOW
    off -= clock[LAG]
    # Implicit in the plenum's own pressure, which the answer moves.
    more = -area / a * off * dt / (1.0 + count * area * a / states.volume[v] * dt)
    more = max(more, -mass - MOST_DRAWN * states.rho[v] * states.volume[v])
    amounts = mass + more, energy + more * h, fuel + more * yf, burned + more * yb
    tally = tally_echo_of(b)
    for q in range(4):
        contents[v, q] += amounts[q]
        tally[q] += counted * amounts[q]
    if counted > 0.0:
        send(flow, valves, row, phases, count, start, stop, states.p[v], travel)


@routine
def predict_volumes(b, rates, stage, dt, start, stop):
    """Volumes at crank angle ``stop`` from the old contents, own rates and flow of ``stage``.

    rates: which of the amounts to take.
    """
    contents, rate, guess = amounts_of(b, CONTENTS), amounts_of(b, rates), amounts_of(b, GUESS)
    for v in range(guess.shape[0]):
        for q in range(4):
            guess[v, q] = contents[v, q] + dt * rate[v, q]
    add_end_flow(b, stage, dt)
    add_echo(b, GUESS, dt, start, stop, 0.0)
    burn(b, GUESS, start, stop, 0.0)
    move_pistons(b, stop)
    settle(b, GUESS)


@inlined
def tally_ends(b, dt, start, stop):
    """Add the step's end fluxes to the volumes' contents and to the running sums; remember what
    the other cylinders are to repeat."""
    ends, flux, contents, tally = (
        ends_of(b),
        fluxes_of(b),
        amounts_of(b, CONTENTS),
        tally_ends_of(b),
    )
    echoed = echoes_in(b) > 0
    for k in range(ends_in(b)):
        j, outward = ends.node[k], dt * ends.side[k]
        mass, energy = outward * flux.mass[j], outward * flux.energy[j]
        fuel, burned = outward * flux.fuel[j], outward * flux.burned[j]
        if ends.to_volume[k] == 1:
            v = ends.volume[k]
            contents[v, 0] += mass
            contents[v, 1] += energy
            contents[v, 2] += fuel
            contents[v, 3] += burned
        tally[k, 0] += mass
        tally[k, 1] += energy
        tally[k, 2] += fuel
        tally[k, 3] += burned
        if echoed and k == echo_links_of(b)[0] and stop > start:
            pressure = states_of(b).p[echo_links_of(b)[1]] * (stop - start)
            amounts = mass, energy, fuel, burned, pressure
            remember(echo_flow_of(b), amounts, start, stop, clock_of(b)[KEPT])


@inlined
def add_own(b, dt, start, stop):
    """Add the volumes' own rates over the step, Simpson-weighted, and what they did and lost."""
    vols, cranks, chambers = volumes_of(b), cranks_of(b), chambers_of(b)
    contents, old = amounts_of(b, CONTENTS), amounts_of(b, RATE_OLD)
    half, new, lost = amounts_of(b, RATE_HALF), amounts_of(b, RATE_NEW), vessel_heat_of(b)
    for v in range(volumes_in(b)):
        for q in range(6):
            new[v, q] = dt / 6.0 * (old[v, q] + 4.0 * half[v, q] + new[v, q])
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
def note_cylinders(b, start, stop):
    """Peak pressures, and the trapped charge of cylinders whose intake valve shut in the step."""
    vols, cranks, chambers, states = volumes_of(b), cranks_of(b), chambers_of(b), states_of(b)
    for v in range(volumes_in(b)):
        if vols.kind[v] == CYLINDER:
            c = vols.cylinder[v]
            chambers.peak_pressure[c] = max(chambers.peak_pressure[c], states.p[v])
            shut = cranks.phase[c] + cranks.ivc[c] - 1e-6
            if stop > start and within_cycle(stop - shut) < within_cycle(start - shut):
                at_ivc(b, v)


@routine
def finish_volumes(b, dt, start, stop):
    """Contents and states at the end of the step, to which the pistons have moved.

    The contents of a reservoir only count what flowed into it; its state does not follow.
    """
    tally_ends(b, dt, start, stop)
    add_own(b, dt, start, stop)
    add_echo(b, CONTENTS, dt, start, stop, 1.0)
    port_fuel(b)
    direct_fuel(b, start, stop)
    evaporate(b)
    burn(b, CONTENTS, start, stop, 1.0)
    settle(b, CONTENTS)
    note_cylinders(b, start, stop)
