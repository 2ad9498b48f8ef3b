"""Checks of an engine file that need more than one group of keys."""

from collections.abc import Callable
from typing import Any

from aircolumn.display_units import said_length
from aircolumn.engine.description.base import BY_CYLINDER, required
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.pipes import Runner
from aircolumn.engine.description.source import Source, problem
from aircolumn.engine.description.valves import ExhaustValve, IntakeValve, Valve
from aircolumn.errors import Problem
from aircolumn.flow.cylinder.valve_lift import seat_margin

#: Most of a circle that two to eight equal circles within it cover (seven: 7/9). Valves that lean
#: may be larger than the bore is wide: by a tenth (common practice, no source).
PACKED, LEANING = 0.78, 1.1
SHORTEST_OPEN, LONGEST_OPEN = 60.0, 500.0  # deg


def check_together(engine: Engine, runners: dict, source: Source) -> list[Problem]:
    """Checks that need more than one group of keys."""
    found = []

    def wrong(path: Any, message: Any) -> None:
        found.append(problem(source, path, message))

    _check_lengths(engine, runners, wrong)
    if found:  # no cylinder has a pipe of its own then
        return found
    _check_parts(engine, wrong)
    _check_each_cylinder(engine, wrong)
    if (engine.numerics.intake_cell or 0.0) > 0.25 * min([r.total_length for r in runners.values()] or [1.0]):
        wrong(("numerics", "intake_cell"), "must be at most a quarter of the shortest runner")
    for name, runner in runners.items():
        path = ("runners", name) if ("runners", name) in source.places else ("intake", "runner")
        if runner.first_bore is None:
            wrong(path, "the runner's bore needs both 'from' and 'to' (or one number)")
        if runner.total_length > 5.0:
            wrong(path, "the runner is longer than any duct could be: at most 5 m")
    _check_manifold(engine, runners, wrong)
    return found


def _check_parts(engine: Engine, wrong: Callable) -> None:
    """What concerns the parts of one cylinder."""
    _check_valve_fit(engine, wrong)
    for side, (opens, closes) in (
        ("intake", engine.intake_events()),
        ("exhaust", engine.exhaust_events()),
    ):
        _check_events(getattr(engine, side).valve, closes - opens, (side, "valve"), wrong)
    if engine.exhaust.port.first_bore is None:
        wrong(("exhaust", "port"), "the port's bore needs both 'from' and 'to' (or one number)")


def _check_each_cylinder(engine: Engine, wrong: Callable) -> None:
    """Check the parts of each cylinder that differs, where they do."""
    n = engine.block.cylinders
    for number in sorted({k for part in engine.of_each.values() for k in part.by_cylinder or ()}):
        theirs = {path for path, part in engine.of_each.items() if number in (part.by_cylinder or ())}

        def wrong_there(path: tuple, message: Any, theirs: Any = theirs, number: Any = number) -> None:
            if path[:2] in theirs:
                wrong((*path[:2], BY_CYLINDER, str(number), *path[2:]), message)

        if not 1 <= number <= n:
            for path in theirs:
                wrong((*path, BY_CYLINDER, str(number)), f"the engine has cylinders 1 to {n}")
        else:
            _check_parts(engine.of_cylinder(number), wrong_there)


def _check_lengths(engine: Engine, runners: dict[str, Runner], wrong: Callable) -> None:
    """A list by cylinder has an entry for each, wherever it stands."""
    n = engine.block.cylinders
    parts = engine.of_each | {("runners", name): runner for name, runner in runners.items()}
    for path, part in parts.items():
        differing = (((*path, BY_CYLINDER, str(k)), p) for k, p in (part.by_cylinder or {}).items())
        for where, pipe in [(path, part), *differing]:
            count = len(getattr(pipe, "lengths", None) or [0.0] * n)
            if count != n:
                wrong((*where, "lengths"), f"{count} lengths for {n} cylinders; give one for each")


def _check_manifold(engine: Engine, runners: dict[str, Runner], wrong: Callable) -> None:
    """What names cylinders must name those the engine has."""
    n = engine.block.cylinders
    if engine.intake.log is not None:
        _check_log(engine, runners, wrong)
    if engine.model == "single":
        _check_alike(engine, runners, wrong)
    collector = engine.exhaust.collector
    if collector is None:
        return
    path = ("exhaust", "collector")
    named = sorted(k for group in collector.groups or [list(range(1, n + 1))] for k in group)
    if named != list(range(1, n + 1)):
        wrong((*path, "groups"), f"groups must name each of the {n} cylinders once")
    for name, pipe in engine.exhaust.gathered.items():
        if pipe.first_bore is None:
            message = f"the {name}'s bore needs both 'from' and 'to' (or one number)"
            wrong(("exhaust", name), message)


def _check_log(engine: Engine, runners: dict[str, Runner], wrong: Callable) -> None:
    """Every cylinder has a place on it, and runners are no wider than it is there."""
    log, path = required(engine.intake.log), ("intake", "plenum", "log")
    n = engine.block.cylinders
    if len(log.runners_at) != n:
        message = f"{len(log.runners_at)} places for {n} cylinders; give one for each"
        wrong((*path, "runners_at"), message)
        return
    bores = [log.bore_at(x) for x in log.runners_at]
    for where, runner in {
        ("intake", "runner"): engine.intake.runner,
        **{("runners", name): r for name, r in runners.items()},
    }.items():
        if (runner.first_bore or 0.0) > min(bores):
            wrong(where, f"the runner's mouth is wider than the log there ({said_length(min(bores), 6)})")


def _check_alike(engine: Engine, runners: dict[str, Runner], wrong: Callable) -> None:
    """One cylinder can stand for all only if they are alike."""
    engines = [engine, *(engine.with_intake(runner=r) for r in runners.values())]
    for key in sorted({e.why_cylinders_differ for e in engines} - {""}):
        wrong(
            ("model",),
            f"'single' lets one cylinder stand for all, but {key} makes them differ; use manifold,"
            " or leave model out",
        )


def _check_valve_fit(engine: Engine, wrong: Callable) -> None:
    bore = engine.block.bore
    for side, valve in (("intake", engine.intake.valve), ("exhaust", engine.exhaust.valve)):
        path = (side, "valve", "diameter")
        if valve.diameter >= bore:
            wrong(path, f"the valve is larger than the cylinder bore ({said_length(bore, 6)})")
        elif valve.count * valve.diameter**2 >= PACKED * bore**2:
            wrong(path, f"{valve.count} valves of this size do not fit the cylinder bore")
    _check_side_by_side(engine.intake.valve, engine.exhaust.valve, bore, wrong)


def _check_side_by_side(intake: IntakeValve, exhaust: ExhaustValve, bore: float, wrong: Callable) -> None:
    """One valve of each kind beside the other, or their discs together, within the bore."""
    path = ("intake", "valve", "diameter")
    across = intake.diameter + exhaust.diameter
    if across > LEANING * bore:
        said = (
            f"an intake valve of {said_length(intake.diameter)} and an exhaust valve of"
            f" {said_length(exhaust.diameter)} do not fit side by side into a cylinder bore of"
            f" {said_length(bore)}, even if they lean"
        )
        wrong(path, said)
    elif sum(v.count * v.diameter**2 for v in (intake, exhaust)) > PACKED * bore**2:
        count = intake.count + exhaust.count
        wrong(path, f"{count} valves of these sizes do not fit the cylinder bore together")


def _check_events(valve: Valve, duration: float, path: tuple[str, str], wrong: Callable) -> None:
    if duration <= 0.0:
        wrong(path, f"the valve closes before it opens: the events leave {duration:g} deg open")
        return
    if not SHORTEST_OPEN <= duration <= LONGEST_OPEN:
        limits = f"must be from {SHORTEST_OPEN:g} to {LONGEST_OPEN:g} deg"
        wrong(path, f"the valve is open for {duration:g} deg; {limits}")
        return
    card = valve.lift
    if card.highest is None:
        return
    try:
        lobe = card.lobe(duration)
    except ValueError as error:
        wrong((*path, "lift", "durations"), str(error))
        return
    seat = duration / (1.0 - 2.0 * seat_margin(card.events_lift, card.highest, lobe.flank, lobe.nose))
    if seat > LONGEST_OPEN:
        wrong(
            (*path, "lift"),
            f"{duration:g} deg at {said_length(card.events_lift, 3)} of valve lift would be {seat:.0f}"
            f" deg seat to seat; at most {LONGEST_OPEN:g} deg (is the events' lift right?)",
        )
