"""Derived figures of one cylinder: volumes, valve events, firing angles."""

from dataclasses import dataclass

from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model.valves import open_window
from aircolumn.flow.cylinder.crank import swept_volume


@dataclass(frozen=True)
class Geometry:
    """Derived figures of one cylinder, SI.

    Valve events in degrees, 0 = firing top dead centre: *_opens and *_closes as the file states
    them (at the lift of the events), *_lifts and *_seats seat to seat: where the valve leaves its
    seat and is back on it.
    """

    swept: float
    clearance: float
    intake_opens: float
    intake_closes: float
    exhaust_opens: float
    exhaust_closes: float
    intake_lifts: float
    intake_seats: float
    exhaust_lifts: float
    exhaust_seats: float


def geometry_of(engine: Engine) -> Geometry:
    """Swept and clearance volume and valve events."""
    block = engine.block
    swept = swept_volume(block.bore, block.stroke, block.rod, block.pin_offset)
    iv, ev = engine.intake.valve, engine.exhaust.valve
    intake, exhaust = engine.intake_events(), engine.exhaust_events()
    return Geometry(
        swept,
        swept / (block.compression_ratio - 1.0),
        *intake,
        *exhaust,
        *open_window(iv, *intake),
        *open_window(ev, *exhaust),
    )


def firing_phases(engine: Engine) -> list[float]:
    """Firing top dead centre of each cylinder in degrees after that of cylinder 1, in order of
    cylinder number."""
    block = engine.block
    order = block.firing_order or list(range(1, block.cylinders + 1))
    angles = block.firing_angles or [720.0 * k / block.cylinders for k in range(block.cylinders)]
    at = dict(zip(order, angles, strict=True))
    return [(at[k] - at[1]) % 720.0 for k in range(1, block.cylinders + 1)]
