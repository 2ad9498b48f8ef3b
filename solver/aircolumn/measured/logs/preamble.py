"""What the lines above the headings say: weather and factor that hold for the whole log, and corrections."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from aircolumn.engine.description.cells import number
from aircolumn.measured.logs.channels import CHANNELS, channel_of, known_unit, plain_words, scale_of
from aircolumn.measured.logs.wording import Wording, channel_in_words, wording

#: Channels that a line above the headings may hold for all rows.
HELD = ("barometer", "inlet_air", "humidity", "humidity_temperature", "correction", "throttle")
SAYS_CORRECTED = re.compile(r"corr|korr|corretto|corregid|gecorr|skoryg")
NOTHING = Wording("")
_PAIR = re.compile(
    r"\s*([^:=\t;,\d]{2,60}?)\s*[:=\t;, ]+\s*([-+]?\d[\d.,]*)"  # name and figure
    r"\s*([^\d\s;,(][^\s(]*)?\s*(?:\(.*\))?\s*[;,\t]*\s*$"  # unit, remark
)


@dataclass(frozen=True)
class Above:
    """values: channel to (value in SI, line, unit); said: what the lines say of torque, and the line (0: of
    nothing)."""

    values: dict[str, tuple[float, int, str]] = field(default_factory=dict)
    said: Wording = NOTHING
    line: int = 0
    text: str = ""


def read_above(lines: Sequence[tuple[int, str]]) -> Above:
    """What numbered lines say."""
    values: dict[str, tuple[float, int, str]] = {}
    said, at, words = NOTHING, 0, ""
    for n, line in lines:
        for part in re.split(r"[;\t|]{1}(?=\s*\D)|, (?=\D)", line):
            found = _value(part)
            if found is not None:
                values.setdefault(found[0], (found[1], n, found[2]))
        spoken = _spoken(line)
        if spoken is not None and not at:
            said, at, words = spoken, n, " ".join(line.split())[:60]
    return Above(values, said, at, words)


def _value(text: str) -> tuple[str, float, str] | None:
    """(channel, value, unit) of "Barometer: 29.20 inHg"."""
    pair = _PAIR.fullmatch(text)
    if pair is None:
        return None
    name, figure, after = pair.groups()
    bracket = re.fullmatch(r"(.*?)\s*[\[(]\s*(.*?)\s*[\])]", name)
    unit = known_unit(after or "") or (known_unit(bracket[2]) if bracket else None) or ""
    name = bracket[1] if bracket and known_unit(bracket[2]) is not None else name
    channel = channel_of(name) or channel_in_words(name, None)[0]
    reading = number(figure, "," in figure and "." not in figure)
    if channel not in HELD or reading is None:
        return None
    unit = unit or CHANNELS[channel].unit or ""
    try:
        factor, shift = scale_of(channel, unit)
    except ValueError:
        return None
    value = factor * reading + shift
    about = CHANNELS[channel]
    return (channel, value, unit) if about.low <= value <= about.high else None


def _spoken(line: str) -> Wording | None:
    """What a line says of corrections; None if nothing."""
    plain = plain_words(line[:120])
    said = wording(line)
    if SAYS_CORRECTED.search(plain) and (said.corrected or said.observed):
        return said
    return said if said.observed and re.search(r"torque|power|moment|couple|coppia|data", plain) else None
