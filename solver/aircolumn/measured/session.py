"""Everything ``pull`` does with one or two manifolds' files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.accuracy import with_chosen_cells
from aircolumn.curves.interest import all_speeds, interest
from aircolumn.engine.description.reader import Description
from aircolumn.errors import RequestError
from aircolumn.measured.atmosphere import check_draws_itself, check_standard
from aircolumn.measured.calibration import Calibration, calibrate, with_values
from aircolumn.measured.days import read_days
from aircolumn.measured.like_for_like import LikeForLike, like_for_like
from aircolumn.measured.measured_curve import measured_curve
from aircolumn.measured.overlay import FAILURE, Overlay, overlay, predict
from aircolumn.measured.range_figures import RangeFigures, range_figures
from aircolumn.measured.reading import PullFile

if TYPE_CHECKING:
    from aircolumn.measured.measured_curve import MeasuredCurve
    from aircolumn.protocols import ProgressCallback


@dataclass
class Session:
    """Results by runner name, in the order asked for: files, overlays, range figures (measured,
    predicted), what was found about the cells, the verdict on two manifolds, and calibration with the
    overlays it makes."""

    description: Description
    standard: str
    files: dict[str, PullFile]
    overlays: dict[str, Overlay]
    ranges: dict[str, tuple[RangeFigures, RangeFigures] | None]
    cells: str = ""
    verdict: LikeForLike | None = None
    calibration: Calibration | None = None
    calibrated: dict[str, Overlay] = field(default_factory=dict)

    def gaps(self) -> tuple[int, int]:
        """(how many points could not be predicted, of how many)."""
        reasons = [why for o in self.overlays.values() for why in o.predicted[FAILURE]]
        return sum(map(bool, reasons)), len(reasons)


def measure(
    description: Description,
    data: dict,
    standard: str = "j1349",
    fit: Sequence[str] = (),
    progress: ProgressCallback | None = None,
) -> Session:
    """Read measured pulls, correct, predict and compare.

    Parameters
    ----------
    description : Description
        Of the engine file.
    data : dict
        Runner name to data file, or to a list of them (several days), one or two runners.
    standard : str
        Atmosphere standard: j1349, j607, din70020 or iso1585.
    fit : sequence of str
        Unknowns to fit to the first and try on the second: discharge, fmep, walls, cam.
    progress : callable, optional
        Called as progress(points done, None).

    Returns
    -------
    Session

    Raises
    ------
    InputError, RequestError, ComputationError
        For a file that cannot be used, a request that cannot be met, points that fail.
    """
    _check(description, data, standard)
    check_draws_itself(description.engine)
    notes = description.engine.pull
    files = {name: read_days(path, notes) for name, path in data.items()}
    engines = {name: description.with_runner(name) for name in data}
    curves = {n: measured_curve(f, engines[n], n, standard) for n, f in files.items()}
    _check_in_common(curves)
    speeds = np.concatenate([c.rpm for c in curves.values()])
    alike, cells = with_chosen_cells(list(engines.values()), speeds)
    engines = dict(zip(engines, alike, strict=True))
    tell = _Tally(progress)
    calibration = None
    if fit:
        first = next(iter(curves))
        calibration = calibrate(engines[first], curves[first].read_off(), fit, tell)
    overlays = {n: overlay(engines[n], c, predict(engines[n], c, tell.part())) for n, c in curves.items()}
    ranges = {n: _ranges(description, o) for n, o in overlays.items()}
    session = Session(description, standard, files, overlays, ranges, cells, calibration=calibration)
    if len(curves) == 2:
        one, other = curves.values()
        session.verdict = like_for_like(one, other, notes.bands)
    if calibration is not None:
        for n, c in curves.items():
            tuned = with_values(engines[n], calibration.values)
            session.calibrated[n] = overlay(tuned, c, predict(tuned, c, tell.part()))
    return session


def _check(description: Description, data: dict[str, Path], standard: str) -> None:
    check_standard(standard)
    if not 1 <= len(data) <= 2:
        raise RequestError("give one data file, or two of different manifolds to compare")
    for name in data:
        if name not in description.runners:
            known = ", ".join(description.runners)
            raise RequestError(f"no runner '{name}' in {description.path}; there are: {known}")


def _check_in_common(curves: dict[str, MeasuredCurve]) -> None:
    """Raise RequestError if two manifolds have no speed in common."""
    speeds = [set(c.rpm) for c in curves.values()]
    if len(speeds) == 2 and not speeds[0] & speeds[1]:
        said = " and ".join(f"{n} ({c.rpm[0]:.0f} to {c.rpm[-1]:.0f} rpm)" for n, c in curves.items())
        raise RequestError(f"the pulls of {said} have no engine speed in common")


def _ranges(description: Description, o: Overlay) -> tuple[RangeFigures, RangeFigures] | None:
    """Measured and predicted figures over the range of interest, or over all speeds measured."""
    rpm = o.curve.rpm
    span = interest(description.engine.speeds, rpm) or all_speeds(rpm)
    if len(rpm) < 2:
        return None
    rate = float(o.curve.readings["sweep_rate"].mean())
    read, predicted = (range_figures(rpm, t, span, rate) for t in (o.torque, o.torque_predicted))
    return read, predicted


class _Tally:
    """Adds up the points of one computation after another."""

    def __init__(self, progress: ProgressCallback | None) -> None:
        self.progress = progress or (lambda done, total: None)
        self.done = 0

    def __call__(self, done: int) -> None:
        self.done = done
        self.progress(done, None)

    def part(self) -> Callable:
        """A progress function for a computation that counts from 0."""
        before = self.done
        return lambda done, _: self(before + done)
