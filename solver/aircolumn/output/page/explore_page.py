"""What the page that one can steer holds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.interest import all_speeds, interest
from aircolumn.display_units import KINDS, percent, said_length, unit
from aircolumn.engine.description.base import required
from aircolumn.engine.description.places import checked_at
from aircolumn.engine.description.units import to_si
from aircolumn.output.page.write import in_all_units
from aircolumn.output.tables import listed
from aircolumn.study.explore import FINE, STEPS

if TYPE_CHECKING:
    from aircolumn.curves.interest import Range
    from aircolumn.engine.description.pipes import Runner
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
        "base": f"It starts at {_base(found)}, which is pinned: {_named(found, own)}.",
        "starts": [{"name": "Best mean torque", "shares": best_shares(found, span)[0]}, *_starts(found)],
        "range": span.words,
        "weights": [span.mean(found.rpm, one) for one in np.eye(found.rpm.size)],
        "drawing": drawing,
        "longest": longest + port.total_length,
        **{name: _digits(table) for name, table in found.tables.items()},
    }
    words = " and ".join(k["label"] for k in keys)
    said = in_all_units(lambda: {"answer": _answer(found, span, own), "facts": [_error_words(found)]})
    texts = {name: {**one, "parts": {}} for name, one in said.items()}
    return {
        "question": f"What do other values of {words} do? Move the sliders.",
        "texts": texts,
        "explore": explore,
    }


def best_shares(found: Explored, span: Range) -> tuple[list[float], float]:
    """Where on the fine grid the mean torque over a range is greatest, and what it is there, N m."""
    table = found.tables["torque"]
    means = np.tensordot(table, [span.mean(found.rpm, one) for one in np.eye(found.rpm.size)], axes=(-1, 0))
    place = np.unravel_index(int(np.argmax(means)), means.shape)
    return [float(k / (n - 1)) for k, n in zip(place, means.shape, strict=True)], float(means[place])


def _answer(found: Explored, span: Range, own: list[float]) -> list[str]:
    """The best of the grid, and how much it is better than the file's own runner."""
    torque, (shares, best) = unit("torque"), best_shares(found, span)
    base = span.mean(found.rpm, found.at("torque", [own])[0])
    (values,) = found.plan.scaled([shares])
    said = listed([_said(a, v) for a, v in zip(found.plan.axes, values, strict=True)])
    edge = [a.said.partition(",")[0] for a, s in zip(found.plan.axes, shares, strict=True) if s in (0.0, 1.0)]
    return [
        f"The most mean torque {span.words}: {torque.said(best)}, with {said};"
        f" {torque.said(best - base, sign='+')} against {_base(found)}.",
        *([f"The span of {listed(edge)} ends there: a wider one may have more."] if edge else []),
    ]


def _said(axis: Axis, value: float) -> str:
    """A value of a key in words, in the units shown."""
    kind, name = _kind(axis), axis.said.partition(",")[0]
    if kind is None:
        return f"{name} {value:.4g} {axis.unit}".rstrip()
    si = to_si(f"{value!r} {axis.unit}", kind)
    return f"{name} {said_length(si) if kind == 'length' else unit(kind).said(si)}"


def _error_words(found: Explored) -> str:
    torque, ve = (f"{percent(found.errors[name], '.2g')}" for name in ("torque", "ve"))
    return (
        f"Between the engines that were computed, torque is within {torque} and VE within {ve} at 95 of 100"
        f" points (checked on {found.held_out} engines in between). The sliders end where the"
        " computed engines end."
    )


def _named(found: Explored, shares: list[float]) -> str:
    """What a place of the spans is called in the file's own units."""
    (values,) = found.plan.scaled([shares])
    return listed(
        [f"{a.name} {v:.4g} {a.unit}".rstrip() for a, v in zip(found.plan.axes, values, strict=True)]
    )


def _starts(found: Explored) -> list[dict[str, Any]]:
    """The file's own runner, and its candidates that differ in nothing but the keys of the page."""
    starts = [{"name": found.plan.runner or "The file's own", "shares": own_shares(found)}]
    varied = [axis.path for axis in found.plan.axes]
    for name, one in found.plan.description.candidates.items():
        only_those = one.own and all(any(p[: len(v)] == v for v in varied) for p in one.own)
        if only_those and name != found.plan.runner:
            starts.append({"name": name, "shares": _shares(found, one.engine.intake.runner)})
    return starts


def _base(found: Explored) -> str:
    """The runner that is varied, in words."""
    runner = found.plan.runner
    return "the runner of the engine file" if runner is None else f"the runner {runner}"


def own_shares(found: Explored) -> list[float]:
    """Where the runner that is varied stands in the spans, as near as they come."""
    return _shares(found, found.plan.engine.intake.runner)


def _shares(found: Explored, runner: Runner) -> list[float]:
    known = {
        "intake.runner.length": runner.total_length,
        "intake.runner.bore": runner.last_bore,
        "intake.runner.bore.to": runner.last_bore,
    }
    shares = []
    for axis in found.plan.axes:
        low, high = _si_ends(axis)
        value = known.get(".".join(axis.path), 0.5 * (low + high))
        shares.append(float(np.clip((value - low) / (high - low), 0.0, 1.0)))
    return shares


def _key(axis: Axis) -> dict[str, Any]:
    low, high = _si_ends(axis)
    kind = _kind(axis)
    draws = DRAWS.get(".".join(axis.path), [])
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
