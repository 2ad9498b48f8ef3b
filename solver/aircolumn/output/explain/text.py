"""What made the humps of each runner, as text."""

from textwrap import fill

import numpy as np

from aircolumn.curves.tuning.explain import beside
from aircolumn.display_units import unit
from aircolumn.output.explain.sentences import figures, verdict_of

ZERO = "Crank angles are degrees after firing top dead centre."


def explain_text(explanations: dict, curves: dict) -> str:
    """Sentences for every runner: {name: [(extremum, cause, cycle)]}; curves: {name: (rpm, ve)}."""
    blocks = [ZERO]
    for name, items in explanations.items():
        lines = [f"{name}:"]
        if not items:
            lines.append(f"  {nothing_found(*curves[name])}")
        for k, (e, c, _) in enumerate(items):
            told = [*verdict_of(e, c, beside(items, k)), *figures(c)]
            lines.append(fill(f"- {' '.join(told)}", 80, initial_indent="  ", subsequent_indent="    "))
        if beyond := highest_at_the_end(*curves[name]):
            lines.append(fill(f"- {beyond}", 80, initial_indent="  ", subsequent_indent="    "))
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)


def nothing_found(rpm: np.ndarray, ve: np.ndarray) -> str:
    """Why there is nothing to explain."""
    if np.isfinite(ve).sum() < 3:
        return "a hump needs three or more speeds to show"
    return "no hump or dip stands out in this range"


def highest_at_the_end(rpm: np.ndarray, ve: np.ndarray) -> str:
    """Says so where VE is highest at an end of the range."""
    known = np.flatnonzero(np.isfinite(ve))
    if known.size < 3:
        return ""
    best = known[np.argmax(np.asarray(ve)[known])]
    if best not in (known[0], known[-1]):
        return ""
    return (
        f"VE is highest where the range ends: {unit('share').said(ve[best])} at"
        f" {rpm[best]:.0f} rpm. A hump may lie beyond."
    )
