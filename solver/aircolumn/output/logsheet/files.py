"""Blank logs with headings that are read back."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.display_units import SETS, chosen, unit

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine

#: channel: (heading, unit, and that of US units where it is another)
HEADINGS = {
    "pull": ("pull",),
    "time": ("time", "s"),
    "rpm": ("engine speed", "rpm"),
    "torque": ("torque", "N m", "lbf ft"),
    "lambda": ("lambda",),
    "spark": ("spark advance", "deg"),
    "coolant": ("coolant temperature", "degC", "degF"),
    "oil": ("oil temperature", "degC", "degF"),
    "inlet_air": ("inlet air temperature", "degC", "degF"),
    "barometer": ("barometer", "kPa", "inHg"),
    "humidity": ("humidity", "%"),
    "throttle": ("throttle", "%"),
    "air_flow": ("air flow", "kg/h", "lb/min"),
    "fuel_flow": ("fuel flow", "kg/h", "lb/h"),
}


def blank_heading(channel: str) -> str:
    """A channel's heading with its unit."""
    name, *units = HEADINGS[channel]
    return f"{name} [{units[min(SETS.index(chosen()), len(units) - 1)]}]" if units else name


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
