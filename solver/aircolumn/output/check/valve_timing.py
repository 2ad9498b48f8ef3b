"""Valve timing in words: as the card states it, and seat to seat at the valve.

A card states its events at a lift, of the valve or of the lobe. Taken on the wrong side of the
rocker the same numbers make another cam: so both timings are always told, with the side.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.display_units import unit
from aircolumn.engine.model.geometry import Geometry, geometry_of
from aircolumn.output.tables import listed

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.valves import ExhaustValve, IntakeValve, Lift, Valve

LONGEST = 330.0  # deg seat to seat; road and most racing cams stay below (common practice, no source)
#: Lift at which cards state events, m: at the valve from its seat to 0.050 in or 1 mm, at the lobe
#: 0.004 in to 0.050 in (common practice, no source). ROUNDED: what rounding may add.
MOST_STATED, LEAST_AT_CAM, ROUNDED = 1.27e-3, 0.1016e-3, 1.03
TOP = 360.0  # crank angle of the top dead centre between exhaust and intake stroke


def sides(
    engine: Engine, sizes: Geometry
) -> tuple[
    tuple[str, IntakeValve, tuple[float, float], tuple[float, float]],
    tuple[str, ExhaustValve, tuple[float, float], tuple[float, float]],
]:
    """(name, valve, (opens, closes) as stated, (lifts, shuts) seat to seat) of both valves."""
    return (
        (
            "intake",
            engine.intake.valve,
            (sizes.intake_opens, sizes.intake_closes),
            (sizes.intake_lifts, sizes.intake_seats),
        ),
        (
            "exhaust",
            engine.exhaust.valve,
            (sizes.exhaust_opens, sizes.exhaust_closes),
            (sizes.exhaust_lifts, sizes.exhaust_seats),
        ),
    )


def timing_lines(engine: Engine, sizes: Geometry) -> list[str]:
    """Overlap and both valves' timing, as stated and seat to seat."""
    stated = sizes.exhaust_closes - sizes.intake_opens
    seat = sizes.exhaust_seats - sizes.intake_lifts
    lines = [f"valve overlap             {stated:.0f} deg as stated, {seat:.0f} deg seat to seat"]
    for name, valve, (opens, closes), (lifts, shuts) in sides(engine, sizes):
        lines.append(
            f"{name + ' timing':26s}{_events(name, lifts, shuts)}, {shuts - lifts:.0f} deg seat to"
            f" seat at the valve{_less_lash(valve)}"
        )
        if valve.lift.highest is None:
            lines.append(f"  from a lift table that begins {_before(name, opens)}")
        else:
            lines.append(
                f"  stated: {_events(name, opens, closes)}, {closes - opens:.0f} deg"
                f" {stated_lift(valve.lift)}"
            )
            lines += _card_lines(valve.lift, closes - opens)
    return lines


def _card_lines(lift: Lift, duration: float) -> list[str]:
    """The further durations of a card, and the lift curve that has them."""
    if not lift.durations:
        return []
    size, lobe = unit("length"), lift.lobe(duration)
    decimals = size.decimals + 2
    told = [
        f"{d.duration:g} deg at {size.said(d.at or d.at_cam or 0.0, decimals)} at the"
        f" {'valve' if d.at_cam is None else 'cam'}"
        for d in lift.durations
    ]
    off = f", within {lobe.off:.1f} deg of them" if lobe.off > 0.05 else ""
    return [f"  and {listed(told)}: lift curve with flank {lobe.flank:.2f} and nose {lobe.nose:.2f}{off}"]


def _less_lash(valve: Valve) -> str:
    return " (lash taken off)" if valve.lift.lash > 0.0 else ""


def _events(name: str, opens: float, closes: float) -> str:
    """Opening and closing, counted from the dead centres the trade counts from."""
    closing = closes - TOP - 180.0 if name == "intake" else closes - TOP
    after = "BDC" if name == "intake" else "TDC"
    way = "after" if closing >= 0.0 else "before"
    return f"opens {_before(name, opens)}, shuts {abs(closing):.0f} deg {way} {after}"


def _before(name: str, opens: float) -> str:
    ahead = TOP - opens if name == "intake" else TOP - 180.0 - opens
    centre = "TDC" if name == "intake" else "BDC"
    return f"{abs(ahead):.0f} deg {'before' if ahead >= 0.0 else 'after'} {centre}"


def stated_lift(lift: Lift) -> str:
    """At which lift the card's events hold, and on which side of the rocker."""
    size = unit("length")
    decimals = size.decimals + 2
    if lift.events_at_cam is not None:
        return (
            f"at {size.said(lift.events_lift, decimals)} at the valve"
            f" ({size.said(lift.events_at_cam, decimals)} at the cam x {lift.rocker_ratio:g})"
        )
    if lift.events_lift == 0.0:
        return "at the seat" + (" before lash" if lift.lash > 0.0 else "")
    return f"at {size.said(lift.events_lift, decimals)} at the valve"


def timing_doubts(engine: Engine) -> list[str]:
    """Timing that can hardly be meant."""
    found = []
    for name, valve, _, (lifts, shuts) in sides(engine, geometry_of(engine)):
        if shuts - lifts > LONGEST:
            found.append(
                f"the {name} valve is off its seat for {shuts - lifts:.0f} deg: hardly any cam goes"
                f" beyond {LONGEST:.0f}; are its events stated at the lift that the file says, and"
                " on that side of the rocker?"
            )
        found += _lift_doubts(name, valve.lift)
    return found


def _lift_doubts(name: str, lift: Lift) -> list[str]:
    size = unit("length")
    texts = size.said(lift.events_at or lift.events_at_cam or 0.0, size.decimals + 2)
    if lift.events_at_cam is not None:
        if LEAST_AT_CAM / ROUNDED <= lift.events_at_cam <= ROUNDED * MOST_STATED:
            return []
        return [
            f"{name} events stated at {texts} at the cam: cards give"
            f" {size.number(LEAST_AT_CAM, size.decimals + 2)} to"
            f" {size.said(MOST_STATED, size.decimals + 2)} there; if it is lift of the valve, write"
            " events_at"
        ]
    if lift.events_lift <= ROUNDED * MOST_STATED:
        return []
    return [
        f"{name} events stated at {texts} at the valve: cards seldom give more than"
        f" {size.said(MOST_STATED, size.decimals + 2)} there; if the card says lift of the lobe,"
        " write that as events_at_cam with rocker_ratio"
    ]
