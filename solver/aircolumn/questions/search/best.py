"""What a search found, as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import counted, percent, unit
from aircolumn.engine.description.rewrite import written_anew
from aircolumn.output.tables import fitted
from aircolumn.questions.aims import KINDS, aim_words
from aircolumn.questions.words import aim_text

if TYPE_CHECKING:
    from aircolumn.questions.aims import Aim
    from aircolumn.questions.search.search import Candidate, RunnerSearch, SearchResult
    from aircolumn.study.plan import Plan


def best_file(plan: Plan, found: SearchResult) -> str:
    """The engine file with the best values in it, as text."""
    engine = plan.engine_source.path
    said = f"{engine.name} with {plan.case_words(found.values)}; comments are in that file"
    return written_anew(plan.data_of(found.values), engine.parent, said)


def search_text(search: RunnerSearch, found: SearchResult) -> str:
    """The winner, what a step away from it costs, the re-check and the front."""
    plan, aims = search.plan, search.aims
    best = found.best.aims[0]
    lines = [
        f"Best {aim_words(aims[0])}: {aim_text(aims[0], best)} with {plan.case_words(found.values)}",
        f"({_curves(search, found)}; with cells and time step halved the best has"
        f" {aim_text(aims[0], found.recheck)}, {percent((found.recheck / best - 1), '+.2f')})",
    ]
    for limit, margin in zip(search.asked.limits, found.best.margins, strict=True):
        torque = unit("torque")
        lines.append(
            f"torque at {limit.at:.0f} rpm: {torque.said(limit.at_least + margin)}, at"
            f" least {torque.number(limit.at_least)} asked"
        )
    for axis in plan.axes:
        step, *beside = found.neighbours[axis.name]
        texts = [
            f"{step} {word} {_cost(search, aims[0], best, curve)}"
            for word, curve in zip(("less", "more"), beside, strict=True)
        ]
        lines.append(f"{axis.name}: {texts[0]}; {texts[1]}")
    lines += _without_engine(search, found)
    if found.front:
        rows = [
            [
                *(aim_text(a, v) for a, v in zip(aims, k.aims, strict=True)),
                plan.case_words(plan.scaled([k.share])[0]),
            ]
            for k in found.front
        ]
        lines += [
            "",
            "Trade-off: no curve computed is better in both",
            fitted([aim_words(aims[0]), aim_words(aims[1]), "with"], rows),
        ]
    return "\n".join(lines)


def _curves(search: RunnerSearch, found: SearchResult) -> str:
    """How many curves were computed, and what for."""
    asked, all_of_them = search.asked.evaluations, search.curves
    if all_of_them <= asked:
        return f"{counted(all_of_them, 'curve')} computed"
    return f"{asked} curves computed (`evaluations`), plus {all_of_them - asked} around the best"


def _without_engine(search: RunnerSearch, found: SearchResult) -> list[str]:
    """How many cases the engine file refuses, as where no route fits, and why the one next to the best."""
    if not search.refused:
        return []
    plan, best = search.plan, float(found.values[0])
    values = min(plan.scaled(sorted(search.refused)), key=lambda row: abs(float(row[0]) - best))
    return [
        f"{len(search.refused)} of {len(found.known)} cases cannot be made; the nearest to the best,"
        f" {plan.case_words(values)}: {plan.case(values).reason}"
    ]


def _cost(search: RunnerSearch, aim: Aim, best: float, curve: Candidate | None) -> str:
    """What a neighbour of the best loses, in words."""
    if curve is None:
        return "is outside the span"
    if not curve.fits:
        if np.all(np.isfinite(curve.aims)):
            return "breaks a limit"
        return "cannot be made" if tuple(curve.share) in search.refused else "fails"
    cost = best - curve.aims[0]
    own = unit(KINDS[aim.of])
    return f"costs {float(own.of(cost)):.2g} {own.name}".rstrip() if cost > 0.0 else "costs nothing"
