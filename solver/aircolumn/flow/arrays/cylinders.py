"""What the march knows of each cylinder: its crank and the account of its charge."""

from collections import namedtuple

#: Per cylinder: throw m, rod m, pin offset m, piston area m2, clearance volume m3, height of the
#: piston at its top m, firing offset deg, IVC deg, mean piston speed per rev/s (2 x stroke) m,
#: start of burn deg and its length deg, EVO deg.
Cranks = namedtuple("Cranks", "throw rod pin_offset area clearance top phase ivc stroke swept burn_start evo")

#: Running account of a cylinder (one entry a cylinder), see cylinder/filling.py; the sums are
#: work J (total and between the bottom dead centres of gas exchange), wall heat J, fuel kg and J
#: injected, as far as it has evaporated; peak pressure Pa; dose: fuel kg to be injected directly in
#: a cycle; metered: fuel kg injected so far; liquid: what of it has not evaporated yet, kg;
#: steepness to boils_to: how it does (gas/volatility.py); zones of a burning charge, 1 or 2; burnt: share
#: of it that has burned; unburned_p to burned_t: of its two zones, Pa and K (cylinder/two_zones.py);
#: crevice_volume m3, crevice_wall K and what the crevices hold, kg and J; enthalpy J/kg and mass fractions of
#: the cylinder's gas before the step (cylinder/crevices.py).
Chambers = namedtuple(
    "Chambers",
    "heat_model heat_factor exchange_heat head_wall piston_wall liner_wall air_fuel_ratio "
    "heat_release delivery injector_end cooling charge_fuel ivc_p ivc_t ivc_v trapped_air "
    "trapped_mass trapped_burned injected injected_energy work pumping wall_heat "
    "peak_pressure burned_fuel ca50 residual_factor burn_stretch injection_start "
    "injection_duration dose metered liquid steepness shift boils_from boils_to zones burnt "
    "unburned_p unburned_t burned_t crevice_volume crevice_wall crevice_mass crevice_energy "
    "crevice_fuel crevice_burned before_h before_fuel before_burned",
)
#: Of Chambers: what a cylinder remembers of its charge from valve closing on.
CHARGE = (
    "charge_fuel",
    "ivc_p",
    "ivc_t",
    "ivc_v",
    "trapped_air",
    "trapped_mass",
    "trapped_burned",
    "burn_stretch",
    "dose",
    "liquid",
    "burnt",
    "unburned_p",
    "unburned_t",
    "burned_t",
    "crevice_mass",
    "crevice_energy",
    "crevice_fuel",
    "crevice_burned",
    "before_h",
    "before_fuel",
    "before_burned",
)
