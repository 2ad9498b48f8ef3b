"""Why the hump is where it is: the figures behind each hump and dip of a VE curve.

Everything is taken from the recorded cycle (trace.py), at the intake valve unless said; waves are
counted from the plenum's mean pressure, at which the column rests:

- launch: where the wave that runs back to the mouth is lowest while the valve is open (suction);
- travel: 6 N times the sum over the runner of dx/(a - u) + dx/(a + u), means over the open valve;
- due: launch + travel; peak: where the arriving wave stands highest after the launch, until the
  valve is shut;
- closing: the last CLOSING degrees before the valve is shut, weighted with its effective area. The
  arriving wave's pressure there is the wave's part; that of the wave running back, raised by the
  column being stopped, is the column's own (ram) part;
- order: swings of the shut runner in a cycle, 720 / (2 travel) from the travel, and from the
  crossings of the port pressure through its mean while the valve is shut (``counted``);
- left over: mean arriving wave over the first OPENING degrees after the valve opens;
- backflow: what passes the intake valve backwards, over what is trapped;
- overlap: mean pressure of the exhaust port less that of the intake port, both valves open;
- intake, exhaust: VE that is lost where the ends of intake or exhaust send no wave back
  (silenced.py).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.humps import humps
from aircolumn.curves.summary import loosely
from aircolumn.curves.tuning.silenced import in_parallel, silent_exhaust, silent_mouth, ve_with
from aircolumn.curves.tuning.trace import trace
from aircolumn.engine.description.given import engine_of
from aircolumn.errors import ComputationError, RequestError

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import ArrayLike

    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.reader import Description

CLOSING, OPENING = 60.0, 60.0  # deg
PROMINENCE = 0.01  # of VE: smaller humps and dips are not told


@dataclass(frozen=True)
class Cause:
    """Figures of one speed (SI, deg); see the head of this file."""

    rpm: float
    ve: float
    launch: float
    suction: float
    travel: float
    due: float
    peak: float
    compression: float
    shuts: float
    wave_part: float
    ram_part: float
    order: float
    counted: float
    left_over: float
    backflow: float
    overlap: float
    intake: float = float("nan")
    exhaust: float = float("nan")


@dataclass(frozen=True)
class Extremum:
    """A hump or dip of a VE curve. between: the computed speeds beside it, if they are so far apart
    that it may stand elsewhere (summary.loosely)."""

    kind: str
    rpm: float
    ve: float
    between: tuple[float, float] | None = None


def extrema(rpm: np.ndarray, ve: Any) -> list[Extremum]:
    """Humps and dips of a curve that stand out by PROMINENCE; end points are neither."""
    rpm, ve = np.asarray(rpm, dtype=float), np.asarray(ve, dtype=float)
    rpm, ve = rpm[np.isfinite(ve)], ve[np.isfinite(ve)]
    found = [
        Extremum(kind, float(rpm[k]), float(ve[k]), loosely(rpm, float(rpm[k])))
        for kind, values in (("hump", ve), ("dip", -ve))
        for k in humps(values, PROMINENCE)
    ]
    return sorted(found, key=lambda e: e.rpm)


def cause(cycle: xr.Dataset) -> Cause:
    """The figures of one trace."""
    angle = cycle.angle.values
    at_valve = cycle.isel(distance=-1)
    reference, shuts = cycle.attrs["reference_pressure_Pa"], cycle.attrs["intake_seats"]
    rpm, opens = cycle.attrs["rpm"], cycle.attrs["intake_opens"]
    arriving, leaving = at_valve.forward.values - reference, at_valve.backward.values - reference
    area = cycle.intake_area.values
    is_open = area > 0.0
    launch = float(angle[is_open][np.argmin(leaving[is_open])])
    travel = _travel(cycle, is_open, rpm)
    after = (angle >= launch) & (angle <= shuts)  # suction may grow to the very end
    peak = float(angle[after][np.argmax(arriving[after])])
    closing = (angle > shuts - CLOSING) & (angle <= shuts)
    opening = (angle > opens) & (angle <= opens + OPENING)
    both = is_open & (cycle.exhaust_area.values > 0.0)
    flow = cycle.intake_flow.values
    return Cause(
        rpm=float(rpm),
        ve=float(cycle.attrs["ve"]),
        launch=launch,
        suction=float(leaving[is_open].min()),
        travel=travel,
        due=launch + travel,
        peak=peak,
        compression=float(arriving[after].max()),
        shuts=float(shuts),
        wave_part=float(np.average(arriving[closing], weights=area[closing])),
        ram_part=float(np.average(leaving[closing], weights=area[closing])),
        order=360.0 / travel,
        counted=_swings(angle, at_valve.p.values, is_open, shuts, opens),
        left_over=float(arriving[opening].mean()),
        backflow=float(-flow[flow < 0.0].sum() / max(flow.sum(), 1e-12)),
        overlap=float((cycle.exhaust_p.values - at_valve.p.values)[both].mean()),
    )


def _travel(cycle: xr.Dataset, is_open: np.ndarray, rpm: float) -> float:
    """Degrees from the valve to the mouth and back."""
    a, u = (cycle[q].values[:, is_open].mean(axis=1) for q in ("a", "u"))
    x = cycle.distance.values
    slowness = 1.0 / (a - u) + 1.0 / (a + u)
    return float(6.0 * rpm * np.sum(0.5 * (slowness[1:] + slowness[:-1]) * np.diff(x)))


def _swings(angle: np.ndarray, p: np.ndarray, is_open: np.ndarray, shuts: float, opens: float) -> float:
    """Swings a cycle of the port pressure while the valve is shut; NaN if it hardly swings."""
    turned = (angle - shuts) % 720.0
    order = np.argsort(turned)
    shut = ~is_open[order]
    x, y = turned[order][shut], p[order][shut]
    y = y - y.mean()
    up = np.flatnonzero(np.diff(np.signbit(y)))
    if up.size < 2:
        return float("nan")
    crossings = x[up] - y[up] * (x[up + 1] - x[up]) / (y[up + 1] - y[up])
    return float(360.0 * (crossings.size - 1) / (crossings[-1] - crossings[0]))


def explain(
    engine: Engine | Description, rpm: ArrayLike, ve: ArrayLike, change: Callable | None = None
) -> list[tuple[Extremum, Cause, xr.Dataset]]:
    """What made each hump and dip of a VE curve.

    Parameters
    ----------
    engine : Engine or Description
        Of a Description the engine of the file.
    rpm, ve : array_like
        The curve: speeds, rev/min, and VE, of the same length.
    change : callable, optional
        See ``trace``.

    Returns
    -------
    list of (Extremum, Cause, xarray.Dataset)
        Each with the figures behind it (SI, deg) and its cycle.

    Raises
    ------
    ComputationError
        If a cycle does not repeat.
    RequestError
        For speeds and VE that do not belong together.
    """
    engine = engine_of(engine)
    rpm, ve = np.asarray(rpm, dtype=float), np.asarray(ve, dtype=float)
    if rpm.ndim != 1 or rpm.shape != ve.shape:
        raise RequestError(f"a VE for each speed is expected, not {ve.shape} for {rpm.shape}")
    found = extrema(rpm, ve)
    cycles = in_parallel(trace, ((engine, e.rpm, change) for e in found))
    causes = [cause(cycle) for cycle in cycles]
    if change is None:
        pairs = zip(causes, cycles, strict=True)
        causes = in_parallel(_with_worth, ((engine, c, cycle) for c, cycle in pairs))
    return list(zip(found, causes, cycles, strict=True))


def cause_at(engine: Engine, rpm: float) -> tuple[Cause, xr.Dataset]:
    """The figures behind VE at one speed, whether a hump is there or not, and its cycle. Raises
    ComputationError."""
    cycle = trace(engine, rpm)
    return _with_worth(engine, cause(cycle), cycle), cycle


def _with_worth(engine: Engine, c: Cause, cycle: xr.Dataset) -> Cause:
    """What the waves of either side are worth; not known where the engine does not run without."""
    silent = {
        "intake": silent_mouth(engine, float(cycle.attrs["reference_pressure_Pa"])),
        "exhaust": silent_exhaust(engine, float(cycle.exhaust_p.mean())),
    }
    worth = {}
    for side, without in silent.items():
        try:
            worth[side] = c.ve - ve_with(engine, c.rpm, without)
        except ComputationError:
            worth[side] = float("nan")
    return replace(c, **worth)


def beside(
    told: Sequence[tuple[Extremum, Cause, xr.Dataset]], k: int
) -> tuple[Extremum | None, Cause | None]:
    """The hump or dip next to one, to explain it by.

    Parameters
    ----------
    told : sequence
        What ``explain`` returned.
    k : int
        Number of the one that is to be explained.

    Returns
    -------
    (Extremum, Cause) or (None, None)
        Of the neighbour that differs most from it in VE; None where it stands alone.
    """
    own = told[k][0]
    near = [told[i] for i in (k - 1, k + 1) if 0 <= i < len(told) and told[i][0].kind != own.kind]
    return max(near, key=lambda item: abs(item[0].ve - own.ve), default=(None, None, None))[:2]
