"""How sure a comparison is, as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from aircolumn.output.plain import as_plain

if TYPE_CHECKING:
    from aircolumn.study.bands.session import HowSure
    from aircolumn.study.bands.verdict import Against


def plain_bands(found: HowSure) -> dict[str, Any]:
    """Choice and doubt, bands, differences, measurements."""
    v = found.verdict
    return {
        "cases": len(v.means),
        "range": as_plain(v.span),
        "choice": v.choice,
        "best": as_plain(v.best),
        "doubt": 1.0 - v.best[v.choice],
        "cost_of_a_wrong_choice": as_plain(v.lost),
        "base": v.base,
        "rpm": as_plain(v.rpm),
        "bands": as_plain(v.bands),
        "against": [_against(a) for a in v.against],
        "measure_next": as_plain(found.next.every),
        "error_of_bands": v.error,
        "error_of_differences": v.error_of_gains,
        "lost_cases": as_plain(found.curves.lost),
    }


def _against(a: Against) -> dict[str, Any]:
    over = [
        {"range": as_plain(span), **as_plain(one), "share": a.share[span], "state": a.range_states[span]}
        for span, one in a.over.items()
    ]
    return {"runner": a.runner, "base": a.base, "at": as_plain(a.at), "states": a.states, "over": over}
