"""What the place where an engine runs brings, as far as its file does not say it.

    open          pipes that end in the open, nothing ahead of the throttle: runners on a bench, race engines;
                  gross figures as they were stated before about 1972
    test-stand    the filter and ducts of a test cell, and its exhaust
    vehicle       airbox, filter and ducts; a silenced exhaust: net figures (ISO 1585, SAE J1349, DIN 70020)

At the highest speed stated (``speeds.to``) filter and ducts lose DROP of pressure and the exhaust stands BACK
above the air outside, both with the flow squared. Common practice, no source, but for the vehicle's exhaust:
a tenth to a fifth of an atmosphere at rated power by owners' pages; spreads in
engine/uncertain/parts_left_out.py.

``rating`` is the standard by which figures are to be compared: its reference air is the air outside.
"""

from __future__ import annotations

from math import pi
from typing import Any

from aircolumn.engine.description.places import Path, is_stated, value_at, with_value
from aircolumn.engine.description.units import to_si

DROP = {"test-stand": 1.0, "vehicle": 3.0}  # kPa
BACK = {"open": 0.0, "test-stand": 4.0, "vehicle": 15.0}  # kPa
AIR = 1.2  # kg/m3
DUCT = "250 mm"
BOX = 2.0  # volume of an airbox over the displacement
#: Air to which a standard's figures belong (measured/atmosphere.py), as the file would write it.
REFERENCE_AIR: dict[str, dict[str, Any]] = {
    "j1349": {"pressure": "99 kPa", "temperature": "25 degC", "humidity": "0 %"},
    "iso1585": {"pressure": "99 kPa", "temperature": "25 degC", "humidity": "0 %"},
    "din70020": {"pressure": "101.3 kPa", "temperature": "20 degC", "humidity": "0 %"},
    "j607": {"pressure": "29.92 inHg", "temperature": "60 degF", "humidity": "0 %"},
}


def brings(data: Any) -> dict[Path, Any]:
    """What ``installation`` and ``rating`` bring: {path: as the file would write it}, whether the file says
    something else there or not; nothing where the file is too wrong to tell."""
    if not isinstance(data, dict):
        return {}
    place, rating = data.get("installation"), data.get("rating")
    found: dict[Path, Any] = {}
    if isinstance(rating, str) and rating in REFERENCE_AIR:
        found[("intake", "ambient")] = REFERENCE_AIR[rating]
    try:
        if isinstance(place, str) and place in BACK:
            found |= _of_place(data, place)
    except (TypeError, ValueError, AttributeError):  # told where the file is checked
        return {}
    return found


def with_installation(data: Any) -> Any:
    """The data with what it brings, where the file says nothing else."""
    for path, value in brings(data).items():
        if not is_stated(data, path) and isinstance(value_at(data, path[:1]), dict):
            data = with_value(data, path, value)
    return data


def _of_place(data: dict, place: str) -> dict[Path, Any]:
    found: dict[Path, Any] = {}
    at = value_at(data, ("speeds", "to")) or "6000 rpm"
    if not value_at(data, ("exhaust", "silencer")):
        found[("exhaust", "outlet")] = {"back_pressure": f"{BACK[place]:g} kPa", "at": at}
    bore = value_at(data, ("intake", "throttle", "bore"))
    if bore is not None:
        found[("intake", "inlet")] = None if place == "open" else _ducts(data, place, bore, at)
    return found


def _ducts(data: dict, place: str, throttle: Any, at: Any) -> list[dict]:
    """Filter and ducts ahead of the throttle."""
    block = data["engine"]
    bore, stroke = (to_si(block[name], "length") for name in ("bore", "stroke"))
    displacement = 0.25 * pi * bore * bore * stroke * int(block["cylinders"])  # m3
    pipe = {"length": DUCT, "bore": throttle}
    rpm = to_si(at, "speed of rotation")
    return filter_and_ducts(pipe, f"{DROP[place]:g} kPa", displacement, rpm, airbox=place == "vehicle")


def filter_and_ducts(pipe: dict, drop: str, displacement: float, rpm: float, airbox: bool) -> list[dict]:
    """A filter on the end of a pipe, or in an airbox between two such pipes: of usual size for an engine of
    ``displacement`` (m3) that draws its fill at ``rpm``, where the filter loses ``drop``."""
    flow = AIR * displacement * rpm / 120.0  # kg/s: VE 1
    element = {"filter": {"pressure_drop": drop, "flow": f"{1e3 * flow:.4g} g/s"}}
    box = [{"pipe": pipe}, {"airbox": {"volume": f"{1e3 * BOX * displacement:.3g} L"}}] if airbox else []
    return [*box, element, {"pipe": pipe}]
