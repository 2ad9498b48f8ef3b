"""A measured session as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from aircolumn.measured.pull_to_xarray import pull_dataset
from aircolumn.measured.range_figures import winners
from aircolumn.output.plain import as_plain, plain_dataset
from aircolumn.output.pull.next_text import plain_next

if TYPE_CHECKING:
    from aircolumn.measured.session import Session


def plain_session(s: Session) -> dict[str, Any]:
    """Pulls with what was predicted, figures over the range, who wins where, and what was fitted."""
    v, c, names = s.verdict, s.calibration, list(s.overlays)
    won = [] if v is None else winners(v, names)
    return {
        "standard": s.standard,
        "torque_stated": {
            name: {"stated": f.stated, "why": f.statement.why, "at_the_wheels": f.wheel}
            for name, f in s.files.items()
        },
        "drift": None if v is None or v.returned is None else as_plain(v.returned),
        "next": None if s.next is None else plain_next(s.next),
        "pulls": plain_dataset(pull_dataset(s)),
        "ranges": {
            name: None if pair is None else {"measured": as_plain(pair[0]), "predicted": as_plain(pair[1])}
            for name, pair in s.ranges.items()
        },
        "winners": [{"from": a, "to": b, "who": str(who)} for a, b, who in won],
        "like_for_like": None if v is None else not v.alarms(),
        "fitted": {}
        if c is None
        else {
            name: {
                "value": value,
                "plus_minus": as_plain(c.alone[name]),
                "joint_plus_minus": as_plain(c.half_widths[name]),
                "judgement": c.judgement(name),
            }
            for name, value in c.values.items()
        },
    }
