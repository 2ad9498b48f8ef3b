"""Routes that fit, and what is said of those that do not."""

import numpy as np
import pytest

from aircolumn.space.centre_line import bent_line
from aircolumn.space.clearance import Box, Limits, Plane, faults
from aircolumn.space.cross_section import CrossSection, circle
from aircolumn.space.lay import LOOKING, Space, lay
from aircolumn.space.passage import Passage

BORE, WALL, CLEAR = 0.04, 0.003, 0.005
ROUND = circle(np.array([BORE, BORE]))
BONNET = Plane(np.array([0, 0, 0.15]), np.array([0, 0, 1.0]))
WING = Plane(np.array([0, -0.3, 0]), np.array([0, -1.0, 0]))
X = np.array([1.0, 0, 0])


def space(mouths, things=(), spacing=0.09, looks=None):
    limits = Limits(dict(things), CLEAR, WALL, None if spacing is None else spacing * X)
    return Space(np.zeros(3), np.array([0, -1.0, 0.2]), mouths, 0.05, limits, looks)


ANYWHERE = Box(np.array([-0.3, -0.28, -0.3]), np.array([0.3, 0.2, 0.3]))


def passage_of(laid):
    line = bent_line(laid.corners, laid.radii)
    return Passage(line, np.array([0, line.length]), ROUND)


@pytest.mark.parametrize("length", [0.2, 0.35, 0.7])
@pytest.mark.parametrize("spacing", [0.09, None])
def test_what_is_laid_has_its_length_its_ends_and_keeps_clear(length, spacing):
    things = {"bonnet": BONNET, "wing": WING}.items()
    room = space(ANYWHERE, things, spacing)
    laid, why = lay(room, length, np.array([0, 1.0]), ROUND)
    assert laid is not None, why
    passage = passage_of(laid)
    assert passage.length == pytest.approx(length, abs=1e-9)
    assert passage.line.at(length)[0][0] == pytest.approx([0, 0, 0], abs=1e-9)
    leaves = -passage.line.at(length)[1][0]
    assert leaves == pytest.approx(room.direction / np.linalg.norm(room.direction), abs=1e-6)
    assert ANYWHERE.room(laid.corners[0]) <= 1e-9
    assert np.all(laid.radii >= room.least_radius)
    assert not faults(passage, room.limits)
    s = np.linspace(0.0, length - 0.5 * BORE - WALL, 200)  # by a check of its own
    place = passage.line.at(s)[0]
    for thing in (BONNET, WING):
        assert np.min(thing.room(place)) > 0.5 * BORE + WALL + CLEAR - 0.002  # the rim may be slanted
    if spacing is not None:
        gap = np.linalg.norm(place[:, None] - place[None] - spacing * X, axis=2).min()
        assert gap >= BORE + 2 * WALL + CLEAR - 1e-4


def test_the_simplest_kind_is_taken():
    assert len(lay(space(ANYWHERE), 0.25, np.array([0, 1.0]), ROUND)[0].radii) == 0
    beside = Box(np.array([-0.1, -0.25, 0.05]), np.array([0.1, -0.1, 0.25]))
    assert len(lay(space(beside), 0.3, np.array([0, 1.0]), ROUND)[0].radii) == 1


def test_a_mouth_that_must_look_down():
    down = np.array([0, 0, -1.0])
    laid, _ = lay(space(ANYWHERE, looks=down), 0.4, np.array([0, 1.0]), ROUND)
    line = passage_of(laid).line
    assert -line.at(0.0)[1][0] @ down >= np.cos(LOOKING) - 1e-6


def test_what_does_not_fit_says_what_is_in_the_way():
    near = Box(np.array([-0.05, -0.12, -0.05]), np.array([0.05, -0.05, 0.05]))
    low = Plane(np.array([0, 0, -0.06]), np.array([0, 0, -1.0]))
    things = {"bonnet": BONNET, "cross member": low, "wing": WING}.items()
    laid, why = lay(space(near, things), 0.9, np.array([0, 1.0]), ROUND)
    assert laid is None
    assert why.startswith("the nearest route is ")
    assert any(word in why for word in ("bonnet", "cross member", "wing", "itself", "mouths"))


def test_neighbours_that_are_too_near():
    laid, why = lay(space(ANYWHERE, spacing=0.048), 0.3, np.array([0, 1.0]), ROUND)
    assert laid is None
    assert why == ("at 48 mm spacing the next runner is 48 mm away, but bore, walls and clearance need 51 mm")


STRAIGHT = bent_line([[0, -0.3, 0], [0, 0, 0]], [])


def told(line, things=(), section=ROUND, spacing=None):
    passage = Passage(line, np.array([0, line.length]), section)
    return faults(passage, Limits(dict(things), CLEAR, WALL, spacing))


def test_distance_to_planes_and_boxes_by_hand():
    plane = Plane(np.array([0, 0, 0.026]), np.array([0, 0, 2.0]))  # 26 - 20 - 3 = 3 mm
    assert told(STRAIGHT, {"bonnet": plane}.items()) == [
        "at 0 mm from its mouth the outside comes within 3.0 mm of 'bonnet'; 5 mm are to be kept"
    ]
    box = Box(np.array([-0.01, -0.2, -0.1]), np.array([0.01, -0.1, -0.02]))  # 3 mm into the wall
    (said,) = told(STRAIGHT, {"pump": box}.items())
    assert "the outside is 3.0 mm beyond 'pump'" in said
    assert not told(STRAIGHT, {"far": Box(np.array([0.03, -1, -1]), np.array([1, 1, 1.0]))}.items())


def test_what_is_bolted_to_the_head_may_touch_it():
    head = Plane(np.array([0, 0, 0]), np.array([0, 1.0, 0]))
    assert not told(STRAIGHT, {"head": head}.items())


def test_a_bend_tighter_than_its_outside():
    tight = bent_line([[0, 0, 0], [0, 0.2, 0], [0.2, 0.2, 0]], [0.02])
    assert any("it would fold over itself; take a larger radius" in said for said in told(tight))


def test_a_route_that_crosses_itself():
    loop = bent_line(
        [[-0.3, 0, 0], [0.1, 0, 0], [0.1, 0.2, 0], [-0.1, 0.2, 0], [-0.1, -0.2, 0]], [0.04, 0.04, 0.04]
    )
    assert any("it crosses itself" in said for said in told(loop))


def test_an_oval_beside_its_neighbour():
    upright = CrossSection(np.full(2, 0.03), np.full(2, 0.06), np.full(2, 0.015))
    assert not told(STRAIGHT, section=upright, spacing=0.042 * X)  # 30 + 6 + 5 mm
    assert told(STRAIGHT, section=upright, spacing=0.040 * X)
