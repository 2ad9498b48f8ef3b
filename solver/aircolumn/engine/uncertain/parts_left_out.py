"""Parts and laws that an engine file may leave out, and what an engine then may have instead: what stands
ahead of the throttle, how primaries end, ports between what is stated of them, laws of heat.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import pi, sqrt
from typing import TYPE_CHECKING, Any

from aircolumn.engine.description.installed import BOX, DUCT, brings, filter_and_ducts
from aircolumn.engine.description.places import Path, is_stated, value_at
from aircolumn.engine.description.surrounded import AROUND
from aircolumn.engine.uncertain.alternatives import Alternative, Cooled, OneOf, Scaled, Waisted

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine

Change = Callable[[dict, "Engine"], Callable[[dict, float], dict] | None]
COLLECTOR_LENGTH = 0.45  # m
PITCH = 1.15  # from cylinder to cylinder over the bore; common practice, no source
WALLS = 3.0  # what cools a wall is true to a factor of four


def _collector(data: dict, engine: Engine) -> OneOf | None:
    """None, or a usual one for primaries that end in the open: four at most in one."""
    n, primary = engine.block.cylinders, engine.exhaust.primary
    if is_stated(data, ("exhaust", "collector")) or n == 1 or engine.exhaust.silencer is not None:
        return None
    bore = sqrt(3.0) * primary.last_bore
    pipe: dict[str, Any] = {"length": f"{1e3 * COLLECTOR_LENGTH:g} mm", "bore": f"{1e3 * bore:.3g} mm"}
    pipe["wall_temperature"] = "350 degC"
    if n > 4:
        pipe["groups"] = [list(range(1, n // 2 + 1)), list(range(n // 2 + 1, n + 1))]
    sizes = (COLLECTOR_LENGTH, "length"), (bore, "length")
    usual = Alternative(0.5, pipe, "a collector of {} and {}", sizes)
    return OneOf(("exhaust", "collector"), (Alternative(0.5, None, "none"), usual))


def _where_no_inlet(data: dict, engine: Engine) -> bool:
    return engine.intake.throttle is not None and not is_stated(data, ("intake", "inlet"))


def _inlet(data: dict, engine: Engine) -> OneOf | None:
    """What may stand ahead of the throttle: nothing, a pipe with a filter on its end, or an airbox between
    two pipes, in proportion to throttle and displacement."""
    throttle = engine.intake.throttle
    if throttle is None or not _where_no_inlet(data, engine):
        return None
    block = engine.block
    displacement = 0.25 * pi * block.bore**2 * block.stroke * block.cylinders  # m3
    wide = f"{1e3 * throttle.bore:.4g} mm"
    pipe = {"length": DUCT, "bore": wide, "wall_temperature": "30 degC"}
    alone: list[dict[str, Any]] = [{"pipe": pipe}]
    short, long = (
        filter_and_ducts(pipe, "0.6 kPa", displacement, engine.speeds.stop, airbox)
        for airbox in (False, True)
    )
    box = BOX * displacement
    return OneOf(
        ("intake", "inlet"),
        (
            Alternative(0.2, None, "nothing ahead of the throttle"),
            Alternative(0.2, alone, "a pipe of {} and {}", ((0.25, "length"), (throttle.bore, "length"))),
            Alternative(0.2, short, "such a pipe with a filter on its end"),
            Alternative(
                0.4, long, "an airbox of {} with a filter between two such pipes", ((box, "volume"),)
            ),
        ),
    )


def _has_collector(data: dict, engine: Engine) -> bool:
    return _collector(data, engine) is not None


def _brought(*path: str) -> Callable[[dict, Engine], bool]:
    """Whether the installation brought what stands at a path."""

    def there(data: dict, engine: Engine) -> bool:
        brought = engine.installation != "open" and value_at(data, path)
        return bool(brought) and brought == brings(data).get(path)

    return there


def _port_shape(side: str, half_width: float) -> Callable[[dict, Engine], Waisted | None]:
    """The bore of a port half-way, where only its length and ends are stated."""

    def made(data: dict, engine: Engine) -> Waisted | None:
        path = (side, "port")
        stated = value_at(data, path)
        if not isinstance(stated, dict) or not {"length", "bore"} <= set(stated):
            return None
        if {"sections", "route", "sizes", "lengths", "by_cylinder"} & set(stated):
            return None
        group = getattr(engine, side)
        before = engine.intake.runner.last_bore if side == "intake" else None
        first = group.port.first_bore or before or group.port.last_bore
        return Waisted(path, group.port.length, first, group.port.last_bore, half_width)

    return made


def _log(data: dict, engine: Engine) -> OneOf | None:
    """A plenum of one pressure, or as long as its bank, with the same volume; of a volume that the file
    states no shape of."""
    plenum, block = engine.intake.plenum, engine.block
    stated = value_at(data, ("intake", "plenum"))
    if plenum is None or plenum.volume is None or block.cylinders == 1 or not isinstance(stated, dict):
        return None
    if "log" in stated:
        return None
    banks = 1 if block.cylinders <= 4 or block.cylinders % 2 else 2
    side_by_side = block.cylinders // banks
    pitch = PITCH * block.bore
    length = (side_by_side + 0.5) * pitch
    bore = sqrt(4.0 * plenum.volume / (pi * length))
    places = [pitch * (0.75 + k) for k in range(side_by_side)]
    log = {
        "length": f"{1e3 * length:.5g} mm",
        "bore": f"{1e3 * bore:.5g} mm",
        "runners_at": [f"{1e3 * places[k % side_by_side]:.5g} mm" for k in range(block.cylinders)],
        "heat_factor": 0,
    }
    words = "as long as its bank, {} and {} wide"
    long = Alternative(0.2, {"log": log}, words, ((length, "length"), (bore, "length")))
    return OneOf(("intake", "plenum"), (Alternative(0.8, None, "of one pressure"), long))


def _heat_law(data: dict, engine: Engine) -> OneOf | None:
    """Woschni's, or one of the two others."""
    if is_stated(data, ("cylinder_walls", "model")):
        return None
    others = [Alternative(0.25, name, name.capitalize()) for name in ("annand", "hohenberg")]
    return OneOf(("cylinder_walls", "model"), (Alternative(0.5, None, "Woschni"), *others))


def _walls(side: str) -> Callable[[dict, Engine], Cooled | None]:
    """What is around the pipes of which the file says neither that nor a wall temperature."""
    places = [place for place in AROUND if place.startswith(side)]

    def made(data: dict, engine: Engine) -> Cooled | None:
        paths = ((p, place) for place in places for p in _pipes_at(data, place))
        told = ("wall_temperature", "surroundings")
        bare = [(p, *AROUND[place]) for p, place in paths if not any(is_stated(data, (*p, k)) for k in told)]
        bare = [row for row in bare if value_at(data, (*row[0], "heat_factor")) != 0]
        return Cooled(tuple(bare), WALLS) if bare else None

    return made


def _pipes_at(data: dict, place: str) -> Iterator[Path]:
    """Paths of the pipes of a place that the file has."""
    if place == "intake.inlet":
        parts = value_at(data, ("intake", "inlet"))
        count = len(parts) if isinstance(parts, list) else 0
        yield from (("intake", "inlet", k, "pipe") for k in range(count) if parts[k].get("pipe"))
        return
    path: Path = tuple(place.split("."))
    if isinstance(value_at(data, path), dict):
        yield path


def _free_mouth(data: dict, engine: Engine) -> OneOf | None:
    """Whether a bellmouth has a wall around it, where the file does not say."""
    entry = value_at(data, ("intake", "runner", "entry"))
    if not isinstance(entry, dict) or entry.get("shape") != "bellmouth" or "free" in entry:
        return None
    choices = Alternative(0.5, None, "with a wall around it"), Alternative(0.5, True, "free")
    return OneOf(("intake", "runner", "entry", "free"), choices)


def _always(change: Change) -> Callable[[str, float], Change]:
    return lambda key, half_width: change


def _size(there: Callable[[dict, Engine], bool]) -> Callable[[str, float], Change]:
    """A size of what may be there, where the file does not say."""

    def of(key: str, half_width: float) -> Change:
        place = key.partition(" ")[0].replace("intake.inlet.", "intake.inlet.*.")
        return lambda data, engine: Scaled((place,), half_width) if there(data, engine) else None

    return of


#: What an engine may have that its file leaves out, by name: made of the row's key and half-width.
CHANGES: dict[str, Callable[[str, float], Change]] = {
    "inlet": _always(_inlet),
    "size of an assumed inlet": _size(_where_no_inlet),
    "size of an installed filter": _size(_brought("intake", "inlet")),
    "size of an installed outlet": _size(_brought("exhaust", "outlet")),
    "log": _always(_log),
    "free mouth": _always(_free_mouth),
    "shape of the intake port": lambda key, half_width: _port_shape("intake", half_width),
    "shape of the exhaust port": lambda key, half_width: _port_shape("exhaust", half_width),
    "collector": _always(_collector),
    "size of an assumed collector": _size(_has_collector),
    "intake walls": _always(_walls("intake")),
    "exhaust walls": _always(_walls("exhaust")),
    "heat law": _always(_heat_law),
}
