"""The plenum of a whole manifold, on the runners' mouths: a box of the engine's plenum volume, or its log."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import said_bore, said_length, said_point
from aircolumn.engine.description.base import required
from aircolumn.engine.description.part import Flange
from aircolumn.engine.description.plenum import Log
from aircolumn.errors import RequestError
from aircolumn.part.runner import THROUGH, RunnerPart, Solids, copied
from aircolumn.part.sweep import MM, rings, skinned, tube
from aircolumn.space.clearance import Box
from aircolumn.space.cross_section import CrossSection, circle
from aircolumn.space.passage import Frames

if TYPE_CHECKING:
    from manifold3d import Manifold

    from aircolumn.engine.description.engine_file import Engine


LEAST_OVERLAP = 1.0  # mm3: less is rounding


@dataclass(frozen=True, eq=False)
class MouthFrame:
    """Where the runners' mouths are: centre of the first, m, and directions: inwards (into the plenum), along
    the bank and across both."""

    centre: np.ndarray
    inwards: np.ndarray
    bank: np.ndarray
    across: np.ndarray

    def points(self, corners: np.ndarray) -> np.ndarray:
        """mm, of corners (n, 3) in these directions, m."""
        axes = np.array([self.inwards, self.bank, self.across])
        return MM * (self.centre + corners @ axes)


def plenum_solids(part: RunnerPart, engine: Engine) -> Solids:
    """Walls and insides of the plenum and its throttle flange. Raises RequestError if it cannot be made."""
    plenum = engine.intake.plenum
    if plenum is None:
        raise RequestError("the engine has no plenum: its runners draw from the open air")
    frame = _mouth_frame(part)
    if plenum.log is not None:
        found = _log(part, engine, plenum.log, frame)
    else:
        found = _box(part, engine, required(plenum.volume), frame)
    _check_room(part, engine, found.adds[0])
    return found


def _mouth_frame(part: RunnerPart) -> MouthFrame:
    place, along, _ = part.passage.line.at(np.array([part.begin]))
    inwards = -along[0]
    bank = np.array([1.0, 0.0, 0.0]) - inwards[0] * inwards
    if np.linalg.norm(bank) < 0.1:
        raise RequestError("the runners' mouths look along the crankshaft: no plenum can hold a bank of them")
    bank /= np.linalg.norm(bank)
    return MouthFrame(place[0], inwards, bank, np.cross(inwards, bank))


def _check_room(part: RunnerPart, engine: Engine, outside: Manifold) -> None:
    """The plenum must not run into its runners, nor into what is around. Raises RequestError with all that it
    meets, where and by how much, and what would help."""
    wall, found = part.part.wall, []
    leaves = max(part.mouth.width, part.mouth.height) + 2.0 * wall
    run = tube(part.passage, min(leaves, 0.5 * part.end), part.end, wall)
    for k, other in enumerate(copied([run], part.shifts), 1):
        whose = f"runner {k}" if len(part.shifts) > 1 else "its own runner"
        found += _overlap(outside ^ other, f"it runs into {whose}")
    limits = None if engine.space is None else engine.space.limits(wall)
    for name, thing in ({} if limits is None else limits.things).items():
        kept = required(limits).clearance
        if isinstance(thing, Box):
            grown = _cube(MM * (thing.low - kept), MM * (thing.high + kept))
            found += _overlap(outside ^ grown, f"it comes too near to '{name}'")
            continue
        corners = np.asarray(outside.to_mesh().vert_properties)[:, :3] / MM
        room = thing.room(corners)
        k = int(np.argmin(room))
        if room[k] < kept - 1e-6:
            short = said_bore(kept - float(room[k]))
            found.append(f"it comes too near to '{name}', by {short} at {said_point(corners[k])}")
    if found:
        raise RequestError(f"the plenum cannot stand there: {'; '.join(found)}. {_what_helps(engine)}")


def _overlap(common: Manifold, said: str) -> list[str]:
    """What two solids have in common, in words: by how much (the least side of its box) and where."""
    if common.volume() <= LEAST_OVERLAP:
        return []
    box = np.reshape(common.bounding_box(), (2, 3)) / MM
    return [f"{said}, by {said_bore(float(np.ptp(box, axis=0).min()))} at {said_point(box.mean(axis=0))}"]


def _cube(low: np.ndarray, high: np.ndarray) -> Manifold:
    from manifold3d import Manifold

    return Manifold.cube(high - low).translate(low)


def _what_helps(engine: Engine) -> str:
    """What of the file would make room."""
    helps = ["change part.plenum.height or the plenum's volume", "move space.mouths", "take longer runners"]
    if engine.space is not None and engine.space.mouth_direction is None:
        helps.insert(0, "say in which direction the mouths are to look (space.mouth_direction)")
    return f"What may help: {', or '.join(helps)}"


def _block(frame: MouthFrame, low: np.ndarray, high: np.ndarray) -> Manifold:
    from manifold3d import Manifold

    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
    return Manifold.hull_points(frame.points(low + corners * (high - low)))


def box_sides(part: RunnerPart, engine: Engine, volume: float) -> tuple[float, float, float]:
    """(depth, length, height) inside of the box, m."""
    asked, mouth = part.part.plenum, part.mouth
    span = float(np.ptp(part.shifts[:, 0]))
    length = span + mouth.width + 2.0 * asked.margin
    least = max(mouth.height, mouth.width) + 0.004
    height = asked.height or max(sqrt(volume / length), least)
    if height < least:
        raise RequestError(f"part.plenum.height must be {said_length(least)} or more: the mouths are as wide")
    return volume / (length * height), length, height


def _box(part: RunnerPart, engine: Engine, volume: float, frame: MouthFrame) -> Solids:
    depth, length, height = box_sides(part, engine, volume)
    throttle = required(engine.intake.throttle).bore
    if throttle > min(depth, height):
        raise RequestError(
            f"a throttle of {said_length(throttle, 6)} does not fit on the end of the plenum, which is"
            f" {said_bore(depth)} deep and {said_bore(height)} high inside; change part.plenum.height or the"
            " plenum's volume"
        )
    wall, margin = part.part.wall, 0.5 * part.mouth.width + part.part.plenum.margin
    low = np.array([0.0, -margin, -0.5 * height])
    high = low + np.array([depth, length, height])
    found = Solids([_block(frame, low - wall, high + wall)], [_block(frame, low, high)])
    centre = np.array([0.5 * depth, low[1], 0.0])
    _add_throttle(found, part, frame, centre, throttle)
    return found


def _add_throttle(
    found: Solids, part: RunnerPart, frame: MouthFrame, centre: np.ndarray, bore: float
) -> None:
    """The hole for the throttle at the near end of the plenum, and its flange."""
    wall, flange = part.part.wall, part.part.plenum.throttle_flange
    depth = wall + (flange.thickness if flange is not None else 0.0)
    found.cuts.append(
        _rod(frame, centre, [(-depth - THROUGH, 0, 0, circle(bore)), (THROUGH, 0, 0, circle(bore))])
    )
    if flange is None:
        return
    if min(flange.width, flange.height) < bore + 2.0 * wall:
        raise RequestError(
            f"part.plenum.throttle_flange is smaller than the throttle's bore, {said_length(bore, 6)}"
        )
    plate = CrossSection(flange.width, flange.height, flange.corner_radius)
    found.adds.append(_rod(frame, centre, [(-depth, 0, 0, plate), (-0.5 * wall, 0, 0, plate)]))
    found.cuts += [_bolt(frame, centre, flange, depth, x, y) for x, y in flange.bolts]


def _bolt(
    frame: MouthFrame, centre: np.ndarray, flange: Flange, depth: float, x: float, y: float
) -> Manifold:
    hole = circle(flange.bolt_hole)
    return _rod(frame, centre, [(-depth - THROUGH, x, y, hole), (-0.5 * flange.thickness, x, y, hole)])


def _rod(frame: MouthFrame, centre: np.ndarray, ends: list[tuple]) -> Manifold:
    """Along the bank through ``centre``; of both ends: (place along it, offsets inwards and across,
    section)."""
    places = np.array([centre + np.array([x, along, y]) for along, x, y, _ in ends])
    n = len(ends)
    place = frame.points(places) / MM
    along, width, height = (np.tile(v, (n, 1)) for v in (frame.bank, frame.inwards, -frame.across))
    return skinned(rings(Frames(place, along, width, height), [section for *_, section in ends]))


def _log(part: RunnerPart, engine: Engine, log: Log, frame: MouthFrame) -> Solids:
    """A tube along the bank; its runners' mouths lie where their rims meet its wall."""
    places, wall, mouth = log.runners_at, part.part.wall, part.mouth
    bores = [(0.0, log.bore_at(0.0)), (log.total_length, log.bore_at(log.total_length))]
    half = 0.5 * max(mouth.width, mouth.height)
    narrowest = min(log.bore_at(x) for x in places)
    if half >= 0.5 * narrowest:
        raise RequestError(
            f"the mouths are {said_length(2 * half)} wide with their bellmouths, the log"
            f" {said_length(narrowest)}"
        )
    deep = sqrt((0.5 * narrowest) ** 2 - half**2)
    start = np.array([deep, -places[0], 0.0])
    inside = _rod(frame, start, [(x, 0, 0, circle(b)) for x, b in bores])
    (first, b0), (last, b1) = bores
    ends = [(first - wall, 0, 0, circle(b0 + 2 * wall)), (last + wall, 0, 0, circle(b1 + 2 * wall))]
    found = Solids([_rod(frame, start, ends)], [inside])
    for shift in part.shifts[:, 0]:  # the runners' walls go on to the tube's
        found.adds.append(_stub(frame, np.array([0.0, shift, 0.0]), deep, half + wall))
        found.cuts.append(_stub(frame, np.array([-THROUGH, shift, 0.0]), deep, half))
    _add_throttle(found, part, frame, start, required(engine.intake.throttle).bore)
    return found


def _stub(frame: MouthFrame, centre: np.ndarray, length: float, radius: float) -> Manifold:
    """A rod into the plenum."""
    place = frame.points(np.array([centre, centre + np.array([length, 0.0, 0.0])])) / MM
    along, width, height = (np.tile(v, (2, 1)) for v in (frame.inwards, frame.bank, frame.across))
    return skinned(rings(Frames(place, along, width, height), [circle(2 * radius)] * 2))
