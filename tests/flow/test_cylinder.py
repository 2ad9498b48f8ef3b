"""Crank, cam, valve and combustion against hand values and scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.differentiate import derivative
from scipy.special import beta

from aircolumn.flow.cylinder.burn import (
    LEAD,
    NODES,
    WEIGHTS,
    scattered_share,
    slowness,
    wiebe_share,
    wiebe_timing,
)
from aircolumn.flow.cylinder.crank import swept_volume, volume_and_slope
from aircolumn.flow.cylinder.heat import woschni
from aircolumn.flow.cylinder.valve_area import effective_area, geometric_area
from aircolumn.flow.cylinder.valve_lift import Lobe, card_lift, lobe_of, table_lift

THROW, ROD, AREA, CLEAR = 0.05, 0.152, 6.2e-3, 7e-5


def volume(angle, offset=0.0):
    top = np.sqrt((ROD + THROW) ** 2 - offset**2)
    return volume_and_slope(THROW, ROD, offset, AREA, CLEAR, top, angle)[0]


def test_dead_centres_and_quarter_turn():
    """Heywood eq. 2.4 to 2.6; 90 degrees by hand: s = sqrt(l^2 - r^2)."""
    assert volume(0.0) == pytest.approx(CLEAR, rel=1e-12)
    assert volume(180.0) == pytest.approx(CLEAR + AREA * 2 * THROW, rel=1e-12)
    down = ROD + THROW - np.sqrt(ROD**2 - THROW**2)
    assert volume(90.0) == pytest.approx(CLEAR + AREA * down, rel=1e-12)


@pytest.mark.parametrize("offset", [0.0, 0.004, -0.01])
def test_slope_against_scipy(offset):
    angles = np.arange(5.0, 720.0, 61.0)
    top = np.sqrt((ROD + THROW) ** 2 - offset**2)
    ours = [volume_and_slope(THROW, ROD, offset, AREA, CLEAR, top, a)[1] for a in angles]
    found = derivative(np.vectorize(lambda a: volume(a, offset)), angles, initial_step=2.0)
    assert np.allclose(ours, found.df * 180 / np.pi, rtol=1e-6)


def test_swept_volume_with_offset():
    volumes = [volume(a, 0.01) for a in np.linspace(0, 360, 7201)]
    bore = np.sqrt(4 * AREA / np.pi)
    assert max(volumes) - min(volumes) == pytest.approx(swept_volume(bore, 2 * THROW, ROD, 0.01), rel=1e-6)


def test_wiebe_reaches_its_angles():
    start, total = wiebe_timing(8.0, 26.0, 2.0)
    angle = np.linspace(start, start + total, 200001)
    x = wiebe_share(angle, start, total, 2.0)
    assert x[0] == 0.0
    assert x[-1] == pytest.approx(1.0)
    at = [np.interp(v, x, angle) for v in (0.1, 0.5, 0.9)]
    assert at[1] == pytest.approx(8.0, abs=1e-3)
    assert at[2] - at[0] == pytest.approx(26.0, abs=1e-3)


def test_woschni_by_hand():
    """Motored compression, Heywood eq. 12.19: B 0.1 m, 2000 kPa, 700 K, Sp 10 m/s."""
    h = woschni(0.1, 2e6, 700.0, 10.0, False, False, 5e-4, (1e5, 350.0, 5e-4), 5e-5)
    expected = 3.26 * 0.1**-0.2 * 2000.0**0.8 * 700.0**-0.53 * 22.8**0.8
    assert h == pytest.approx(expected, rel=1e-12)
    assert woschni(0.1, 2e6, 700.0, 10.0, True, False, 5e-4, (1e5, 350.0, 5e-4), 5e-5) > h


@given(
    events_at=st.floats(0.0, 1.5e-3),
    duration=st.floats(150.0, 330.0),
    maximum=st.floats(5e-3, 14e-3),
)
def test_cam_card_holds_its_events(events_at, duration, maximum):
    at = [350.0, 350.0 + duration, 350.0 + 0.5 * duration]
    lift = card_lift(at, 350.0, 350.0 + duration, maximum, events_at, 0.0)
    assert lift == pytest.approx([events_at, events_at, maximum], abs=1e-9)


@given(
    flank=st.floats(1.2, 6.0),
    nose=st.floats(1.5, 3.0),
    duration=st.floats(150.0, 330.0),
    shares=st.tuples(st.floats(0.005, 0.03), st.floats(0.05, 0.15), st.floats(0.25, 0.5)),
)
def test_durations_of_a_card_tell_its_lift_curve(flank, nose, duration, shares):
    """A second duration tells the sides, a third the top too; the curve then has them all."""
    at = [duration * _half(s, flank, nose) / _half(shares[0], flank, nose) for s in shares]
    two = lobe_of(((shares[0], at[0]), (shares[1], at[1])), nose)
    assert two.flank == pytest.approx(flank, rel=1e-4)
    three = lobe_of(tuple(zip(shares, at, strict=True)))
    assert (three.flank, three.nose) == pytest.approx((flank, nose), rel=2e-3)
    centre = 100.0
    for share, long in zip(shares, at, strict=True):
        edges = [centre - 0.5 * long, centre + 0.5 * long]
        opens, closes = centre - 0.5 * at[0], centre + 0.5 * at[0]
        lift = card_lift(edges, opens, closes, 0.01, 0.01 * shares[0], 0.0, three)
        assert lift == pytest.approx([0.01 * share] * 2, rel=2e-3)


def _half(share, flank, nose):
    """|s| at a share of the highest lift, by hand."""
    return (1.0 - share ** (1.0 / flank)) ** (1.0 / nose)


def test_durations_that_no_lobe_has():
    with pytest.raises(ValueError, match="no lift curve has 250 deg at 2 % of the highest lift and 249"):
        lobe_of(((0.02, 250.0), (0.3, 249.0)))


def test_mean_lift_of_a_lobe():
    """int (1 - |s|^q)^n ds over -1 to 1, halved: B(1/q, n + 1)/q."""
    s = np.linspace(-1.0, 1.0, 20_001)
    for flank, nose in ((2.5, 2.0), (1.5, 2.4), (4.0, 1.8)):
        lift = card_lift(120.0 * s, -120.0, 120.0, 1.0, 0.0, 0.0, Lobe(flank, nose))
        assert np.trapezoid(lift, s) / 2 == pytest.approx(beta(1 / nose, flank + 1) / nose, rel=1e-5)


def test_cam_acceleration_has_no_step():
    """Second difference of lift shrinks with the step everywhere, seats included."""

    def jump(n):
        x = np.linspace(-20, 260, n)
        a = np.gradient(np.gradient(card_lift(x, 0.0, 240.0, 0.01, 0.0, 0.0), x), x)
        return np.max(np.abs(np.diff(a)))

    assert jump(40001) < 0.2 * jump(1001)


def test_lift_table_passes_its_points():
    angle, lift = [0, 60, 120, 180, 240], [0.0, 4e-3, 9e-3, 4e-3, 0.0]
    assert table_lift(np.array(angle) + 350.0, 350.0, angle, lift, 0.0) == pytest.approx(lift)
    assert table_lift([300.0, 600.0], 350.0, angle, lift, 0.0).tolist() == [0.0, 0.0]
    assert max(table_lift(np.arange(720.0), 350.0, angle, lift, 1e-3)) == pytest.approx(8e-3)


def test_valve_area_stages():
    """Heywood eqs. 6.7 to 6.9, each in the middle of its stage, and their limits: cone up to
    w / (sin b cos b), port from sqrt(((Dp^2 - Ds^2) / (4 Dm))^2 - w^2) + w tan b."""
    head, width, angle, stem = 0.035, 0.0015, 30.0, 0.006
    b = np.radians(angle)
    throat, mean = head - 2 * width, head - width
    first = width / (np.sin(b) * np.cos(b))
    last = np.sqrt(((throat**2 - stem**2) / (4 * mean)) ** 2 - width**2) + width * np.tan(b)
    low, middle, port = 0.5 * first, 0.5 * (first + last), 1.01 * last
    areas = geometric_area([low, middle, port], head, width, angle, stem)
    assert areas == pytest.approx(
        [
            np.pi * low * np.cos(b) * (head - 2 * width + low * np.sin(2 * b) / 2),
            np.pi * mean * np.hypot(middle - width * np.tan(b), width),
            np.pi / 4 * (throat**2 - stem**2),
        ],
        rel=1e-12,
    )
    under = 0.98 * first
    cone = np.pi * under * np.cos(b) * (head - 2 * width + under * np.sin(2 * b) / 2)
    assert geometric_area(under, head, width, angle, stem) == pytest.approx(cone, rel=1e-12)
    for lift, within in ((first, 1e-5), (last, 1e-5)):
        below, above = geometric_area([lift - 1e-9, lift + 1e-9], head, width, angle, stem)
        assert below == pytest.approx(above, rel=within)
    just_before, after = geometric_area([last - 1e-5, last + 1e-3], head, width, angle, stem)
    assert just_before < after == areas[2]


def test_effective_area_uses_its_reference():
    lift = np.array([0.0, 0.005])
    area = effective_area(lift, [0.0, 1.0], [0.6, 0.6], "curtain", 0.035, 0.0015, 45.0, 0.006)
    assert area == pytest.approx([0.0, 0.6 * np.pi * 0.035 * 0.005])
    seat = effective_area(lift, [0.0, 1.0], [0.6, 0.6], "seat", 0.035, 0.0015, 45.0, 0.006)
    assert seat == pytest.approx([0.0, 0.6 * np.pi / 4 * 0.035**2])
    with pytest.raises(ValueError, match="unknown reference"):
        effective_area(lift, [0, 1], [1, 1], "other", 0.035, 0.0015, 45.0, 0.006)


@pytest.mark.parametrize(("temperature", "due"), [(300.0, 0.1596), (600.0, 0.1072)])
def test_woschni_is_its_nusselt_number(temperature, due):
    """Nu = 0.035 Re^0.8 with air's properties (CoolProp): h over B^-0.2 p^0.8 w^0.8, W, m, kPa, m/s, within
    3.1 %; 3.26 with T^-0.55 lies 8 to 11 % below."""
    cool = pytest.importorskip("CoolProp.CoolProp", reason="CoolProp is not installed (test extra)")
    k, mu, rho = (cool.PropsSI(what, "T", temperature, "P", 1e5, "Air") for what in ("L", "V", "D"))
    bore, w = 0.1, 10.0
    nusselt = 0.035 * (rho * w * bore / mu) ** 0.8
    expected = nusselt * k / bore
    assert expected / (bore**-0.2 * (100.0 * w) ** 0.8) == pytest.approx(due, rel=0.01)
    h = woschni(bore, 1e5, temperature, w / 2.28, False, False, 5e-4, (1e5, 350.0, 5e-4), 5e-5)
    assert h == pytest.approx(expected, rel=0.035)


@pytest.mark.parametrize("scatter", [0.0, 2.0, 5.0])
def test_scatter_widens_the_mean_burn(scatter):
    """Variances add: of the law and of its phase."""
    angle = np.linspace(0.0, 200.0, 40001)
    _, total = wiebe_timing(0.0, 26.0, 2.0)
    x = scattered_share(angle, total, 2.0, scatter)
    assert x[0] == pytest.approx(0.0, abs=1e-9)
    assert x[-1] == pytest.approx(1.0)
    alone = wiebe_share(angle, 0.0, total, 2.0)

    def moments(share):
        rate, middle = np.diff(share), 0.5 * (angle[1:] + angle[:-1])
        mean = np.sum(rate * middle)
        return mean, np.sum(rate * (middle - mean) ** 2)

    (mean, variance), (own_mean, own) = moments(x), moments(alone)
    assert mean - LEAD * scatter == pytest.approx(own_mean, abs=1e-3)
    assert variance == pytest.approx(own + scatter**2, rel=1e-3)


def test_mean_burn_makes_the_mean_work_of_its_cycles():
    """Closed cylinder, constant heat capacities, no heat to the walls: d(p V^k) = (k - 1) V^(k-1) dQ. The
    work of the mean burn is the mean of the works, as the docstring of burn.py has it."""
    k, q, swept, ratio = 1.3, 1500.0, 5e-4, 10.0
    angle = np.linspace(-180.0, 180.0, 7201)
    height = 0.5 * (1.0 - np.cos(np.radians(angle))) + 1.0 / (ratio - 1.0)
    v = swept * height
    start, total = wiebe_timing(8.0, 26.0, 2.0)

    def work(share):
        heat = q * (share - share[0])
        filled = np.concatenate(
            [[0.0], np.cumsum(0.5 * (v[1:] ** (k - 1) + v[:-1] ** (k - 1)) * np.diff(heat))]
        )
        p = (1e5 * v[0] ** k + (k - 1) * filled) / v**k
        return np.sum(0.5 * (p[1:] + p[:-1]) * np.diff(v))

    scatter = 4.0
    begin = start - LEAD * scatter
    mean = work(scattered_share(angle - begin, total, 2.0, scatter))
    each = [work(wiebe_share(angle, start + s * scatter, total, 2.0)) for s in NODES]
    assert mean == pytest.approx(float(np.dot(WEIGHTS, each)), rel=1e-9)
    assert mean < 0.999 * work(wiebe_share(angle, start, total, 2.0))


@pytest.mark.parametrize(("relative", "due"), [(0.9, 1.0), (1.0, 1.065), (1.1, 1.18)])
def test_lean_gasoline_burns_slowly(relative, due):
    """By hand from Heywood's table 9.3 (from memory): 30.5 - 54.9 (phi - 1.21)^2 cm/s."""
    velocity = [30.5 - 54.9 * (1.0 / r - 1.21) ** 2 for r in (0.9, relative)]
    assert slowness("gasoline", relative) == pytest.approx(velocity[0] / velocity[1], rel=1e-9)
    assert slowness("gasoline", relative) == pytest.approx(due, rel=0.02)
    assert slowness("methane", relative) == 1.0
