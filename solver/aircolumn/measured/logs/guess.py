"""Which channel each column of a log holds, and in which unit: by the engine file, or by its heading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from aircolumn.engine.description.measured import ChannelName, Measured
from aircolumn.engine.description.text_file import wrong_line
from aircolumn.measured.logs.channels import (
    CHANNELS,
    channel_of,
    channel_of_symbol,
    fits,
    known_unit,
    scale_of,
    split_heading,
)
from aircolumn.measured.logs.log_table import LogTable, heading_key
from aircolumn.measured.logs.wording import Wording, channel_in_words, wording

#: What the channel is called when a unit has to be asked for.
_EXAMPLES = {
    "temperature": "degC",
    "torque": "lbf ft",
    "power": "hp",
    "pressure": "kPa",
    "mass flow": "kg/h",
    "air flow": "kg/h",
    "speed of rotation": "rpm",
}
UNKNOWN = "?"  # unit of torque, power or barometer that the log does not name, but its figures may tell
TOLD_BY_FIGURES = ("torque", "power", "barometer")
NO_UNIT = "names no unit: write it into the heading, or state it under pull.columns"


@dataclass(frozen=True)
class LogColumn:
    """A column: its number and heading, its channel, its unit ("": none; UNKNOWN), how it was found (mapped
    or guessed), and what its words say."""

    number: int
    heading: str
    channel: str
    unit: str
    how: str
    said: Wording = field(default_factory=lambda: Wording(""))


def guessed(heading: str, below: str = "") -> tuple[str | None, str | None, Wording]:
    """(channel, unit, what its words say) of a heading by itself; below: the cell under it, which may hold
    the unit."""
    name, unit = split_heading(heading)
    own = unit or known_unit(below.strip("[]() ")) or None
    channel, in_words, said = channel_in_words(name or heading, own)
    if channel is None:
        channel, in_words = channel_of(name, own) if name else None, unit
        channel = channel or channel_of_symbol(name, own)
    if channel == "correction":
        said, in_words = (wording(below) if wording(below).standard else said), None
    if channel == "rpm" and own and not fits("rpm", own):
        return None, unit, said  # speed gained per second, or another speed
    return channel, in_words, said


def find_columns(table: LogTable, notes: Measured) -> tuple[list[LogColumn], dict[str, str]]:
    """(columns that hold a channel, {heading: why it is not used}). Raises InputError for a unit that cannot
    be."""
    mapped = by_heading(notes)
    found: list[LogColumn] = []
    unused: dict[str, str] = {}
    for k, heading in enumerate(table.headings):
        below = table.units[k] if k < len(table.units) else ""
        one = _found(table, k, heading, below, mapped, notes)
        if one is not None and one.unit == UNKNOWN and one.channel not in TOLD_BY_FIGURES:
            unused[heading] = NO_UNIT
        elif one is not None:
            found.append(one)
        elif heading:
            unused[heading] = _why_not(heading, below, notes)
    return found, unused


def by_heading(notes: Measured) -> dict[str, ChannelName]:
    """The channels that the engine file names, by the headings of their columns."""
    return {heading_key(c.name): channel for channel, c in notes.columns.items()}


def _found(
    table: LogTable, k: int, heading: str, below: str, mapped: Mapping[str, ChannelName], notes: Measured
) -> LogColumn | None:
    channel, unit, said = guessed(heading, below)
    how, stated = "guessed", None
    named = mapped.get(heading_key(heading))
    if named is not None:
        how, stated = "mapped", notes.columns[named].unit
        channel, said = named, said if named in ("torque", "power") else Wording("")
    elif channel in notes.columns:
        return None
    if channel is None:
        return None
    given = (known_unit(stated) or stated) if stated else None
    return LogColumn(
        k, heading, channel, _unit(table, channel, heading, given or unit or known_unit(below)), how, said
    )


def _unit(table: LogTable, channel: str, heading: str, unit: str | None) -> str:
    """The column's unit, the one that is taken for granted, or UNKNOWN. Raises InputError."""
    about = CHANNELS[channel]
    if about.kind is None:
        return ""
    unit = unit or about.unit
    if not unit:
        return UNKNOWN
    try:
        scale_of(channel, unit)
    except ValueError as error:
        raise wrong_line(table.path, table.heading_line, channel, f"column '{heading}': {error}") from None
    return unit


def check_unit(table: LogTable, c: LogColumn) -> None:
    """Raise InputError for a column whose unit is not known and that cannot be done without."""
    if c.unit == UNKNOWN:
        example = _EXAMPLES[CHANNELS[c.channel].kind or ""]
        raise wrong_line(
            table.path,
            table.heading_line,
            c.channel,
            f"column '{c.heading}' names no unit; write it into the heading, or state pull.columns:"
            f" {{{c.channel}: {{name: {c.heading}, unit: {example}}}}} in the engine file",
        )


def _why_not(heading: str, below: str, notes: Measured) -> str:
    channel, unit, _ = guessed(heading, below)
    if channel in notes.columns:
        return f"pull.columns names another column for {channel}"
    if unit == "rpm/s":
        return "speed gained per second"
    return ""


def lacking(channels: set[str], notes: Measured) -> str:
    """What is missing among the channels of a line of headings; "" if it can be used."""
    lost = [f"engine speed{_mapped_name('rpm', notes)}"] if "rpm" not in channels else []
    if not channels & {"torque", "power"}:
        lost.append(f"torque{_mapped_name('torque', notes)} or power{_mapped_name('power', notes)}")
    return f"{' and '.join(lost)} {'is' if len(lost) == 1 else 'are'} not in it" if lost else ""


def _mapped_name(channel: ChannelName, notes: Measured) -> str:
    """The heading that the engine file gives for a channel."""
    column = notes.columns.get(channel)
    return f" ('{column.name}' by pull.columns)" if column else ""


def recognised(notes: Measured, cells: Sequence[str], below: Sequence[str]) -> tuple[int, str]:
    """How many cells name channels, given the cells below them, and what is missing among them."""
    below, mapped = [*below, *[""] * len(cells)], by_heading(notes)
    named = (mapped.get(heading_key(c)) or guessed(c, b)[0] for c, b in zip(cells, below, strict=False))
    channels = {channel for channel in named if channel}
    return len(channels), lacking(channels, notes)
