"""What the page draws of an engine: the parts that the air passes, to scale, and what can be dragged."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from aircolumn.engine.description.places import value_at
from aircolumn.engine.description.units import split_quantity
from aircolumn.engine.model.flow_path import Bore, Chamber, Gate, Vessel, flow_path

if TYPE_CHECKING:
    from aircolumn.engine.description.candidates import Manifold

#: name of a part: the group of keys that describes it
GROUPS = {
    "throttle": ("intake", "throttle"),
    "plenum": ("intake", "plenum"),
    "log": ("intake", "plenum", "log"),
    "runner": ("intake", "runner"),
    "intake port": ("intake", "port"),
    "intake valve": ("intake", "valve"),
    "cylinder": ("engine",),
    "exhaust valve": ("exhaust", "valve"),
    "exhaust port": ("exhaust", "port"),
    "primary": ("exhaust", "primary"),
    "collector": ("exhaust", "collector"),
    "merge": ("exhaust", "merge"),
    "silencer": ("exhaust", "silencer"),
}
KINDS = {Bore: "pipe", Vessel: "volume", Gate: "gate", Chamber: "cylinder"}
USUAL_UNITS = {"length": "mm", "volume": "L"}


def drawing_of(one: Manifold) -> list[dict[str, Any]]:
    """The parts in the order of the air: kind, name, side, group of keys, sizes (SI) and handles."""
    return [_part(part, one.data) for part in flow_path(one.engine)]


def _part(part: Any, data: dict) -> dict[str, Any]:
    group = GROUPS.get(part.name, ("intake", "inlet"))
    sizes = {k: v for k, v in asdict(part).items() if k not in ("name", "side")}
    return {
        "kind": KINDS[type(part)],
        "name": part.name,
        "side": part.side,
        "group": list(group),
        **sizes,
        "handles": _handles(part, group, value_at(data, group) or {}),
    }


def _handles(part: Any, group: tuple, stated: Any) -> list[dict[str, Any]]:
    """What the hand may move: its key, what it does to the drawing, its value (SI), the unit of the file."""
    if not isinstance(stated, dict):
        return []
    if isinstance(part, Vessel) and "volume" in stated:
        return [_handle((*group, "volume"), "volume", part.volume, stated["volume"])]
    if isinstance(part, Gate) and part.name == "throttle" and "bore" in stated:
        return [_handle((*group, "bore"), "width", part.width, stated["bore"])]
    if not isinstance(part, Bore) or len(part.sections) != 1 or "length" not in stated:
        return []
    length, first, last = part.sections[0]
    bore = stated.get("bore")
    found = [_handle((*group, "length"), "length", length, stated["length"])]
    if isinstance(bore, dict):
        ends = (("from", "first", first), ("to", "last", last))
        found += [_handle((*group, "bore", k), what, v, bore[k]) for k, what, v in ends if k in bore]
    elif bore is not None:
        found.append(_handle((*group, "bore"), "both", last, bore))
    return found


def _handle(path: tuple, what: str, value: float, written: Any) -> dict[str, Any]:
    kind = "volume" if what == "volume" else "length"
    try:
        unit = split_quantity(str(written))[1]
    except ValueError:
        unit = USUAL_UNITS[kind]
    return {"path": list(path), "what": what, "value": value, "unit": unit or USUAL_UNITS[kind]}
