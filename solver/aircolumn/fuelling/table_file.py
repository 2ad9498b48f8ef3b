"""A table of a control unit as its owner has it, of filling or of lambda: read, and written back in the same
form.

Engine speeds stand along one side and loads along the other, whichever way round and in whichever order; the
corner may say what they are (``rpm \\ kPa``). Only the values are ever changed: separators, decimal commas,
decimals, line ends, the order of rows, titles and all that stands around the table stay as they are, byte for
byte."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from aircolumn.engine.description.cells import number
from aircolumn.engine.description.text_file import read_bytes, wrong, wrong_line
from aircolumn.engine.description.text_table import SEPARATORS, encoding_of
from aircolumn.engine.description.units import unit_factor
from aircolumn.errors import InputError, Problem

LARGEST = 1_000_000  # bytes
MOST, FEWEST = 256, 2  # speeds, or loads
DUE = "a table is expected: engine speeds along one side, loads along the other, values between"
#: units of a load: (kind of quantity, what it is)
LOADS = {
    "pressure": ("kPa", "hPa", "mbar", "bar", "psi", "inHg", "Pa"),
    "opening": ("%",),
}
PER_CENT_FROM, PER_CENT_TO, SHARE_TO = 5.0, 300.0, 3.0  # values of filling in per cent, and as shares
LAMBDA_FROM, LAMBDA_TO = 0.5, 2.0
FASTEST_FROM, FASTEST = 1000.0, 25_000.0  # rev/min: the highest of a side that holds engine speeds


@dataclass(frozen=True)
class Cell:
    """A cell of the text: its line and where it stands there."""

    line: int
    start: int
    stop: int
    text: str


@dataclass(frozen=True)
class UserTable:
    """A table as read. rpm: (s,), rev/min; loads: (l,), Pa, or shares of throttle opening where
    ``by_opening``; both rising. values: filling as a share, or lambda, (s, l). per_cent: whether the file has
    them in per cent; comma: whether decimals are set off by commas; cells: where each value stands."""

    path: Path
    lines: tuple[str, ...]
    encoding: str
    rpm: np.ndarray
    loads: np.ndarray
    by_opening: bool
    values: np.ndarray
    cells: tuple[tuple[Cell, ...], ...]
    per_cent: bool
    comma: bool

    def at(self, rpm: np.ndarray, loads: np.ndarray) -> np.ndarray:
        """Values (s, l) at other speeds and loads: on straight lines between, past the ends those of the
        nearest, as control units do."""
        return read_at(self.rpm, self.loads, self.values, rpm[:, None], loads)

    def written(self, values: np.ndarray) -> bytes:
        """The file with other values (s, l), shares; NaN leaves a cell as it is."""
        lines, cells = list(self.lines), [cell for row in self.cells for cell in row]
        at = sorted(zip(cells, values.ravel(), strict=True), key=lambda pair: -pair[0].start)
        for cell, value in at:  # from the end of each line on, so that places stay true
            if np.isfinite(value):
                line = lines[cell.line]
                lines[cell.line] = line[: cell.start] + self._as_before(cell.text, value) + line[cell.stop :]
        return "".join(lines).encode(self.encoding)

    def _as_before(self, text: str, value: float) -> str:
        """A value with as many decimals as stood there."""
        mark = "," if self.comma else "."
        decimals = len(text.partition(mark)[2])
        said = f"{100.0 * value if self.per_cent else value:.{decimals}f}"
        return said.replace(".", mark).rjust(len(text))


def read_at(
    rpm: np.ndarray, loads: np.ndarray, values: np.ndarray, at_rpm: np.ndarray, at_loads: np.ndarray
) -> np.ndarray:
    """Values (s, l) of a table at places (arrays that broadcast): on straight lines between, past the ends
    those of the nearest."""
    between = RegularGridInterpolator((rpm, loads), values)
    x, y = np.clip(at_rpm, rpm[0], rpm[-1]), np.clip(at_loads, loads[0], loads[-1])
    return between(np.stack(np.broadcast_arrays(x, y), axis=-1))


def read_user_table(
    path: str | Path, load_unit: str | None = None, holds: Literal["filling", "lambda"] = "filling"
) -> UserTable:
    """Read a table of filling, or of lambda. load_unit: of its loads, where the file does not say it. Raises
    InputError naming file, line and cell."""
    path = Path(path)
    raw = read_bytes(path, LARGEST)
    encoding = encoding_of(raw)
    if encoding == "utf-8-sig" and not raw.startswith(b"\xef\xbb\xbf"):
        encoding = "utf-8"
    lines = tuple(raw.decode(encoding).splitlines(keepends=True))
    rows, comma = _rows(path, lines)
    head, *body = rows
    across, down = _side(path, head[1:], comma), _side(path, [row[0] for row in body], comma)
    before = "".join(lines[: head[0].line]) + head[0].text
    speeds_across = _holds_speeds(path, across, down, head[0].line)
    kind, unit = _load_unit(path, before, load_unit, head[0].line)
    speeds, loads = (across, down) if speeds_across else (down, across)
    table = [[_value(path, cell, comma) for cell in row[1:]] for row in body]
    values, cells = np.array(table), [row[1:] for row in body]
    if speeds_across:
        values, cells = values.T, [list(row) for row in zip(*cells, strict=True)]
    n, m = np.argsort(speeds), np.argsort(loads)
    per_cent = holds == "filling" and _per_cent(path, values, cells)
    if holds == "lambda":
        _check_lambda(path, values, cells)
    factor, shift = unit_factor(unit, "share" if kind == "opening" else "pressure") or (1.0, 0.0)
    return UserTable(
        path,
        lines,
        encoding,
        speeds[n],
        factor * loads[m] + shift,
        kind == "opening",
        values[np.ix_(n, m)] / (100.0 if per_cent else 1.0),
        tuple(tuple(cells[i][j] for j in m) for i in n),
        per_cent,
        comma,
    )


def _rows(path: Path, lines: tuple[str, ...]) -> tuple[list[list[Cell]], bool]:
    """The lines of the table, cells each, the corner first; whether decimals are set off by commas."""
    for separator in SEPARATORS:
        for comma in (separator != ",", False):
            rows = _block(lines, separator, comma)
            if len(rows) > FEWEST:
                if ragged := next((r for r in rows if len(r) != len(rows[0])), None):
                    said = f"{len(ragged)} cells, where the first line of the table has {len(rows[0])}"
                    raise wrong_line(path, ragged[0].line + 1, "", said)
                return rows, comma and any("," in c.text for row in rows for c in row)
    raise wrong(path, DUE)


def _block(lines: tuple[str, ...], separator: str, comma: bool) -> list[list[Cell]]:
    """The lines from the first on whose cells, but for the corner, are numbers, to the first empty one."""
    rows: list[list[Cell]] = []
    for k, line in enumerate(lines):
        cells = _cells(line, k, separator)
        if not rows:
            numbers = [number(c.text, comma) is not None for c in cells[1:]]
            if len(numbers) >= FEWEST and all(numbers):
                rows.append(cells)
        elif not line.strip():
            break
        else:
            rows.append(cells)
    return rows


def _cells(line: str, k: int, separator: str) -> list[Cell]:
    """The cells of a line; quotes and blanks around them are left where they are."""
    body = line.rstrip("\r\n")
    ends = [m.start() for m in re.finditer(re.escape(separator), body)]
    pieces = zip([0, *(e + 1 for e in ends)], [*ends, len(body)], strict=True)
    found = []
    for start, stop in pieces:
        text = body[start:stop]
        inner = text.strip().strip('"').strip()
        at = start + (text.find(inner) if inner else 0)
        found.append(Cell(k, at, at + len(inner), inner))
    return found


def _side(path: Path, cells: list[Cell], comma: bool) -> np.ndarray:
    """Figures along a side, rising or falling all along."""
    if not FEWEST <= len(cells) <= MOST:
        raise wrong(path, f"{len(cells)} figures along a side: from {FEWEST} to {MOST} are possible")
    found = [_value(path, cell, comma) for cell in cells]
    ways = [b > a for a, b in itertools.pairwise(found)]
    for cell, (a, b), way in zip(cells[1:], itertools.pairwise(found), ways, strict=True):
        if a == b or way != ways[0]:
            raise _wrong_cell(path, cell, "the figures along a side must rise, or fall, all along")
    return np.array(found)


def _value(path: Path, cell: Cell, comma: bool) -> float:
    if not cell.text:
        raise _wrong_cell(path, cell, "an empty cell")
    value = number(cell.text, comma)
    if value is None:
        raise _wrong_cell(path, cell, f"'{cell.text[:40]}' is not a number")
    return value


def _wrong_cell(path: Path, cell: Cell, said: str) -> InputError:
    return InputError(path, [Problem(cell.line + 1, cell.start + 1, "", said)])


def _holds_speeds(path: Path, across: np.ndarray, down: np.ndarray, line: int) -> bool:
    """Whether engine speeds stand along the first line of the table, or down its first column."""
    fast = [bool(FASTEST_FROM <= side.max() <= FASTEST and side.min() >= 0.0) for side in (across, down)]
    if fast[0] == fast[1]:
        raise wrong_line(path, line + 1, "", "which side holds engine speeds (rpm) cannot be told")
    return fast[0]


def _load_unit(path: Path, said: str, asked: str | None, line: int) -> tuple[str, str]:
    """(kind of load, its unit) by what stands before the table or is asked for."""
    known = {unit: kind for kind, units in LOADS.items() for unit in units}
    if asked is not None:
        if asked not in known:
            raise wrong_line(path, line + 1, "", f"'{asked}' is no unit of load: {', '.join(known)}")
        return known[asked], asked
    words = re.split(r"[^A-Za-z%]+", said)
    named = list(dict.fromkeys(u for w in words for u in known if w.casefold() == u.casefold()))
    if len(named) != 1:
        why = (
            f"both {' and '.join(named)} stand there" if named else "nothing says in which unit the loads are"
        )
        raise wrong_line(path, line + 1, "", f"{why}: say it with --load-unit ({', '.join(known)})")
    return known[named[0]], named[0]


def _check_lambda(path: Path, values: np.ndarray, cells: list[list[Cell]]) -> None:
    odd = np.argwhere((values < LAMBDA_FROM) | (values > LAMBDA_TO))
    if len(odd):
        i, j = odd[0]
        said = f"lambda {values[i, j]:g}: from {LAMBDA_FROM:g} to {LAMBDA_TO:g} is possible"
        raise _wrong_cell(path, cells[i][j], said)


def _per_cent(path: Path, values: np.ndarray, cells: list[list[Cell]]) -> bool:
    """Whether filling is in per cent, not a share."""
    if np.all((values >= PER_CENT_FROM) & (values <= PER_CENT_TO)):
        return True
    if np.all((values > 0.0) & (values <= SHARE_TO)):
        return False
    most = float(np.median(values)) > SHARE_TO
    odd = (values < PER_CENT_FROM) | (values > PER_CENT_TO) if most else (values <= 0.0) | (values > SHARE_TO)
    i, j = np.argwhere(odd)[0]
    way = "per cent" if most else "shares"
    raise _wrong_cell(path, cells[i][j], f"{values[i, j]:g} among {way}: it is no filling that an engine has")
