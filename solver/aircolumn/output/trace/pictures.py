"""Pictures of one cycle: by crank angle, as a map of the runner, and pressure against volume."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import unit
from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import figure, name_lines, save

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes

EVENT_NAMES = {
    "exhaust_opens": "EVO",
    "exhaust_closes": "EVC",
    "intake_opens": "IVO",
    "intake_closes": "IVC",
}


def plot_trace(data: xr.Dataset, base: Path) -> None:
    """A cycle by angle, as a map and as pressure against volume: ``base``, ``base``-map and
    ``base``-pv as PNG and SVG."""
    _by_angle(data, base)
    _map(data, base.with_name(f"{base.name}-map"))
    _pressure_volume(data, base.with_name(f"{base.name}-pv"))


def _title(data: xr.Dataset) -> str:
    which = f"runner {data.attrs['runner']}, cylinder {data.attrs['cylinder']}"
    return f"{data.attrs['title'] or 'Engine'}\n{which}, {data.attrs['rpm']:.0f} rpm"


def _mark_events(panel: Axes, data: xr.Dataset, named: bool = False) -> None:
    for name, short in EVENT_NAMES.items():
        at = data.attrs[name] % 720.0
        panel.axvline(at, color="#888888", linewidth=0.9, linestyle=(0, (3, 3)))
        if named:
            side = "right" if short.endswith("O") else "left"  # overlap: IVO and EVC stand close
            panel.annotate(
                short,
                (at, 1.0),
                xycoords=("data", "axes fraction"),
                fontsize=8,
                ha=side,
                va="bottom",
                color="#444444",
            )


def _by_angle(data: xr.Dataset, base: Path) -> None:
    angle, at_valve = data.angle.values, data.isel(distance=-1)
    reference = data.attrs["reference_pressure_Pa"]
    kpa, flow, area = unit("pressure"), unit("air flow"), unit("area")
    with figure(5, figsize=(10.0, 13.0)) as (fig, axes):
        pressures, waves, speed, flows, areas = axes
        for k, (values, label) in enumerate(
            (
                (at_valve.p, "port at the intake valve"),
                (data.cylinder_p, "cylinder"),
                (data.plenum_p, "plenum"),
                (data.exhaust_p, "exhaust port"),
            )
        ):
            pressures.plot(angle, kpa.of(values), label=label, **_line(k))
        low, high = float(data.p.min()), float(max(data.p.max(), data.exhaust_p.max()))
        pressures.set_ylim(kpa.of(low - 0.15 * (high - low)), kpa.of(high + 0.25 * (high - low)))
        pressures.set_ylabel(f"pressure, {kpa.name}")
        for k, (name, label) in enumerate(
            (
                ("forward", "arriving from the mouth"),
                ("backward", "running back to the mouth"),
            )
        ):
            waves.plot(angle, kpa.of(at_valve[name] - reference), label=label, **_line(k))
        waves.axhline(0.0, color="#555555", linewidth=0.8)
        waves.set_ylabel(f"waves at the valve,\n{kpa.name} over plenum mean")
        velocity = unit("velocity")
        speed.plot(angle, velocity.of(at_valve.u), label="port at the intake valve", **_line(0))
        speed.set_ylabel(f"velocity, {velocity.name}")
        flows.plot(angle, flow.of(data.intake_flow), label="in, intake valves", **_line(0))
        flows.plot(angle, flow.of(data.exhaust_flow), label="out, exhaust valves", **_line(2))
        flows.set_ylabel(f"flow, {flow.name}")
        areas.plot(angle, area.of(data.intake_area), label="intake valves", **_line(0))
        areas.plot(angle, area.of(data.exhaust_area), label="exhaust valves", **_line(2))
        areas.set_ylabel(f"effective area, {area.name}")
        for k, panel in enumerate(axes):
            _mark_events(panel, data, named=k == 0)
            name_lines(panel)
        areas.set(xlabel="crank angle, deg (0 at firing top dead centre)", xlim=(0, 720))
        areas.set_xticks(np.arange(0, 721, 90))
        pressures.set_title(_title(data), pad=16)
        text = "Dashed: valve events as the file states them. " + SHORT
        fig.supxlabel(text, fontsize=8.5, color="#444444")
        save(fig, base)


def _line(k: int) -> dict:
    return {**STYLES[k], "marker": ""}


def _map(data: xr.Dataset, base: Path) -> None:
    """Pressure and each wave family over crank angle and distance from the valve."""
    reference, kpa, mm = data.attrs["reference_pressure_Pa"], unit("pressure"), unit("length")
    parts = (
        ("p", "pressure"),
        ("forward", "wave towards the valve"),
        ("backward", "wave towards the mouth"),
    )
    with figure(3, figsize=(8.5, 10.5), sharey=True) as (fig, axes):
        for panel, (name, label) in zip(axes, parts, strict=True):
            over = kpa.of(data[name].values - reference)
            most = np.abs(over).max()
            look = {"cmap": "PuOr_r", "vmin": -most, "vmax": most, "shading": "nearest"}
            image = panel.pcolormesh(data.angle, mm.of(data.distance), over, rasterized=True, **look)
            for level, dash in ((0.4 * most, "-"), (-0.4 * most, "--")):  # tells them in grey print
                panel.contour(
                    data.angle,
                    mm.of(data.distance),
                    over,
                    levels=[level],
                    colors="black",
                    linewidths=0.7,
                    linestyles=dash,
                )
            fig.colorbar(image, ax=panel, label=f"{label},\n{kpa.name} over plenum mean")
            _mark_events(panel, data, named=panel is axes[0])
            panel.set_ylabel(f"distance from the mouth, {mm.name}")
            panel.grid(visible=False)
        axes[-1].set(xlabel="crank angle, deg (0 at firing top dead centre)")
        axes[-1].set_xticks(np.arange(0, 721, 90))
        axes[0].set_title(_title(data), pad=16)
        text = (
            "The valve is at the top edge. A wave shows as a slanting band; where it meets an edge,"
            " the other family takes over.\nLines: much above (whole) and much below (dashed) the"
            f" plenum mean. {SHORT}"
        )
        fig.supxlabel(text, fontsize=8.5, color="#444444")
        save(fig, base)


def _pressure_volume(data: xr.Dataset, base: Path) -> None:
    """The whole cycle, and gas exchange enlarged."""
    kpa, cc = unit("pressure"), unit("volume")
    volume, p = cc.of(data.volume.values), kpa.of(data.cylinder_p.values)
    closed = (np.append(volume, volume[0]), np.append(p, p[0]))
    exchange = (data.angle.values > 150.0) & (data.angle.values < 600.0)
    with figure(1, 2, figsize=(10.5, 4.6), sharex=False) as (fig, (whole, low)):
        whole.plot(*closed, color=STYLES[0]["color"])
        low.plot(volume[exchange], p[exchange], color=STYLES[0]["color"])
        low.axhline(kpa.of(data.attrs["reference_pressure_Pa"]), color="#777777", linestyle=":")
        labels = {"xlabel": f"volume, {cc.name}", "ylabel": f"cylinder pressure, {kpa.name}"}
        whole.set(title=_title(data), **labels)
        low.set(title="gas exchange (dotted: plenum mean)", **labels)
        fig.supxlabel(SHORT, fontsize=8.5, color="#444444")
        save(fig, base)
