"""What is understood of a log's headings, heading by heading, and the mapping that says so."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from aircolumn.engine.description.measured import Measured
from aircolumn.measured.channels import CHANNELS, fits, known_unit, plain_words
from aircolumn.measured.log_table import LogTable, heading_key, number, read_log_table
from aircolumn.measured.reading import guessed_channel

#: what channels are called in messages
NAMES = {
    "pull": "pull number",
    "time": "time",
    "rpm": "engine speed",
    "torque": "torque",
    "power": "power",
    "lambda": "lambda",
    "air_fuel_ratio": "air-fuel ratio",
    "fuel_flow": "fuel flow",
    "air_flow": "air flow",
    "spark": "spark advance",
    "coolant": "coolant temperature",
    "oil": "oil temperature",
    "inlet_air": "inlet air temperature",
    "barometer": "barometer",
    "humidity": "humidity",
    "humidity_temperature": "temperature at the humidity sensor",
    "throttle": "throttle opening",
}
#: what a comparison that proves something needs beside speed and torque
WANTED = ("barometer", "inlet_air", "humidity", "coolant", "oil", "lambda", "spark")
NEAR = 0.6  # likeness of words, from which on a heading is proposed


@dataclass(frozen=True)
class Heading:
    """A heading: the channel it is read as (None: not used), its unit ("": none), and what is doubtful."""

    heading: str
    channel: str | None
    unit: str
    doubt: str


@dataclass(frozen=True)
class Understood:
    """Of a file: its headings; what is missing and what comes nearest to it ({channel: heading or ""});
    example: the first row of figures."""

    path: Path
    line: int
    headings: list[Heading]
    missing: dict[str, str]
    example: list[str]

    @property
    def usable(self) -> bool:
        """Whether pulls can be read from it."""
        lost = {c for c in self.missing if c in ("rpm", "torque")}
        return not lost and not any(h.doubt for h in self.headings if h.channel)


def understood(path: Path, notes: Measured) -> Understood:
    """What each heading of a log is read as. Raises InputError if there is no line of headings."""

    def recognised(cells: Sequence[str], below: Sequence[str]) -> tuple[int, str]:
        under = [*below, *[""] * len(cells)]
        known = sum(bool(_channel(c, b, notes)[0]) for c, b in zip(cells, under, strict=False))
        words = len(cells) > 1 and not any(
            number(c, False) is not None or number(c, True) is not None for c in cells
        )
        return 2 * known + words, "" if known or words else "no headings"

    table = read_log_table(Path(path), recognised, known_unit)
    headings = [_heading(table, k, notes) for k, h in enumerate(table.headings) if h]
    found = {h.channel for h in headings if h.channel}
    due = ["rpm"] if "rpm" not in found else []
    due += [] if found & {"torque", "power"} else ["torque"]
    due += [c for c in WANTED if c not in found and not (c == "lambda" and "air_fuel_ratio" in found)]
    free = [h.heading for h in headings if h.channel is None]
    return Understood(
        table.path,
        table.heading_line,
        headings,
        {c: _nearest(c, free) for c in due},
        table.rows[0][1] if table.rows else [],
    )


def _channel(heading: str, below: str, notes: Measured) -> tuple[str | None, str | None]:
    """(channel, unit) of a heading, by the engine file or by itself."""
    key = heading_key(heading)
    guessed, unit = guessed_channel(heading, below)
    for channel, column in notes.columns.items():
        if heading_key(column.name) == key:
            return channel, column.unit or unit
    return (None if guessed in notes.columns else guessed), unit


def _heading(table: LogTable, k: int, notes: Measured) -> Heading:
    heading = table.headings[k]
    below = table.units[k] if k < len(table.units) else ""
    channel, unit = _channel(heading, below, notes)
    if channel is None:
        return Heading(heading, None, unit or "", "")
    kind = CHANNELS[channel].kind
    unit = unit or known_unit(below) or CHANNELS[channel].unit or ""
    if kind is not None and not unit:
        return Heading(heading, channel, "", "names no unit")
    if kind is not None and not fits(channel, unit):
        return Heading(heading, channel, unit, f"'{unit}' is no unit of {kind}")
    return Heading(heading, channel, unit, "")


def _nearest(channel: str, headings: Sequence[str]) -> str:
    """The unused heading that comes nearest to a channel's name; "" if none is near."""
    plain = {plain_words(h): h for h in headings}
    names = [NAMES[channel], *NAMES[channel].split()]
    found = [
        (difflib.SequenceMatcher(None, name, words).ratio(), words)
        for name in names
        for words in plain
        if words
    ]
    best = max(found, default=(0.0, ""))
    return plain[best[1]] if best[0] >= NEAR else ""


def mapping(found: Understood) -> dict[str, dict[str, str]]:
    """The file's columns as the engine file's pull.columns would state them."""
    stated: dict[str, dict[str, str]] = {}
    for h in found.headings:
        if h.channel and h.channel not in stated:
            stated[h.channel] = {"name": h.heading, **({"unit": h.unit} if h.unit else {})}
    return stated
