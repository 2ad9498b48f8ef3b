"""What is wrong with readings before they are compared with anything."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import unit
from aircolumn.errors import RequestError, no_such

if TYPE_CHECKING:
    from aircolumn.engine.description.traces import TraceChannel
    from aircolumn.measured.traces.cycles import Cycles
    from aircolumn.measured.traces.predicted import Predicted

#: Of absolute pressures, by place, Pa: what engines have at all.
POSSIBLE = {"cylinder": (1e3, 5e7)}
ELSEWHERE = (5e3, 2e6)
SWAPPED = 3.0  # times as far from the model's swings, both together


def check_speed(measured: float, asked: float) -> None:
    """Raise RequestError if the file's own speed, rev/min, is not that asked for."""
    if abs(measured / asked - 1.0) > 0.02:
        raise RequestError(
            f"the file was measured at {measured:.0f} rpm, --rpm says {asked:.0f}: a wave would come at"
            " another angle"
        )


def check_angles(off: float | None, stated: float) -> None:
    """Raise RequestError for angles that are too large by ``off`` deg; stated: traces.top_dead_centre."""
    if off is not None:
        raise RequestError(
            f"the file's angles are {off:+.2f} deg too late: state traces.top_dead_centre: {stated + off:.2f}"
            " deg first, then fit"
        )


def check_pressures(cycles: Cycles, channels: dict[str, TraceChannel]) -> None:
    """Raise RequestError for pressures that cannot be."""
    kpa = unit("pressure")
    for k, (name, channel) in enumerate(channels.items()):
        low, high = POSSIBLE.get(channel.place, ELSEWHERE)
        least, most = float(cycles.mean[k].min()), float(cycles.mean[k].max())
        possible = low <= least <= most <= high
        if channel.pegged.to == "absolute" and not possible:
            raise RequestError(
                f"{name}: absolute pressures from {kpa.said(least)} to {kpa.said(most)} cannot be: the unit"
                " is another, or the transducer measures changes alone (traces.channels: pegged)"
            )


def check_places(cycles: Cycles, channels: dict[str, TraceChannel], model: Predicted) -> None:
    """Raise RequestError for two channels whose swings are each the other's."""
    measured, due = (np.log(np.maximum(np.std(s, axis=1), 1.0)) for s in (cycles.mean, model.signals))
    names = list(channels)
    for i in range(len(names)):
        for j in range(i):
            own = abs(measured[i] - due[i]) + abs(measured[j] - due[j])
            other = abs(measured[i] - due[j]) + abs(measured[j] - due[i])
            if own > 2.0 * np.log(SWAPPED) + other:
                raise RequestError(
                    f"{names[j]} and {names[i]} look swapped: each swings as the model does at the other's"
                    " place"
                )


def check_names(hold: Sequence[str], channels: dict[str, TraceChannel]) -> None:
    """Raise RequestError for channels to hold out that are none, or all there are."""
    for name in hold:
        if name not in channels:
            raise RequestError(no_such("channel", name, channels))
    if hold and len(set(hold)) == len(channels):
        raise RequestError("all channels are held out; leave one to fit")
