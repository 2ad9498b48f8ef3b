"""A plenum that is a log: a duct cut where runners join it.

Runners are mouths in its wall (ends/junction.py); what the throttle loses it loses at the log's
beginning, where its jet widens (ends/bore_change.py behind a pipe).
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from aircolumn.engine.description.base import required
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.plenum import Log
from aircolumn.engine.model.engine_network import EngineNetwork
from aircolumn.engine.model.piping import Piping, mouth_loss
from aircolumn.flow.network.items import GasState


def add_log(net: EngineNetwork, log: Log, air: GasState, add_duct: Callable) -> None:
    """Add the segments of a log; the last is shut. add_duct(name, piping, state): declares a duct."""
    stops = [0.0, *log.places, log.total_length]
    for number, (start, stop) in enumerate(pairwise(stops), 1):
        piping = Piping()
        piping.add(log)
        piping.part = start, stop
        add_duct(net.log(number), piping, air)
    net.closed(net.logs[-1], "right")


def join_runners(net: EngineNetwork, engine: Engine) -> None:
    """Let the runners of all cylinders begin in the log."""
    log = required(engine.intake.log)
    for number, place in enumerate(log.places, 1):
        joining = [k for k in net.computed if log.runners_at[k - 1] == place]
        runners = [engine.intake.runner.of_cylinder(k) for k in joining]
        net.junction(
            (net.log(number), "right"),
            (net.log(number + 1), "left"),
            *((net.intake(k), "left") for k in joining),
            angles=[180.0, 0.0, *(log.runner_angle for _ in joining)],
            mouths=[None, None, *map(mouth_loss, runners)],
        )
