"""What the model says at the transducers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.tuning.trace import recorded
from aircolumn.display_units import said_length
from aircolumn.engine.model.piping import intake_piping
from aircolumn.errors import RequestError
from aircolumn.measured.traces.cycles import AT
from aircolumn.measured.traces.heat_release import Charge

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.traces import TraceChannel
    from aircolumn.engine.model.engine_network import EngineNetwork
    from aircolumn.flow.network.run import Run

SERIES_OF = {"plenum": "plenum_p", "cylinder": "cylinder_p", "exhaust": "exhaust_p"}


@dataclass(frozen=True)
class Predicted:
    """signals: (channels, angles), Pa; volume of the cylinder m3 and speed of sound in the runner m/s over
    AT; events: crank angles, deg; air_flow: of the engine, kg/s; charge: of cylinder 1."""

    signals: np.ndarray
    volume: np.ndarray
    sound: np.ndarray
    events: dict[str, float]
    air_flow: float
    charge: Charge


def _unlit(network: EngineNetwork) -> None:
    """No combustion: the engine is motored."""
    network.cylinders[:] = [replace(c, burn_table=np.zeros_like(c.burn_table)) for c in network.cylinders]


NO_FUEL = 1e6  # air-fuel ratio


def predicted(
    engine: Engine, rpm: float, channels: Mapping[str, TraceChannel], motored: bool = False
) -> Predicted:
    """The model's pressures at the channels' places, cylinder 1, 0 at firing top dead centre; motored:
    without fuel and combustion.

    Raises
    ------
    RequestError
        For a distance beyond the runner.
    ComputationError
        If the cycle does not repeat.
    """
    if motored:
        dry = engine.mixture.changed(air_fuel_ratio=NO_FUEL, relative_air_fuel_ratio=None)
        engine = engine.changed(mixture=dry)
    data, run = recorded(engine, rpm, change=_unlit if motored else None)
    signals = np.array([_signal(engine, data, name, c) for name, c in channels.items()])
    events = {k: float(v) for k, v in data.attrs.items() if k.startswith(("intake_", "exhaust_"))}
    cylinders = engine.block.cylinders
    flow = float(np.mean(data.intake_flow.values)) * cylinders
    sound = data.a.values.mean(axis=0)
    return Predicted(signals, data.volume.values, sound, events, flow, _charge(engine, data, run))


def _charge(engine: Engine, data: xr.Dataset, run: Run) -> Charge:
    """What the model knows of the charge of cylinder 1."""
    inside = {name: float(values[0]) for name, values in run.chambers._asdict().items()}
    mass = inside["trapped_mass"]
    return Charge(
        data.cylinder_p.values,
        data.cylinder_mass.values,
        run.network.cylinders[0],
        run.network.gas,
        run.network.products,
        inside["charge_fuel"] / mass,
        inside["trapped_burned"] / mass,
        (inside["ivc_p"], inside["ivc_t"], inside["ivc_v"]),
        engine.rings.area(engine.block.bore),
        engine.intake.ambient.pressure,
        float(np.radians(6.0 * data.attrs["rpm"])),
        inside["burn_stretch"],
    )


def _signal(engine: Engine, data: xr.Dataset, name: str, channel: TraceChannel) -> np.ndarray:
    """The model's pressure at a transducer over AT."""
    if channel.place in SERIES_OF:
        return data[SERIES_OF[channel.place]].values
    pressure = data.p.values
    if channel.place == "port":
        return pressure[-1]
    one = engine.of_cylinder(1)
    length = one.intake.runner.total_length
    distance = channel.distance or 0.0
    if distance > length + one.intake.port.total_length:
        raise RequestError(
            f"traces.channels.{name}: {said_length(distance)} from the mouth is beyond runner and port"
        )
    at = distance + intake_piping(one).open_air_before
    k = int(np.clip(np.searchsorted(data.distance.values, at), 1, len(pressure) - 1))
    x0, x1 = data.distance.values[k - 1 : k + 1]
    share = (at - x0) / (x1 - x0)
    return (1.0 - share) * pressure[k - 1] + share * pressure[k]


def turned(signals: np.ndarray, by: float) -> np.ndarray:
    """Signals over AT with angles ``by`` deg larger, between the angles by straight lines."""
    return np.array([np.interp(AT - by, AT, s, period=720.0) for s in np.atleast_2d(signals)])


def slope(signals: np.ndarray) -> np.ndarray:
    """d/d(angle) of periodic signals, per deg."""
    return (np.roll(signals, -1, axis=-1) - np.roll(signals, 1, axis=-1)) / (2.0 * (AT[1] - AT[0]))
