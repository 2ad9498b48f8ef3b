"""Measured traces beside the model's, as --json prints them (SI)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from aircolumn.measured.traces.alone import Explained
from aircolumn.measured.traces.compare import Harmonic, Ringing
from aircolumn.measured.traces.indicated import Burn

if TYPE_CHECKING:
    from aircolumn.measured.traces.session import OfCylinder, TraceSession


@dataclass(frozen=True)
class PlusMinus:
    """A value and the half-width of its 95 % interval."""

    value: float
    plus_minus: float


@dataclass(frozen=True)
class Offset:
    """By how much the file's angles are too large, deg."""

    offset: float
    plus_minus: float


@dataclass(frozen=True)
class ChannelFound:
    """A channel: where it is, root mean square off the model, mean level added, Pa, and its harmonics."""

    place: str
    distance: float | None
    off_the_model: float
    level_added: float
    harmonics: list[Harmonic]


@dataclass(frozen=True)
class Exponents:
    """Of compression and expansion."""

    compression: float
    expansion: float


@dataclass(frozen=True)
class CylinderFound:
    """Mean pressures, exponents and burn."""

    imep: float
    imep_variation: float | None
    imep_gross: float
    peak_pressure: float
    peak_angle: float
    exponents: Exponents
    exponents_model: Exponents
    burned_10_50_90: list[float] | None
    burned_10_50_90_model: list[float] | None
    heat: float | None
    heat_model: float | None
    burn: Burn | None

    @classmethod
    def of(cls, cylinder: OfCylinder, burn: Burn | None) -> CylinderFound:
        """burn: that of the fitted file, if there is one."""
        found, release = cylinder.indicated, cylinder.release
        return cls(
            imep=float(found.imep.mean()),
            imep_variation=found.variation,
            imep_gross=float(found.gross.mean()),
            peak_pressure=float(found.peak.mean()),
            peak_angle=float(found.peak_angle.mean()),
            exponents=Exponents(*found.exponents),
            exponents_model=Exponents(*found.exponents_due),
            burned_10_50_90=None if release is None else release.angles.mean(axis=0).tolist(),
            burned_10_50_90_model=None if release is None else list(release.due),
            heat=None if release is None else float(release.heat.mean()),
            heat_model=None if release is None else release.heat_due,
            burn=burn or cylinder.burn,
        )


@dataclass(frozen=True)
class TracesFound:
    """Channels, ringing, causes, and what was fitted."""

    rpm: float
    cycles: int
    channels: dict[str, ChannelFound]
    ringing: dict[str, Ringing]
    cylinder: CylinderFound | None
    explained: list[Explained]
    dead_centre: Offset | None
    fitted: dict[str, PlusMinus]

    @classmethod
    def of(cls, s: TraceSession) -> TracesFound:
        """Of a session."""
        fit, centre = s.fit, s.dead_centre
        return cls(
            rpm=s.rpm,
            cycles=s.cycles.count,
            channels={
                name: ChannelFound(
                    channel.place,
                    channel.distance,
                    s.rms[name],
                    s.levels.get(name, (0.0, 0.0))[0],
                    s.harmonics[name],
                )
                for name, channel in s.channels.items()
            },
            ringing=s.ringing,
            cylinder=None if s.cylinder is None else CylinderFound.of(s.cylinder, s.burn),
            explained=s.explained,
            dead_centre=None if centre is None else Offset(centre.offset, centre.plus_minus),
            fitted={}
            if fit is None
            else {n: PlusMinus(v, fit.half_widths[n]) for n, v in fit.values.items()},
        )
