"""Everything the march works on, as blocks of arrays, and how compiled code takes them apart.

Compiled functions take ``net``, the network as the address of its blocks' table
(compiled/views.py), and look at what they need by name: ``mesh_of(net)`` and so on below.
"""

from collections import namedtuple

from aircolumn.flow.arrays.cylinders import Chambers, Cranks
from aircolumn.flow.arrays.ducts import Cells, Feet, Fluxes, Mesh, Middle, Nodes, Profile
from aircolumn.flow.arrays.ends import (
    Arrivals,
    EndLinks,
    Ends,
    EndValues,
    OrificeLinks,
    Orifices,
    Signals,
    Valves,
    VolumeLinks,
    Volumes,
    VolumeStates,
    VolumeValues,
)
from aircolumn.flow.compiled import views
from aircolumn.flow.compiled.decorators import inlined, plain_integers
from aircolumn.flow.gas.mixture import Gas

#: links: whole numbers, values: numbers; the rows of each kind lie under each other. gas: its
#: constants. products: table of gas/products.py. nodes: half-time nodes and, taking turns as old
#: and new, the two others (3 x Nodes x places; see NOW). layer: memory of the walls' boundary
#: layers, per place (duct/layer.py). turning: at junctions (ends/junction.py). volumes: contents,
#: predicted contents and own rates at old, half and new time (5 x volumes x 6). tally_ends: sums
#: through each end, outward: mass, energy, fuel, burned; vessel_heat: J lost to each vessel's wall;
#: duct_heat: J gained from the wall, per place. echo_*: the other cylinders (ends/echo.py): end,
#: volume and row of the intake valve's tables, runner's length m, firing intervals in degrees, what
#: is remembered, and what they have passed into the volume.
Blocks = namedtuple(
    "Blocks",
    "gas products mesh ducts end_links end_values turning "
    "valve_into_cylinder valve_out_of_cylinder valve_offset signal_time signal_value signal_period "
    "volume_links volume_values cranks orifice_links orifice_area nodes cells middles profile flux feet "
    "layer arrivals volumes states chambers burn_table echo_links echo_length echo_phases "
    "echo_flow tally_echo tally_ends vessel_heat duct_heat clock",
)
_AT = {name: place for place, name in enumerate(Blocks._fields)}

#: clock columns: time s, crank angle deg, last rate 1/s, steps taken, whether started, which of the
#: node blocks holds the present state (0 or 2; the other takes the next), share of the cycle before
#: that echoes keep, the slow part of their answer, Pa (ends/echo.py), whether any cell is steep,
#: length of the last step, s (0 before the first).
TIME, ANGLE, RATE, STEPS, STARTED, NOW, RELAXATION, LAG, STEEP, STEP = range(10)
OLD, HALF, NEW = plain_integers(3)  # stages of a step
CONTENTS, GUESS, RATE_OLD, RATE_HALF, RATE_NEW = plain_integers(5)

FRESH, MARCHED, TAKEN_OVER = 0.0, 1.0, 2.0  # what the clock's STARTED says


def _type(field):
    return "int64" if field.endswith("_links") or field == "ducts" else "float64"


def _lines(fields):
    """(place, number of rows, type of numbers) of each block that holds rows of a kind."""
    return [(_AT[field], len(kind._fields), _type(field)) for field, kind in fields.items()]


def _named(kind, **fields):
    return views.named(kind, *_lines(fields))


def _row(field):
    return views.row(_AT[field], _type(field))


def _array(field, dimensions=2):
    return views.whole(_AT[field], _type(field), dimensions)


def _count(field):
    return views.columns(_AT[field])


gas_of = views.numbers(Gas, _AT["gas"])
mesh_of = _named(Mesh, mesh=Mesh)
nodes_of = views.named_in_plane(Nodes, *_lines({"nodes": Nodes}))
cells_of = _named(Cells, cells=Cells)
middle_of = _named(Middle, middles=Middle)
profile_of = _named(Profile, profile=Profile)
fluxes_of = _named(Fluxes, flux=Fluxes)
feet_of = _named(Feet, feet=Feet)
arrivals_of = _named(Arrivals, arrivals=Arrivals)
states_of = _named(VolumeStates, states=VolumeStates)
cranks_of = _named(Cranks, cranks=Cranks)
chambers_of = _named(Chambers, chambers=Chambers)
ends_of = _named(Ends, end_links=EndLinks, end_values=EndValues)
volumes_of = _named(Volumes, volume_links=VolumeLinks, volume_values=VolumeValues)
clock_of, ducts_of, layer_of = _row("clock"), _array("ducts"), _array("layer")
products_of, burn_table_of = _array("products", 3), _array("burn_table")
tally_ends_of, tally_echo_of = _array("tally_ends"), _row("tally_echo")
vessel_heat_of, duct_heat_of = _row("vessel_heat"), _row("duct_heat")
echo_links_of, echo_length_of = _row("echo_links"), _row("echo_length")
echo_phases_of, echo_flow_of = _row("echo_phases"), _array("echo_flow")
amounts_of = views.plane(_AT["volumes"])
turning_of = _array("turning")
_valve_into, _valve_out_of = _array("valve_into_cylinder"), _array("valve_out_of_cylinder")
_signal_time, _signal_value, _signal_period = (
    _array("signal_time"),
    _array("signal_value"),
    _row("signal_period"),
)
_valve_offset, _orifice_area = _row("valve_offset"), _row("orifice_area")
_orifice_links = views.named(OrificeLinks, *_lines({"orifice_links": OrificeLinks}))

places_in, ends_in, volumes_in = _count("mesh"), _count("end_links"), _count("volume_links")
orifices_in, echoes_in = _count("orifice_links"), _count("echo_phases")


@inlined
def nodes_at(net, stage):
    """Nodes at the OLD, HALF or NEW stage of the step."""
    now = int(clock_of(net)[NOW])
    return nodes_of(net, 1 if stage == HALF else (now if stage == OLD else 2 - now))


@inlined
def valves_of(net):
    """Area tables of the valves."""
    return Valves(_valve_into(net), _valve_out_of(net), _valve_offset(net))


@inlined
def signals_of(net):
    """What follows a course over time."""
    return Signals(_signal_time(net), _signal_value(net), _signal_period(net))


@inlined
def orifices_of(net):
    """Throttles and orifices between volumes."""
    links = _orifice_links(net)
    return Orifices(links.first, links.second, _orifice_area(net))
