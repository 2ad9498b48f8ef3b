"""The figures of an operating point, from the cycles that repeat."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np

from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model.geometry import Geometry
from aircolumn.engine.model.ledger import STORED, Ledger, ledger_of
from aircolumn.engine.model.plenum_mean import PlenumMean
from aircolumn.engine.model.snapshot import Snapshot
from aircolumn.errors import ComputationError
from aircolumn.flow.cylinder.friction import fmep
from aircolumn.flow.network.run import Run
from aircolumn.point_figures import FIGURES

# Largest error of the mass and energy ledgers a point may have; the mesh method does not conserve.
LEDGER_GAP = {"conservative": 1e-6, "mesh": 0.05}


@dataclass(frozen=True)
class OperatingPoint:
    """Figures (SI, see FIGURES) and ledger of one converged speed (rev/min); ve_cylinder: VE of
    each cylinder computed, in order of cylinder number."""

    rpm: float
    figures: dict
    ledger: Ledger
    ve_cylinder: np.ndarray


@dataclass(frozen=True)
class Repeated:
    """The cycles that repeat: the snapshots around them, how many were marched before, and what
    they drew from."""

    snapshots: list[Snapshot]
    marched: int
    plenum: PlenumMean

    @property
    def period(self) -> int:
        """How many cycles."""
        return len(self.snapshots) - 1

    def per_cycle(self, name: str) -> float:
        """What a sum grew by in a cycle, mean of the cylinders computed."""
        before, after = self.snapshots[0], self.snapshots[-1]
        return float(np.mean(getattr(after, name) - getattr(before, name))) / self.period

    def each(self, name: str) -> np.ndarray:
        """A value at the end of each cycle (cycles, cylinders)."""
        return np.array([getattr(s, name) for s in self.snapshots[1:]])

    def mean(self, name: str) -> float:
        """Mean of the figure over cycles and cylinders."""
        return float(np.mean(self.each(name)))

    def into(self, reservoir: str) -> float:
        """kg that flowed into a reservoir in a cycle."""
        before, after = self.snapshots[0], self.snapshots[-1]
        return float(after.contents[reservoir][0] - before.contents[reservoir][0]) / self.period

    def through(self, ends: Sequence[int]) -> np.ndarray:
        """Mass, energy, fuel and burned gas that left through one of ``ends`` in a cycle (mean)."""
        passed = self.snapshots[-1].ends - self.snapshots[0].ends
        return passed[ends].sum(axis=0) / (self.period * len(ends))


def account(engine: Engine, run: Run, rpm: float, geometry: Geometry, cycles: Repeated) -> OperatingPoint:
    """The OperatingPoint of the cycles that repeat: means per cycle and cylinder computed. Raises
    ComputationError for figures that cannot be shown."""
    air = engine.intake.ambient
    full = geometry.swept * air.pressure / (run.network.gas.Ra * air.temperature)  # kg at VE 1
    ve_cylinder = np.mean(cycles.each("trapped_air"), axis=0) / full
    ledger = ledger_of(run, cycles.snapshots[0], cycles.snapshots[-1])
    delivered, escaped, fuel = _passed(run, cycles)
    per_second = rpm / 120.0  # cycles
    n, work = engine.block.cylinders, _work(engine, rpm, geometry, cycles)
    power = work["power"]
    found = {
        **work,
        **_filling(run, geometry, full, ve_cylinder, cycles),
        **_checks(engine, run, ledger, delivered, fuel, cycles),
        "ve_delivered": delivered / full,
        "lost_in_overlap": escaped / delivered,
        "blow_by": cycles.into(run.network.CRANKCASE)
        / len(run.network.cylinders)
        / cycles.mean("trapped_mass"),
        "air_flow": delivered * per_second * n,
        "fuel_flow": fuel * per_second * n,
        "bsfc": fuel * per_second * n / power if power > 0.0 else float("nan"),
    }
    figures = {name: found[name] for name in FIGURES}
    _check_balance(engine, rpm, figures)
    return OperatingPoint(rpm, figures, ledger, ve_cylinder)


def _work(engine: Engine, rpm: float, geometry: Geometry, cycles: Repeated) -> dict:
    """Mean pressures, torque and power; T = BMEP n Vd / (4 pi), P = T omega (four-stroke)."""
    peak_pressure = cycles.mean("peak_pressure")
    imep = cycles.per_cycle("work") / geometry.swept
    speed = 2.0 * engine.block.stroke * rpm / 60.0
    f = engine.friction
    friction = fmep(f.constant, f.peak_pressure, f.speed, f.speed_squared, peak_pressure, speed)
    bmep = imep - friction
    torque = bmep * geometry.swept * engine.block.cylinders / (4.0 * pi)
    return {
        "torque": torque,
        "power": torque * rpm * pi / 30.0,
        "bmep": bmep,
        "imep": imep,
        "pmep": -cycles.per_cycle("pumping") / geometry.swept,
        "fmep": friction,
        "peak_pressure": peak_pressure,
        "wall_heat": cycles.per_cycle("wall_heat"),
        "ca50": engine.combustion.ca50,
    }


def _passed(run: Run, cycles: Repeated) -> tuple[float, float, float]:
    """kg a cycle and cylinder: air through the intake valves, air that goes on through the exhaust
    valves, fuel."""
    intake = cycles.through(run.network.intake_valves())
    exhaust = cycles.through(run.network.exhaust_valves())
    delivered = intake[0] - intake[2] - intake[3]
    # What crevices kept from the flame leaves later, with its air; it did not go past the valves.
    unburned = cycles.mean("charge_fuel") - cycles.per_cycle("burned_fuel")
    hidden = max(unburned, 0.0) * float(run.chambers.air_fuel_ratio[0])
    escaped = max(-(exhaust[0] - exhaust[2] - exhaust[3]) - hidden, 0.0)
    return delivered, escaped, intake[2] + cycles.per_cycle("injected")


def _filling(run: Run, geometry: Geometry, full: float, ve_cylinder: np.ndarray, cycles: Repeated) -> dict:
    """What is in the cylinder when the intake valve shuts."""
    trapped = cycles.mean("trapped_air")
    return {
        "ve": trapped / full,
        "ve_plenum": trapped / (geometry.swept * cycles.plenum.air_density),
        "ve_spread": float(np.ptp(ve_cylinder)) / (trapped / full),
        "residual": cycles.mean("residual"),
        "charge_temperature": cycles.mean("charge_temperature"),
        "inlet_mach": cycles.plenum.inlet_mach,
        "plenum_pressure": cycles.plenum.pressure,
        "plenum_temperature": cycles.plenum.temperature,
    }


def _checks(
    engine: Engine, run: Run, ledger: Ledger, delivered: float, fuel: float, cycles: Repeated
) -> dict:
    """How far the point can be trusted."""
    computed = len(run.network.cylinders)
    breathed = cycles.period * computed * delivered
    alternate = np.ptp(cycles.each("trapped_air"), axis=0)
    return {
        "cycles": float(cycles.marched),
        "cylinders_computed": float(computed),
        "alternation": float(np.max(np.abs(alternate))) / cycles.mean("trapped_air"),
        "mass_error": abs(ledger.mass_gap) / breathed,
        "energy_error": abs(ledger.energy_gap)
        / (cycles.period * computed * fuel * engine.mixture.burnt.heating_value),
        "periodicity": abs(ledger.mass[STORED]) / (breathed * (1 + run.blocks.echo_phases.size)),
    }


def _check_balance(engine: Engine, rpm: float, figures: dict[str, float]) -> None:
    """Raise ComputationError for figures that cannot be shown."""
    lost = [k for k, v in figures.items() if k != "bsfc" and not np.isfinite(v)]
    if lost:
        raise ComputationError(f"at {rpm:g} rpm these are not finite: {', '.join(lost)}")
    if figures["ve"] <= 0.0:
        raise ComputationError(f"at {rpm:g} rpm the cylinder traps no fresh air")
    most = LEDGER_GAP[engine.numerics.method]
    for side in ("mass", "energy"):
        gap = figures[f"{side}_error"]
        if gap > most:
            raise ComputationError(
                f"at {rpm:g} rpm the {side} ledger does not close: {gap:.2g} of what passes is"
                f" missing, more than {most:g}"
            )
