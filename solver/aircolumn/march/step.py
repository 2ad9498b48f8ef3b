"""The compiled march of a whole network: ducts, their ends and the volumes between them.

One step of length dt, the same for everything:

1. look inside the cells (parabolas, limited where steep);
2. predict the volumes at half time, carry the nodes to half time, solve the ends there;
3. predict the volumes at full time, carry the nodes there, solve the ends;
4. integrate fluxes over the step and update cells and volumes with the same numbers, so that
   nothing is lost between them.
"""

from aircolumn.compiled.bits import from_bits, rank
from aircolumn.compiled.decorators import inlined, kernel
from aircolumn.duct.characteristics import full_step, half_step
from aircolumn.duct.conservation import advance_cells, energies, finish_and_integrate
from aircolumn.duct.layer import swing
from aircolumn.duct.reconstruction import (
    any_steep,
    extend,
    lines,
    mark_steep,
    means,
    middles,
    mirror_ends,
    parabolas,
    smooth_parabolas,
    wall_terms,
    wall_terms_half_way,
)
from aircolumn.duct.rescue import any_wild, feed, tame
from aircolumn.ends.arrays import JOIN, Valves
from aircolumn.ends.solve import FIRST_HALF, FULL, SECOND_HALF, set_ends, trace_ends
from aircolumn.march.blocks import (
    ANGLE,
    HALF,
    NEW,
    NOW,
    OLD,
    RATE_HALF,
    RATE_NEW,
    RATE_OLD,
    STEEP,
    STEP,
    STEPS,
    TIME,
    arrivals_of,
    cells_of,
    ends_of,
    feet_of,
    fluxes_of,
    mesh_of,
    middle_of,
    nodes_at,
    profile_of,
    volume_states,
)
from aircolumn.march.volumes import finish_volumes, predict, rates_now, tally_ends


@kernel
def highest_rate(mesh, nodes, last):
    """Largest (|u| + a) / dx of the network, 1/s; NaN if any node state is not finite."""
    worst = 0
    for j in range(1, last):
        per = max(
            mesh.per_reach[j], mesh.per_reach[j - 1]
        )  # 0 between ducts, where states are void
        rate = (abs(nodes.u[j]) + nodes.a[j]) * per
        worst = max(worst, rank(rate) if per > 0.0 else 0)
    return from_bits(worst)


@inlined
def look_inside(gas, b, conservative, has_walls):
    """Profiles of all cells from the old nodes and the cell contents."""
    mesh, old, mid, prof = mesh_of(b.mesh), nodes_at(b, OLD), middle_of(b.mid), profile_of(b.prof)
    last = old.rho.size - 1
    if conservative:
        cells, first, count = cells_of(b.cells), b.ducts[0], b.ducts[1]
        means(mesh, cells, mid, last + 1)
        extend(mid.density, first, count)
        extend(mid.inner, first, count)
        extend(mid.share, first, count)
        mark_steep(mesh, old, mid, last)
        middles(gas, mesh, cells, old, mid, last)
        mirror_ends(mid, old, first, count)
        b.clock[STEEP] = 0.0
        if any_steep(mid, last):
            b.clock[STEEP] = 1.0
            parabolas(old, mid, prof, last)
        else:
            smooth_parabolas(old, mid, prof, last)
    else:
        b.clock[STEEP] = 1.0
        lines(gas, old, mid, prof, last)
    if has_walls:
        if b.clock[STEP] > 0.0:
            swing(mesh, mid, b.layer, prof.swing, b.clock[STEP], last)
        wall_terms(gas, mesh, mid, prof, last)


@inlined
def solve_ends(gas, b, rings, stage, tau, angle, time):
    """End nodes of one stage: FIRST_HALF and SECOND_HALF set the half-time nodes, FULL the new."""
    mesh, ends, arr = mesh_of(b.mesh), ends_of(b.end_links, b.end_values), arrivals_of(b.arrivals)
    old, half, feet = nodes_at(b, OLD), nodes_at(b, HALF), feet_of(b.feet)
    trace_ends(mesh, profile_of(b.prof), ends, arr, old, half, feet, stage, tau)
    valves = Valves(b.valve_out, b.valve_in, b.valve_offset)
    earlier = nodes_at(b, OLD if stage == FIRST_HALF else HALF)
    target = nodes_at(b, NEW if stage == FULL else HALF)
    states = volume_states(b.states)
    set_ends(gas, rings, mesh, ends, valves, states, arr, old, earlier, target, tau, angle, time)


@inlined
def keep_sane(gas, b, stage):
    """Nodes the characteristics could not find (duct/rescue.py); smooth flow has none."""
    if b.clock[STEEP] == 0.0:
        return
    mesh, old, nodes = mesh_of(b.mesh), nodes_at(b, OLD), nodes_at(b, stage)
    last = old.rho.size - 1
    if any_wild(mesh, old, nodes, last):
        tame(gas, mesh, middle_of(b.mid), old, nodes, last)


@inlined
def share_steepness(ends, steep):
    """Ends that meet must weigh their common flux alike: each sees the steepest of its ring."""
    for k in range(ends.kind.size):
        if ends.kind[k] >= JOIN:  # the kinds from JOIN on meet other ends
            worst = steep[ends.cell[k]]
            m = ends.volume[k]
            while m != k:
                worst = max(worst, steep[ends.cell[m]])
                m = ends.volume[m]
            steep[ends.cell[k] + ends.side[k]] = worst


@inlined
def integrate(gas, b, conservative, dt):
    """The new nodes complete, fluxes over the step, and the cells they fill and empty."""
    mesh, mid, flux = mesh_of(b.mesh), middle_of(b.mid), fluxes_of(b.flux)
    old, half = nodes_at(b, OLD), nodes_at(b, HALF)
    last = old.rho.size - 1
    share_steepness(ends_of(b.end_links, b.end_values), mid.steep)
    finish_and_integrate(gas, mesh, mid, old, half, nodes_at(b, NEW), flux, last)
    if conservative:
        cells, prof = cells_of(b.cells), profile_of(b.prof)
        if b.clock[STEEP] > 0.0:
            feed(gas, mesh, mid, nodes_at(b, NEW), flux, cells, last, dt)
        advance_cells(mesh, mid, prof, old, half, flux, cells, b.duct_heat, last, dt)


@inlined
def step(gas, b, rings, conservative, has_walls, dt, omega):
    """Advance the network by ``dt`` seconds at ``omega`` rad/s."""
    mesh, prof, feet = mesh_of(b.mesh), profile_of(b.prof), feet_of(b.feet)
    old, half, new = nodes_at(b, OLD), nodes_at(b, HALF), nodes_at(b, NEW)
    places = old.rho.size
    time, start = b.clock[TIME], b.clock[ANGLE]
    degrees = omega * dt * 57.29577951308232
    middle, stop = start + 0.5 * degrees, start + degrees
    look_inside(gas, b, conservative, has_walls)

    predict(gas, b, RATE_OLD, OLD, 0.5 * dt, start, middle)
    half_step(mesh, prof, old, half, feet, places - 1, 0.5 * dt)
    solve_ends(gas, b, rings, FIRST_HALF, 0.5 * dt, middle, time + 0.5 * dt)
    solve_ends(gas, b, rings, SECOND_HALF, 0.5 * dt, middle, time + 0.5 * dt)
    keep_sane(gas, b, HALF)
    energies(gas, half, places - 1)
    rates_now(b, middle, omega, RATE_HALF)

    if has_walls:
        wall_terms_half_way(gas, mesh, half, prof, places - 1)
    predict(gas, b, RATE_HALF, HALF, dt, start, stop)
    full_step(mesh, prof, old, half, new, feet, places - 1, dt)
    solve_ends(gas, b, rings, FULL, dt, stop, time + dt)
    keep_sane(gas, b, NEW)
    rates_now(b, stop, omega, RATE_NEW)

    integrate(gas, b, conservative, dt)
    tally_ends(b, dt, start, stop)
    finish_volumes(gas, b, dt, start, stop)
    b.clock[NOW] = 2.0 - b.clock[NOW]
    rates_now(b, stop, omega, RATE_OLD)
    b.clock[TIME] = time + dt
    b.clock[STEP] = dt
    b.clock[ANGLE] = stop
    b.clock[STEPS] += 1.0
