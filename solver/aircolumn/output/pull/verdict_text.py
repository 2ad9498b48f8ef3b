"""The verdict on two manifolds, in words: like for like, drift, who wins where."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.interest import interest
from aircolumn.display_units import percent, unit
from aircolumn.engine.description.base import required
from aircolumn.measured.like_for_like import ALIKE, CHECKED, CONFIDENCE, DIFFERS, NOT_LOGGED, UNPROVEN
from aircolumn.measured.range_figures import runs_of, winners
from aircolumn.output.pull.read_text import left
from aircolumn.output.tables import grid, listed

if TYPE_CHECKING:
    from aircolumn.measured.session import Session

NOTHING = 1e-6  # of a band: an interval that only rounding makes


def verdict_text(s: Session) -> str:
    """Was it like for like, how large must a difference be, and who wins where."""
    v, (a, b) = required(s.verdict), list(s.overlays)
    lines = [f"Like for like? {a} against {b}", check_table(v)]
    lines += verdict_sentences(v)
    predicted, torque = difference(s, "torque_predicted"), unit("torque")
    rows = []
    for k, rpm in enumerate(v.rpm):
        rows.append(
            [
                f"{rpm:.0f}",
                torque.number(v.torque[k], sign="+"),
                torque.number(v.least[k]),
                torque.number(predicted[k], sign="+"),
                "" if v.comparable[k] else "not comparable",
            ]
        )
    lines.append(f"\nTorque of {a} less {b}, {torque.name}")
    lines.append(grid(["rpm", "measured", "smallest real difference", "predicted", ""], rows))
    lines += [f"  {row}" for row in who_wins(v, (a, b))]
    if not np.isnan(v.least).all():
        lines.append("  All speeds are judged together: the chance of any wrong winner here is 5 %.")
    lines += in_range(s, a, b)
    return "\n".join(lines)


def who_wins(v: Any, names: Sequence[str]) -> list[str]:
    """A line for each run of speeds: who has more torque, or why nobody wins."""
    rows = []
    for start, stop, who in winners(v, names):
        span = f"{start:.0f} rpm" if start == stop else f"{start:.0f} to {stop:.0f} rpm"
        rows.append(f"{span}: {who} has more torque" if who in names else f"{span}: {who}")
    return rows


def in_range(s: Session, a: str, b: str) -> list[str]:
    """Who has more mean torque over the range that matters, and whether that means anything."""
    v = required(s.verdict)
    span = interest(s.description.engine.speeds, v.rpm)
    if span is None or len(v.rpm) < 2:
        return []
    gain, least = (span.mean(v.rpm, x) for x in (v.torque, v.least))
    inside = (v.rpm >= span.start) & (v.rpm <= span.stop)
    torque = unit("torque")
    first, second = (a, b) if gain >= 0.0 else (b, a)
    text = f"Mean torque {span.words}: {first} made {torque.said(abs(gain))} more than {second}"
    if not np.all(v.comparable[inside]):
        return [f"{text}, but not all of this range is comparable"]
    if np.isnan(least):
        return [f"{text}, but without repeated pulls it may mean nothing"]
    if v.returned is not None and abs(gain) < v.returned.session_half_width * s.overlays[a].torque.mean():
        return [f"{text}, which is less than the doubt of the session's drift: no clear difference"]
    # What moves a pull moves all of it, so a mean over speeds is no surer than a single one.
    if abs(gain) > least:
        return [f"{text}. That is a clear win for {first} (at least {torque.number(least)} is needed)"]
    return [f"{text}. No clear difference: at least {torque.number(least)} is needed to be sure"]


def check_table(v: Any) -> str:
    """The checked channels: bands, largest difference, and where they were alike."""
    rows = []
    for channel, check in v.checks.items():
        title, kind, _ = CHECKED[channel]
        shown, places = unit(kind), 1 if kind == "angle" else 2
        band = f"{float(shown.of(check.band)):.3g} {shown.name}"
        states = list(check.states)
        if set(states) == {NOT_LOGGED}:
            rows.append([title, band, "", "", NOT_LOGGED])
            continue
        worst = check.difference[np.nanargmax(np.abs(check.difference))]
        wide = float(shown.of(check.half_width[0]))
        doubt = (
            "-" if np.isnan(wide) else "0" if wide < NOTHING * float(shown.of(check.band)) else f"{wide:.2g}"
        )
        rows.append([title, band, shown.number(worst, places, "+"), doubt, _states(v.rpm, states)])
    return left(["channel", "band", "largest difference", "+-", "verdict"], rows)


def _states(rpm: np.ndarray, states: Sequence[str]) -> str:
    if len(set(states)) == 1:
        return states[0]
    parts = [f"{s} {a:.0f}-{b:.0f}" for a, b, s in runs_of(rpm, states) if s != ALIKE]
    return "; ".join(parts)


def verdict_sentences(v: Any) -> list[str]:
    """The verdict in words."""
    texts = []
    spans = [f"{a:.0f} to {b:.0f} rpm" for a, b, ok in runs_of(v.rpm, list(v.comparable)) if ok]
    shown = [CHECKED[n][0] for n, c in v.checks.items() if DIFFERS in c.states]
    doubtful = [CHECKED[n][0] for n, c in v.checks.items() if UNPROVEN in c.states]
    missing = [CHECKED[n][0] for n, c in v.checks.items() if set(c.states) == {NOT_LOGGED}]
    if not shown:
        texts.append("No channel clearly differs by more than its band.")
    else:
        where = f"; comparable: {', '.join(spans)}" if spans else "; no speed can be compared"
        texts.append(f"More than the manifold changed: {', '.join(shown)}{where}.")
    if doubtful:
        texts.append(f"{listed(doubtful).capitalize()} may differ too much; repeat the pulls to be sure.")
    if missing:
        texts.append(f"Not logged, so it cannot be shown that they were the same: {', '.join(missing)}.")
    return [*texts, *_repeats(v), *_drift(v)]


def _repeats(v: Any) -> list[str]:
    """How well torque repeats."""
    if v.freedom:
        return [
            f"Torque repeats within {percent(v.repeatability, '.2f')} (standard deviation between"
            f" pulls, {v.freedom} degrees of freedom). A difference is real, with"
            f" {percent(CONFIDENCE, '.0f')} confidence, only if it exceeds the figure in the table."
        ]
    if v.returned is not None:
        return [
            "Each block holds a single pull, so neither the drift nor the difference has an interval."
            " Repeat every block at least once: two pulls, the other manifold's two, and two again."
        ]
    return [
        "No pull was repeated, so it cannot be shown that a difference in torque is real. Repeat"
        " each manifold's pull at least three times."
    ]


def _drift(v: Any) -> list[str]:
    """How torque drifted, and what became of it."""
    if v.returned is None and not v.drift:
        return []
    if v.returned is None:
        return [
            f"Torque drifts by {percent(v.drift, '+.2f')} per pull; the figure allows for that. Pull"
            " the manifolds in the order A B A to see the drift better."
        ]
    d = v.returned
    wide = "" if np.isnan(d.half_width) else f" +- {percent(d.session_half_width, '.2f')}"
    texts = [
        f"One manifold came back at the end: from its first pull to its last, torque drifted by"
        f" {percent(d.session, '+.2f')}{wide}. The differences below are free of this drift."
    ]
    if np.any(v.masked):
        texts.append(
            "Where a difference is smaller than the doubt of that drift nobody wins: repeat more pulls, or"
            " steady the test cell."
        )
    return texts


def difference(s: Session, name: str) -> np.ndarray:
    """First manifold less second at the verdict's speeds."""
    rpm = required(s.verdict).rpm
    first, second = (np.interp(rpm, o.curve.rpm, getattr(o, name)) for o in s.overlays.values())
    return first - second
