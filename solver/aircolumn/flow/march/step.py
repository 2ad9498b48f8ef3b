"""The compiled march of a whole network: ducts, their ends and the volumes between them.

One step of length dt, the same for everything:

1. look inside the cells (parabolas, limited where steep);
2. predict the volumes at half time, carry the nodes to half time, solve the ends there;
3. predict the volumes at full time, carry the nodes there, solve the ends;
4. integrate fluxes over the step and update cells and volumes with the same numbers, so that
   nothing is lost between them. Own rates at the end of a step are those of the volumes as
   predicted, and begin the next.
"""

from aircolumn.flow.arrays.blocks import (
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
    cells_of,
    clock_of,
    duct_heat_of,
    ducts_of,
    ends_in,
    ends_of,
    feet_of,
    fluxes_of,
    gas_of,
    layer_of,
    mesh_of,
    middle_of,
    nodes_at,
    places_in,
    profile_of,
)
from aircolumn.flow.compiled.decorators import inlined, kernel, routine
from aircolumn.flow.compiled.vector_math import from_bits, rank
from aircolumn.flow.cylinder.filling import own_rates
from aircolumn.flow.duct.characteristics import full_step, half_step
from aircolumn.flow.duct.conservation import advance_cells, energies, finish_and_integrate
from aircolumn.flow.duct.layer import swing
from aircolumn.flow.duct.reconstruction import (
    any_steep,
    extend,
    fill_ghosts,
    lines,
    mark_steep,
    means,
    middle_states,
    parabolas,
    smooth_parabolas,
    wall_terms,
    wall_terms_half_way,
)
from aircolumn.flow.duct.rescue import any_unphysical, limit_starving_fluxes, replace_unphysical_nodes
from aircolumn.flow.ends.boundary_conditions import FIRST_HALF, FULL, SECOND_HALF, set_ends, trace_ends
from aircolumn.flow.march.volumes import finish_volumes, predict_volumes


@kernel
def highest_rate(mesh, nodes, last):
    """Largest (|u| + a) / dx of the network, 1/s; NaN if any node state is not finite."""
    worst = 0
    for j in range(1, last):
        per = max(mesh.per_reach[j], mesh.per_reach[j - 1])  # 0 between ducts, where states are void
        rate = (abs(nodes.u[j]) + nodes.a[j]) * per
        worst = max(worst, rank(rate) if per > 0.0 else 0)
    return from_bits(worst)


@routine
def reconstruct(net, conservative, has_walls):
    """Profiles of all cells from the old nodes and the cell contents."""
    gas, mesh, old, middles, profile = (
        gas_of(net),
        mesh_of(net),
        nodes_at(net, OLD),
        middle_of(net),
        profile_of(net),
    )
    clock, last = clock_of(net), places_in(net) - 1
    if conservative:
        cells, ducts = cells_of(net), ducts_of(net)
        first, count = ducts[0], ducts[1]
        means(mesh, cells, middles, last + 1)
        extend(middles.density, first, count)
        extend(middles.inner, first, count)
        extend(middles.share, first, count)
        mark_steep(mesh, old, middles, last)
        middle_states(gas, mesh, cells, old, middles, last)
        fill_ghosts(middles, old, first, count)
        clock[STEEP] = 0.0
        # A jump of velocity alone, which only an initial state can have, is not seen by mark_steep.
        if any_steep(middles, last) or clock[STEPS] == 0.0:
            clock[STEEP] = 1.0
            parabolas(old, middles, profile, last)
        else:
            smooth_parabolas(old, middles, profile, last)
    else:
        clock[STEEP] = 1.0
        lines(gas, old, middles, profile, last)
    if has_walls:
        if clock[STEP] > 0.0:
            swing(mesh, middles, layer_of(net), profile.swing, clock[STEP], last)
        wall_terms(gas, mesh, middles, profile, last)


@routine
def carry_to_half(net, tau):
    """All nodes inside the ducts to half time, ``tau`` after the old ones."""
    mesh, profile, old, half = mesh_of(net), profile_of(net), nodes_at(net, OLD), nodes_at(net, HALF)
    half_step(mesh, profile, old, half, feet_of(net), places_in(net) - 1, tau)


@routine
def carry_to_end(net, has_walls, dt):
    """All nodes inside the ducts to the end of the step."""
    mesh, profile, feet = mesh_of(net), profile_of(net), feet_of(net)
    old, half = nodes_at(net, OLD), nodes_at(net, HALF)
    last = places_in(net) - 1
    if has_walls:
        wall_terms_half_way(gas_of(net), mesh, half, profile, last)
    full_step(mesh, profile, old, half, nodes_at(net, NEW), feet, last, dt)


@routine
def solve_ends(net, stage, tau, angle, time):
    """End nodes of one stage: SECOND_HALF sets the half-time nodes, FULL the new."""
    trace_ends(net, stage, tau)
    set_ends(net, stage, tau, angle, time)


@routine
def rescue_nodes(net, stage):
    """Nodes the characteristics could not find (duct/rescue.py); smooth flow has none."""
    if clock_of(net)[STEEP] == 0.0:
        return
    mesh, old, nodes = mesh_of(net), nodes_at(net, OLD), nodes_at(net, stage)
    last = places_in(net) - 1
    if any_unphysical(mesh, old, nodes, last):
        replace_unphysical_nodes(gas_of(net), mesh, middle_of(net), old, nodes, last)


@inlined
def share_steepness(ends, count, steep):
    """Ends that meet must weigh their common flux alike: each sees the steepest of its ring."""
    for end in range(count):
        if ends.partner[end] != end:
            worst = steep[ends.cell[end]]
            partner = ends.partner[end]
            while partner != end:
                worst = max(worst, steep[ends.cell[partner]])
                partner = ends.partner[partner]
            steep[ends.cell[end] + ends.side[end]] = worst


@routine
def integrate(net, conservative, dt):
    """The new nodes complete, fluxes over the step, and the cells they fill and empty."""
    gas, mesh, middles, flux = gas_of(net), mesh_of(net), middle_of(net), fluxes_of(net)
    old, half, new = nodes_at(net, OLD), nodes_at(net, HALF), nodes_at(net, NEW)
    last = places_in(net) - 1
    share_steepness(ends_of(net), ends_in(net), middles.steep)
    finish_and_integrate(gas, mesh, middles, old, half, new, flux, last)
    if conservative:
        cells, profile = cells_of(net), profile_of(net)
        if clock_of(net)[STEEP] > 0.0:
            limit_starving_fluxes(gas, mesh, middles, new, flux, cells, last, dt)
        advance_cells(mesh, middles, profile, old, half, flux, cells, duct_heat_of(net), last, dt)


@routine
def half_time_energies(net):
    """Sensible energy of the half-time nodes."""
    energies(gas_of(net), nodes_at(net, HALF), places_in(net) - 1)


@routine
def step(net, conservative, has_walls, dt, omega):
    """Advance the network by ``dt`` seconds at ``omega`` rad/s."""
    clock = clock_of(net)
    time, start = clock[TIME], clock[ANGLE]
    degrees = omega * dt * 57.29577951308232
    middle, stop = start + 0.5 * degrees, start + degrees
    reconstruct(net, conservative, has_walls)

    predict_volumes(net, RATE_OLD, OLD, 0.5 * dt, start, middle)
    carry_to_half(net, 0.5 * dt)
    trace_ends(net, FIRST_HALF, 0.5 * dt)
    solve_ends(net, SECOND_HALF, 0.5 * dt, middle, time + 0.5 * dt)
    rescue_nodes(net, HALF)
    half_time_energies(net)
    own_rates(net, RATE_HALF, middle, omega)

    predict_volumes(net, RATE_HALF, HALF, dt, start, stop)
    carry_to_end(net, has_walls, dt)
    solve_ends(net, FULL, dt, stop, time + dt)
    rescue_nodes(net, NEW)
    own_rates(net, RATE_NEW, stop, omega)

    integrate(net, conservative, dt)
    finish_volumes(net, dt, start, stop)
    clock[NOW] = 2.0 - clock[NOW]
    clock[TIME] = time + dt
    clock[STEP] = dt
    clock[ANGLE] = stop
    clock[STEPS] += 1.0
