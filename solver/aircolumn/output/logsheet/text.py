"""The checklist for a test of manifolds, for one engine."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.curves.interest import stated_range
from aircolumn.display_units import counted, percent, unit
from aircolumn.measured.logs.columns import NAMES
from aircolumn.measured.repeats import PullPlan

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine

CAUTION = (
    "Before the engine turns: guards on everything that spins, the dyno's own limits set, fire extinguisher"
    " and fuel shut-off at hand, exhaust and fuel vapour drawn off, ear protection, nobody beside the"
    " rotating parts. Stay below the speed the valve train and the bottom end are built for. Check every"
    " printed part and every clamp after each pull: a piece that comes loose is drawn into the engine, and a"
    " backfire splits a plenum. Keep to emissions law and local codes; leave the test to qualified people."
)
CHECKS = (
    "Same day, same fuel, same tyres or couplings; if not, log each day as its own file.",
    "Only the manifold changes: same throttle body, same gaskets, same ignition and fuel map (or both mapped"
    " anew).",
    "Barometer as read at the test cell (not reduced to sea level), humidity and its temperature, inlet air"
    " in the airbox's mouth, not beside the exhaust.",
    "Coolant and oil within the same few degrees at the start of each pull; wait for them.",
    "Full load from below the first speed to above the last, at the same sweep rate each time.",
    "Note what was done between pulls. A pull that went wrong stays in the log, with its reason.",
)
WHY = {
    "rpm": "needed",
    "torque": "needed (or power)",
    "barometer": "corrects to a standard atmosphere",
    "inlet_air": "corrects to a standard atmosphere",
    "humidity": "corrects to a standard atmosphere",
    "lambda": "proof that the mixture was the same",
    "spark": "proof that the ignition was the same",
    "coolant": "proof that the engine was as warm",
    "oil": "friction goes with it",
    "throttle": "rows that are not at full load are left out",
    "time": "sweep rate, which must be the same",
    "pull": "identifies each pull",
    "air_flow": "separates filling from friction and combustion",
    "fuel_flow": "checks lambda",
}


def checklist(engine: Engine, plan: PullPlan, difference: float, repeatability: float) -> str:
    """Order, pulls, channels, checks and cautions."""
    speeds = engine.speeds
    matters = stated_range(speeds)
    lines = [
        f"Test of manifolds: {engine.title or 'engine'}",
        f"To show a difference of {percent(difference)} where pulls scatter by {percent(repeatability)}"
        f" (95 % sure, found 4 times in 5): {counted(plan.each, 'pull')} of each manifold.",
        f"Sweep from below {speeds.start:.0f} to above {speeds.stop:.0f} rpm"
        + (f"; what matters is {matters.words}." if matters is not None else "."),
        "",
        "Order",
    ]
    for k, (name, count) in enumerate(zip(plan.order, plan.blocks, strict=True), 1):
        again = (
            " again: if its torque has changed, conditions have drifted"
            if k > 1 and name == plan.order[0]
            else ""
        )
        lines.append(f"  [ ] {k}. {name}: {counted(count, 'pull')}{again}")
    lines += ["", "Log"]
    lines += [f"  [ ] {NAMES[channel]}: {why}" for channel, why in WHY.items()]
    lines += ["", "Check", *(f"  [ ] {check}" for check in CHECKS)]
    if engine.traces.channels:
        lines += ["", "Pressures by crank angle", *_trace_lines(engine)]
    lines += ["", CAUTION]
    return "\n".join(lines)


def _trace_lines(engine: Engine) -> list[str]:
    size = unit("length")
    lines = []
    for name, c in engine.traces.channels.items():
        at = f", {size.said(c.distance)} from the runner's mouth" if c.distance is not None else ""
        lines.append(f"  [ ] {name}: {c.place}{at}")
    return [
        *lines,
        "  [ ] a motored run first: it shows where top dead centre is",
        "  [ ] 30 cycles or more at each speed, held steady; a reading every degree or finer",
    ]
