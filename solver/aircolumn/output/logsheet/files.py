"""Blank logs with headings that are read back."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.display_units import unit

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine

#: channel: (heading, unit, or the kind whose shown unit is taken)
HEADINGS = {
    "pull": ("pull", ""),
    "time": ("time", "s"),
    "rpm": ("engine speed", "rpm"),
    "torque": ("torque", "torque"),
    "lambda": ("lambda", ""),
    "spark": ("spark advance", "deg"),
    "coolant": ("coolant temperature", "temperature"),
    "oil": ("oil temperature", "temperature"),
    "inlet_air": ("inlet air temperature", "temperature"),
    "barometer": ("barometer", "kPa"),
    "humidity": ("humidity", "%"),
    "throttle": ("throttle", "%"),
    "air_flow": ("air flow", "kg/h"),
    "fuel_flow": ("fuel flow", "kg/h"),
}
SHOWN = ("torque", "temperature")


def blank_heading(channel: str) -> str:
    """A channel's heading with its unit."""
    name, one = HEADINGS[channel]
    one = unit(one).name if one in SHOWN else one
    return f"{name} [{one}]" if one else name


def write_blank_log(path: Path, name: str) -> None:
    """Headings for the pulls of one manifold; nothing below them."""
    with open(path, "w", newline="", encoding="utf-8") as file:
        file.write(f"# {name}: one row a reading. Delete columns that are not logged.\n")
        csv.writer(file, lineterminator="\n").writerow([blank_heading(c) for c in HEADINGS])


def write_blank_traces(path: Path, engine: Engine) -> None:
    """Headings for pressures by crank angle."""
    with open(path, "w", newline="", encoding="utf-8") as file:
        file.write(
            "# 0 at firing top dead centre; cycles one below the other, angles going on or beginning again\n"
        )
        names = [f"{name} [{unit('pressure').name}]" for name in engine.traces.channels]
        csv.writer(file, lineterminator="\n").writerow(["crank angle [deg]", *names])
