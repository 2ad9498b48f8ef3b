"""The compiled march of a whole network: ducts, their ends and the volumes between them.

One step of length dt, the same for everything:

1. look inside the cells (parabolas, limited where steep);
2. predict the volumes at half time, carry the nodes to half time, solve the ends there;
3. predict the volumes at full time, carry the nodes there, solve the ends;
4. integrate fluxes over the step and update cells and volumes with the same numbers, so that
   nothing is lost between them.
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
from aircolumn.flow.arrays.ends import JOIN
from aircolumn.flow.compiled.decorators import inlined, kernel, routine
from aircolumn.flow.compiled.vector_math import from_bits, rank
from aircolumn.flow.cylinder.filling import own_rates
from aircolumn.flow.duct.characteristics import full_step, half_step
from aircolumn.flow.duct.conservation import advance_cells, energies, finish_and_integrate
from aircolumn.flow.duct.layer import swing
from aircolumn.flow.duct.reconstruction import (
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
from aircolumn.flow.duct.rescue import any_wild, feed, tame
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
def look_inside(b, conservative, has_walls):
    """Profiles of all cells from the old nodes and the cell contents."""
    gas, mesh, old, mid, prof = gas_of(b), mesh_of(b), nodes_at(b, OLD), middle_of(b), profile_of(b)
    clock, last = clock_of(b), places_in(b) - 1
    if conservative:
        cells, ducts = cells_of(b), ducts_of(b)
        first, count = ducts[0], ducts[1]
        means(mesh, cells, mid, last + 1)
        extend(mid.density, first, count)
        extend(mid.inner, first, count)
        extend(mid.share, first, count)
        mark_steep(mesh, old, mid, last)
        middles(gas, mesh, cells, old, mid, last)
        mirror_ends(mid, old, first, count)
        clock[STEEP] = 0.0
        # A jump of velocity alone, which only an initial state can have, is not seen by mark_steep.
        if any_steep(mid, last) or clock[STEPS] == 0.0:
            clock[STEEP] = 1.0
            parabolas(old, mid, prof, last)
        else:
            smooth_parabolas(old, mid, prof, last)
    else:
        clock[STEEP] = 1.0
        lines(gas, old, mid, prof, last)
    if has_walls:
        if clock[STEP] > 0.0:
            swing(mesh, mid, layer_of(b), prof.swing, clock[STEP], last)
        wall_terms(gas, mesh, mid, prof, last)


@routine
def carry_to_half(b, tau):
    """All nodes inside the ducts to half time, ``tau`` after the old ones."""
    mesh, prof, old, half = mesh_of(b), profile_of(b), nodes_at(b, OLD), nodes_at(b, HALF)
    half_step(mesh, prof, old, half, feet_of(b), places_in(b) - 1, tau)


@routine
def carry_to_end(b, has_walls, dt):
    """All nodes inside the ducts to the end of the step."""
    mesh, prof, feet = mesh_of(b), profile_of(b), feet_of(b)
    old, half = nodes_at(b, OLD), nodes_at(b, HALF)
    last = places_in(b) - 1
    if has_walls:
        wall_terms_half_way(gas_of(b), mesh, half, prof, last)
    full_step(mesh, prof, old, half, nodes_at(b, NEW), feet, last, dt)


@routine
def solve_ends(b, stage, tau, angle, time):
    """End nodes of one stage: FIRST_HALF and SECOND_HALF set the half-time nodes, FULL the new."""
    trace_ends(b, stage, tau)
    set_ends(b, stage, tau, angle, time)


@routine
def keep_sane(b, stage):
    """Nodes the characteristics could not find (duct/rescue.py); smooth flow has none."""
    if clock_of(b)[STEEP] == 0.0:
        return
    mesh, old, nodes = mesh_of(b), nodes_at(b, OLD), nodes_at(b, stage)
    last = places_in(b) - 1
    if any_wild(mesh, old, nodes, last):
        tame(gas_of(b), mesh, middle_of(b), old, nodes, last)


@inlined
def share_steepness(ends, count, steep):
    """Ends that meet must weigh their common flux alike: each sees the steepest of its ring."""
    for k in range(count):
        if ends.kind[k] >= JOIN:  # the kinds from JOIN on meet other ends
            worst = steep[ends.cell[k]]
            m = ends.volume[k]
            while m != k:
                worst = max(worst, steep[ends.cell[m]])
                m = ends.volume[m]
            steep[ends.cell[k] + ends.side[k]] = worst


@routine
def integrate(b, conservative, dt):
    """The new nodes complete, fluxes over the step, and the cells they fill and empty."""
    gas, mesh, mid, flux = gas_of(b), mesh_of(b), middle_of(b), fluxes_of(b)
    old, half, new = nodes_at(b, OLD), nodes_at(b, HALF), nodes_at(b, NEW)
    last = places_in(b) - 1
    share_steepness(ends_of(b), ends_in(b), mid.steep)
    finish_and_integrate(gas, mesh, mid, old, half, new, flux, last)
    if conservative:
        cells, prof = cells_of(b), profile_of(b)
        if clock_of(b)[STEEP] > 0.0:
            feed(gas, mesh, mid, new, flux, cells, last, dt)
        advance_cells(mesh, mid, prof, old, half, flux, cells, duct_heat_of(b), last, dt)


@routine
def half_time_energies(b):
    """Sensible energy of the half-time nodes."""
    energies(gas_of(b), nodes_at(b, HALF), places_in(b) - 1)


@routine
def step(b, conservative, has_walls, dt, omega):
    """Advance the network by ``dt`` seconds at ``omega`` rad/s."""
    clock = clock_of(b)
    time, start = clock[TIME], clock[ANGLE]
    degrees = omega * dt * 57.29577951308232
    middle, stop = start + 0.5 * degrees, start + degrees
    look_inside(b, conservative, has_walls)

    predict_volumes(b, RATE_OLD, OLD, 0.5 * dt, start, middle)
    carry_to_half(b, 0.5 * dt)
    solve_ends(b, FIRST_HALF, 0.5 * dt, middle, time + 0.5 * dt)
    solve_ends(b, SECOND_HALF, 0.5 * dt, middle, time + 0.5 * dt)
    keep_sane(b, HALF)
    half_time_energies(b)
    own_rates(b, RATE_HALF, middle, omega)

    predict_volumes(b, RATE_HALF, HALF, dt, start, stop)
    carry_to_end(b, has_walls, dt)
    solve_ends(b, FULL, dt, stop, time + dt)
    keep_sane(b, NEW)
    own_rates(b, RATE_NEW, stop, omega)

    integrate(b, conservative, dt)
    finish_volumes(b, dt, start, stop)
    clock[NOW] = 2.0 - clock[NOW]
    own_rates(b, RATE_OLD, stop, omega)
    clock[TIME] = time + dt
    clock[STEP] = dt
    clock[ANGLE] = stop
    clock[STEPS] += 1.0
