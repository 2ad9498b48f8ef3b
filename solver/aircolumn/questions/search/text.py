"""What a search found, as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import counted, percent, unit
from aircolumn.output.tables import fitted
from aircolumn.questions.aims import KINDS, POINTED
from aircolumn.questions.search.files import front_file
from aircolumn.questions.search.front import bend_of
from aircolumn.questions.search.limits import OF_ENGINE, broken_words, said
from aircolumn.questions.words import aim_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from aircolumn.questions.aims import Aim
    from aircolumn.questions.search.known import Design
    from aircolumn.questions.search.search import RunnerSearch, SearchResult

LITTLE = 2e-4  # of an aim: an error that does not count
MOST_STOPPED = 3  # better designs that a limit stopped are told


def search_text(search: RunnerSearch, found: SearchResult) -> str:
    """The winner, what it gains, the limits, what a step away costs, what stopped better ones, the front."""
    lines = [
        *_best_lines(search, found),
        *_robust_lines(search, found),
        *_sums_lines(search, found),
        *_limit_lines(search, found),
        *_beside_lines(search, found),
        *_stopped_lines(search, found),
        *_refused_lines(search, found),
        *_front_lines(search, found),
    ]
    return "\n".join(lines)


def answer_line(search: RunnerSearch, found: SearchResult) -> str:
    """The best in one sentence."""
    aim, best = search.aims[0], found.judged
    words = search.plan.case_words(found.values)
    if not best.fits:
        value = aim_text(aim, best.aims[0])
        return f"No curve computed keeps all limits. The nearest: {words}, {aim.words} {value}"
    return f"Best {aim.words}{_over(search)}: {aim_text(aim, best.aims[0])} with {words}"


def _over(search: RunnerSearch) -> str:
    return "" if search.asked.over is None else f", {search.asked.over.words}"


def _best_lines(search: RunnerSearch, found: SearchResult) -> list[str]:
    aim, best, finer = search.aims[0], found.best, found.recheck.aims[0]
    lines = [answer_line(search, found), *gain_lines(found, aim)]
    if found.robust is not None:
        lines.append(f"In the file's own engine it has {aim_text(aim, best.aims[0])}")
    lines.append(
        f"({_curves(search, found)}; with cells and time step halved the best has"
        f" {aim_text(aim, finer)}, {percent(finer / best.aims[0] - 1.0, '+.2f')})"
    )
    return lines


def _difference(aim: Aim, more: float) -> str:
    way = "more" if more >= 0.0 else "less"
    return f"{_number(aim, abs(more))} {unit(KINDS[aim.of]).name} {way}".replace("  ", " ")


def _number(aim: Aim, value: float) -> str:
    """A difference of an aim, to two digits, without its unit."""
    return f"{float(unit(KINDS[aim.of]).of(value)):.2g}"


def _curves(search: RunnerSearch, found: SearchResult) -> str:
    """How many curves were computed, and what for."""
    asked = search.asked.evaluations
    every = len({d.key for d in found.known if d.computed or not d.reason})
    if found.robust is not None:
        return f"{every} designs were computed, in up to {len(found.robust.over.each)} engines"
    if every <= asked:
        return f"{counted(every, 'curve')} computed"
    return f"{asked} curves computed (`evaluations`), plus {every - asked} around the best"


def _sums_lines(search: RunnerSearch, found: SearchResult) -> list[str]:
    """How well the aims are known by the speeds they are summed over."""
    lines = []
    for aim, error in zip(search.aims, found.errors, strict=True):
        if aim.of in POINTED:
            continue
        count, before = len(found.best.rpm), len(search.plan.speeds)
        more = f" ({count - before} of them put between for the best)" if count > before else ""
        if not np.isfinite(error):
            known = "too few to tell its error"
        elif error < LITTLE * abs(found.best.aims[search.aims.index(aim)]):
            known = "near enough to leave no error that counts"
        else:
            own = unit(KINDS[aim.of]).name
            known = f"true to {_number(aim, error)} {own}".rstrip() + " for their distance"
        lines.append(f"{aim.words}: from {count} speeds{more}, {known}")
    return lines


def _limit_lines(search: RunnerSearch, found: SearchResult) -> list[str]:
    """What the best has where there is a limit, and whether it holds on finer cells and in how many
    engines."""
    best, finer, lines = found.judged, found.recheck, []
    for k, limit in enumerate(search.limits):
        more = "" if best.shortfalls[k] == 0.0 else ": NOT KEPT"
        if found.robust is not None:
            count = round(best.kept[k] * len(best.each))
            more += f"; kept in {count} of {len(best.each)} engines"
        elif limit.of not in OF_ENGINE and np.isfinite(finer.figures[k]):
            more += f"; {said(limit, finer.figures[k])} with cells and time step halved"
            if found.reserve[k] > 0.0:
                more += f", for which {said(limit, found.reserve[k])} are kept in reserve"
        has, asked = said(limit, best.figures[k]), limit.asked_words(best.levels[k])
        lines.append(f"{limit.words}: {has}, {asked} asked{more}")
    return lines


def _beside_lines(search: RunnerSearch, found: SearchResult) -> list[str]:
    """What every neighbour of the best loses."""
    best = found.best if found.robust is None else found.robust.near
    lines = []
    for name, row in found.beside.items():
        texts = [f"{word} {_cost(search, search.aims[0], best.aims[0], design)}" for word, design in row]
        lines.append(f"{name}: {'; '.join(texts)}")
    return lines


def _cost(search: RunnerSearch, aim: Aim, best: float, design: Design | None) -> str:
    """What a neighbour of the best loses, in words."""
    if design is None:
        return "is outside the span"
    if design.reason:
        return "cannot be made"
    if design.broken > 0.0:
        broken = search.limits[int(np.argmax(design.shortfalls))]
        return f"breaks a limit ({broken.words})" if len(search.limits) > 1 else "breaks a limit"
    if not design.computed:
        return "fails"
    cost = best - design.aims[0]
    own = unit(KINDS[aim.of]).name
    return f"costs {_number(aim, cost)} {own}".rstrip() if cost > 0.0 else "costs nothing"


def _stopped_lines(search: RunnerSearch, found: SearchResult) -> list[str]:
    """The designs that would be better, and the limit that each breaks."""
    best, aim = found.judged, search.aims[0]
    alike = [d for d in found.known if len(d.each) == len(best.each)] if best.fits else []
    better = [d for d in alike if d.computed and not d.fits and d.aims[0] > best.aims[0]]
    better.sort(key=lambda d: -d.aims[0])
    lines = []
    for d in better[:MOST_STOPPED]:
        has = f"{aim_text(aim, d.aims[0])} with {search.plan.case_words(d.values)}"
        lines.append(f"  {has}: {broken_words(search.limits, d)}")
    return [f"Better, but a limit stops {'them' if len(lines) > 1 else 'it'}:", *lines] if lines else []


def _refused_lines(search: RunnerSearch, found: SearchResult) -> list[str]:
    """How many cases cannot be made, as where no route fits, or break a limit that needs no curve; and why
    the one next to the best."""
    refused = [d for d in found.known if not d.computed and (d.reason or d.broken > 0.0)]
    unlike = {d.key: d for d in refused}
    if not unlike:
        return []
    sizes, every = search.sizes, len({d.key for d in found.known})
    at = sizes.coordinates(np.array([d.share for d in unlike.values()]))
    away = np.linalg.norm(at - sizes.coordinates(found.best.share[None]), axis=1)
    one = list(unlike.values())[int(np.argmin(away))]
    why = one.reason or broken_words(search.limits, one)
    return [
        f"{len(unlike)} of {every} cases were not computed; the nearest to the best,"
        f" {search.plan.case_words(one.values)}: {why}"
    ]


def _robust_lines(search: RunnerSearch, found: SearchResult) -> list[str]:
    """Whether the best over the engines is another than that of the file's own, and what that costs."""
    r, aim = found.robust, search.aims[0]
    if r is None:
        return []
    own = f"Best for the file's own engine alone: {search.plan.case_words(r.own.values)}"
    if not r.differs:
        return [f"{own}, the same"]
    if r.own_over.broken > 0.0:
        limit = search.limits[int(np.argmax(r.own_over.shortfalls))]
        count = round(float(np.min(r.own_over.kept)) * len(r.own_over.each))
        said_of_own = f"kept in only {count} of {len(r.own_over.each)} engines: {limit.words}"
    else:
        low, high = (_number(aim, v) for v in r.lacking)
        said_of_own = (
            f"{aim_text(aim, r.own_over.aims[0])} over the engines, {_difference(aim, -r.gained)} (99 of 100:"
            f" from {low} to {high})"
        )
    return [
        f"{own}: {said_of_own}. If the file is right, the choice for all engines has"
        f" {_difference(aim, -r.cost)} than that"
    ]


def _front_lines(search: RunnerSearch, found: SearchResult) -> list[str]:
    """The trade-off as a table, its bend named."""
    if not found.front:
        return []
    aims, axes = search.aims, search.plan.axes
    own = [unit(KINDS[a.of]) for a in aims]
    rows = [
        [
            str(k),
            *(u.number(v, None if u.name else 4) for u, v in zip(own, d.aims, strict=True)),
            *(v if isinstance(v, str) else f"{v:.4g}" for v in d.values),
        ]
        for k, d in enumerate(found.front, 1)
    ]
    heads = [
        "file",
        *(f"{name} {u.name}".rstrip() for name, u in zip(("aim", "second aim"), own, strict=True)),
        *(f"{a.name} {a.unit}".rstrip() for a in axes),
    ]
    both = f"{aims[0].words} (aim) and {aims[1].words} (second aim)"
    told = f"Trade-off of {both}: no curve computed is better in both"
    files = f"Every row is an engine file: {front_file(1)} and so on."
    return ["", told, fitted(heads, rows), files, *bend_lines(search, found.front)]


def bend_lines(search: RunnerSearch, front: Sequence[Design]) -> list[str]:
    """Where the front bends, in words."""
    bend = bend_of(list(front))
    if bend is None:
        return []
    design = front[bend]
    has = " and ".join(aim_text(a, v) for a, v in zip(search.aims, design.aims, strict=True))
    return [
        f"The trade-off bends at {front_file(bend + 1)}: {has} with {search.plan.case_words(design.values)}."
        " Away from it, either aim gains little for what the other loses."
    ]


def gain_lines(found: SearchResult, aim: Aim) -> list[str]:
    """What the best has more than the best of the candidates as they stand."""
    stands = found.stands if found.robust is None else found.robust.stands
    known = {n: d for n, d in stands.items() if np.isfinite(d.aims[0])}
    if not known:
        return []
    name = max(known, key=lambda n: known[n].aims[0])
    now = known[name].aims[0]
    which = "the file's own runner has" if name is None else f"{name} has as it stands"
    if known[name].broken > 0.0:
        which += ", which does not keep the limits"
    return [f"{_difference(aim, found.judged.aims[0] - now)} than {which} ({aim_text(aim, now)})"]
