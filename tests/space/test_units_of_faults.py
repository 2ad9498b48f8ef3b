"""What is wrong with a part or a route is told in the units of the user."""

import numpy as np
import pytest

from aircolumn.display_units import choose
from aircolumn.space.centre_line import bent_line
from aircolumn.space.clearance import Limits, faults
from aircolumn.space.cross_section import CrossSection
from aircolumn.space.passage import Passage


@pytest.mark.parametrize(("units", "radius"), [("metric", "20 mm"), ("us", "0.7874 in")])
def test_a_bend_that_folds(units, radius):
    line = bent_line([[0.0, 0.0, 0.0], [0.0, 0.3, 0.0], [0.3, 0.3, 0.0]], [0.02])
    sections = CrossSection(*(np.array([v, v]) for v in (0.06, 0.06, 0.03)))
    choose(units)
    try:
        (said, *_) = faults(Passage(line, np.array([0.0, line.length]), sections), Limits(wall=0.002))
    finally:
        choose(None)
    assert f"the radius is {radius}," in said
