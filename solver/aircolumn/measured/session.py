"""Everything ``pull`` does with one or two manifolds' files."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.accuracy import with_chosen_cells
from aircolumn.curves.interest import all_speeds, interest
from aircolumn.engine.description.given import description_of
from aircolumn.engine.description.reader import Description
from aircolumn.errors import RequestError, no_such
from aircolumn.measured.atmosphere import OBSERVED, check_draws_itself, check_standard
from aircolumn.measured.calibration import Calibration, calibrate, with_values
from aircolumn.measured.impossible import check_possible
from aircolumn.measured.like_for_like import LikeForLike, like_for_like
from aircolumn.measured.logs.days import as_one_file, in_order
from aircolumn.measured.logs.pull_file import PullFile
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.measured.measured_curve import common_speeds, measured_curve
from aircolumn.measured.overlay import FAILURE, Overlay, overlay, predict
from aircolumn.measured.range_figures import RangeFigures, range_figures

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.measured import Measured
    from aircolumn.measured.measured_curve import MeasuredCurve
    from aircolumn.protocols import ProgressCallback

USUAL_STANDARD = "j1349"
PullData = Mapping[str, str | Path | Sequence[str | Path]] | Sequence[tuple[str, str | Path]]


@dataclass
class Session:
    """Results by runner name, in the order asked for: files, overlays, range figures (measured,
    predicted), what was found about the cells, the verdict on two manifolds, calibration with the overlays it
    makes, and the next manifold (study/bands/next_manifold.py), if asked for."""

    description: Description
    standard: str
    files: dict[str, PullFile]
    overlays: dict[str, Overlay]
    ranges: dict[str, tuple[RangeFigures, RangeFigures] | None]
    cells: str = ""
    verdict: LikeForLike | None = None
    calibration: Calibration | None = None
    calibrated: dict[str, Overlay] = field(default_factory=dict)
    next: Any = None

    def gaps(self) -> tuple[int, int]:
        """(how many points could not be predicted, of how many)."""
        reasons = [why for o in self.overlays.values() for why in o.predicted[FAILURE]]
        return sum(map(bool, reasons)), len(reasons)


def measure(
    description: Description,
    data: PullData,
    standard: str = "",
    fit: Sequence[str] = (),
    progress: ProgressCallback | None = None,
) -> Session:
    """Read measured pulls, correct, predict and compare.

    Parameters
    ----------
    description : Description
        Of the engine file.
    data : dict, or sequence of pairs
        Runner name to data file, or to a list of them (several days), one or two runners; as pairs (name,
        file) in the order in which they were run, so that a runner that comes back tells the drift.
    standard : str
        Atmosphere standard: j1349, j607, din70020 or iso1585, or "observed". Left out: j1349, of an engine
        with supplied air observed.
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
    description = description_of(description, "pulls are of its candidates")
    named = _as_named(data)
    names = list(dict.fromkeys(name for name, _ in named))
    standard = standard or standard_for(description.engine)
    _check(description, names, standard)
    notes = description.engine.pull
    files = _files(named, notes)
    engines = {name: description.with_runner(name) for name in names}
    at = common_speeds(list(files.values()), notes)
    curves = {n: measured_curve(f, engines[n], n, standard, at) for n, f in files.items()}
    for name, curve in curves.items():
        check_possible(files[name], engines[name], curve)
    _check_in_common(curves)
    speeds = np.concatenate([c.rpm for c in curves.values()])
    alike, cells = with_chosen_cells(list(engines.values()), speeds)
    engines = dict(zip(engines, alike, strict=True))
    tell = _Tally(progress)
    calibration = None
    if fit and not next(iter(curves.values())).level_known:
        raise RequestError(
            "torque at the wheels with losses that are not known cannot be fitted: state pull.wheel.losses"
        )
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


def standard_for(engine: Engine) -> str:
    """What torque is compared at if nothing is asked for: the factors of the standards are not for supplied
    air."""
    return OBSERVED if engine.intake.supply is not None else USUAL_STANDARD


def _as_named(data: PullData) -> list[tuple[str, Path]]:
    """(runner, file) in the order in which they were run."""
    pairs = data.items() if isinstance(data, Mapping) else data
    return [
        (name, Path(path))
        for name, paths in pairs
        for path in ([paths] if isinstance(paths, (str, Path)) else paths)
    ]


def _files(named: Sequence[tuple[str, Path]], notes: Measured) -> dict[str, PullFile]:
    """The files of each runner together, the pulls in the order in which they were run."""
    read = in_order([read_pulls(path, notes) for _, path in named])
    names = dict.fromkeys(name for name, _ in named)
    return {
        name: as_one_file([f for (n, _), f in zip(named, read, strict=True) if n == name]) for name in names
    }


def _check(description: Description, data: Sequence[str], standard: str) -> None:
    if standard != OBSERVED:
        check_standard(standard)
        check_draws_itself(description.engine)
    if not 1 <= len(data) <= 2:
        raise RequestError("give one data file, or two of different manifolds to compare")
    for name in data:
        if name not in description.runners:
            raise RequestError(no_such("runner", name, description.runners, f" in {description.path}"))


def _check_in_common(curves: dict[str, MeasuredCurve]) -> None:
    """Raise RequestError if two manifolds have no speed in common."""
    speeds = [set(c.rpm) for c in curves.values()]
    if len(speeds) == 2 and not speeds[0] & speeds[1]:
        said = " and ".join(f"{n} ({c.rpm[0]:.0f} to {c.rpm[-1]:.0f} rpm)" for n, c in curves.items())
        raise RequestError(f"the pulls of {said} have no engine speed in common")


def _ranges(description: Description, o: Overlay) -> tuple[RangeFigures, RangeFigures] | None:
    """Measured and predicted figures over the range that matters, or over all speeds measured."""
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
