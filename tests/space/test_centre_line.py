"""Centre lines, cross-sections and passages against closed forms."""

import numpy as np
import pytest

from aircolumn.space.bend_table import bend_table
from aircolumn.space.centre_line import bent_line, smooth_line
from aircolumn.space.cross_section import CrossSection, circle, polygon_area
from aircolumn.space.passage import Passage

U = bent_line([[0, 0, 0], [0.1, 0, 0], [0.1, 0.2, 0], [0, 0.2, 0]], [0.04, 0.04])


def test_a_line_with_bends_by_hand():
    assert U.length == pytest.approx(0.06 + 0.12 + 0.06 + 0.04 * np.pi, rel=1e-12)
    place, along, curvature = U.at([0.0, 0.06 + 0.02 * np.pi, U.length])
    assert place == pytest.approx(np.array([[0, 0, 0], [0.1, 0.04, 0], [0, 0.2, 0]]), abs=1e-12)
    assert along[1] == pytest.approx([0, 1, 0], abs=1e-12)
    assert along[2] == pytest.approx([-1, 0, 0], abs=1e-12)
    _, _, middle = U.at(0.06 + 0.01 * np.pi)
    assert np.linalg.norm(middle) == pytest.approx(25.0)
    assert np.linalg.norm(curvature[0]) == 0.0


def test_a_line_goes_on_straight_beyond_its_ends():
    assert U.at([-0.05, U.length + 0.05])[0] == pytest.approx(np.array([[-0.05, 0, 0], [-0.05, 0.2, 0]]))


def test_a_smooth_curve_through_a_helix():
    t = np.linspace(0.0, 2.0 * np.pi, 41)
    line = smooth_line(np.column_stack([0.1 * np.cos(t), 0.1 * np.sin(t), 0.05 * t]))
    assert line.length == pytest.approx(2.0 * np.pi * np.hypot(0.1, 0.05), rel=1e-4)
    bent = np.linalg.norm(line.at(0.5 * line.length)[2])
    assert bent == pytest.approx(0.1 / (0.1**2 + 0.05**2), rel=4e-3)  # curvature of a helix


@pytest.mark.parametrize(
    ("corners", "radii", "said"),
    [
        ([[0, 0, 0], [0, 0, 0], [0, 1, 0]], [0.1], "points 1 and 2 are the same"),
        ([[0, 0, 0], [0.1, 0, 0], [0.02, 0.0005, 0]], [0.01], "turns back on itself at point 2"),
        ([[0, 0, 0], [0.1, 0, 0], [0.1, 0.1, 0], [0, 0.1, 0]], [0.06, 0.06], "from point 2 to point 3"),
    ],
)
def test_lines_that_cannot_be(corners, radii, said):
    with pytest.raises(ValueError, match=said):
        bent_line(corners, radii)


def test_legs_turns_and_bends_of_a_tube():
    line = bent_line([[0, 0, 0], [0.2, 0, 0], [0.2, 0.2, 0], [0.2, 0.2, 0.2]], [0.05, 0.03])
    first, second, last = bend_table(line)
    assert (first.leg, first.turn, first.angle, first.radius) == pytest.approx((0.15, 0.0, 90.0, 0.05))
    assert (second.leg, second.angle, second.radius) == pytest.approx((0.12, 90.0, 0.03))
    assert abs(second.turn) == pytest.approx(90.0)
    assert last.leg == pytest.approx(0.17)


def test_bends_that_go_on_are_one():
    corners = [[0, 0, 0], [0.1, 0, 0], [0.1, 0.08, 0], [0, 0.08, 0]]
    assert [(r.leg, r.angle) for r in bend_table(bent_line(corners, [0.04, 0.04]))] == [
        (pytest.approx(0.06), pytest.approx(180.0)),
        (pytest.approx(0.06), None),
    ]


@pytest.mark.parametrize(
    "sides", [(0.04, 0.04, 0.02), (0.06, 0.03, 0.015), (0.05, 0.03, 0.004), (0.05, 0.03, 0)]
)
def test_area_perimeter_and_outline(sides):
    section = CrossSection(*sides)
    w, h, r = sides
    assert section.area == pytest.approx(w * h - 4 * r * r + np.pi * r * r)
    assert section.perimeter == pytest.approx(2 * (w - 2 * r) + 2 * (h - 2 * r) + 2 * np.pi * r)
    corners = section.outline(96)
    assert polygon_area(corners) == pytest.approx(section.area, rel=1e-12)
    around = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).sum()
    assert around == pytest.approx(section.perimeter, rel=2e-3)


def test_how_wide_an_oval_is_in_any_direction():
    oval = CrossSection(0.06, 0.03, 0.015)
    assert oval.across(1.0) == pytest.approx(0.06)
    assert oval.across(0.0) == pytest.approx(0.03)
    corners = oval.outline(960)
    for angle in (20.0, 45.0, 70.0):
        way = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
        assert oval.across(way[0]) == pytest.approx(np.ptp(corners @ way), rel=1e-4)


def test_volume_of_a_morph_is_exact():
    line = bent_line([[0, 0, 0], [0.4, 0, 0]], [])
    passage = Passage(
        line, np.array([0, 0.4]), CrossSection(*np.array([[0.05, 0.04], [0.03, 0.04], [0, 0.02]]))
    )
    share = np.linspace(0, 1, 20_001)
    width, height, corner = 0.05 - 0.01 * share, 0.03 + 0.01 * share, 0.02 * share
    due = 0.4 * np.trapezoid(width * height - (4 - np.pi) * corner**2, share)
    assert passage.volume() == pytest.approx(due, rel=1e-8)
    halves = passage.volume(0.0, 0.13) + passage.volume(0.13, 0.4)
    assert halves == pytest.approx(passage.volume(), rel=1e-12)


def test_the_width_turns_no_more_than_the_line_makes_it():
    """In a plane it stays square to it, or in it; around a bend it turns with the bend."""
    passage = Passage(U, np.array([0, U.length]), circle(np.array([0.04, 0.04])), np.array([0.0, 0.0, 1.0]))
    frames = passage.frames(np.linspace(0.0, U.length, 30))
    assert frames.width == pytest.approx(np.tile([0, 0, 1.0], (30, 1)), abs=1e-9)
    inside = Passage(U, np.array([0, U.length]), circle(np.array([0.04, 0.04])), np.array([0.0, 1.0, 0.0]))
    frames = inside.frames(np.array([0.0, 0.5 * U.length, U.length]))
    assert frames.width[1] == pytest.approx([1.0, 0, 0], abs=1e-6)
    assert frames.width[2] == pytest.approx([0, 1.0, 0], abs=1e-9)
    assert frames.width[0] == pytest.approx([0, -1.0, 0], abs=1e-6)
