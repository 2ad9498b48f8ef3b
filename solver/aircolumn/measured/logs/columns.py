"""What is understood of a log: heading by heading, how torque is stated, which rows count, which pulls there
are; and the mapping of headings that says so."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from aircolumn.engine.description.cells import number
from aircolumn.engine.description.measured import Measured
from aircolumn.errors import InputError
from aircolumn.measured.logs.channels import CHANNELS, fits, known_unit, plain_words
from aircolumn.measured.logs.guess import by_heading, guessed
from aircolumn.measured.logs.log_table import LogTable, heading_key, read_log_table
from aircolumn.measured.logs.pull_file import PullFile
from aircolumn.measured.logs.reading import read_pulls

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
    "pulse_width": "injector pulse width",
    "air_flow": "air flow",
    "spark": "spark advance",
    "coolant": "coolant temperature",
    "oil": "oil temperature",
    "inlet_air": "inlet air temperature",
    "barometer": "barometer",
    "humidity": "humidity",
    "humidity_temperature": "temperature at the humidity sensor",
    "throttle": "throttle opening",
    "correction": "factor of correction",
    "manifold_pressure": "manifold pressure (absolute)",
    "manifold_temperature": "manifold temperature",
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
    example: the first row of figures; reading: all that was read; refused: why it cannot be read."""

    path: Path
    line: int
    headings: list[Heading]
    missing: dict[str, str]
    example: list[str]
    reading: PullFile | None = None
    refused: str = ""

    @property
    def usable(self) -> bool:
        """Whether pulls can be read from it."""
        return self.reading is not None


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
    reading, refused = _reading(Path(path), notes)
    if reading is not None:
        headings = [_with_use(h, reading) for h in headings]
        due = [c for c in due if c not in reading.columns]
    return Understood(
        table.path,
        table.heading_line,
        headings,
        {c: _nearest(c, free) for c in due},
        table.rows[0][1] if table.rows else [],
        reading,
        refused,
    )


def _reading(path: Path, notes: Measured) -> tuple[PullFile | None, str]:
    """(all that is read of a file, why it cannot be read)."""
    try:
        return read_pulls(path, notes), ""
    except InputError as error:
        return None, str(error)


def _with_use(h: Heading, reading: PullFile) -> Heading:
    """A heading with why it is not used, if it is not."""
    if h.heading in reading.unused:
        return Heading(h.heading, None, h.unit, reading.unused[h.heading] or "names no quantity that is used")
    return h


def _channel(heading: str, below: str, notes: Measured) -> tuple[str | None, str | None]:
    """(channel, unit) of a heading, by the engine file or by itself."""
    channel, unit, _ = guessed(heading, below)
    named = by_heading(notes).get(heading_key(heading))
    if named is not None:
        return named, notes.columns[named].unit or unit
    return (None if channel in notes.columns else channel), unit


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
