"""What the page that one can steer holds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.interest import all_speeds, interest
from aircolumn.display_units import KINDS, percent
from aircolumn.engine.description.base import required
from aircolumn.engine.description.places import checked_at
from aircolumn.engine.description.units import to_si
from aircolumn.study.explore import FINE, STEPS

if TYPE_CHECKING:
    from aircolumn.study.axes import Axis
    from aircolumn.study.explore import Explored

DIGITS = 5  # of the tables on the page
#: key of the engine file: what of the drawing goes with it
DRAWS = {
    "intake.runner.length": ["length"],
    "intake.runner.bore": ["first", "last"],
    "intake.runner.bore.from": ["first"],
    "intake.runner.bore.to": ["last"],
    "intake.port.length": ["port_length"],
}


def explore_content(found: Explored) -> dict[str, Any]:
    """{question, texts, explore}: the page, but for the waves."""
    keys = [_key(axis) for axis in found.plan.axes]
    span = interest(found.plan.engine.speeds, found.rpm) or all_speeds(found.rpm)
    own = own_shares(found)
    sizes = [FINE * (n - 1) + 1 for n in STEPS[: len(keys)]]
    runner = found.plan.engine.intake.runner
    first = runner.first_bore or runner.last_bore
    drawing = {"length": runner.total_length, "first": first, "last": runner.last_bore}
    port = found.plan.engine.intake.port
    drawing |= {"port_length": port.total_length, "port": port.last_bore}
    longest = max([k["high"] for k in keys if "length" in k["draws"]] or [runner.total_length])
    explore = {
        "keys": keys,
        "rpm": found.rpm.tolist(),
        "sizes": sizes,
        "own": own,
        "range": span.words,
        "weights": [span.mean(found.rpm, unit) for unit in np.eye(found.rpm.size)],
        "drawing": drawing,
        "longest": longest + port.total_length,
        **{name: _digits(table) for name, table in found.tables.items()},
    }
    words = " and ".join(k["label"] for k in keys)
    told: dict[str, Any] = {"answer": _error_words(found), "facts": [], "parts": {}}
    question = f"What does another {words} do? Move the sliders."
    return {"question": question, "texts": {"metric": told, "us": dict(told)}, "explore": explore}


def _error_words(found: Explored) -> str:
    torque, ve = (f"{percent(found.errors[name], '.2g')}" for name in ("torque", "ve"))
    return (
        f"Between the engines that were computed, torque is within {torque} and VE within {ve} at 95 of 100"
        f" points ({found.held_out} engines in between were computed to tell). The sliders end where the"
        " computed engines end."
    )


def own_shares(found: Explored) -> list[float]:
    """Where the file's own runner stands in the spans, as near as they come."""
    runner = found.plan.engine.intake.runner
    known = {
        "intake.runner.length": runner.total_length,
        "intake.runner.bore": runner.last_bore,
        "intake.runner.bore.to": runner.last_bore,
    }
    shares = []
    for axis in found.plan.axes:
        low, high = _si_ends(axis)
        value = known.get(axis.key, 0.5 * (low + high))
        shares.append(float(np.clip((value - low) / (high - low), 0.0, 1.0)))
    return shares


def _key(axis: Axis) -> dict[str, Any]:
    low, high = _si_ends(axis)
    kind = _kind(axis)
    draws = DRAWS.get(axis.key, [])
    label = axis.said.partition(",")[0]
    return {"label": label, "low": low, "high": high, "kind": kind, "unit": axis.unit, "draws": draws}


def _kind(axis: Axis) -> str | None:
    """The kind of quantity that the page can show in either unit."""
    checked = checked_at(axis.path)
    return checked.kind if checked is not None and checked.kind in KINDS else None


def _si_ends(axis: Axis) -> tuple[float, float]:
    kind = _kind(axis)
    low, high = axis.ends
    if kind is None:
        return low, high
    return to_si(f"{low!r} {axis.unit}", required(kind)), to_si(f"{high!r} {axis.unit}", required(kind))


def _digits(table: np.ndarray) -> list[float]:
    return [float(f"{v:.{DIGITS}g}") for v in table.ravel()]
