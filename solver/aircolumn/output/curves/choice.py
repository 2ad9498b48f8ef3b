"""Which runner, by how much, what it costs and how sure that is: a sentence each, the same everywhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.curves.summary import TIE
from aircolumn.curves.to_xarray import shown_figure
from aircolumn.display_units import percent, unit
from aircolumn.output.tables import listed

if TYPE_CHECKING:
    from pathlib import Path

    import xarray as xr

    from aircolumn.curves.choice import Choice, Cost
    from aircolumn.study.bands.kept import KeptBands

UNKNOWN = "How sure that is has not been computed"


def answer_lines(choice: Choice | None, data: xr.Dataset, kept: KeptBands | None, file: Path) -> list[str]:
    """All of it, for the screen, with an empty line behind; nothing where there is only one runner."""
    if data.sizes["runner"] < 2:
        return []
    sure = how_sure_sentence(choice, kept, f"aircolumn bands {file}")
    return [*choice_sentences(choice, shown_figure(data, "torque")[1]), *([sure] if sure else []), " "]


def choice_sentences(choice: Choice | None, standard: str = "observed") -> list[str]:
    """The winner and its margin, and what it costs elsewhere; torque at a standard if one was asked for."""
    if choice is None:
        return ["Which runner is best cannot be said: not all points of the range could be computed."]
    torque, span = unit("torque"), choice.span
    where = span.words if span.start < span.stop else f"at {span.start:.0f} rpm"
    mean = f"{torque.said(choice.torque)}{' on average' if span.start < span.stop else ''}"
    mean += "" if standard == "observed" else f" ({standard})"
    if choice.winner is None:
        level = f"{listed(choice.best)} are within {percent(TIE)} of each other"
        return [f"No runner leads {where}: {level}, at {mean}."]
    if choice.second is None:
        return [f"{choice.winner} makes {mean} {where}."]
    name, other = choice.second
    more = f"{torque.said(choice.margin)}{_percent_of(choice.margin, other)} more than {name}"
    return [f"{choice.winner} makes the most torque {where}: {mean}, {more}.", _costs(choice)]


def _costs(choice: Choice) -> str:
    short = choice.shortfall
    if short is None:
        return _costs_elsewhere(choice)
    lost = f"{unit('torque').said(short.most - short.own)}{_percent_of(short.most - short.own, short.most)}"
    most = f"Within the range it loses most at {short.rpm:.0f} rpm: {lost}, against {short.runner}."
    return f"{_costs_elsewhere(choice)} {most}"


def _costs_elsewhere(choice: Choice) -> str:
    if not choice.costs and choice.whole:
        return "It costs no peak power."
    if not choice.costs:
        return "It costs nothing elsewhere: no other has more peak power, or more torque beside that range."
    whose = list(dict.fromkeys(cost.runner for cost in choice.costs))
    if len(whose) == 1:
        return f"It costs {listed([_cost(c) for c in choice.costs])}, against {whose[0]}."
    return f"It costs {listed([f'{_cost(c)} (against {c.runner})' for c in choice.costs])}."


def _cost(cost: Cost) -> str:
    """What is lost, and of what."""
    own = unit("power" if cost.over is None else "torque")
    what = "of peak power" if cost.over is None else f"of mean torque {cost.over.words}"
    return f"{own.said(cost.most - cost.own)}{_percent_of(cost.most - cost.own, cost.most)} {what}"


def _percent_of(part: float, whole: float) -> str:
    """In brackets; nothing of a whole that is no more than 0."""
    return f" ({percent(part / whole, '.1f')})" if whole > 0.0 else ""


def how_sure_sentence(choice: Choice | None, kept: KeptBands | None, command: str = "") -> str:
    """How sure the choice is, by the bands that were computed; command: what computes them (left out on a
    page for others)."""
    if choice is None or (len(choice.best) == 1 and choice.second is None):
        return ""
    if kept is None:
        return f"{UNKNOWN}{f' ({command} does)' if command else ''}."
    if kept.outdated:
        return f"{UNKNOWN}: the bands that were are of an earlier state of the engine file."
    if kept.choice not in choice.best:
        return (
            f"Most of {kept.cases} engines that fit the file choose another runner, {kept.choice}: what the"
            " file leaves open decides."
        )
    if choice.winner is None:
        return (
            f"Of {kept.cases} engines that fit the file, {kept.choice} is the best in most; the chance that"
            f" another is better is {percent(kept.doubt, '.0f')}."
        )
    if kept.doubt == 0.0:
        return f"It is the best in all of {kept.cases} engines that fit the file."
    measure = f" To know better: {kept.settle} (then {percent(kept.after, '.0f')})." if kept.settle else ""
    return (
        f"The chance that another is better is {percent(kept.doubt, '.0f')}, by {kept.cases} engines that fit"
        f" the file.{measure}"
    )
