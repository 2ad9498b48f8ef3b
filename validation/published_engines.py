"""Engines whose behaviour with two runners is published, as far as they are described: the guessed
inputs were fixed before the first run (validation/published/*.yaml) and are varied here over a
stated spread, one at a time.

    python -m validation.published_engines
"""

import sys
import tempfile
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from aircolumn import compare, load
from aircolumn.curves.summary import crossings, peak

FOLDER = Path(__file__).parent / "published"


@dataclass(frozen=True)
class Guess:
    """A guessed input: what it is, what the file says, and the ends of its spread."""

    what: str
    text: str
    low: str
    high: str


def _plain(what, key, value, low, high):
    return Guess(what, f"{key}: {value}", f"{key}: {low}", f"{key}: {high}")


GUESSES = {
    "v6-two-lengths": (
        _plain("intake closes", "closes_abdc", "46 deg", "38 deg", "54 deg"),
        _plain(
            "runner bore",
            "bore",
            "{from: 42 mm, to: 40 mm}",
            "{from: 40 mm, to: 38 mm}",
            "{from: 44 mm, to: 42 mm}",
        ),
        _plain("port (low: within the lengths)", "length", "90 mm", "10 mm", "110 mm"),
        _plain("plenum", "volume", "4 L", "2.5 L", "7 L"),
        _plain("exhaust primary", "length", "400 mm", "250 mm", "700 mm"),
        _plain("runner wall", "wall_temperature", "50 degC", "30 degC", "70 degC"),
    ),
    "four-with-funnels": (
        _plain("intake closes", "closes_abdc", "66 deg", "58 deg", "74 deg"),
        _plain("throttle body and boot", "length", "100 mm", "80 mm", "120 mm"),
        _plain("intake valves", "diameter", "31 mm", "30 mm", "32 mm"),
        _plain("exhaust primary", "length", "450 mm", "350 mm", "600 mm"),
        _plain("runner wall", "wall_temperature", "45 degC", "30 degC", "60 degC"),
    ),
    "mild-v8": (
        _plain("intake duration", "duration", "204 deg", "196 deg", "212 deg"),
        _plain("cam advance", "advance", "0 deg", "-4 deg", "4 deg"),
        _plain("runner bore", "bore", "47 mm ", "44 mm ", "50 mm "),
        _plain("port (low: within the lengths)", "length", "110 mm", "10 mm", "130 mm"),
        _plain("plenum", "volume", "6 L", "4 L", "10 L"),
        _plain("exhaust primary", "length", "750 mm", "500 mm", "1000 mm"),
    ),
}


@dataclass(frozen=True)
class Found:
    """Of one description: speed (rev/min) and value (N m) of either runner's torque peak, and the
    last speed at which the longer runner loses its lead."""

    long_rpm: float
    long_peak: float
    short_peak: float
    crossing: float


def found(name: str, old: str = "", new: str = "") -> Found:
    """What a description gives, with one text in it replaced (at its first place)."""
    text = (FOLDER / f"{name}.yaml").read_text()
    if old not in text:
        raise ValueError(f"'{old}' is not in {name}.yaml")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{name}.yaml"
        path.write_text(text.replace(old, new) if "length" in old else text.replace(old, new, 1))
        data = compare(load(path))
    rpm, (long, short) = data.rpm.values, data.torque.values
    top = peak(rpm, long)
    ends = [n for n in crossings(rpm, long, short) if n > top.rpm]
    return Found(top.rpm, top.value, float(np.nanmax(short)), ends[0] if ends else np.nan)


@lru_cache
def curves(name: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Speeds, rev/min, and torque of the longer and the shorter runner, N m, as described."""
    data = compare(load(FOLDER / f"{name}.yaml"))
    return data.rpm.values, *data.torque.values


def lead(name: str, start: float, stop: float) -> float:
    """Mean torque of the longer runner over that of the shorter, between two speeds (straight lines)."""
    rpm, long, short = curves(name)
    at = np.linspace(start, stop, 101)
    return float(np.interp(at, rpm, long).mean() / np.interp(at, rpm, short).mean())


def gives_way(name: str, near: float) -> float:
    """The speed nearest to another at which the longer runner loses its lead, rev/min."""
    rpm, long, short = curves(name)
    cross = crossings(rpm, long, short)
    losing = [n for n in cross if np.interp(n - 1.0, rpm, long - short) > 0.0]
    return float(min(losing, key=lambda n: abs(n - near), default=np.nan))


def spread(name: str) -> dict[str, Found]:
    """By guess and value: what comes out."""
    return {
        f"{g.what} {value.split(': ', 1)[1].strip()}": found(name, g.text, value)
        for g in GUESSES[name]
        for value in (g.low, g.high)
    }


def line(label: str, f: Found) -> str:
    """A row of the table."""
    return (
        f"{label:48s} {f.long_rpm:7.0f} {f.long_peak:8.1f} {f.short_peak:8.1f}"
        f" {f.long_peak / f.short_peak:6.3f} {f.crossing:8.0f}"
    )


def main() -> int:
    """Print the tables."""
    for name in GUESSES:
        print(f"\n{name}\n{'':48s} hump at   peak N m  other  ratio  crosses")
        print(line("as described", found(name)))
        for label, result in spread(name).items():
            print(line(label, result), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
