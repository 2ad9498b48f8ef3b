"""How sure a comparison is, as --json prints it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.output.plain import SpeedRange
from aircolumn.study.bands.measure_next import Measurement
from aircolumn.study.bands.verdict import Against, Interval, State

if TYPE_CHECKING:
    from aircolumn.study.bands.session import HowSure


@dataclass(frozen=True)
class RangeGain:
    """Mean torque gained over a range, N m, as an interval; its share; what it says."""

    range: SpeedRange
    low: float
    own: float
    high: float
    middle: float
    share: float
    state: State


@dataclass(frozen=True)
class GainsFound:
    """A runner less the base: at every speed, and over ranges."""

    runner: str
    base: str
    at: Interval
    states: list[State]
    over: list[RangeGain]

    @classmethod
    def of(cls, a: Against) -> GainsFound:
        """As the verdict has it."""
        over = [
            RangeGain(SpeedRange.of(span), **vars(one), share=a.share[span], state=a.range_states[span])
            for span, one in a.over.items()
        ]
        return cls(a.runner, a.base, a.at, a.states, over)


@dataclass(frozen=True)
class BandsFound:
    """Choice and doubt, bands, differences, measurements."""

    cases: int
    range: SpeedRange
    choice: str
    best: dict[str, float]
    doubt: float
    cost_of_a_wrong_choice: float
    base: str
    rpm: np.ndarray
    bands: dict[str, Interval]
    against: list[GainsFound]
    measure_next: list[Measurement]
    error_of_bands: float
    error_of_differences: float
    lost_cases: list[str]

    @classmethod
    def of(cls, found: HowSure) -> BandsFound:
        """As study/bands has it."""
        v = found.verdict
        return cls(
            cases=len(v.means),
            range=SpeedRange.of(v.span),
            choice=v.choice,
            best=v.best,
            doubt=1.0 - v.best[v.choice],
            cost_of_a_wrong_choice=v.lost,
            base=v.base,
            rpm=v.rpm,
            bands=v.bands,
            against=[GainsFound.of(a) for a in v.against],
            measure_next=found.next.every,
            error_of_bands=v.error,
            error_of_differences=v.error_of_gains,
            lost_cases=found.curves.lost,
        )
