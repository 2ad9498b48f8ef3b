"""The control unit's table as --json prints it: cells by speed and load, SI; null out of reach."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from aircolumn.fuelling.session import ControlTable


@dataclass(frozen=True)
class MovedFound:
    """From the tuned table of ``old``: filling, the quotient and how well it is known; how many cells
    changed, were left within doubt and are out of reach."""

    old: str
    filling: np.ndarray
    ratio: np.ndarray
    known_to: np.ndarray
    alone_known_to: np.ndarray
    changed: int
    left: int
    beyond: int


@dataclass(frozen=True)
class MeteredFound:
    """Fuel, kg a cylinder and cycle; pulse, s; duty; what flow would do at the worst cell, kg/s."""

    fuel: np.ndarray
    pulse: np.ndarray
    duty: np.ndarray
    size: float


@dataclass(frozen=True)
class AskedByPulls:
    """What pulls ask of the table, at speeds rpm, rev/min: manifold pressure, Pa; filling measured and in the
    table; measured over table, less 1, and how well each is known by the scatter of the pulls (null of one
    pull); what filling is from."""

    rpm: np.ndarray
    manifold_pressure: np.ndarray
    measured: np.ndarray
    table: np.ndarray
    correction: np.ndarray
    known_to: float
    source: str
    pulls: int


@dataclass(frozen=True)
class FuellingFound:
    """The table: speeds, rev/min; loads, Pa or shares of opening; the throttle's angle, deg; filling by what
    it is referred to; air, kg a cylinder and cycle; lambda to be metered; manifold pressure, Pa; residual
    gas; trim of each cylinder, relative, (speeds, cylinders)."""

    runner: str
    referred_to: str
    rpm: np.ndarray
    loads: np.ndarray
    by_opening: bool
    angle: np.ndarray
    filling: np.ndarray
    air: np.ndarray
    lambda_target: np.ndarray
    manifold_pressure: np.ndarray
    residual: np.ndarray
    wide_open_pressure: np.ndarray
    moved: MovedFound | None
    metered: MeteredFound | None
    trim: np.ndarray | None
    asked: AskedByPulls | None

    @classmethod
    def of(cls, found: ControlTable) -> FuellingFound:
        """Of what was found."""
        m, at, d, log = found.moved, found.at, found.metered, found.log
        return cls(
            found.name,
            found.referred_to,
            at.rpm,
            at.loads,
            at.by_opening,
            at.angle,
            found.filling,
            found.air,
            found.target,
            at.figures["plenum_pressure"],
            at.figures["residual"],
            at.open["plenum_pressure"],
            None
            if m is None
            else MovedFound(
                found.own.old,
                m.values,
                m.ratio,
                m.doubt.ratio,
                m.doubt.alone,
                int(m.changed.sum()),
                int(m.left.sum()),
                int(m.beyond.sum()),
            ),
            None if d is None else MeteredFound(d.fuel, d.pulse, d.duty, d.size),
            found.trim,
            None
            if log is None
            else AskedByPulls(
                log.rpm,
                log.pressure,
                log.measured,
                log.table,
                log.correction,
                log.known_to,
                log.source,
                log.pulls,
            ),
        )
