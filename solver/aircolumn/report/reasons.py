"""Why a hump or hollow is where it is, in sentences."""

from aircolumn.shown import unit
from aircolumn.tuning.explain import Cause

PUSHED_BACK = 0.03  # of the charge: from there on the cylinder of a hollow is not called packed
FELT = 1.5e3  # Pa: what a wave must bring to be called a help or a hindrance


def sentences(kind: str, c: Cause) -> list[str]:
    """What made a hump or hollow, from its figures."""
    text = [
        f"{kind} at {c.rpm:.0f} rpm, VE {unit('share').said(c.ve)}.",
        f"The suction wave leaves the valve most strongly at {c.launch:.0f} deg"
        f" ({_over(c.suction)}).",
    ]
    if c.compression < FELT:
        text.append("No compression comes back from the mouth before the valve shuts.")
    else:
        early = c.shuts - c.due
        when = f"{early:.0f} deg before" if early >= 0.0 else f"{-early:.0f} deg after"
        text.append(
            f"It takes {c.travel:.0f} deg to the mouth and back, so it returns as compression at"
            f" {c.due:.0f} deg, {when} the valve shuts at {c.shuts:.0f} deg. The arriving wave is"
            f" highest at {c.peak:.0f} deg ({_over(c.compression)})."
        )
    text.append(_closing_sentence(kind, c))
    counted = (f"; the computed pressure swings {c.counted:.1f} times"
               if c.counted == c.counted else "")  # fmt: skip
    text.append(
        f"With this travel time the column in the shut runner swings {c.order:.1f} times a cycle"
        f"{counted}. When the valve opens, the arriving wave stands at {_over(c.left_over)}, which"
        f" {_effect(c.left_over)}."
    )
    if abs(c.overlap) > FELT:
        stands, does = ("above", "holds back burned gas") if c.overlap > 0.0 else (
            "below", "draws burned gas out")  # fmt: skip
        text.append(
            f"During overlap the exhaust pressure is {unit('pressure').said(abs(c.overlap))}"
            f" {stands} the intake pressure, which {does}."
        )
    return text


def _over(pressure: float) -> str:
    return unit("pressure").said(pressure, sign="+")


def _closing_sentence(kind: str, c: Cause) -> str:
    total = c.wave_part + c.ram_part
    parts = (
        f"the arriving wave brings {_over(c.wave_part)} and the column being stopped"
        f" {_over(c.ram_part)}"
    )
    back = f"{100 * c.backflow:.0f} % of the charge is pushed back through the valve"
    if kind == "hollow" and c.backflow > PUSHED_BACK and total > FELT:
        return (f"While the valve closes {parts}: too little to hold the rising piston's charge, of"
                f" which {back.replace(' of the charge', '')}.")  # fmt: skip
    if total > FELT:
        main = "the wave" if c.wave_part >= c.ram_part else "the column's own momentum"
        verdict = f"this packs the cylinder, mostly by {main}"
    elif total < -FELT:
        verdict = "this draws charge out of the cylinder"
    else:
        verdict = "little either way"
    also = f"; {back}" if c.backflow > 0.01 else ""
    return f"While the valve closes {parts}: {verdict}{also}."


def _effect(pressure: float) -> str:
    if pressure > FELT:
        return "helps the start of filling"
    return "hinders the start of filling" if pressure < -FELT else "hardly matters"
