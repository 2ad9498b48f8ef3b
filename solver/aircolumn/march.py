"""The compiled march of a whole network: ducts, their ends and the volumes between them.

One step of length dt, the same for everything:

1. look inside the cells (parabolas, limited where steep);
2. predict the volumes at half time, carry the nodes to half time, solve the ends there;
3. predict the volumes at full time, carry the nodes there, solve the ends;
4. integrate fluxes over the step and update cells and volumes with the same numbers, so that
   nothing is lost between them.
"""

from collections import namedtuple
from math import sqrt

from aircolumn.bits import from_bits, rank
from aircolumn.compiled import (
    entry,
    inlined,
    kernel,
    plain_integers,
    unpacker,
)
from aircolumn.cylinder.crank import Cranks, within_cycle
from aircolumn.cylinder.filling import (
    add_end_flow,
    at_ivc,
    burn,
    own_rates,
    port_fuel,
    settle,
)
from aircolumn.duct.arrays import Cells, Feet, Fluxes, Mesh, Middle, Nodes, Profile
from aircolumn.duct.characteristics import full_step, half_step
from aircolumn.duct.conservation import (
    advance_cells,
    energies,
    finish_and_integrate,
    finish_nodes,
)
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
from aircolumn.ends.arrays import (
    CYLINDER,
    JOIN,
    Box,
    EndLinks,
    Ends,
    EndValues,
    Orifices,
    Valves,
    VolumeLinks,
    Volumes,
    VolumeValues,
)
from aircolumn.ends.echo import MOST_DRAWN, SLOW, answer, echo, remember, send
from aircolumn.ends.solve import (
    FIRST_HALF,
    FULL,
    SECOND_HALF,
    Arrivals,
    set_ends,
    trace_ends,
)

#: Running account of a cylinder (one entry a cylinder), see cylinder/filling.py; the sums are
#: work J (total and between the bottom dead centres of gas exchange), wall heat J, fuel kg and J
#: injected; peak pressure Pa.
Engine = namedtuple(
    "Engine",
    "heat_model heat_factor exchange_heat head_wall piston_wall liner_wall air_fuel_ratio "
    "heat_release delivery injector_end latent_heat charge_fuel ivc_p ivc_t ivc_v trapped_air "
    "trapped_mass trapped_burned injected injected_energy work pumping wall_heat "
    "peak_pressure burned_fuel ca50 residual_factor burn_stretch",
)
#: Everything the march works on, as blocks (the rows of each kind under each other); the routines
#: below take what they need out of them by name. links: whole numbers, values: numbers. nodes:
#: half-time nodes and, taking turns as old and new, the two
#: others (3 x Nodes x places; see NOW). volumes: contents, predicted contents and own rates at
#: old, half and new time (5 x volumes x 6). tally_ends: sums through each end, outward: mass,
#: energy, fuel, burned; vessel_heat: J lost to each vessel's wall;
#: duct_heat: J gained from the wall, per place. echo_*: the other cylinders (ends/echo.py): end,
#: volume and row of the intake valve's tables, runner's length m, firing intervals in degrees, what
#: is remembered, and what they have passed into the volume.
Blocks = namedtuple(
    "Blocks",
    "mesh ducts end_links end_values valve_out valve_in valve_offset volume_links volume_values "
    "cranks orifice_links orifice_area nodes cells mid prof flux feet arrivals volumes box engine "
    "burn_table echo_links echo_length echo_phases echo_flow tally_echo tally_ends vessel_heat "
    "duct_heat clock",
)

#: clock columns: time s, crank angle deg, last rate 1/s, steps taken, whether started, which of the
#: node blocks holds the present state (0 or 2; the other takes the next), share of the cycle before
#: that echoes keep, the slow part of their answer, Pa (ends/echo.py), whether any cell is steep.
TIME, ANGLE, RATE, STEPS, STARTED, NOW, KEPT, LAG, STEEP = range(9)
AREA, NODE, PRESSURE = (f.index(n) for f, n in (  # rows of blocks
    (Mesh._fields, "area"), (EndLinks._fields, "node"), (Box._fields, "p")))  # fmt: skip
OLD, HALF, NEW = plain_integers(3)  # stages of a step
CONTENTS, GUESS, RATE_OLD, RATE_HALF, RATE_NEW = plain_integers(5)

FRESH, MARCHED, TAKEN_OVER = 0.0, 1.0, 2.0  # what the clock's STARTED says
#: Of Engine: what a cylinder remembers of its charge from valve closing on.
CHARGE = (
    "charge_fuel", "ivc_p", "ivc_t", "ivc_v", "trapped_air", "trapped_mass", "trapped_burned",
    "burn_stretch",
)  # fmt: skip

DONE, NOT_FINITE, FULL_RECORD = 0, 1, 2

_mesh, _nodes, _cells, _middle = (unpacker(k) for k in (Mesh, Nodes, Cells, Middle))
_profile, _fluxes, _feet, _arrivals = (unpacker(k) for k in (Profile, Fluxes, Feet, Arrivals))
_box, _cranks, _engine = (unpacker(k) for k in (Box, Cranks, Engine))
_ends = unpacker(Ends, len(EndLinks._fields), len(EndValues._fields))
_volumes = unpacker(Volumes, len(VolumeLinks._fields), len(VolumeValues._fields))


@inlined
def nodes_at(b, stage):
    """Nodes at the OLD, HALF or NEW stage of the step."""
    now = int(b.clock[NOW])
    if stage == HALF:
        return _nodes(b.nodes[1])
    return _nodes(b.nodes[now if stage == OLD else 2 - now])


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
    mesh, old, mid, prof = _mesh(b.mesh), nodes_at(b, OLD), _middle(b.mid), _profile(b.prof)
    last = old.rho.size - 1
    if conservative:
        cells, first, count = _cells(b.cells), b.ducts[0], b.ducts[1]
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
        wall_terms(gas, mesh, mid, prof, last)


@inlined
def add_echo(b, contents, dt, start, stop, counted):
    """What the other cylinders pass into the plenum between two crank angles;
    counted: 1.0 to add it to the running sum, 0.0 in a prediction."""
    if b.echo_phases.size > 0:
        box, v, count = _box(b.box), b.echo_links[1], b.echo_phases.size
        middle, degrees = 0.5 * (start + stop), stop - start
        h, yf, yb = box.e[v] + box.p[v] / box.rho[v], box.yf[v], box.yb[v]
        mass, energy, fuel, burned = echo(
            b.echo_flow, b.echo_phases, start, stop, box.p[v], h, yf, yb
        )
        a = sqrt(box.gamma[v] * box.p[v] / box.rho[v])
        area = b.mesh[AREA, b.end_links[NODE, b.echo_links[0]]]
        travel = 2.0 * b.echo_length[0] / a * degrees / dt
        valves, row = Valves(b.valve_out, b.valve_in, b.valve_offset), b.echo_links[2]
        off = answer(b.echo_flow, valves, row, b.echo_phases, middle, box.p[v], travel)
        b.clock[LAG] += counted * (off - b.clock[LAG]) * degrees / SLOW
        off -= b.clock[LAG]
        # Implicit in the plenum's own pressure, which the answer moves.
        more = -area / a * off * dt / (1.0 + count * area * a / box.volume[v] * dt)
        more = max(more, -mass - MOST_DRAWN * box.rho[v] * box.volume[v])
        amounts = mass + more, energy + more * h, fuel + more * yf, burned + more * yb
        for q in range(4):
            contents[v, q] += amounts[q]
            b.tally_echo[q] += counted * amounts[q]
        if counted > 0.0:
            send(b.echo_flow, valves, row, b.echo_phases, start, stop, box.p[v], travel)


@inlined
def predict(gas, b, rates, stage, dt, start, stop):
    """Volumes at crank angle ``stop`` from the old contents, own rates and flow of ``stage``.

    rates: which of b.volumes to take.
    """
    vols, cranks = _volumes(b.volume_links, b.volume_values), _cranks(b.cranks)
    guess = b.volumes[GUESS]
    for v in range(vols.kind.size):
        for q in range(4):
            guess[v, q] = b.volumes[CONTENTS, v, q] + dt * b.volumes[rates, v, q]
    ends = _ends(b.end_links, b.end_values)
    add_end_flow(_mesh(b.mesh), ends, nodes_at(b, stage), dt, guess)
    add_echo(b, guess, dt, start, stop, 0.0)
    burn(vols, cranks, b.burn_table, _engine(b.engine), guess, start, stop, 0.0)
    settle(gas, vols, cranks, guess, stop, _box(b.box))


@inlined
def rates_now(b, angle, omega, stage):
    """Own rates of all volumes at one stage (what flows through duct ends apart)."""
    own_rates(
        _volumes(b.volume_links, b.volume_values),
        _cranks(b.cranks),
        _engine(b.engine),
        Orifices(b.orifice_links[0], b.orifice_links[1], b.orifice_area),
        _box(b.box),
        angle,
        omega,
        b.volumes[stage],
    )


@inlined
def solve_ends(gas, b, rings, stage, tau, angle, time):
    """End nodes of one stage: FIRST_HALF and SECOND_HALF set the half-time nodes, FULL the new."""
    mesh, ends, arr = _mesh(b.mesh), _ends(b.end_links, b.end_values), _arrivals(b.arrivals)
    old, half, feet = nodes_at(b, OLD), nodes_at(b, HALF), _feet(b.feet)
    trace_ends(mesh, _profile(b.prof), ends, arr, old, half, feet, stage, tau)
    valves = Valves(b.valve_out, b.valve_in, b.valve_offset)
    earlier = nodes_at(b, OLD if stage == FIRST_HALF else HALF)
    target = nodes_at(b, NEW if stage == FULL else HALF)
    box = _box(b.box)
    set_ends(gas, rings, mesh, ends, valves, box, arr, old, earlier, target, tau, angle, time)


@inlined
def keep_sane(gas, b, stage):
    """Nodes the characteristics could not find (duct/rescue.py); smooth flow has none."""
    if b.clock[STEEP] == 0.0:
        return
    mesh, old, nodes = _mesh(b.mesh), nodes_at(b, OLD), nodes_at(b, stage)
    last = old.rho.size - 1
    if any_wild(mesh, old, nodes, last):
        tame(gas, mesh, _middle(b.mid), old, nodes, last)


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
    mesh, mid, flux = _mesh(b.mesh), _middle(b.mid), _fluxes(b.flux)
    old, half = nodes_at(b, OLD), nodes_at(b, HALF)
    last = old.rho.size - 1
    share_steepness(_ends(b.end_links, b.end_values), mid.steep)
    finish_and_integrate(gas, mesh, mid, old, half, nodes_at(b, NEW), flux, last)
    if conservative:
        cells, prof = _cells(b.cells), _profile(b.prof)
        if b.clock[STEEP] > 0.0:
            feed(gas, mesh, mid, nodes_at(b, NEW), flux, cells, last, dt)
        advance_cells(mesh, mid, prof, old, half, flux, cells, b.duct_heat, last, dt)


@inlined
def tally_ends(b, dt, start, stop):
    """Add the step's end fluxes to the volumes' contents and to the running sums; remember what
    the other cylinders are to repeat."""
    ends, flux = _ends(b.end_links, b.end_values), _fluxes(b.flux)
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
            pressure = b.box[PRESSURE, b.echo_links[1]] * (stop - start)
            remember(
                b.echo_flow, (mass, energy, fuel, burned, pressure), start, stop, b.clock[KEPT]
            )


@inlined
def finish_volumes(gas, b, dt, start, stop):
    """Contents at the end of the step: Simpson-weighted own rates and burning.

    The contents of a reservoir only count what flowed into it; its state does not follow.
    """
    vols, cranks = _volumes(b.volume_links, b.volume_values), _cranks(b.cranks)
    engine, box, amounts = _engine(b.engine), _box(b.box), b.volumes
    for v in range(vols.kind.size):
        for q in range(6):
            rate = amounts[RATE_OLD, v, q] + 4.0 * amounts[RATE_HALF, v, q]
            amounts[RATE_NEW, v, q] = dt / 6.0 * (rate + amounts[RATE_NEW, v, q])
        for q in range(4):
            amounts[CONTENTS, v, q] += amounts[RATE_NEW, v, q]
        if vols.kind[v] == CYLINDER:
            c = vols.cylinder[v]
            engine.work[c] += amounts[RATE_NEW, v, 4]
            engine.wall_heat[c] += amounts[RATE_NEW, v, 5]
            if 180.0 < within_cycle(0.5 * (start + stop) - cranks.phase[c]) < 540.0:
                engine.pumping[c] += amounts[RATE_NEW, v, 4]
        else:
            b.vessel_heat[v] += amounts[RATE_NEW, v, 5]
    contents = amounts[CONTENTS]
    add_echo(b, contents, dt, start, stop, 1.0)
    port_fuel(gas, vols, engine, b.tally_ends, contents)
    burn(vols, cranks, b.burn_table, engine, contents, start, stop, 1.0)
    settle(gas, vols, cranks, contents, stop, box)
    for v in range(vols.kind.size):
        if vols.kind[v] == CYLINDER:
            c = vols.cylinder[v]
            engine.peak_pressure[c] = max(engine.peak_pressure[c], box.p[v])
            shut = cranks.phase[c] + cranks.ivc[c] - 1e-6
            if stop > start and within_cycle(stop - shut) < within_cycle(start - shut):
                at_ivc(gas, vols, engine, contents, box, v)


@inlined
def step(gas, b, rings, conservative, has_walls, dt, omega):
    """Advance the network by ``dt`` seconds at ``omega`` rad/s."""
    mesh, prof, feet = _mesh(b.mesh), _profile(b.prof), _feet(b.feet)
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
    b.clock[ANGLE] = stop
    b.clock[STEPS] += 1.0


@inlined
def record_step(b, probes, record, row):
    """One row of the record: time, angle, then rho, u, p, a, yf, yb at each probe, then p, T, m."""
    old, box = nodes_at(b, OLD), _box(b.box)
    record[row, 0] = b.clock[TIME]
    record[row, 1] = b.clock[ANGLE]
    n = 2
    for i in range(probes.size):
        j = probes[i]
        record[row, n] = old.rho[j]
        record[row, n + 1] = old.u[j]
        record[row, n + 2] = old.p[j]
        record[row, n + 3] = old.a[j]
        record[row, n + 4] = old.yf[j]
        record[row, n + 5] = old.yb[j]
        n += 6
    for v in range(box.p.size):
        record[row, n] = box.p[v]
        record[row, n + 1] = box.temperature[v]
        record[row, n + 2] = box.rho[v] * box.volume[v]
        n += 3


@inlined
def settle_start(gas, b, omega):
    """Make nodes, volumes and rates consistent with the initial contents."""
    old, box, engine = nodes_at(b, OLD), _box(b.box), _engine(b.engine)
    vols, cranks = _volumes(b.volume_links, b.volume_values), _cranks(b.cranks)
    finish_nodes(gas, old, old.rho.size - 1)
    contents = b.volumes[CONTENTS]
    settle(gas, vols, cranks, contents, b.clock[ANGLE], box)
    for v in range(vols.kind.size):
        if vols.kind[v] == CYLINDER and b.clock[STARTED] == FRESH:
            at_ivc(gas, vols, engine, contents, box, v)
    rates_now(b, b.clock[ANGLE], omega, RATE_OLD)
    b.clock[STARTED] = MARCHED


@entry
def march(
    gas, b, rings, conservative, has_walls, omega, stop_time, courant, probes, record, max_steps
):
    """March to ``stop_time`` (s) at constant ``omega`` (rad/s); lands on it exactly.

    gas: constants; b: the Blocks. rings: None if no ends meet in junctions or steps (their code is
    then not compiled), else 1. courant: largest Courant number aimed at. probes: node places
    recorded at every step into ``record`` (rows x columns; zero rows: no record). Returns
    (DONE | NOT_FINITE | FULL_RECORD, rows written).
    """
    mesh = _mesh(b.mesh)
    last = b.mesh.shape[1] - 1
    if b.clock[STARTED] != MARCHED:
        settle_start(gas, b, omega)
    rows = 0
    count = 0
    while b.clock[TIME] < stop_time:
        rate = highest_rate(mesh, nodes_at(b, OLD), last)
        if not rate < 1e12:
            return NOT_FINITE, rows
        if record.shape[0] > 0:
            if rows == record.shape[0]:
                return FULL_RECORD, rows
            record_step(b, probes, record, rows)
            rows += 1
        if count == max_steps:
            return FULL_RECORD, rows
        # The speeds are known at the start of the step only: allow for their recent growth.
        growth = rate / b.clock[RATE] if b.clock[RATE] > 0.0 else 1.0
        dt = courant / (rate * min(max(growth, 1.0), 1.5))
        left = stop_time - b.clock[TIME]
        if dt >= left:
            step(gas, b, rings, conservative, has_walls, left, omega)
            b.clock[TIME] = stop_time
        else:
            step(gas, b, rings, conservative, has_walls, min(dt, 0.5 * left), omega)
        b.clock[RATE] = rate
        count += 1
    return DONE, rows
