"""Measured traces laid over the model's."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import unit
from aircolumn.measured.traces.cycles import AT
from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import figure, save

if TYPE_CHECKING:
    from aircolumn.measured.traces.session import TraceSession

EVENTS = {"intake_opens": "IVO", "intake_closes": "IVC", "exhaust_opens": "EVO", "exhaust_closes": "EVC"}


def plot_traces(session: TraceSession, title: str, base: Path) -> list[Path]:
    """``base``.png and .svg: a panel for each channel, and one for its difference."""
    names = session.cycles.names
    with figure(
        2 * len(names), figsize=(10.0, 3.6 * len(names) + 1.0), height_ratios=[2, 1] * len(names)
    ) as (
        fig,
        panels,
    ):
        for k, name in enumerate(names):
            _overlay(panels[2 * k], session, k, name)
            _difference(panels[2 * k + 1], session, k)
            _events(panels[2 * k], session, named=True)
            _events(panels[2 * k + 1], session, named=False)
        panels[0].set_title(f"{title}\n{session.path.name}, {session.rpm:.0f} rpm", pad=14)
        panels[-1].set_xlabel("crank angle, deg after firing top dead centre")
        panels[-1].set_xlim(0.0, 720.0)
        band = " Band: spread of cycles (two standard deviations)." if session.cycles.count > 1 else ""
        fig.supxlabel(f"Dashed: valve events.{band} {SHORT}", fontsize=8.5, color="#444444")
        return save(fig, base)


def _overlay(panel: Any, session: TraceSession, k: int, name: str) -> None:
    kpa = unit("pressure")
    mean, spread = session.cycles.mean[k], session.cycles.spread[k]
    style = [{q: v for q, v in s.items() if q != "marker"} for s in STYLES]
    if session.cycles.count > 1:
        low, high = kpa.of(mean - 2.0 * spread), kpa.of(mean + 2.0 * spread)
        panel.fill_between(AT, low, high, color=STYLES[0]["color"], alpha=0.18, linewidth=0.0)
    panel.plot(AT, kpa.of(mean), label="measured", **style[0])
    panel.plot(AT, kpa.of(session.model.signals[k]), label="model", **style[1])
    if session.fitted is not None:
        panel.plot(AT, kpa.of(session.fitted[k]), label="model, fitted", **style[2])
    panel.set_ylabel(f"{name}, {kpa.name}")
    if session.channels[name].place == "cylinder":
        panel.set_yscale("log")
        panel.yaxis.set_major_formatter("{x:g}")
    panel.legend(loc="upper right", ncols=3)


def _difference(panel: Any, session: TraceSession, k: int) -> None:
    kpa = unit("pressure")
    panel.axhline(0.0, color="#888888", linewidth=0.8)
    signals = [(session.model.signals[k], STYLES[1])]
    if session.fitted is not None:
        signals.append((session.fitted[k], STYLES[2]))
    for signal, style in signals:
        difference = kpa.factor * (session.cycles.mean[k] - signal)
        panel.plot(AT, difference, color=style["color"], linestyle=style["linestyle"])
    largest = max(
        float(np.percentile(np.abs(kpa.factor * (session.cycles.mean[k] - s)), 97)) for s, _ in signals
    )
    panel.set_ylim(-1.3 * largest - 1e-9, 1.3 * largest + 1e-9)
    panel.set_ylabel(f"measured less\nmodel, {kpa.name}")


def _events(panel: Any, session: TraceSession, named: bool) -> None:
    for event, short in EVENTS.items():
        at = session.model.events[event] % 720.0
        panel.axvline(at, color="#888888", linewidth=0.9, linestyle=(0, (3, 3)))
        if named:  # IVO and EVC stand close
            side = "right" if short.endswith("O") else "left"
            place = (at, 1.0)
            panel.annotate(short, place, xycoords=("data", "axes fraction"), fontsize=7, va="bottom", ha=side)
