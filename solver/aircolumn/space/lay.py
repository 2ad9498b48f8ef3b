"""Routes that fit: from a port's flange to a mouth in a plenum, straight, with one bend or with two.

All lie in a plane through the port's direction: a leg a, a bend, a leg b, a second bend (the other way, or on
round as a curl), and a leg that makes up the length. Tried are a grid of angles, legs and radii, then small
changes of the best. Of the routes that keep clear of everything the simplest kind is taken, and of that the
one whose bends lose least. A route that is not found is no proof that there is none.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import pi

import numpy as np

from aircolumn.display_units import said_length, said_place
from aircolumn.flow.duct.bends import bend_loss
from aircolumn.space.centre_line import bent_line
from aircolumn.space.clearance import Box, Limits, faults
from aircolumn.space.cross_section import CrossSection
from aircolumn.space.passage import Passage

SAMPLES = 48  # places along a route that is tried
RADII = (1.0, 1.35, 1.8, 2.5)  # times the least
DIRECTIONS = 12  # of planes through the port's direction, for a runner that stands alone
ROUNDS, TRIES, KEPT = 5, 600, 12  # of small changes; how many each; of how many routes
SPREAD = 0.5  # of the changes, from round to round
WIDEST = np.radians(75.0)  # that one bend turns in a list of corners: wider ones are several
MOST_TURN = np.radians(300.0)
FINISH = 8  # routes that are looked at closely
LOOKING, PER_TURN = np.radians(15.0), 0.1  # rad; m for each rad beyond that


@dataclass(frozen=True, eq=False)
class Space:
    """Where a runner may lie.

    port: centre of the port's flange, m, and direction: in which the runner leaves it, (3,); mouths: box for
    the centre of its mouth; least_radius of bends, m; limits: what it keeps clear of; looks: direction in
    which the mouth looks, within LOOKING, (3,), None for any.
    """

    port: np.ndarray
    direction: np.ndarray
    mouths: Box
    least_radius: float
    limits: Limits
    looks: np.ndarray | None = None


@dataclass(frozen=True, eq=False)
class Laid:
    """A route that was found: corners (n, 3), m, from mouth to port, and the radii of its bends, m."""

    corners: np.ndarray
    radii: np.ndarray


@dataclass(eq=False)
class _Tries:
    """Routes (n of them) in one plane: legs m, angles rad (signed), radii m."""

    first: np.ndarray
    turn: np.ndarray
    second: np.ndarray
    back: np.ndarray
    radius: np.ndarray

    def take(self, which: np.ndarray) -> _Tries:
        return _Tries(*(v[which] for v in vars(self).values()))

    @property
    def bent(self) -> np.ndarray:
        """Length up to the end of the second bend, m."""
        return self.first + self.second + self.radius * (np.abs(self.turn) + np.abs(self.back))

    def places(self, s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(along, across) the port's direction, m, at distances s (k,) from the port: (n, k) arrays."""
        x, y = np.zeros((2, self.first.size, s.size))
        heading, done = np.zeros(self.first.size), np.zeros(self.first.size)
        none, rest = np.zeros(self.first.size), np.full(self.first.size, np.inf)
        for length, angle in (
            (self.first, none),
            (self.radius * np.abs(self.turn), self.turn),
            (self.second, none),
            (self.radius * np.abs(self.back), self.back),
            (rest, none),
        ):
            run = np.clip(s[None] - done[:, None], 0.0, length[:, None])
            whole = np.where(np.isfinite(length) & (length > 0.0), length, 1.0)
            half = 0.5 * angle[:, None] * run / whole[:, None]
            chord = run * np.sinc(half / pi)  # of an arc that turns by twice the half
            x += chord * np.cos(heading[:, None] + half)
            y += chord * np.sin(heading[:, None] + half)
            heading, done = heading + angle, done + length
        return x, y


def lay(space: Space, length: float, at: np.ndarray, sections: CrossSection) -> tuple[Laid | None, str]:
    """A route of a length that fits.

    Parameters
    ----------
    space : Space
    length : float
        m.
    at : (n,) array
        Shares of the length, from the mouth, of the sections.
    sections : CrossSection
        Of (n,) arrays.

    Returns
    -------
    Laid or None, str
        None: none was found, and what the nearest one breaks.
    """
    why = _too_wide_for_the_bank(space, sections)
    if why:
        return None, why
    for kind in (_straight, _one_bend, _two_bends):
        found, said = _best_of(kind, space, length, at, sections)
        if found is not None:
            return found, ""
        why = said or why
    return None, why


def _too_wide_for_the_bank(space: Space, sections: CrossSection) -> str:
    """Why runners that leave the head side by side cannot be laid at all; "" if they can."""
    limits = space.limits
    if limits.spacing is None:
        return ""
    along = space.direction / np.linalg.norm(space.direction)
    apart = float(np.linalg.norm(limits.spacing - (limits.spacing @ along) * along))
    least = float(min(sections.width[-1], sections.height[-1])) + 2.0 * limits.wall + limits.clearance
    if apart >= least:
        return ""
    spacing = float(np.linalg.norm(limits.spacing))
    return (
        f"at {said_length(spacing)} spacing the next runner is {said_length(apart)} away, but bore, walls and"
        f" clearance need {said_length(least)}"
    )


def _best_of(
    kind: Callable, space: Space, length: float, at: np.ndarray, sections: CrossSection
) -> tuple[Laid | None, str]:
    """As lay, of one kind of route."""
    half = 0.5 * float(max(np.max(sections.width), np.max(sections.height))) + space.limits.wall
    rng = np.random.default_rng(0)
    fitting: list[tuple[float, Laid]] = []
    why, nearest = "", np.inf
    for across in _planes(space):
        tries = kind(length, space.least_radius)
        for _ in range(ROUNDS):
            tries = tries.take(tries.bent <= length)
            if not tries.first.size:
                break
            broken, which = _broken(tries, space, across, length, half)
            order = np.lexsort((_loss(tries, half), np.maximum(broken, 0.0)))[:KEPT]
            tries, broken, which = tries.take(order), broken[order], [which[k] for k in order]
            if broken[0] < nearest:
                nearest, why = broken[0], f"the nearest route is {said_place(broken[0])} {which[0]}"
            losses = _loss(tries, half)
            fitting += [
                (float(losses[k]), _laid(tries, int(k), space, across, length))
                for k in np.flatnonzero(broken <= 0.0)
            ]
            tries = _changed(tries, length, space.least_radius, rng)
    for _, laid in sorted(fitting, key=lambda found: found[0])[:FINISH]:
        line = bent_line(laid.corners, laid.radii)
        said = faults(Passage(line, at * line.length, sections), space.limits)
        if not said:
            return laid, ""
        why = said[0]
    return None, why


def _loss(tries: _Tries, half: float) -> np.ndarray:
    turned = np.degrees(np.abs(tries.turn) + np.abs(tries.back))
    return bend_loss(turned, tries.radius, 2.0 * half)


def _planes(space: Space) -> list[np.ndarray]:
    """Directions across the port's in which the runner may turn: for a bank square to its spacing."""
    along = space.direction / np.linalg.norm(space.direction)
    spacing = space.limits.spacing
    if spacing is not None:
        across = np.cross(spacing, along)
        return [across / np.linalg.norm(across)]
    one = np.cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
    one /= np.linalg.norm(one)
    other = np.cross(along, one)
    angles = pi * np.arange(DIRECTIONS // 2) / (DIRECTIONS // 2)  # turns are of both signs
    return [np.cos(a) * one + np.sin(a) * other for a in angles]


def _grid(*axes: np.ndarray) -> _Tries:
    return _Tries(*(v.ravel() for v in np.meshgrid(*axes, indexing="ij")))


def _angles(count: int) -> np.ndarray:
    """Turns of both signs, none of them 0."""
    one_way = MOST_TURN * np.arange(1, count + 1) / count
    return np.concatenate([one_way, -one_way])


def _straight(length: float, radius: float) -> _Tries:
    return _grid(*(np.array([v]) for v in (length, 0.0, 0.0, 0.0, radius)))


def _one_bend(length: float, radius: float) -> _Tries:
    legs, none = length * np.linspace(0.0, 0.9, 19), np.zeros(1)
    return _grid(legs, _angles(60), none, none, radius * np.array(RADII))


def _two_bends(length: float, radius: float) -> _Tries:
    legs = length * np.array([0.0, 0.1, 0.2, 0.35, 0.5, 0.7])
    return _grid(legs, _angles(15), legs, _angles(15), radius * np.array(RADII[:3]))


def _changed(tries: _Tries, length: float, least: float, rng: np.random.Generator) -> _Tries:
    """The routes and small changes of them; what is straight, or has one bend, stays so."""
    n = tries.first.size
    which = np.concatenate([np.arange(n), rng.integers(0, n, TRIES)])
    one = tries.take(which)
    size = SPREAD ** rng.integers(1, 6, which.size) * (np.arange(which.size) >= n)

    def moved(values: np.ndarray, scale: float) -> np.ndarray:
        return values + np.where(values != 0.0, scale * size * rng.normal(size=which.size), 0.0)

    has_bend = one.turn != 0.0
    has_second = one.back != 0.0
    legs = 0.3 * length
    return _Tries(
        np.where(has_bend, np.maximum(one.first + legs * size * rng.normal(size=which.size), 0.0), one.first),
        np.clip(moved(one.turn, 0.5), -MOST_TURN, MOST_TURN),
        np.where(has_second, np.maximum(one.second + legs * size * rng.normal(size=which.size), 0.0), 0.0),
        np.clip(moved(one.back, 0.5), -MOST_TURN, MOST_TURN),
        np.clip(moved(one.radius, 0.5 * least), least, 10.0 * least),
    )


def _broken(
    tries: _Tries, space: Space, across: np.ndarray, length: float, half: float
) -> tuple[np.ndarray, list[str]]:
    """How far, m, each route is beyond what it must keep to (0 or less: nowhere), and where most; those
    whose mouth is nowhere near are not looked at further."""
    end = _in_space(*tries.places(np.array([length])), space, across)[:, 0]
    broken = space.mouths.room(end)
    worst = np.full(broken.size, "from where mouths may be", dtype=object)
    if space.looks is not None:
        along, unit = (v / np.linalg.norm(v) for v in (space.direction, space.looks))
        heading = tries.turn + tries.back
        cosine = np.cos(heading) * (along @ unit) + np.sin(heading) * (across @ unit)
        over = PER_TURN * (np.arccos(np.clip(cosine, -1.0, 1.0)) - LOOKING)
        more = over > broken
        broken[more], worst[more] = over[more], "worth of turning away from mouth_direction"
    near = np.flatnonzero(broken <= max(np.min(broken), 0.0) + 0.02)
    s = np.linspace(0.0, length, SAMPLES)
    x, y = tries.take(near).places(s)
    place = _in_space(x, y, space, across)
    limits = space.limits
    room_for_it = half + limits.clearance
    free = s >= half  # not where it is bolted to the head
    for name, thing in limits.things.items():
        over = np.max((room_for_it - thing.room(place))[:, free], axis=1)
        more = over > broken[near]
        broken[near[more]], worst[near[more]] = over[more], f"too near to '{name}', or beyond it"
    far = np.abs(s[:, None] - s[None]) > pi * half
    if np.any(far):
        i, j = np.nonzero(np.triu(far))
        gap = np.hypot(x[:, i] - x[:, j], y[:, i] - y[:, j])
        over = np.max(2.0 * half + limits.clearance - gap, axis=1)
        more = over > broken[near]
        broken[near[more]], worst[near[more]] = over[more], "too near to itself"
    beyond = np.ones(broken.size, dtype=bool)
    beyond[near] = False
    broken[beyond] += length  # none of these is taken before one that was looked at
    return broken, list(worst)


def _in_space(x: np.ndarray, y: np.ndarray, space: Space, across: np.ndarray) -> np.ndarray:
    along = space.direction / np.linalg.norm(space.direction)
    return space.port + x[..., None] * along + y[..., None] * across


def _laid(tries: _Tries, k: int, space: Space, across: np.ndarray, length: float) -> Laid:
    """Corners and radii of one route, from mouth to port."""
    along = space.direction / np.linalg.norm(space.direction)
    place, heading, radius = space.port.astype(float), 0.0, float(tries.radius[k])
    corners = [place]
    for leg, turn in ((tries.first[k], tries.turn[k]), (tries.second[k], tries.back[k])):
        place = place + leg * (np.cos(heading) * along + np.sin(heading) * across)
        parts = int(np.ceil(abs(turn) / WIDEST))
        for _ in range(parts):
            cut = radius * np.tan(0.5 * abs(turn) / parts)
            corner = place + cut * (np.cos(heading) * along + np.sin(heading) * across)
            heading += turn / parts
            corners.append(corner)
            place = corner + cut * (np.cos(heading) * along + np.sin(heading) * across)
    left = length - float(tries.bent[k])
    end = place + left * (np.cos(heading) * along + np.sin(heading) * across)
    inner = len(corners) - 1
    return Laid(np.array([*corners, end])[::-1], np.full(inner, radius))
