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
        "cylinder": _cylinder(s),
        "explained": [{"cause": e.cause, "share": e.share, "value": e.value} for e in s.explained],
        "dead_centre": None
        if s.dead_centre is None
        else {"offset": s.dead_centre.offset, "plus_minus": s.dead_centre.plus_minus},
        "fitted": {}
        if fit is None
        else {n: {"value": v, "plus_minus": fit.half_widths[n]} for n, v in fit.values.items()},
    }


def _cylinder(s: TraceSession) -> dict[str, Any] | None:
    """Mean pressures, exponents and burn, if there is a cylinder."""
    if s.cylinder is None:
        return None
    found, release, burn = s.cylinder.indicated, s.cylinder.release, s.burn or s.cylinder.burn
    return {
        "imep": float(found.imep.mean()),
        "imep_variation": found.variation,
        "imep_gross": float(found.gross.mean()),
        "peak_pressure": float(found.peak.mean()),
        "peak_angle": float(found.peak_angle.mean()),
        "exponents": {"compression": found.exponents[0], "expansion": found.exponents[1]},
        "exponents_model": {"compression": found.exponents_due[0], "expansion": found.exponents_due[1]},
        "burned_10_50_90": None if release is None else release.angles.mean(axis=0).tolist(),
        "burned_10_50_90_model": None if release is None else list(release.due),
        "heat": None if release is None else float(release.heat.mean()),
        "heat_model": None if release is None else release.heat_due,
        "burn": None if burn is None else vars(burn),
    }
