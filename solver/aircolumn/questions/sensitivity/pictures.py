"""The picture of a sensitivity study."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import figure, name_lines, save

if TYPE_CHECKING:
    from aircolumn.questions.aims import Aim
    from aircolumn.questions.sensitivity.sensitivity import Indices
    from aircolumn.study.plan import Plan


def plot_indices(plan: Plan, aim: Aim, indices: Indices, base: Path) -> list:
    """Sobol indices as bars with their intervals."""
    at = np.arange(len(indices.names))
    with figure(1, figsize=(8.0, 1.8 + 0.7 * len(at))) as (fig, panel):
        for shift, values, wide, style, label in (
            (-0.18, indices.first, indices.first_wide, STYLES[0], "first order"),
            (0.18, indices.total, indices.total_wide, STYLES[4], "total, with interactions"),
        ):
            panel.barh(
                at + shift,
                values,
                0.34,
                xerr=wide,
                color=style["color"],
                label=label,
                error_kw={"capsize": 3, "elinewidth": 1.0},
            )
        panel.set_yticks(at, [a.said.partition(",")[0] for a in plan.axes])
        panel.set_xlabel(f"share of the variance of {aim.words}")
        name_lines(panel)
        fig.supxlabel(SHORT, fontsize=8.5, color="#444444")
        return save(fig, base)
