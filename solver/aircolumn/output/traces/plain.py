"""Measured traces beside the model's, as plain data (SI)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from aircolumn.measured.traces.session import TraceSession


def plain_traces(s: TraceSession) -> dict[str, Any]:
    """Channels, ringing, causes, and what was fitted."""
    fit = s.fit
    return {
        "rpm": s.rpm,
        "cycles": s.cycles.count,
        "channels": {
            name: {
                "place": channel.place,
                "distance": channel.distance,
                "off_the_model": s.rms[name],
                "level_added": s.levels.get(name, (0.0, 0.0))[0],
                "harmonics": [
                    {"number": h.number, "measured": h.measured, "model": h.model, "later": h.later}
                    for h in s.harmonics[name]
                ],
            }
            for name, channel in s.channels.items()
        },
        "ringing": {n: {"measured": r.measured, "model": r.model} for n, r in s.ringing.items()},
        "explained": [{"cause": e.cause, "share": e.share, "value": e.value} for e in s.explained],
        "dead_centre": None
        if s.dead_centre is None
        else {"offset": s.dead_centre.offset, "plus_minus": s.dead_centre.plus_minus},
        "fitted": {}
        if fit is None
        else {n: {"value": v, "plus_minus": fit.half_widths[n]} for n, v in fit.values.items()},
    }
