"""All that is not known for sure about the engine of a file."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from aircolumn.display_units import KINDS, SETS, chosen, percent, unit
from aircolumn.engine.description.fitted import FITTED
from aircolumn.engine.description.places import (
    Path,
    checked_at,
    field_at,
    is_stated,
    si_value,
    singles,
    value_at,
)
from aircolumn.engine.description.spread import spread_of
from aircolumn.engine.description.units import in_trade_units, split_quantity
from aircolumn.engine.uncertain.alternatives import Cooled, OneOf, Waisted, places_of
from aircolumn.engine.uncertain.left_out import LEFT_OUT
from aircolumn.engine.uncertain.row import LeftOut
from aircolumn.engine.uncertain.unsure import ABOVE, OWN, PLUS, TIMES, Unsure

if TYPE_CHECKING:
    from aircolumn.engine.description.candidates import Manifold
    from aircolumn.engine.description.engine_file import Engine

STATED = "stated in the file"
FACTOR = 0.3  # from which a share is said as a factor
ONLY_SOME = {"collector", "merge", "silencer", "log", "throttle"}  # groups that only some engines have
#: key: how the trade says what is to be measured, where "measure" and the key do not do
SETTLE = {
    "opens_btdc": "measure the opening of the intake valve with a dial gauge and a degree wheel",
    "closes_abdc": "measure the closing of the intake valve with a dial gauge and a degree wheel",
    "centreline_atdc": "degree the intake cam",
    "opens_bbdc": "measure the opening of the exhaust valve with a dial gauge and a degree wheel",
    "closes_atdc": "measure the closing of the exhaust valve with a dial gauge and a degree wheel",
    "centreline_btdc": "degree the exhaust cam",
    "duration": "measure the cam's duration with a dial gauge and a degree wheel",
    "lobe_separation": "measure the angle between the lobes",
    "advance": "degree the cam",
    "compression_ratio": "measure the volume of the chamber",
    "wall_temperature": "measure the wall temperature",
    "air_fuel_ratio": "calibrate the wideband",
    "relative_air_fuel_ratio": "calibrate the wideband",
}


def all_unsure(one: Manifold) -> list[Unsure]:
    """What the file says it is not sure of about the engine with a manifold, then what it leaves out."""
    return [*stated(one), *assumed(one)]


def of_all(find: Callable[[Manifold], list[Unsure]], candidates: Iterable[Manifold]) -> list[Unsure]:
    """What is found of any candidate, each unknown once."""
    return list({row.one: row for one in candidates for row in find(one)}.values())


def stated(one: Manifold) -> list[Unsure]:
    """What the file states with a plus_minus; what a candidate states itself has its name in the key."""
    rows = ((p, s) for p, s in one.spreads.items() if p[0] != FITTED)
    found = []
    for path, spread in rows:
        key = ".".join(map(str, one.in_file(path) or path))
        found.append(_stated(path, value_at(one.data, path), spread, key))
    return found


def _stated(path: Path, value: Any, spread: Any, key: str) -> Unsure:
    values, wide, shares = {}, 0.0, set()
    for place, one in singles(value, path):
        values[place] = si_value(place, one)
        wide, is_share = spread_of(one, spread)
        shares.add(is_share)
    last = next(str(s) for s in reversed(path) if not isinstance(s, int))
    settle = SETTLE.get(last, "measure") + ("" if last in SETTLE else f" {key}")
    if len(path) > 1 and last == "wall_temperature":
        settle = f"{settle} of the {path[1]}"
    way = TIMES if shares == {True} else PLUS
    return Unsure(key, values, wide, way, STATED, settle, stated=True)


def assumed(one: Manifold) -> list[Unsure]:
    """What the file leaves out and results depend on."""
    rows = (_assumed(one.data, one.engine, row) for row in LEFT_OUT)
    return [row for row in rows if row is not None]


def _assumed(data: dict, engine: Engine, row: LeftOut) -> Unsure | None:
    if not row.when(engine):
        return None
    if row.change is not None:
        return _own(data, engine, row, row.change)
    paths = [path for key in row.keys for path in places_of(data, key)]
    missing = [p for p in paths if not is_stated(data, p) and _may_stand(data, p) and _is_of(row, data, p)]
    if not missing:
        return None
    key = ", ".join(".".join(map(str, p)) for p in missing)
    values = {p: _taken(row, data, engine, p) for p in missing}
    values = {p: v for p, v in values.items() if v is not None}
    if not values:
        return None
    wide = _half_width(row, missing[0])
    alike = f"{row.keys[0]} by {row.beside}" if row.table else row.keys[0]
    return Unsure(key, values, wide, row.way, row.source, row.settle, alike=alike)


def _is_of(row: LeftOut, data: dict, path: Path) -> bool:
    """Whether the key beside a missing one is there, or not, as the row has it."""
    return not row.beside or is_stated(data, (*path[:-1], row.beside)) == (row.table is not None)


def _taken(row: LeftOut, data: dict, engine: Engine, path: Path) -> Any:
    """What is taken for a key that is left out."""
    if row.table is not None:
        return row.table.get(str(value_at(data, (*path[:-1], row.beside))))
    return field_at(path).default if row.value is None else row.value(engine)


def _own(data: dict, engine: Engine, row: LeftOut, make: Callable) -> Unsure | None:
    """What a function of its own changes; None where the file says all that there is to say."""
    change = make(data, engine)
    if change is None:
        return None
    return Unsure(", ".join(row.keys), {}, 0.0, OWN, row.source, row.settle, alike=row.keys[0], change=change)


def _said_change(change: Any) -> str:
    """What a function of its own may do, in words."""
    if isinstance(change, OneOf):
        return change.words(_said)
    if isinstance(change, Waisted):
        return f"half-way between its ends the mean of both {_within(change.half_width)}"
    if isinstance(change, Cooled):
        return f"usual surroundings; what cools the walls {_within(change.half_width)}"
    return f"of what there is, {_within(change.half_width)}"


def _within(share: float) -> str:
    return f"true to a factor of {1.0 + share:.3g}" if share >= FACTOR else f"+- {percent(share, '.3g')}"


def _may_stand(data: dict, path: Path) -> bool:
    """Whether the group that a key stands in is there, or every engine has one."""
    group = value_at(data, path[:-1])
    return isinstance(group, dict) or (group is None and not ONLY_SOME & set(path[:-1]))


def _half_width(row: LeftOut, path: Path) -> float:
    if not isinstance(row.half_width, str):
        return row.half_width
    number, name = split_quantity(row.half_width)
    checked = checked_at(path)
    kind = checked.kind if checked is not None else ""
    example = in_trade_units(0.0, kind) if kind else 0.0
    return spread_of(example, f"{number:g} {name}")[0]


def said_spread(row: Unsure) -> str:
    """Value and spread of a row, in the units of results; what may be one of several says which."""
    if row.way == OWN:
        return _said_change(row.change)
    path, value = next(iter(row.values.items()))
    kind = _kind(path)
    shown = _said(value, kind)
    if row.way == TIMES:
        if row.half_width >= FACTOR:
            return f"{shown}, true to a factor of {1.0 + row.half_width:.3g}"
        return f"{shown} +- {percent(row.half_width, '.3g')}"
    wide = _said(row.half_width, "temperature difference" if kind == "temperature" else kind)
    return f"{shown}, up to {wide} more" if row.way == ABOVE else f"{shown} +- {wide}"


def _kind(path: Path) -> str:
    checked = checked_at(path)
    return "" if checked is None else checked.kind


def _said(value: float, kind: str) -> str:
    """A value with its unit, that of results where there is one."""
    if kind not in KINDS:
        return in_trade_units(value, kind, ".4g") if kind else f"{value:.4g}"
    shown = unit(kind)
    number = float(shown.of(value))
    digits = 2 if chosen() != SETS[0] and abs(number) < 0.1 else 4  # fractions of an inch, not of a micron
    return f"{number:.{digits}g} {shown.name}"
