"""A study's answer as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from aircolumn.output.plain import as_plain, plain_dataset
from aircolumn.study.session import Searched, Sensitive
from aircolumn.study.sweep import Sweep
from aircolumn.study.ties import best_case

if TYPE_CHECKING:
    from aircolumn.study.plan import Plan
    from aircolumn.study.session import StudyAnswer
    from aircolumn.study.tolerance import Band


def plain_study(plan: Plan, found: StudyAnswer) -> dict[str, Any]:
    """What was asked, and the answer: values of the varied keys as the study writes them, figures in SI."""
    kind, told = _answer(plan, found.result)
    counts = {"fresh_points": found.fresh, "points_from_store": found.before}
    return {"question": kind, **counts, "answer": told}


def _answer(plan: Plan, r: Sweep | Searched | Sensitive | Band) -> tuple[str, dict[str, Any]]:
    if isinstance(r, Sweep):
        best = best_case(plan, r.data)
        failed = ((_values(plan, row), rpm, why) for row, rpm, why in r.failures)
        return "sweep", {
            "best": None if best is None else _values(plan, plan.rows[best]),
            "data": plain_dataset(r.data),
            "failures": [{"values": v, "rpm": rpm, "reason": why} for v, rpm, why in failed],
        }
    if isinstance(r, Searched):
        return "search", {
            "best": _values(plan, r.found.values),
            "recheck": as_plain(r.found.recheck),
            "front": [_values(plan, plan.scaled([c.share])[0]) for c in r.found.front],
        }
    if isinstance(r, Sensitive):
        return "sensitivity", {"aim": r.aim.of, "indices": as_plain(r.indices)}
    return "tolerance", {"band": as_plain(r)}


def _values(plan: Plan, row: Any) -> dict[str, Any]:
    """{key: value with its unit as the file writes it} of one case."""
    return {a.key: as_plain(a.written(v)) for a, v in zip(plan.axes, row, strict=True)}
