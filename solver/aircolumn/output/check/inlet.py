"""The inlet in words: what its elements come to, and where a restrictor chokes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import percent, said_bore, said_place, unit
from aircolumn.engine.description.base import required
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.inlet import (
    choked_flow,
    filter_area,
    loss_behind,
    outside_density,
    pitches,
    restrictors,
)
from aircolumn.engine.model.piping import pipe_shape
from aircolumn.output.check.runner import change_lines

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.engine_file import Engine


def inlet_lines(engine: Engine) -> list[str]:
    """Lines of ``check``: the supply, and one an element."""
    density, air = outside_density(engine), unit("air flow")
    lines = [_supply_line(engine.intake.supply)] if engine.intake.supply is not None else []
    for element in engine.intake.inlet or ():
        if element.pipe is not None:
            bore, length = element.pipe.last_bore, element.pipe.total_length
            texts = f"pipe, {said_place(length)}, {said_bore(bore)} wide at its end"
        elif element.filter is not None:
            f, area = element.filter, filter_area(element.filter, density)
            texts = (
                f"filter, {unit('depression').said(f.pressure_drop)} at {air.said(f.flow)}:"
                f" effective area {unit('area').said(area)}"
            )
        elif element.airbox is not None:
            texts = f"airbox, {unit('large volume').said(element.airbox.volume)}"
        else:
            r = required(element.restrictor)
            texts = (
                f"restrictor, throat {said_bore(r.throat)}: of the throat's dynamic head the"
                f" nozzle loses {percent(r.nozzle_loss, '.0f')} and the diffuser"
                f" {percent(loss_behind(r), '.0f')}"
                f"{'' if r.diffuser_loss is not None else ' (Crane TP-410)'}"
            )
        lines.append(f"inlet: {texts}")
    if restrictors(engine):
        lines.append(f"inlet: the restrictor chokes at {air.said(choked_flow(engine))}")
    strokes = engine.block.cylinders / 120.0  # intake strokes a second, a rev/min
    lines += [
        f"inlet: resonates at {pitch:.1f} Hz (air columns on the volumes behind them), which the"
        f" intake strokes reach at {pitch / strokes:.0f} rpm"
        for pitch in pitches(engine)
    ]
    return [*lines, *_log_lines(engine)]


def _log_lines(engine: Engine) -> list[str]:
    """The plenum, where it is a log."""
    log = engine.intake.log
    if log is None:
        return []
    shape = pipe_shape(log)
    size, volume = unit("length"), unit("large volume")
    places = ", ".join(size.number(at) for at in log.runners_at)
    swept = geometry_of(engine).swept * engine.block.cylinders
    line = (
        f"log: {size.said(shape.length)}, {volume.said(shape.volume())}"
        f" ({shape.volume() / swept:.2f} of the displacement); runners join at {places}"
        f" {size.name}, where air turns by {log.runner_angle:.0f} deg"
    )
    return [line, *change_lines(shape)]


def _supply_line(supply: Any) -> str:
    spread = []
    for values, shown in ((supply.pressure, unit("pressure")), (supply.temperature, unit("temperature"))):
        least, most = min(values), max(values)
        start = "" if least == most else f"{shown.number(least)} to "
        spread.append(start + shown.said(most))
    return f"supply: air at {spread[0]} and {spread[1]}"


def choke_text(data: xr.Dataset, engine: Engine) -> str:
    """Where the restrictor chokes and how much of what it can pass is drawn, a line for each
    runner; "" without one."""
    if not restrictors(engine):
        return ""
    most = choked_flow(engine)
    lines = []
    for name in data.runner.values if "runner" in data.dims else [None]:
        one = data if name is None else data.sel(runner=name)
        flow, mach = float(np.nanmax(one.air_flow)), one.inlet_mach.values
        choked = np.flatnonzero(mach >= 1.0)
        where = (
            f"choked from {one.rpm.values[choked[0]]:.0f} rpm on"
            if choked.size
            else f"not choked: its Mach number reaches {np.nanmax(mach):.2f}"
        )
        who = "" if name is None else f"{name}: "
        lines.append(
            f"{who}restrictor {where}; the engine draws at most"
            f" {unit('air flow').said(flow)}, {unit('share').said(flow / most)} of what"
            " chokes it"
        )
    return "\n".join(lines)
