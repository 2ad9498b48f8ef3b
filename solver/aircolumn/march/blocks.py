"""Everything the march works on, as blocks of arrays, and how its routines take them apart."""

from collections import namedtuple

from aircolumn.compiled.decorators import inlined, plain_integers, unpacker
from aircolumn.cylinder.crank import Cranks
from aircolumn.duct.arrays import Cells, Feet, Fluxes, Mesh, Middle, Nodes, Profile
from aircolumn.ends.arrays import (
    EndLinks,
    Ends,
    EndValues,
    VolumeLinks,
    Volumes,
    VolumeStates,
    VolumeValues,
)
from aircolumn.ends.solve import Arrivals

#: Running account of a cylinder (one entry a cylinder), see cylinder/filling.py; the sums are
#: work J (total and between the bottom dead centres of gas exchange), wall heat J, fuel kg and J
#: injected; peak pressure Pa; dose: fuel kg to be injected directly in a cycle.
Chambers = namedtuple(
    "Chambers",
    "heat_model heat_factor exchange_heat head_wall piston_wall liner_wall air_fuel_ratio "
    "heat_release delivery injector_end cooling charge_fuel ivc_p ivc_t ivc_v trapped_air "
    "trapped_mass trapped_burned injected injected_energy work pumping wall_heat "
    "peak_pressure burned_fuel ca50 residual_factor burn_stretch injection_start "
    "injection_duration dose",
)
#: Everything the march works on, as blocks (the rows of each kind under each other); the routines
#: below take what they need out of them by name. links: whole numbers, values: numbers. nodes:
#: half-time nodes and, taking turns as old and new, the two others (3 x Nodes x places; see NOW).
#: volumes: contents, predicted contents and own rates at old, half and new time (5 x volumes x 6).
#: products: table of gas/products.py. layer: memory of the walls' boundary layers, per place
#: (duct/layer.py). tally_ends: sums through each end, outward: mass, energy, fuel, burned;
#: vessel_heat: J lost to each vessel's wall; duct_heat: J gained from the wall, per place. echo_*:
#: the other cylinders (ends/echo.py): end, volume and row of the intake valve's tables, runner's
#: length m, firing intervals in degrees, what is remembered, and what they have passed into the
#: volume.
Blocks = namedtuple(
    "Blocks",
    "products mesh ducts end_links end_values valve_out valve_in valve_offset volume_links "
    "volume_values cranks orifice_links orifice_area nodes cells mid prof flux feet layer arrivals "
    "volumes states chambers burn_table echo_links echo_length echo_phases echo_flow tally_echo "
    "tally_ends vessel_heat duct_heat clock",
)

#: clock columns: time s, crank angle deg, last rate 1/s, steps taken, whether started, which of the
#: node blocks holds the present state (0 or 2; the other takes the next), share of the cycle before
#: that echoes keep, the slow part of their answer, Pa (ends/echo.py), whether any cell is steep,
#: length of the last step, s (0 before the first).
TIME, ANGLE, RATE, STEPS, STARTED, NOW, KEPT, LAG, STEEP, STEP = range(10)
AREA, NODE, PRESSURE = (f.index(n) for f, n in (  # rows of blocks
    (Mesh._fields, "area"), (EndLinks._fields, "node"), (VolumeStates._fields, "p")))  # fmt: skip
OLD, HALF, NEW = plain_integers(3)  # stages of a step
CONTENTS, GUESS, RATE_OLD, RATE_HALF, RATE_NEW = plain_integers(5)

FRESH, MARCHED, TAKEN_OVER = 0.0, 1.0, 2.0  # what the clock's STARTED says
#: Of Chambers: what a cylinder remembers of its charge from valve closing on.
CHARGE = (
    "charge_fuel", "ivc_p", "ivc_t", "ivc_v", "trapped_air", "trapped_mass", "trapped_burned",
    "burn_stretch", "dose",
)  # fmt: skip

mesh_of, nodes_of, cells_of, middle_of = (unpacker(k) for k in (Mesh, Nodes, Cells, Middle))
profile_of, fluxes_of, feet_of, arrivals_of = (
    unpacker(k) for k in (Profile, Fluxes, Feet, Arrivals)
)
volume_states, cranks_of, chambers_of = (unpacker(k) for k in (VolumeStates, Cranks, Chambers))
ends_of = unpacker(Ends, len(EndLinks._fields), len(EndValues._fields))
volumes_of = unpacker(Volumes, len(VolumeLinks._fields), len(VolumeValues._fields))


@inlined
def nodes_at(b, stage):
    """Nodes at the OLD, HALF or NEW stage of the step."""
    now = int(b.clock[NOW])
    if stage == HALF:
        return nodes_of(b.nodes[1])
    return nodes_of(b.nodes[now if stage == OLD else 2 - now])
