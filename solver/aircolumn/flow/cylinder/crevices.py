"""Crevices of the chamber, above all between piston, rings and liner: gas at the pressure of the cylinder and
the temperature of the walls, hidden from the flame.

    m_c = p V_c / (R T_c)

As the pressure rises the crevices take in charge as it is then, burned and unburned, with its enthalpy; it
cools to T_c, and the walls take the heat. As the pressure falls they give it back at T_c, of the mixture that
they hold (Namazian & Heywood, SAE 820088; in a heat balance: Gatowski et al., SAE 841359; Heywood 1988,
sections 8.6 and 11.4.3). Fuel that comes back after the flame has gone out burns by OXIDISED in the hot gas;
the rest leaves the engine as hydrocarbons. Assumes that gas passes into and out of them without loss of
pressure. All from memory.
"""

from aircolumn.flow.arrays.blocks import (
    CONTENTS,
    amounts_of,
    chambers_of,
    cranks_of,
    gas_of,
    states_of,
    volumes_in,
    volumes_of,
)
from aircolumn.flow.arrays.ends import BURNED, CYLINDER, ENERGY, FUEL, MASS
from aircolumn.flow.compiled.decorators import inlined, routine
from aircolumn.flow.compiled.lookup import within_cycle
from aircolumn.flow.gas.kernels import energy, gas_constant

OXIDISED = 2.0 / 3.0  # of the fuel that comes back


@inlined
def note_before(chambers, c, h, fuel, burned):
    """Enthalpy (J/kg) and mass fractions of a cylinder's gas, from which the next step goes on."""
    chambers.before_h[c], chambers.before_fuel[c], chambers.before_burned[c] = h, fuel, burned


@inlined
def take_in(gas, chambers, states, contents, v, c, mass):
    """Move ``mass`` (kg) from cylinder volume ``v`` into its crevices: the mean of what the cylinder held at
    the beginning and holds at the end of the step."""
    m = contents[v, MASS]
    fuel = min(0.5 * mass * (chambers.before_fuel[c] + contents[v, FUEL] / m), contents[v, FUEL])
    burned = min(0.5 * mass * (chambers.before_burned[c] + contents[v, BURNED] / m), contents[v, BURNED])
    h = contents[v, ENERGY] / m + states.p[v] / states.rho[v]
    enthalpy = 0.5 * mass * (chambers.before_h[c] + h)
    kept = mass * energy(gas, fuel / mass, burned / mass, chambers.crevice_wall[c])
    chambers.crevice_mass[c] += mass
    chambers.crevice_energy[c] += kept
    chambers.crevice_fuel[c] += fuel
    chambers.crevice_burned[c] += burned
    chambers.wall_heat[c] += enthalpy - kept
    contents[v, MASS] -= mass
    contents[v, ENERGY] -= enthalpy
    contents[v, FUEL] -= fuel
    contents[v, BURNED] -= burned


@inlined
def give_back(gas, chambers, contents, v, c, mass, afterwards):
    """Move ``mass`` (kg) out of the crevices of cylinder volume ``v``; afterwards: whether the flame has gone
    out and the cylinder is still shut."""
    share = mass / chambers.crevice_mass[c]
    fuel, burned = share * chambers.crevice_fuel[c], share * chambers.crevice_burned[c]
    kept = share * chambers.crevice_energy[c]
    work = mass * gas_constant(gas, fuel / mass, burned / mass) * chambers.crevice_wall[c]
    chambers.crevice_mass[c] -= mass
    chambers.crevice_energy[c] -= kept
    chambers.crevice_fuel[c] -= fuel
    chambers.crevice_burned[c] -= burned
    chambers.wall_heat[c] -= work  # what they hold stays as warm as the walls
    contents[v, MASS] += mass
    contents[v, ENERGY] += kept + work
    late = OXIDISED * fuel if afterwards else 0.0
    contents[v, FUEL] += fuel - late
    contents[v, BURNED] += burned + late * (1.0 + chambers.air_fuel_ratio[c])
    contents[v, ENERGY] += late * chambers.heat_release[c]
    chambers.burned_fuel[c] += late


@inlined
def capacity(gas, chambers, c, fuel, burned):
    """What the crevices of cylinder ``c`` hold of a gas, kg/Pa."""
    return chambers.crevice_volume[c] / (gas_constant(gas, fuel, burned) * chambers.crevice_wall[c])


@inlined
def foreseen(gas, chambers, c, p, mass, e, volume, cv_over_r):
    """(pressure Pa, mass kg, energy J/kg) of a cylinder's gas at the end of a step whose crevices have not
    yet followed: ``p``, ``mass``, ``e`` in ``volume`` without them. To first order in what passes, which is
    solved with the pressure that it leaves:

        dp = -(R T + (h - e) R/cv) dm / V,    dm = V_c (p + dp)/(R_c T_c) - m_c
    """
    held = chambers.crevice_mass[c]
    if held <= 0.0:
        return p, mass, e
    fuel, burned = chambers.crevice_fuel[c] / held, chambers.crevice_burned[c] / held
    per_pascal = capacity(gas, chambers, c, fuel, burned)
    rt = p * volume / mass
    h = e + rt
    if per_pascal * p < held:  # on the way out
        h = chambers.crevice_energy[c] / held + chambers.crevice_volume[c] / per_pascal
    stiffness = (rt + (h - e) / cv_over_r) / volume
    passed = (per_pascal * p - held) / (1.0 + per_pascal * stiffness)
    left = mass - passed
    return p - stiffness * passed, left, (mass * e - passed * h) / left


@routine
def breathe_crevices(net, stop):
    """Bring the crevices of all cylinders to the pressure that was found last, at the end of a step at crank
    angle ``stop`` (deg)."""
    vols, cranks, chambers, states = volumes_of(net), cranks_of(net), chambers_of(net), states_of(net)
    contents, gas = amounts_of(net, CONTENTS), gas_of(net)
    for v in range(volumes_in(net)):
        if vols.kind[v] != CYLINDER or chambers.crevice_volume[vols.cylinder[v]] <= 0.0:
            continue
        c = vols.cylinder[v]
        held = chambers.crevice_mass[c]
        fuel = chambers.crevice_fuel[c] / held if held > 0.0 else states.yf[v]
        burned = chambers.crevice_burned[c] / held if held > 0.0 else states.yb[v]
        more = states.p[v] * capacity(gas, chambers, c, fuel, burned) - held
        if more > 0.0:
            take_in(gas, chambers, states, contents, v, c, more)
        elif more < 0.0:
            local = within_cycle(stop - cranks.phase[c])
            shut = local < cranks.evo[c] or local > cranks.ivc[c]
            afterwards = shut and chambers.burnt[c] >= 1.0 and local < 360.0
            give_back(gas, chambers, contents, v, c, -more, afterwards)
