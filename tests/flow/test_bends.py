"""Losses of bends against published fits."""

from math import radians

import numpy as np
import pytest

from aircolumn.flow.duct.bends import bend_loss

fluids = pytest.importorskip("fluids")
BORE, REYNOLDS = 0.04, 1e5
FITS = ("Rennels", "Miller", "Ito")  # as the library fluids has them


def published(angle, relative_radius):
    """Loss coefficients of a smooth bend without its wall friction, by fit."""
    friction = fluids.friction_factor(Re=REYNOLDS, eD=0.0)
    radius = relative_radius * BORE
    k = [
        fluids.bend_rounded(
            Di=BORE, angle=angle, rc=radius, Re=REYNOLDS, fd=friction, roughness=0.0, method=m
        )
        for m in FITS
    ]
    return np.array(k) - friction * radians(angle) * relative_radius


@pytest.mark.parametrize("relative_radius", [1.0, 1.5, 2.0, 3.0])
@pytest.mark.parametrize("angle", [120.0, 150.0, 180.0])
def test_beyond_a_right_angle(angle, relative_radius):
    """Over that of 90 degrees, the mean of the fits (they lie from 1.07 to 2.28 at 180 degrees and R / b
    of 1, and within 0.15 of each other elsewhere)."""
    radius = relative_radius * BORE
    ours = bend_loss(angle, radius, BORE) / bend_loss(90.0, radius, BORE)
    mean = np.mean(published(angle, relative_radius) / published(90.0, relative_radius))
    assert ours == pytest.approx(mean, rel=0.09)


@pytest.mark.parametrize("relative_radius", [1.0, 1.5, 3.0])
def test_the_angle_has_no_steps(relative_radius):
    angles = np.arange(1.0, 400.0, 0.5)
    loss = bend_loss(angles, relative_radius * BORE, BORE)
    assert np.all(np.abs(np.diff(loss)) < 1.01 * loss[0] * 0.5)  # never steeper than from 0 to 90 degrees
    assert loss[-1] / bend_loss(180.0, relative_radius * BORE, BORE) == pytest.approx(399.5 / 180.0)
