"""Lift curves of cam cards as the engine file states them."""

import numpy as np
import pytest
from tests.edited import demo_with

import aircolumn
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.errors import InputError
from aircolumn.flow.cylinder.valve_lift import Lobe, card_lift

CARD = "lift: {maximum: 10 mm, events_at: 0.2 mm}"
DURATION = 226.0  # of the demo's intake valve, deg


def load(folder, more):
    path = demo_with(folder, (CARD, CARD.replace("0.2 mm}", f"0.2 mm, {more}}}")))
    return aircolumn.load(path).engine


def held_open(lobe, lift):
    """Degrees above a lift, m, of a card with the demo's events."""
    angle = np.arange(-200.0, 200.0, 0.001)
    raised = card_lift(angle, -0.5 * DURATION, 0.5 * DURATION, 0.010, 0.0002, 0.0, lobe)
    return 0.001 * np.count_nonzero(raised >= lift)


@pytest.mark.parametrize("lobe", [Lobe(1.8, 2.0), Lobe(3.2, 2.0)])
def test_one_duration_more_tells_the_sides(lobe, tmp_path):
    stated = f"durations: [{{at: 1 mm, duration: {held_open(lobe, 0.001):.4f} deg}}]"
    found = load(tmp_path, stated).intake.valve.lift.lobe(DURATION)
    assert found[:2] == pytest.approx(lobe[:2], rel=1e-3)
    assert found.off < 1e-3


def test_two_durations_more_tell_the_top_as_well(tmp_path):
    lobe = Lobe(2.0, 2.6)
    stated = ", ".join(
        f"{{at: {1e3 * lift} mm, duration: {held_open(lobe, lift):.4f} deg}}" for lift in (0.001, 0.005)
    )
    engine = load(tmp_path, f"durations: [{stated}]")
    assert engine.intake.valve.lift.lobe(DURATION)[:2] == pytest.approx(lobe[:2], rel=1e-3)
    same = load(tmp_path, "flank: 2.0, nose: 2.6")
    assert geometry_of(engine).intake_opens == pytest.approx(geometry_of(same).intake_opens, abs=0.05)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("durations: [{at: 1 mm, duration: 20 deg}]", "no lift curve has 226 deg at 2 % of the highest lift"),
        ("durations: [{duration: 200 deg}]", "give at (lift of the valve) or at_cam (lift of the lobe)"),
        ("durations: [{at: 10 mm, duration: 20 deg}]", "is stated at a lift below the highest"),
        ("durations: [{at_cam: 1 mm, duration: 190 deg}]", "at_cam needs rocker_ratio"),
        ("flank: 2, durations: [{at: 1 mm, duration: 190 deg}]", "flank follows from durations"),
        (
            "nose: 2, durations: [{at: 1 mm, duration: 190 deg}, {at: 5 mm, duration: 130 deg}]",
            "nose follows from two durations or more",
        ),
    ],
)
def test_cards_that_are_refused(more, said, tmp_path):
    with pytest.raises(InputError) as told:
        load(tmp_path, more)
    assert said in str(told.value)
    assert "intake.valve.lift" in str(told.value)
