"""How sure a comparison is, as tables and sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.summary import TIE
from aircolumn.display_units import percent, unit
from aircolumn.measured.range_figures import runs_of
from aircolumn.output.tables import fitted, listed
from aircolumn.study.bands.verdict import AHEAD, BEHIND, LEVEL, OPEN

if TYPE_CHECKING:
    from aircolumn.study.bands.session import HowSure
    from aircolumn.study.bands.verdict import Against, Interval, Verdict

#: state of a difference: how it is said of one runner against another
SAID = {
    AHEAD: "more torque beyond doubt",
    BEHIND: "less torque beyond doubt",
    LEVEL: "level",
    OPEN: "cannot be told apart",
}
EDGE = 0.1  # of a band
SHOWN = 5  # measurements that are listed


def how_sure_text(found: HowSure) -> str:
    """The whole answer."""
    v = found.verdict
    answer = ["\n".join(lines) for lines in (best_lines(v), next_lines(found))] if v.against else []
    each = ["\n".join(against_lines(a, v)) for a in v.against]
    gains = [_gains(found)] if v.against else []
    listing = "aircolumn check lists what the file leaves open."
    about = "\n".join(["How this was found", *how_found(found), listing])
    return "\n\n".join([*answer, *each, *gains, _levels(found), about])


def how_found(found: HowSure) -> list[str]:
    """What the answer rests on."""
    c, e, torque = found.curves, found.verdict, unit("torque")
    stated = sum(row.stated for row in found.cases.unsure)
    fitted_ones = len(found.cases.fitted)
    rests = [f"{len(found.cases.names) - stated - fitted_ones} values that it leaves out"]
    rests += [f"{stated} that it states with a plus_minus"] if stated else []
    rests += [f"{fitted_ones} that were fitted to pulls"] if fitted_ones else []
    lines = [
        f"{len(c.torque)} engines that fit the file were computed with every runner. They differ in what the"
        f" file leaves open: {listed(rests)}.",
        f"A band holds 95 of 100 such engines. Its limits are known to +-{torque.said(e.error)}"
        f" (standard error); those of differences to +-{torque.said(e.error_of_gains)}.",
        "Beyond doubt means: whichever of these engines it is, and with a quarter of the band to spare."
        " What no model knows, such as a leaking joint, is in no band: a measured pull tells.",
        f"{c.cells} What is left of their error is in the bands: {percent(c.level, '.2f')} of a curve,"
        f" {percent(float(np.max(c.gap)), '.2f')} of a difference.",
    ]
    if c.lost:
        lines.append(f"{len(c.lost)} cases are left out: {c.lost[0]}")
    return lines


def _levels(found: HowSure) -> str:
    """Torque of every runner in the middle of the engines that fit the file, and its band; the highest
    points."""
    v, torque = found.verdict, unit("torque")
    rows = [
        [f"{rpm:.0f}", *(cell for b in v.bands.values() for cell in _cells(b, k))]
        for k, rpm in enumerate(found.curves.rpm)
    ]
    heads = [h for name in v.bands for h in (f"{name} {torque.name}", "95 of 100")]
    table = fitted(["rpm", *heads], rows, groups=[2] * len(v.bands))
    tops = []
    for name, (speed, top) in v.hump.items():
        tops.append(
            f"{name}: most torque {torque.said(top.middle)} at {float(speed.middle):.0f} rpm;"
            f" in 95 of 100 engines {torque.number(top.low)} to {torque.said(top.high)}"
            f" {_at(float(speed.low), float(speed.high))}"
        )
    return "\n".join(
        [
            f"Torque, {torque.name}: the middle of these engines, and 95 of 100 of them",
            table,
            *tops,
            *middle_lines(v),
        ]
    )


def middle_lines(v: Verdict) -> list[str]:
    """How far the file's own engine, which has nothing of what it leaves out, stands from the middle of those
    that fit it; nothing if that is less than what counts."""
    torque, share = unit("torque"), unit("share")
    own, middle = (np.concatenate([getattr(b, x) for b in v.bands.values()]) for x in ("own", "middle"))
    off = float(np.mean(middle / own - 1.0))
    if abs(off) < TIE:
        return []
    places = [(b.own - b.low) / (b.high - b.low) for b in v.bands.values()]
    at_edge = np.mean([(p < EDGE) | (p > 1.0 - EDGE) for p in places])
    edge = (
        f", and at {percent(at_edge, '.0f')} of the speeds near the edge of its band"
        if at_edge > EDGE
        else ""
    )
    by = f"{share.said(abs(off))} ({torque.said(float(np.mean(np.abs(middle - own))))})"
    return [
        f"The file's own engine makes {'less' if off > 0.0 else 'more'} torque than the middle of those that"
        f" fit it, by {by} on average{edge}: what it leaves out can mostly move it one way."
    ]


def _at(low: float, high: float) -> str:
    return f"at {low:.0f} rpm" if low == high else f"from {low:.0f} to {high:.0f} rpm"


def _cells(one: Interval, k: int, sign: str = "") -> list[str]:
    torque = unit("torque")
    low, middle, high = (torque.number(x[k], sign=sign) for x in (one.low, one.middle, one.high))
    return [middle, f"{low} to {high}"]


def _gains(found: HowSure) -> str:
    """What every other runner gains and loses."""
    v, torque = found.verdict, unit("torque")
    rows = [
        [f"{rpm:.0f}", *(c for a in v.against for c in (*_cells(a.at, k, "+"), SAID[a.states[k]]))]
        for k, rpm in enumerate(found.curves.rpm)
    ]
    heads = [h for a in v.against for h in (f"{a.runner} {torque.name}", "95 of 100", "")]
    table = fitted(["rpm", *heads], rows, groups=[3] * len(v.against))
    return f"Torque against {v.base}, {torque.name}\n{table}"


def against_lines(a: Against, v: Verdict) -> list[str]:
    """One runner against another in sentences."""
    torque, share, lines = unit("torque"), unit("share"), [f"{a.runner} against {a.base}"]
    if set(a.states) == {LEVEL}:
        most = float(max(np.abs(a.at.low).max(), np.abs(a.at.high).max()))
        return [
            f"{a.runner} and {a.base} cannot be told apart: at every speed their torque differs by less than"
            f" {share.said(TIE)} ({torque.said(most)} at most), which is less than a dyno shows."
        ]
    for span, one in a.over.items():
        matters = " (the range that matters)" if span == v.span and len(a.over) > 1 else ""
        lines.append(
            f"  {span.words}{matters}: {torque.said(one.middle, sign='+')}"
            f" ({share.said(a.share[span], sign='+')}) on average, in 95 of 100 engines"
            f" {torque.number(one.low, sign='+')} to {torque.said(one.high, sign='+')}:"
            f" {SAID[a.range_states[span]]}"
        )
    runs = runs_of(v.rpm, a.states)
    for state, said in SAID.items():
        at = [_at(low, high) for low, high, found in runs if found == state]
        lines += [f"  {said} {listed(at)}"] if at else []
    return lines


def best_lines(v: Verdict) -> list[str]:
    """Who is best over the range that matters, and how surely."""
    torque, n = unit("torque"), len(v.means)
    shares = sorted(v.best.items(), key=lambda pair: -pair[1])
    said = ", ".join(f"{name} in {round(share * n)}" for name, share in shares if share > 0.0)
    lines = [f"Most mean torque {v.span.words}, of {n} engines: {said}."]
    doubt = 1.0 - v.best[v.choice]
    if doubt == 0.0:
        lines.append(f"Choose {v.choice}: it is best in every one of these engines.")
    else:
        lines.append(
            f"Choose {v.choice}. The chance that another is better is {_percent(doubt, n)}; that would cost"
            f" {torque.said(v.lost / doubt)} of mean torque."
        )
    return lines


def _percent(share: float, count: int) -> str:
    """A share of ``count`` cases with its standard error."""
    error = np.sqrt(share * (1.0 - share) / count)
    return f"{percent(share, '.0f')} (+- {max(100 * error, 1):.0f})"


def next_lines(found: HowSure) -> list[str]:
    """What to measure next, and what that would do to the doubt about the choice."""
    n, v = found.next, found.verdict
    if n.before == 0.0:
        return ["What to measure next: nothing. No measurement would change the choice."]
    lines = [f"What to measure next, against the doubt about the choice ({percent(n.before, '.0f')}):"]
    for m in n.worth[:SHOWN]:
        lines.append(f"  {m.settle}: it falls to {percent(m.after, '.0f')}")
    if not n.worth:
        lines.append("  nothing by itself: no single measurement makes the choice surer")
    if all(a.range_states[v.span] == LEVEL for a in v.against if v.choice in (a.runner, a.base)):
        lines.append("  The runners are level over the range that matters: either will do.")
    lines.append(
        f"  (By straight lines through the {len(v.means)} engines; in engines left out they explain"
        f" {max(100 * n.explained, 0):.0f} % of what the runners differ by.)"
    )
    return lines
