"""Heat release: what share of the charge has burned, from the pressure in the cylinder.

First law of the gas in the chamber while the valves are shut, counted with the heat that unburned fuel can
still release (Heywood 1988, sections 9.2.2 and 10.4; Gatowski et al. 1984, SAE 841359: heat to the walls and
crevices in the balance; from memory):

    dE = -p dV - dQ_wall - h dm_crevices - h dm_leak

    E/m = (1 - x) (eu(Tu) + yf q) + x eb(Tb),    p V/m = (1 - x) Ru Tu + x Rb Tb

The second line is that of the burning charge itself (flow/cylinder/two_zones.py): unburned gas compressed
without loss from where the burn begins, burned gas in equilibrium. Both are solved for x, Newton in Tb. Walls
take what the engine file's law says, crevices and rings what their sizes say, so that the pressure of the
model gives back the burn it was computed with (tests/measured/test_heat_release.py). The charge has the
model's temperature and composition before the burn; its mass follows from the measured pressure there.

Shares are of what has burned when the exhaust valve opens, or before, at their highest: a level or a wall
heat that is wrong moves the end, less so the angles of 10, 50 and 90 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from aircolumn.constants import AIR_GAS_CONSTANT
from aircolumn.errors import RequestError
from aircolumn.flow.cylinder import two_zones
from aircolumn.flow.cylinder.heat import film
from aircolumn.flow.gas.kernels import HOTTEST, cv_coefficients, cv_from, energy_from, gas_constant
from aircolumn.flow.gas.products import FROZEN, LOG_DENSITIES, TEMPERATURES
from aircolumn.measured.traces.cycles import AT, STEP

if TYPE_CHECKING:
    from aircolumn.flow.gas.mixture import Gas
    from aircolumn.flow.network.items import Cylinder

BEFORE = (-90.0, -60.0)  # deg: the charge is weighed; after these it may burn
SHARES = (0.1, 0.5, 0.9)
STARTED = 0.01  # share: from here on there are two zones
BURNS_AT = 2400.0  # K, a first guess
PASSES = 5
HOT_GAMMA = 1.3  # of leaks, and of Annand's law
TRUSTED = 0.02  # share, of less the burned gas's temperature is the guess


@dataclass(frozen=True, eq=False)
class Charge:
    """What the model knows of cylinder 1 while its valves are shut. pressure Pa, mass kg over AT, as
    computed; cylinder; gas, products: of the kernels; fuel, burned: mass shares before the burn;
    closing: pressure, temperature and volume when the intake valve shuts; leak: effective area, m2;
    crankcase: its pressure, Pa; omega: rad/s; stretch: by which residual gas lengthens the burn."""

    pressure: np.ndarray
    mass: np.ndarray
    cylinder: Cylinder
    gas: Gas
    products: np.ndarray
    fuel: float
    burned: float
    closing: tuple[float, float, float]
    leak: float
    crankcase: float
    omega: float
    stretch: float

    @property
    def angles(self) -> np.ndarray:
        """From where the charge may burn to where the exhaust valve opens, deg after top dead centre."""
        return np.arange(BEFORE[1], self.cylinder.evo, STEP)

    @property
    def due(self) -> tuple[float, float, float]:
        """Angles of SHARES of the burn that the model is given, deg."""
        c, table = self.cylinder, self.cylinder.burn_table
        after = np.interp(SHARES, table[table < 1.0], np.linspace(0.0, 720.0, table.size)[table < 1.0])
        start = (c.burn_start + 360.0) % 720.0 - 360.0
        at = c.ca50 + self.stretch * (start + after - c.ca50)
        return float(at[0]), float(at[1]), float(at[2])


@dataclass(frozen=True, eq=False)
class HeatRelease:
    """share: burned, of all that burns, of each cycle (n, angles) over ``at``, deg; angles: of SHARES
    (n, 3), deg; heat: released in each cycle, J; due: what the model is given: angles of SHARES, and its
    heat, J."""

    at: np.ndarray
    share: np.ndarray
    angles: np.ndarray
    heat: np.ndarray
    due: tuple[float, float, float]
    heat_due: float

    @property
    def duration(self) -> float:
        """From 10 to 90 % burned, mean of the cycles, deg."""
        return float(np.mean(self.angles[:, 2] - self.angles[:, 0]))

    @property
    def ca50(self) -> float:
        """Mean of the cycles, deg."""
        return float(self.angles[:, 1].mean())

    @property
    def scatter(self) -> float | None:
        """Standard deviation of CA50 from cycle to cycle, deg; None of fewer than three."""
        return float(self.angles[:, 1].std(ddof=1)) if len(self.angles) > 2 else None


def heat_release(cycles: np.ndarray, volume: np.ndarray, charge: Charge) -> HeatRelease:
    """The burn of measured cycles.

    Parameters
    ----------
    cycles : (n, angles) array
        Cylinder pressures, Pa, over AT, with their level.
    volume : (angles,) array
        Of the cylinder, m3.
    charge : Charge

    Returns
    -------
    HeatRelease

    Raises
    ------
    RequestError
        For pressures below nothing while the valves are shut.
    """
    at = charge.angles
    p = np.array([np.interp(at % 720.0, AT, one, period=720.0) for one in cycles])
    if min(p.min(), cycles.mean(axis=0)[_weighed()].min()) <= 0.0:
        raise RequestError(
            "the cylinder's pressure falls below nothing while the valves are shut: its level is wrong"
        )
    share, mass = burned_share(p, cycles, volume, charge)
    most = np.maximum(share.max(axis=1), 1e-9)
    of_all = np.maximum.accumulate(np.clip(share / most[:, None], 0.0, 1.0), axis=1)
    angles = np.array([np.interp(SHARES, one, at) for one in of_all])
    fuel = charge.fuel * charge.cylinder.heat_release
    due = fuel * float(np.interp(BEFORE[1] % 720.0, AT, charge.mass))
    return HeatRelease(at, share / most[:, None], angles, most * mass * fuel, charge.due, due)


def burned_share(
    p: np.ndarray, cycles: np.ndarray, volume: np.ndarray, charge: Charge
) -> tuple[np.ndarray, float]:
    """(mass share burned (n, angles) at ``charge.angles``, mass of the charge, kg) of pressures ``p``
    (n, angles) there; cycles: the same pressures over AT, by which the charge is weighed."""
    at, c = charge.angles, charge.cylinder
    v = np.interp(at % 720.0, AT, volume, period=720.0)
    weighed = _weighed()
    weight = float(np.mean(cycles[:, weighed].mean(axis=0) / charge.pressure[weighed]))
    first = weight * float(np.interp(at[0] % 720.0, AT, charge.mass))
    unburned, burnt = _zones(charge)
    q = charge.fuel * c.heat_release
    hidden = p * c.crevice_volume / (unburned.constant * c.crevice_wall)
    into, step = np.diff(hidden, axis=1), float(np.radians(STEP) / charge.omega)  # s
    x, tb, mass = np.zeros_like(p), np.full_like(p, BURNS_AT), np.full_like(p, first)
    began = first * (unburned.energy(p[:, :1] * v[0] / (first * unburned.constant)) + q)
    for _ in range(PASSES):
        r = (1.0 - x) * unburned.constant + x * burnt.in_equilibrium(tb, p)[2]
        t = p * v / (mass * r)
        lost = _leak(charge, p, t, r)
        mass = first - (hidden - hidden[:, :1]) - _summed(_between(lost) * step)
        tu = _unburned(unburned, p, t, x)
        e = (1.0 - x) * (unburned.energy(tu) + q) + x * burnt.in_equilibrium(tb, p)[0]
        h = e + p * v / mass
        passed = np.where(
            into > 0.0, _between(h), _given_back(unburned, burnt, q, x, into, hidden[:, 0], c.crevice_wall)
        )
        gone = (
            _between(p) * np.diff(v)
            + _between(_wall_heat(charge, p, t, v, weight) + lost * h) * step
            + passed * into
        )
        energy = began - _summed(gone)
        x, tb = _solved(unburned, burnt, q, (energy / mass, p * v / mass, p), tu, tb)
    return x, first


def _weighed() -> np.ndarray:
    """Where over AT the charge is weighed."""
    return np.abs(AT - 720.0 - np.mean(BEFORE)) <= 0.5 * np.ptp(BEFORE)


def _between(values: np.ndarray) -> np.ndarray:
    """Means of neighbours along the cycle."""
    return 0.5 * (values[:, 1:] + values[:, :-1])


def _summed(values: np.ndarray) -> np.ndarray:
    """Up to each angle, from nothing at the first."""
    return np.cumsum(np.pad(values, ((0, 0), (1, 0))), axis=1)


class _Zone:
    """A gas of the charge: constant, J/(kg K); of burned gas in equilibrium also what it has beyond the
    frozen one."""

    def __init__(self, gas: Gas, fuel: float, burned: float, products: np.ndarray | None = None) -> None:
        self.constant = gas_constant(gas, fuel, burned)
        self.coefficients, self.burned = cv_coefficients(gas, fuel, burned), burned
        self.beyond = None
        if products is not None and products.size:
            held, more = np.moveaxis(products, 2, 0)
            table = np.stack([held, np.gradient(held, TEMPERATURES, axis=0), more], axis=2)
            grid = (TEMPERATURES, LOG_DENSITIES[: products.shape[1]])
            self.beyond = RegularGridInterpolator(grid, table, bounds_error=False, fill_value=None)

    def cv(self, t: Any) -> Any:
        """J/(kg K) at temperatures, K."""
        return cv_from(self.coefficients, np.minimum(t, HOTTEST))

    def energy(self, t: Any) -> Any:
        """J/kg, frozen."""
        fitted = np.minimum(t, HOTTEST)
        return energy_from(self.coefficients, fitted) + self.cv(t) * (t - fitted)

    def in_equilibrium(self, t: Any, p: Any) -> tuple[Any, Any, Any]:
        """Energy, J/kg, its slope, J/(kg K), and gas constant at temperatures, K, and pressures, Pa."""
        if self.beyond is None:
            return self.energy(t), self.cv(t), self.constant
        held, slope, more = np.moveaxis(self.beyond((t, np.log(p / (self.constant * t)))), -1, 0)
        hot = self.burned * (t > FROZEN)
        return self.energy(t) + hot * held, self.cv(t) + hot * slope, self.constant + hot * more


def _zones(charge: Charge) -> tuple[_Zone, _Zone]:
    """Unburned and burned gas."""
    fuel, burned, c = charge.fuel, charge.burned, charge.cylinder
    spent = min(burned + fuel * (1.0 + c.air_fuel_ratio), 1.0)
    return _Zone(charge.gas, fuel, burned), _Zone(charge.gas, 0.0, spent, charge.products)


def _wall_heat(charge: Charge, p: np.ndarray, t: np.ndarray, v: np.ndarray, weight: float) -> np.ndarray:
    """W."""
    c = charge.cylinder
    bore = float(np.sqrt(4.0 * c.area / np.pi))
    reference = (weight * charge.closing[0], *charge.closing[1:])
    crank = (bore, c.stroke * charge.omega / np.pi, c.swept)
    wall = (c.head_wall + c.piston_wall + c.liner_wall) / 3.0
    rho = p / (AIR_GAS_CONSTANT * t)

    def one(p: float, t: float, rho: float, v: float) -> float:
        return film(c.heat_model, crank, (p, t, rho, HOT_GAMMA, v), reference, wall, False, True)

    h = np.vectorize(one, otypes=[float])(p, t, rho, v)
    flat = c.area * (2.0 * t - c.head_wall - c.piston_wall)
    return c.heat_factor * h * (flat + 4.0 * (v - c.clearance) / bore * (t - c.liner_wall))


def _leak(charge: Charge, p: np.ndarray, t: np.ndarray, r: np.ndarray) -> np.ndarray:
    """Past the rings, kg/s: a nozzle into the crankcase (any text on gas dynamics)."""
    g = HOT_GAMMA
    ratio = np.clip(charge.crankcase / p, (2.0 / (g + 1.0)) ** (g / (g - 1.0)), 1.0)
    speed = np.sqrt(2.0 * g / (g - 1.0) * (1.0 - ratio ** ((g - 1.0) / g)) / (r * t))
    return charge.leak * p * speed * ratio ** (1.0 / g)


def _unburned(gas: _Zone, p: np.ndarray, t: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Temperature of what has not burned, K: that of the charge until the burn begins, then compressed
    without loss."""
    mean = x.mean(axis=0)
    started = np.flatnonzero(mean[: int(np.argmax(mean)) + 1] < STARTED)
    s = int(started[-1]) if started.size and mean.max() > STARTED else 0
    found = t.copy()
    power = gas.constant / (gas.constant + gas.cv(t[:, s:]))
    for _ in range(2):
        grown = _summed(_between(power) * np.diff(np.log(p[:, s:]), axis=1))
        found[:, s:] = t[:, s : s + 1] * np.exp(grown)
        power = gas.constant / (gas.constant + gas.cv(found[:, s:]))
    return found


def _given_back(
    unburned: _Zone, burnt: _Zone, q: float, x: np.ndarray, into: np.ndarray, first: np.ndarray, wall: float
) -> np.ndarray:
    """What a kilogram out of the crevices brings, J/kg: it is as warm as the walls, and of the mean of what
    went in."""
    taken = np.maximum(into, 0.0)
    held = np.maximum(first[:, None] + np.cumsum(taken, axis=1), 1e-30)
    spent = np.cumsum(_between(x) * taken, axis=1) / held
    fresh = float(unburned.energy(wall)) + q + unburned.constant * wall
    return (1.0 - spent) * fresh + spent * (float(burnt.energy(wall)) + burnt.constant * wall)


def _solved(
    unburned: _Zone, burnt: _Zone, q: float, of_all: tuple, tu: np.ndarray, tb: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """(share burned, temperature of burned gas, K) from energy J/kg, p V/m and p: a step of Newton's in the
    temperature ``tb``."""
    energy, pv, p = of_all
    e, slope, r = burnt.in_equilibrium(tb, p)
    k = slope / r
    fresh = unburned.energy(tu) + q - k * unburned.constant * tu
    x = (energy - k * pv - fresh) / (e - slope * tb - fresh)
    found = (pv - (1.0 - x) * unburned.constant * tu) / (np.maximum(x, TRUSTED) * r)
    return x, np.where(x > TRUSTED, np.clip(found, two_zones.COLDEST, two_zones.HOTTEST), BURNS_AT)
