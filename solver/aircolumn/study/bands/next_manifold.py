"""The next manifold from the pull of the last: what a customer is told before anything is made.

    torque of B = torque of A as measured  x  predicted B over predicted A

at the air and mixture of the pulls and at the customer's standard. What the model has wrong about the engine
is in both predictions and drops out of their quotient: its band is that of the quotient over the cases of
``bands``, not that of a torque. The doubt of the pulls (their interval, with repeats) is added by
root-sum-square; what the dyno's own scale has wrong is in the measured torque of A and will be in that of B
on the same dyno."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.errors import RequestError
from aircolumn.measured.overlay import predict
from aircolumn.study.bands.session import USUAL, how_sure
from aircolumn.study.bands.verdict import Interval, quantiles

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description
    from aircolumn.measured.session import Session
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.bands.ensemble import Ensemble


@dataclass(frozen=True)
class NextManifold:
    """Torque of a manifold that was not run, from the pulls of one that was.

    name, measured: of the two; standard: what torque is at; rpm: (s,), rev/min. torque: N m, its band (95 of
    100); ratio: predicted ``name`` over predicted ``measured``; alone: what the engine file alone says of
    ``name``, N m at the standard; pulls: half-width of the measured torque, relative (NaN: one pull, not in
    the band); cases: how many engines that fit the file were computed."""

    name: str
    measured: str
    standard: str
    rpm: np.ndarray
    torque: Interval
    ratio: Interval
    alone: Interval
    pulls: np.ndarray
    cases: int

    @property
    def width(self) -> float:
        """Half-width of the band, relative, on average over the speeds."""
        return half_width_of(self.torque)

    @property
    def width_alone(self) -> float:
        """The same from the engine file alone."""
        return half_width_of(self.alone)


def half_width_of(band: Interval) -> float:
    """Of a band, relative to its middle, on average."""
    return float(np.mean(0.5 * (band.high - band.low) / band.middle))


def next_manifold(
    description: Description,
    session: Session,
    name: str,
    folder: str | Path,
    count: int = USUAL,
    progress: ProgressCallback | None = None,
) -> NextManifold:
    """Predict a manifold from the pulls of another.

    Parameters
    ----------
    description : Description
        Of the engine file, with both among its candidates.
    session : Session
        Of the pulls (measure); the first manifold in it is the one that was run.
    name : str
        The manifold to predict.
    folder : str or Path
        Where finished points are kept: the same call goes on from them.
    count : int
        Engines that fit the file, to compute for the band.
    progress : callable, optional
        Called as progress(points done, points).

    Returns
    -------
    NextManifold

    Raises
    ------
    RequestError, ComputationError
        For a manifold that is not in the file, or is the one that was run, and for points that fail.
    """
    last = next(iter(session.overlays))
    if name not in description.runners or name == last:
        others = ", ".join(n for n in description.runners if n != last) or "none"
        raise RequestError(f"--next {name}: predict another candidate than '{last}', which was run: {others}")
    o = session.overlays[last]
    curve = o.curve.read_off()
    keep = ~o.curve.between
    if len(curve.rpm) < 2:
        raise RequestError(f"the pulls of {last} have readings at one speed only; two or more are needed")
    b = predict(description.with_runner(name), curve, None)["torque"]
    a = o.predicted["torque"][keep]
    both = np.isfinite(a) & np.isfinite(b)
    found = how_sure(
        description.only(last, name), curve.rpm[both], folder, count=count, base=last, progress=progress
    )
    ratio = quotient(found.curves, name, last, (b / a)[both])
    torque, wide = o.torque[keep][both], (o.torque_half_width / o.torque)[keep][both]
    alone = found.verdict.bands[name]
    scale = (
        o.correction[keep][both] * b[both] / alone.own
    )  # the air and mixture of the pulls, and the standard
    return NextManifold(
        name,
        last,
        session.standard,
        curve.rpm[both],
        times(torque, ratio, wide),
        ratio,
        Interval(*(scale * v for v in (alone.low, alone.own, alone.high, alone.middle))),
        wide,
        len(found.curves.torque),
    )


def quotient(curves: Ensemble, name: str, last: str, own: np.ndarray) -> Interval:
    """Predicted torque of one manifold over that of another, ``own`` in the air of the pulls."""
    k, j = curves.runners.index(name), curves.runners.index(last)
    over = curves.torque[:, k] / curves.torque[:, j] * (own * curves.own[j] / curves.own[k])
    low, high = quantiles(over)
    middle, cells = np.median(over, axis=0), curves.gap[k, j] * own
    return Interval(
        middle - np.hypot(middle - low, cells), own, middle + np.hypot(high - middle, cells), middle
    )


def times(torque: np.ndarray, ratio: Interval, wide: np.ndarray) -> Interval:
    """Measured torque, known within ``wide`` (relative; NaN: not known), times a quotient."""
    doubt = np.where(np.isfinite(wide), wide, 0.0) * ratio.middle
    low = ratio.middle - np.hypot(ratio.middle - ratio.low, doubt)
    high = ratio.middle + np.hypot(ratio.high - ratio.middle, doubt)
    return Interval(torque * low, torque * ratio.own, torque * high, torque * ratio.middle)
