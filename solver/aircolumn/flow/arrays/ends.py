"""The ends of all ducts, and the volumes they open into, as arrays for the compiled march."""

from collections import namedtuple

from aircolumn.flow.compiled.decorators import plain_integers

#: What flows and is held: columns of amounts, rows of what echoes remember.
MASS, ENERGY, FUEL, BURNED = plain_integers(4)

CLOSED = 0  # rigid wall
PISTON = 1  # wall moving with a sinusoidal velocity
OPENING = 2  # the whole bore opens into a volume, with an entry loss for inflow
RESTRICTION = 3  # throat of given effective area between the bore and a volume: valve, orifice
CALM = 4  # lets waves leave without reflection, gas beyond it at a given state
JOIN = 5  # continues in another duct of the same bore
JUNCTION = 6  # meets other ends at one pressure
STEP = 7  # sudden change of bore, with its loss
PRESSURE = 8  # static pressure that follows a signal over time
VELOCITY = 9  # wall whose velocity follows a signal over time

#: One entry an end. node, cell: places of the end node and the cell beside it. side: +1 right,
#: -1 left. volume: index of the volume, or -1. partner: the next end in the ring of those that meet (JOIN,
#: JUNCTION, STEP); itself where none does. to_volume: 1 where the flow reaches a volume. valve: row of the
#: area tables, or -1 for a fixed throat. signal: row of the signals, or -1. opposite: of a JUNCTION's leg,
#: the one in line with it, or -1 (ends/junction.py).
EndLinks = namedtuple("EndLinks", "kind node cell side volume partner to_volume valve signal opposite")

#: loss: entry-loss coefficient, or that of narrowing into the throat of a STEP (ends/junction.py:
#: PIPE for a leg that is no mouth in a wall). throat: fixed effective area m2, or that of the
#: narrowest place of a STEP. speed, frequency: of a piston, m/s and Hz. p, rho: state beyond a CALM
#: end; that with the entropy of what comes in through a PRESSURE end, and burned its share of burned gas.
#: inertance: of the air in a STEP's throat, 1/m. angle: of a JUNCTION's leg, rad.
EndValues = namedtuple("EndValues", "loss throat speed frequency p rho burned inertance angle")

Ends = namedtuple("Ends", EndLinks._fields + EndValues._fields)  # type: ignore[misc]

#: Area tables: effective (Cd A) area, m2, at equal crank-angle steps over 720 degrees, per valve,
#: for flow into the cylinder and out of it; angle offset, degrees.
Valves = namedtuple("Valves", "into_cylinder out_of_cylinder offset")

#: Signals over time, a row each: instants, s, rising; values; after how many seconds it repeats (0: it does
#: not). Short ones are filled up with their last entry.
Signals = namedtuple("Signals", "time value period")

RESERVOIR = 0  # state never changes
VESSEL = 1  # fixed volume
CYLINDER = 2  # crank-driven volume with combustion

#: One entry a volume: kind and cylinder index; heat conductance to the wall W/K and its temperature
#: K (vessels).
VolumeLinks = namedtuple("VolumeLinks", "kind cylinder")
VolumeValues = namedtuple("VolumeValues", "conductance wall")
Volumes = namedtuple("Volumes", "kind cylinder conductance wall")

#: State of every volume at one stage: volume m3 and its growth with crank angle m3/rad, density
#: kg/m3, pressure Pa, temperature K, gamma, mass fractions of fuel vapour and burned gas, sensible
#: energy J/kg (a cylinder's with what its burned gas holds in equilibrium), and density with which
#: gas leaves, kg/m3 (cylinder/filling.py).
VolumeStates = namedtuple("VolumeStates", "volume growth rho p temperature gamma yf yb e leaving")

#: Throttles and orifices between two volumes: indices (2 x n) and effective area m2 (n).
OrificeLinks = namedtuple("OrificeLinks", "first second")
Orifices = namedtuple("Orifices", "first second area")

#: What reaches each end: the relation p + impedance v = invariant (v: speed outward, towards the end), the
#: particle path's density (wall heat included), pressure, a^2, composition and gamma at its foot, and the
#: slopes found at the feet; where the flow leaves faster than sound, also the other wave (ends/fast.py). At
#: a junction, out, behind and begins are the outward speed, density and (of what leaves it) pressure of
#: what flows (ends/junction.py). offset and slope_ratio help the search at the next stage: by how much what
#: was found differed from its first estimate (at a junction: Pa, and the ratio of slopes).
Arrivals = namedtuple(
    "Arrivals",
    "invariant impedance rho p a2 yf yb gamma fast slow drift behind impedance_behind out begins offset "
    "slope_ratio",
)
