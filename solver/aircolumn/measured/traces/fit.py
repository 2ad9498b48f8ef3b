"""Causes fitted to traces: what is wrong in the model, or in the readings, by least squares.

With the readings r(angle) of a channel, the model's pressure p, and causes x (of the engine), t (top dead
centre of the file too late by t), g (what the channel shows is g times what there is) and d (a level too low
by d),

    r(angle) = g p(angle - t; x) - d + noise

is fitted by Gauss-Newton steps, each with the model marched once more for every cause of the engine, none
longer than is plausible; the first length or temperature is that of the ringing (compare.py). Weights
are those of the spread between cycles; of a fired cylinder only what lies outside of combustion and expansion
counts. As the last step is linear it is taken for every cycle by itself: the spread of these values between
cycles, whatever the noise's correlation along the cycle and less a steady drift, gives the standard error of
their mean and Student's interval (the "method of batch means"; any text on statistics).

Refused: causes that go together (the collinearity index of Brun, Reichert & Kuensch 2001, as in
calibration.py); told: those whose interval is wider than is plausible.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import t as student

from aircolumn.display_units import percent
from aircolumn.errors import RequestError
from aircolumn.measured.calibration import MIXED
from aircolumn.measured.traces.causes import (
    CAUSES,
    GAIN,
    OF_CHANNELS,
    PEG,
    TDC,
    at_least,
    cause_of,
    with_causes,
)
from aircolumn.measured.traces.cycles import AT, Cycles
from aircolumn.measured.traces.predicted import Predicted, predicted, slope, turned

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.traces import TraceChannel

STEPS = 10  # Gauss-Newton
CLOSE, NO_MATTER = 0.003, 0.03  # close enough: no further than so much of a cause's step, or of its interval
MOST_COLLINEAR = 15.0  # more than of curves: what a trace says weakly is counted in the intervals
LEAST_NOISE = 1e-3  # of a channel's amplitude
OUT_OF_COMBUSTION = (200.0, 690.0)  # deg
CONFIDENCE = 0.95
MORE_THAN_NOISE = 2.0
DRIFTS_FROM = 8  # cycles
FARTHEST = 3.0  # times what is plausible, in a fit
LONGEST = 0.5  # of what is plausible: no step of a fit goes further
MOST_EXPLAINED = 0.9  # of the difference: with less, something else is wrong as well
PROBES, NEAR, TWO_SIDED = 6, 0.1, 1.96  # of the model's roughness; of a cause's step


@dataclass(frozen=True, eq=False)
class TraceFit:
    """values, half_widths (each alone, 95 %) by cause, SI; correlation; before, after: root mean square of
    the difference by channel, Pa; noise: standard error of the mean by channel, Pa; engine: with what was
    found; model: its signals as the file would show them; explains: share of the weighted squares of the
    difference that has gone."""

    values: dict[str, float]
    half_widths: dict[str, float]
    correlation: np.ndarray
    before: dict[str, float]
    after: dict[str, float]
    noise: dict[str, float]
    engine: Engine
    model: np.ndarray
    explains: float

    @property
    def doubtful(self) -> str | None:
        """Why an engine file of what was found would mislead; None if it would not."""
        if self.implausible:
            return f"{', '.join(self.implausible)} is not plausible, so something else is wrong"
        if self.left and self.explains < MOST_EXPLAINED:
            return (
                f"what was fitted explains {percent(max(self.explains, 0.0), '.0f')} of the difference:"
                " something else is wrong as well"
            )
        return None

    @property
    def left(self) -> list[str]:
        """Channels off the fitted model by more than noise explains: something else is wrong as well."""
        return [n for n, rms in self.after.items() if rms > MORE_THAN_NOISE * self.noise[n]]

    @property
    def implausible(self) -> list[str]:
        """Causes whose value no such engine, or file, has."""
        pairs = ((n, cause_of(n)) for n in self.values)
        return [n for n, cause in pairs if abs(self.values[n] - cause.neutral) > cause.plausible]

    @property
    def undetermined(self) -> list[str]:
        """Causes whose interval is wider than is plausible."""
        return [n for n, wide in self.half_widths.items() if wide > cause_of(n).plausible]


@dataclass(eq=False)
class TraceProblem:
    """What is fitted: traces of some channels at one speed, and the model behind them."""

    engine: Engine
    rpm: float
    channels: Mapping[str, TraceChannel]
    cycles: Cycles
    held: Sequence[str] = ()
    workers: int = 2
    motored: bool = False

    def __post_init__(self) -> None:
        names = self.cycles.names
        amplitude = np.sqrt(
            np.mean((self.cycles.mean - self.cycles.mean.mean(axis=1, keepdims=True)) ** 2, axis=1)
        )
        self.counts = np.ones((len(names), AT.size))
        for k, name in enumerate(names):
            if self.channels[name].place == "cylinder" and not self.motored:
                self.counts[k] = (OUT_OF_COMBUSTION[0] <= AT) & (OUT_OF_COMBUSTION[1] >= AT)
        spread = self.cycles.spread**2
        noise = np.sqrt((spread * self.counts).sum(axis=1) / self.counts.sum(axis=1))
        self.noise = np.maximum(noise, LEAST_NOISE * amplitude)
        kept = np.array([[float(name not in self.held)] for name in names])
        self.weights = kept * self.counts / self.noise[:, None]

    @property
    def standard_errors(self) -> list[float]:
        """Of the mean of each channel, Pa."""
        return [float(v) for v in self.noise / np.sqrt(self.cycles.count)]

    def models(self, at: Sequence[dict[str, float]]) -> list[Predicted]:
        """The model with several sets of causes, marched together."""
        engines = [with_causes(self.engine, values) for values in at]
        with ThreadPoolExecutor(self.workers) as pool:
            return list(pool.map(lambda e: predicted(e, self.rpm, self.channels, self.motored), engines))

    def shown(self, model: Predicted, values: Mapping[str, float]) -> np.ndarray:
        """The model's signals as the file would show them."""
        return self.as_shown(turned(model.signals, values.get(TDC, 0.0)), values)

    def as_shown(self, signals: np.ndarray, values: Mapping[str, float]) -> np.ndarray:
        """Signals with the gain and the level of their channels."""
        gains, levels = (
            np.array([[values.get(f"{kind} {name}", neutral)] for name in self.cycles.names])
            for kind, neutral in ((GAIN, 1.0), (PEG, 0.0))
        )
        return gains * signals - levels

    def corrected(self, values: Mapping[str, float]) -> np.ndarray:
        """The readings (channels, cycles, angles) without the faults that are the file's own."""
        return np.array(
            [
                turned(
                    (r + values.get(f"{PEG} {name}", 0.0)) / values.get(f"{GAIN} {name}", 1.0),
                    -values.get(TDC, 0.0),
                )
                for name, r in zip(self.cycles.names, self.cycles.readings, strict=True)
            ]
        )

    def columns(self, base: Predicted, causes: Sequence[str], values: dict[str, float]) -> np.ndarray:
        """d(signals as shown)/d(cause): (causes, channels, angles), by differences to both sides of ``base``:
        from one side causes that nearly go together would be told apart so badly that a fit creeps."""
        own = [n for n in causes if cause_of(n).apply is not None]
        places = [(n, at_least(n, values[n] + by * CAUSES[n].step)) for by in (0.5, -0.5) for n in own]
        models = self.models([{**values, n: v} for n, v in places])
        slopes = zip(own, places, models, places[len(own) :], models[len(own) :], strict=False)
        turn, gains = values.get(TDC, 0.0), {n: v for n, v in values.items() if n.startswith(GAIN)}
        found = {
            n: self.as_shown(turned((ahead.signals - behind.signals) / (up - down), turn), gains)
            for n, (_, up), ahead, (_, down), behind in slopes
        }
        shown = turned(base.signals, turn)
        for n in causes:
            kind, _, channel = n.partition(" ")
            if n == TDC:
                found[n] = self.as_shown(-slope(shown), gains)
            elif kind in OF_CHANNELS:
                k = self.cycles.names.index(channel)
                found[n] = np.zeros_like(shown)
                found[n][k] = shown[k] if kind == GAIN else -1.0
        return np.array([found[n] for n in causes])

    def rms(self, difference: np.ndarray, whole: bool = False) -> dict[str, float]:
        """Root mean square by channel, Pa, where a channel counts, or of the whole cycle; of those held out
        without their level, which nothing has fitted."""
        difference = difference.copy()
        counts = np.ones_like(self.counts) if whole else self.counts
        for k, name in enumerate(self.cycles.names):
            if name in self.held:
                difference[k] -= np.average(difference[k], weights=self.counts[k])
        mean = (difference**2 * counts).sum(axis=1) / counts.sum(axis=1)
        return dict(zip(self.cycles.names, np.sqrt(mean).tolist(), strict=True))


def fit_traces(
    problem: TraceProblem,
    causes: Sequence[str],
    progress: Callable | None = None,
    start: Mapping[str, float] | None = None,
) -> TraceFit:
    """Fit causes to traces.

    Parameters
    ----------
    problem : TraceProblem
    causes : sequence of str
        Of CAUSES; ``peg NAME`` for the level of a channel.
    progress : callable, optional
        progress(done, total) of the steps.
    start : mapping, optional
        Values to begin with, of some causes, SI.

    Returns
    -------
    TraceFit

    Raises
    ------
    RequestError
        For causes that the traces cannot tell apart.
    ComputationError
        If the model cannot be marched.
    """
    neutral = {n: cause_of(n).neutral for n in causes}
    values = neutral | {n: v for n, v in (start or {}).items() if n in neutral}
    first, *others = problem.models([neutral] if values == neutral else [neutral, values])
    base = others[0] if others else first
    off = problem.cycles.mean - problem.shown(first, neutral)
    scales = np.array([cause_of(n).step for n in causes])
    longest = LONGEST * np.array([cause_of(n).plausible for n in causes])
    for step in range(STEPS):
        if progress is not None:
            progress(step, STEPS)
        columns = problem.columns(base, causes, values)
        flat = (columns * problem.weights).reshape(len(causes), -1).T
        check_apart(flat, scales, causes)
        estimator = np.linalg.pinv(flat)
        residual = (problem.cycles.mean - problem.shown(base, values)) * problem.weights
        change = np.clip(estimator @ residual.ravel(), -longest, longest)
        values = {n: at_least(n, values[n] + float(c)) for n, c in zip(causes, change, strict=True)}
        _check_range(values)
        (base,) = problem.models([values])
        shown = problem.shown(base, values)
        single = _by_cycle(problem, shown, estimator)
        if np.all(np.abs(change) < np.maximum(CLOSE * scales, NO_MATTER * _half_widths(single, flat))):
            break
    rough = _roughness(problem, base, values, columns, estimator, scales)
    values = {n: values[n] + float(v) for n, v in zip(causes, single.mean(axis=0), strict=True)}
    half = np.hypot(_half_widths(single, flat), TWO_SIDED * rough)
    left = problem.cycles.mean - problem.shown(base, values)
    squares = [float(np.sum((d * problem.weights) ** 2)) for d in (left, off)]
    return TraceFit(
        values,
        dict(zip(causes, half.tolist(), strict=True)),
        np.atleast_2d(np.corrcoef(single.T)) if len(single) > 2 else _correlation(flat),
        problem.rms(off),
        problem.rms(left),
        dict(zip(problem.cycles.names, problem.standard_errors, strict=True)),
        with_causes(problem.engine, values),
        shown,
        1.0 - squares[0] / max(squares[1], 1e-30),
    )


def _by_cycle(problem: TraceProblem, shown: np.ndarray, estimator: np.ndarray) -> np.ndarray:
    """What each cycle by itself would change, by the last straight lines: (cycles, causes)."""
    own = (problem.cycles.readings - shown[:, None]) * problem.weights[:, None]
    return np.einsum("kj,ij->ik", estimator, np.moveaxis(own, 1, 0).reshape(problem.cycles.count, -1))


def _check_range(values: dict[str, float]) -> None:
    """Raise RequestError for a cause that has left all range: the next model could not even be marched."""
    for name, value in values.items():
        cause = cause_of(name)
        if abs(value - cause.neutral) > FARTHEST * cause.plausible:
            raise RequestError(
                f"the fit drives {name} to where nothing is ({cause.meaning} {value:.3g} in SI units): it is"
                " not what is wrong, or angle and levels are; look at these first, or leave it out of --fit"
            )


def _half_widths(single: np.ndarray, flat: np.ndarray) -> np.ndarray:
    """Of Student's interval of each cause, from its values cycle by cycle (cycles, causes)."""
    n = len(single)
    if n < 3:  # no spread to go by: as if every reading had noise of its own
        return 1.96 * np.sqrt(np.diag(np.linalg.inv(flat.T @ flat)) / n)
    freedom = n - 1
    rest = single - single.mean(axis=0)
    if n >= DRIFTS_FROM:  # a steady drift is no noise of the mean
        order = np.arange(n) - 0.5 * (n - 1)
        rest = rest - np.outer(order, order @ rest / (order @ order))
        freedom = n - 2
    error = np.sqrt((rest**2).sum(axis=0) / freedom / n)
    return float(student.ppf(0.5 * (1.0 + CONFIDENCE), freedom)) * error


def _roughness(
    problem: TraceProblem,
    base: Predicted,
    values: dict[str, float],
    columns: np.ndarray,
    estimator: np.ndarray,
    scales: np.ndarray,
) -> np.ndarray:
    """Standard deviation of the causes that the model's own roughness makes (cells that come and go, cycles
    that repeat within a tolerance): from how far small changes miss the straight line."""
    rng = np.random.default_rng(0)
    moves = NEAR * scales * rng.choice([-1.0, 1.0], size=(PROBES, scales.size))
    names = list(values)
    own = np.array([cause_of(n).apply is not None for n in names])
    if not own.any():
        return np.zeros(scales.size)
    moves[:, ~own] = 0.0
    at = [{n: values[n] + d for n, d in zip(names, move, strict=True)} for move in moves]
    missed = []
    for move, model in zip(moves, problem.models(at), strict=True):
        line = np.tensordot(move, columns, axes=1)
        off = (problem.shown(model, values) - problem.shown(base, values) - line) * problem.weights
        missed.append(estimator @ off.ravel())
    return np.sqrt(np.mean(np.square(missed), axis=0) / 2.0)  # both ends are rough


def _correlation(flat: np.ndarray) -> np.ndarray:
    covariance = np.linalg.inv(flat.T @ flat)
    deviation = np.sqrt(np.diag(covariance))
    return covariance / np.outer(deviation, deviation)


def check_apart(flat: np.ndarray, scales: np.ndarray, causes: Sequence[str]) -> None:
    """Raise RequestError if some of the causes do the same to the traces; flat: (readings, causes)."""
    sizes = np.linalg.norm(flat, axis=0)
    silent = [n for n, size, scale in zip(causes, sizes, scales, strict=True) if size * scale < 1.0]
    if silent:
        raise RequestError(f"these traces say nothing of {', '.join(silent)}; leave it out of --fit")
    eigenvalues, vectors = np.linalg.eigh((flat / sizes).T @ (flat / sizes))
    if eigenvalues[0] > 0.0 and 1.0 / np.sqrt(eigenvalues[0]) < MOST_COLLINEAR:
        return
    mixed = [n for n, part in zip(causes, vectors[:, 0], strict=True) if abs(part) > MIXED]
    raise RequestError(
        f"these traces cannot tell {' and '.join(mixed)} apart; fit fewer, or measure at another place"
    )
