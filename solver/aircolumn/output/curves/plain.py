"""Curves of runners as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.interest import all_speeds, interest
from aircolumn.curves.summary import all_crossings, loosely, peak, runner_mean
from aircolumn.curves.to_xarray import failed_points, own_curve, shown_figure, shown_ve
from aircolumn.output.curves.text import leader
from aircolumn.output.plain import as_plain, plain_dataset
from aircolumn.point_figures import FIGURES

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.curves.against import Gain
    from aircolumn.engine.description.computing import Speeds


def plain_curves(data: xr.Dataset, speeds: Speeds, against: Sequence[Gain] = ()) -> dict[str, Any]:
    """Peaks and means of every runner, the winner over the range that matters (None: a tie), crossings, gains
    and curves; torque and power throughout at the ``standard`` asked for ("observed": as they are)."""
    rpm, names = data.rpm.values, [str(n) for n in data.runner.values]
    span = interest(speeds, rpm) or all_speeds(rpm)
    shown = {"ve": shown_ve(data)[0], **{f: shown_figure(data, f)[0] for f in ("torque", "power")}}
    means = {n: runner_mean(data, shown["torque"], n, span) for n in names}
    several = len(names) > 1
    best = leader(np.array(list(means.values()))) if several else 0
    met = all_crossings(data, shown["torque"]) if several else []
    return {
        "range": as_plain(span),
        "winner": names[best] if best >= 0 else None,
        "runners": {
            n: {
                "mean_torque": as_plain(means[n]),
                **{f"peak_{what}": _peak(data, n, figure) for what, figure in shown.items()},
            }
            for n in names
        },
        "crossings": [
            {"runners": [a, b], "rpm": at, "between": as_plain(loosely(rpm, at))} for a, b, at in met
        ],
        "against": [_gain(g) for g in against],
        "failures": [
            {"runner": str(name), "rpm": float(at), "reason": why} for name, at, why in failed_points(data)
        ],
        "standard": shown_figure(data, "torque")[1],
        "curves": plain_dataset(_as_shown(data), *FIGURES, "asked"),
    }


def _as_shown(data: xr.Dataset) -> xr.Dataset:
    """The curves with torque and power as they were asked for: at a standard, or as observed."""
    figures = {name: data[shown_figure(data, name)[0]] for name in ("torque", "power")}
    return data.assign(figures)


def _peak(data: xr.Dataset, name: str, figure: str) -> dict[str, Any] | None:
    one = own_curve(data, name)
    values = one[figure].values
    if not np.isfinite(values).any():
        return None
    top = peak(one.rpm.values, values)
    between = as_plain(loosely(one.rpm.values, top.rpm))
    return {"rpm": float(top.rpm), "value": float(top.value), "between": between}


def _gain(gain: Gain) -> dict[str, Any]:
    over = [
        {"range": as_plain(span), "torque": as_plain(mean), "share": as_plain(share)}
        for span, (mean, share) in gain.means.items()
    ]
    at = {"rpm": as_plain(gain.rpm), "torque": as_plain(gain.torque)}
    return {"runner": gain.runner, "base": gain.base, **at, "over": over}
