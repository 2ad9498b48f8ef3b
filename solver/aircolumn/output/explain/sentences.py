"""Why a hump or dip is where it is, in sentences: the verdict first, the figures after it.

The verdict follows from what changes between a hump and the dip beside it when the waves of one
side are silenced (curves/tuning/silenced.py), never from the label.
"""

from aircolumn.curves.tuning.explain import Cause, Extremum
from aircolumn.display_units import percent, unit

FELT = 1.5e3  # Pa: what a wave must bring to be called a help or a hindrance
PUSHED = 0.03  # of the charge pushed back more or less than beside it: worth a word
EARLIER = 10.0  # deg by which the arriving wave's highest point may be early without a word
SIDES = {"intake": "the intake wave", "exhaust": "the exhaust"}
SMALL = 0.3  # of the difference: less than that no side is named first


def sentences(kind: str, c: Cause, other: tuple = (None, None)) -> list[str]:
    """What made a hump or dip, from its figures, in the units chosen.

    Parameters
    ----------
    kind : {"hump", "dip"}
    c : Cause
        By ``explain``.
    other : (Extremum, Cause)
        The one beside it, by ``beside``.

    Returns
    -------
    list of str
        The verdict first.
    """
    return [*verdict_on(kind, c, other), *figures(c)]


def verdict_on(kind: str, c: Cause, other: tuple = (None, None)) -> list[str]:
    """Where a hump or dip is and what made it."""
    head = f"{kind} at {c.rpm:.0f} rpm, VE {unit('share').said(c.ve)}."
    return [head, *_what_made_it(kind, c, *other)]


def verdict_of(e: Extremum, c: Cause, other: tuple = (None, None)) -> list[str]:
    """The same of a hump or dip of a curve, and how well its place is known."""
    head, *rest = verdict_on(e.kind, c, other)
    if e.between is None:
        return [head, *rest]
    low, high = e.between
    return [
        head,
        f"It may stand anywhere from {low:.0f} to {high:.0f} rpm: no speed in between was computed.",
        *rest,
    ]


def _what_made_it(kind: str, c: Cause, near: Extremum | None, n: Cause | None) -> list[str]:
    """A sentence on what made it and one on the other side; nothing where that is not known."""
    worth = {side: getattr(c, side) for side in SIDES}
    if near is not None and n is not None:
        worth = {side: value - getattr(n, side) for side, value in worth.items()}
    if any(value != value for value in worth.values()):
        return []
    if near is None or n is None:
        return [
            f"Here {SIDES['intake']} gives {_points(worth['intake'])} of VE and {SIDES['exhaust']}"
            f" {_points(worth['exhaust'])}, each against the same engine without its waves."
        ]
    total = c.ve - n.ve
    against = (
        f"against the {near.kind} at {near.rpm:.0f} rpm, which is {100 * abs(total):.1f} points"
        f" {'lower' if total > 0.0 else 'higher'}"
    )
    first = max(SIDES, key=lambda side: worth[side] / total)
    last = next(side for side in SIDES if side != first)
    if worth[first] / total < SMALL:
        parts = " and ".join(f"{words} {_points(worth[side])}" for side, words in SIDES.items())
        return [f"No wave makes this {kind}: {parts} {against}.", *_the_rest(total, worth)]
    how = (_intake_does if first == "intake" else _exhaust_does)(c, n, near.kind)
    who = SIDES[first]
    if first == "exhaust" and worth["intake"] / total < SMALL:
        who = f"{who}, not {SIDES['intake']},"
    opening = f"{who} {how}" if how else f"{who} makes this {kind}"
    return [
        f"{opening[0].upper()}{opening[1:]}: {_points(worth[first])} {against}.",
        f"{SIDES[last][0].upper()}{SIDES[last][1:]} {_moves(worth[last], total)}.",
        *_the_rest(total, worth),
    ]


def _the_rest(total: float, worth: dict[str, float]) -> list[str]:
    """What is left of the difference, in the digits that are told, so that they add up."""
    left = round(100.0 * total, 1) - sum(round(100.0 * value, 1) for value in worth.values())
    if abs(left) < 0.05:
        return []
    return [
        f"The remaining {left:+.1f} points come from valve timing, losses, heating and residual gas, and from"
        " what the waves of both sides do together."
    ]


def _intake_does(c: Cause, n: Cause, there: str) -> str:
    """What of the intake's waves at the valve goes with their worth, compared with the hump or
    dip beside it (``there``); "" if nothing does."""
    sign = 1.0 if c.intake > n.intake else -1.0
    wave, ram = sign * (c.wave_part - n.wave_part), sign * (c.ram_part - n.ram_part)
    opening = sign * (c.left_over - n.left_over)
    back = (
        f"; {percent(c.backflow, '.0f')} of the charge is pushed back,"
        f" {percent(n.backflow, '.0f')} at the {there}"
        if sign * (n.backflow - c.backflow) > PUSHED
        else ""
    )
    if wave + ram > max(opening, FELT):
        here, beside = (_over(x.wave_part + x.ram_part) for x in (c, n))
        if sign < 0.0:
            return f"brings {here} while the valve closes, {beside} at the {there}{back}"
        if ram > wave:
            return f"fills the cylinder by the air column's own momentum as the valve closes{back}"
        early = max(c.shuts - c.peak, 0.0)
        return f"returns {early:.0f} deg before the valve closes and helps fill the cylinder{back}"
    if opening > FELT:
        here, beside = (_over(x.left_over) for x in (c, n))
        return f"stands at {here} as the valve opens, {beside} at the {there}"
    return ""


def _exhaust_does(c: Cause, n: Cause, there: str) -> str:
    """What the exhaust's waves do during overlap, compared with the hump or dip beside it; "" if
    nothing."""
    better = c.exhaust > n.exhaust
    if (c.overlap < n.overlap) != better or abs(c.overlap - n.overlap) < FELT:
        return ""
    if better:
        does = (
            "draws exhaust gas out of the cylinder"
            if c.overlap < 0.0
            else "keeps less exhaust gas in the cylinder"
        )
    else:
        does = "keeps exhaust gas in the cylinder" if c.overlap > 0.0 else "draws out less exhaust gas"
    return (
        f"{does}: during overlap it stands {_stands(c.overlap)} the intake, {_stands(n.overlap)} it"
        f" at the {there}"
    )


def _stands(overlap: float) -> str:
    return f"{unit('pressure').said(abs(overlap))} {'above' if overlap > 0.0 else 'below'}"


def _moves(worth: float, total: float) -> str:
    if abs(worth) < 0.1 * abs(total):
        return f"has little to do with it ({_points(worth)})"
    return f"{'adds to it' if worth * total > 0.0 else 'works against it'} ({_points(worth)})"


def _points(value: float) -> str:
    return f"{round(100.0 * value, 1) + 0.0:+.1f} points"


def figures(c: Cause) -> list[str]:
    """What the waves do at this speed, without a verdict."""
    text = [
        f"The suction wave leaves the valve most strongly at {c.launch:.0f} deg ({_over(c.suction)}).",
    ]
    if c.compression < FELT:
        text.append("No compression comes back from the mouth before the valve shuts.")
    else:
        early = c.shuts - c.due
        when = f"{early:.0f} deg before" if early >= 0.0 else f"{-early:.0f} deg after"
        sooner = ", as tapers and steps on the way send part of it back sooner"
        text.append(
            f"It takes {c.travel:.0f} deg to the mouth and back, so it returns as compression at"
            f" {c.due:.0f} deg, {when} the valve shuts at {c.shuts:.0f} deg. The arriving wave is"
            f" highest at {c.peak:.0f} deg ({_over(c.compression)})"
            f"{sooner if c.due - c.peak > EARLIER else ''}."
        )
    also = f"; {percent(c.backflow, '.0f')} of the charge is pushed back" if c.backflow > 0.01 else ""
    text.append(
        f"While the valve closes the arriving wave brings {_over(c.wave_part)} and the air column's"
        f" own momentum {_over(c.ram_part)}{also}."
    )
    counted = f"; the computed pressure has {c.counted:.1f} peaks" if c.counted == c.counted else ""
    text.append(
        f"With this travel time the closed runner rings {c.order:.1f} times per cycle"
        f"{counted}. When the valve opens, the arriving wave stands at {_over(c.left_over)}, which"
        f" {_effect(c.left_over)}."
    )
    if abs(c.overlap) > FELT:
        stands, does = (
            ("above", "keeps exhaust gas in the cylinder")
            if c.overlap > 0.0
            else ("below", "draws exhaust gas out of the cylinder")
        )
        text.append(
            f"During overlap the exhaust pressure is {unit('pressure').said(abs(c.overlap))}"
            f" {stands} the intake pressure, which {does}."
        )
    return text


def _over(pressure: float) -> str:
    return unit("pressure").said(pressure, sign="+")


def _effect(pressure: float) -> str:
    if pressure > FELT:
        return "helps the start of filling"
    return "hinders the start of filling" if pressure < -FELT else "has little effect"
