"""The range that matters: means over weights, ranges, gears and a logged drive."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command, rows_of

import aircolumn
from aircolumn.curves.interest import Range, interest
from aircolumn.engine.description.computing import Speeds
from aircolumn.errors import InputError
from aircolumn.questions.aims import Aim, check_aim, value_of

RPM = np.array([1500.0, 2300.0, 2900.0, 4100.0, 6000.0])
TORQUE = np.array([190.0, 230.0, 210.0, 260.0, 150.0])
INTEREST = "interest_from: 2500 rpm\n  interest_to: 4000 rpm"


def used(folder, use):
    text = DEMO.read_text()
    assert INTEREST in text
    path = folder / "engine.yaml"
    path.write_text(text.replace(INTEREST, f"use: {use}"))
    return path


def by_quadrature(weight, low, high, cuts=()):
    def over(f):
        return quad(f, low, high, points=sorted({*cuts, *RPM[(low < RPM) & (high > RPM)]}), limit=200)[0]

    return over(lambda n: weight(n) * np.interp(n, RPM, TORQUE)) / over(weight)


@given(
    st.lists(st.floats(0.0, 5.0), min_size=3, max_size=3).filter(lambda w: sum(w) > 0.1),
    st.floats(1600, 2800),
    st.floats(100, 900),
)
def test_mean_of_straight_weights(weights, start, step):
    speeds = [start, start + step, start + 3 * step]
    found = Range.lines(speeds, weights).mean(RPM, TORQUE)
    due = by_quadrature(lambda n: np.interp(n, speeds, weights), speeds[0], speeds[-1], speeds[1:2])
    assert found == pytest.approx(due, rel=1e-7)


def test_ranges_with_weights(tmp_path):
    """Overlapping ranges add: 1 from 2000 to 3000, 3 from 2500 to 3500 rpm, nothing up to 5000."""
    ranges = (
        "from: 2000 rpm, to: 3000 rpm",
        "from: 2500 rpm, to: 3500 rpm, weight: 3",
        "from: 5000 rpm, to: 5500 rpm",
    )
    use = f"{{ranges: [{', '.join(f'{{{r}}}' for r in ranges)}]}}"
    span = interest(aircolumn.load(used(tmp_path, use)).engine.speeds, RPM)
    pieces = [(2000.0, 2500.0, 1.0), (2500.0, 3000.0, 4.0), (3000.0, 3500.0, 3.0), (5000.0, 5500.0, 1.0)]
    assert span.pieces == tuple((a, w, b, w) for a, b, w in pieces)
    assert span.spans == [(2000.0, 3500.0), (5000.0, 5500.0)]
    assert span.words == "from 2000 to 5500 rpm, weighted by use"
    due = sum(w * (b - a) * Range.between(a, b).mean(RPM, TORQUE) for a, b, w in pieces)
    assert span.mean(RPM, TORQUE) == pytest.approx(due / sum(w * (b - a) for a, b, w in pieces))


def test_two_ranges_alike_are_named():
    span = Range(((2000.0, 1.0, 2500.0, 1.0), (4000.0, 1.0, 4500.0, 1.0)))
    assert span.words == "from 2000 to 2500 rpm and from 4000 to 4500 rpm"


def test_gears(tmp_path):
    """Ratios 3, 2, 1.5, shifted at 6000: gears from 4000, 4000 and 4500 rpm; time at a speed goes with
    1/(i (i - load i_last)) (Newton's law, constant torque and resistance)."""
    use = "{gears: {ratios: [3, 2, 1.5], shift_at: 6000 rpm, load: 40 %}}"
    span = interest(aircolumn.load(used(tmp_path, use)).engine.speeds, RPM)
    first, second, third = (1.0 / (i * (i - 0.6)) for i in (3.0, 2.0, 1.5))
    assert [p[:2] for p in span.pieces] == [
        (4000.0, pytest.approx(first + second)),
        (4500.0, pytest.approx(first + second + third)),
    ]
    assert span.stop == 6000.0


def test_time_in_gear_by_integration():
    """The weights are what integrating the car's motion through two gears gives."""
    ratios, load, shift = (2.5, 1.4), 0.3, 6000.0
    time = np.zeros(60)
    n, gear, dt = 3360.0, 0, 1e-4
    while not (gear == 1 and n >= shift):
        i = ratios[gear]
        n += dt * 1000.0 * i * (i - load * ratios[-1])  # dn/dt = i dv/dt, dv/dt ~ T i - R
        time[min(int(n // 100), 59)] += dt
        if gear == 0 and n >= shift:
            n, gear = shift * ratios[1] / ratios[0], 1
    use = {"gears": {"ratios": list(ratios), "shift_at": "6000 rpm", "load": "30 %"}}
    stated = Speeds.model_validate({"use": use})
    weight = Range(tuple(stated.use.pieces()))
    shares = [weight.within(a, a + 100.0).total / weight.total for a in (3400.0, 5000.0, 5800.0)]
    assert time[[34, 50, 58]] / time.sum() == pytest.approx(shares, rel=0.01)


LOG = """# a drive, invented
Time [s];Engine speed [rpm];Throttle
0;900;10
1;2050;60
2;2150;80
3;2060;80
30;3010;90
31;3020;90
32;;90
"""


def test_a_logged_drive(tmp_path):
    """Each line lasts until the next; the pause of 27 s and the line without a speed do not count."""
    (tmp_path / "drive.csv").write_text(LOG)
    path = used(tmp_path, "{log: drive.csv}")
    description = aircolumn.load(path)
    got = {r.start: r.weight for r in description.engine.speeds.use.ranges}
    assert got == {900.0: 0.2, 2000.0: 0.2, 2100.0: 0.2, 3000.0: 0.4}
    span = interest(description.engine.speeds, RPM)
    assert span.start == 2000.0  # idling is not computed
    assert [f.path.name for f in description.source.files] == ["engine.yaml", "drive.csv"]


@pytest.mark.parametrize(
    ("log", "said"),
    [
        ("t;n\n1;2\n2;3\n", "no column names rpm; say which one"),
        ("rpm,other rpm\n1,2\n2,3\n", "several columns name rpm"),
        ("rpm\n2000\nfast\n", "'fast' is not a number"),
        ("rpm\n20\n30\n", "no engine speed from 100 to 30000 rpm"),
        ("rpm\n", "a line of headings and two or more lines of figures"),
    ],
)
def test_wrong_logs(log, said, tmp_path):
    (tmp_path / "drive.csv").write_text(log)
    with pytest.raises(InputError, match=re.escape(said)) as caught:
        aircolumn.load(used(tmp_path, "{log: drive.csv}"))
    assert "drive.csv" in str(caught.value)


@pytest.mark.parametrize(
    ("use", "said"),
    [
        ("{}", "give one of: ranges; speeds and weights; gears; log"),
        ("{speeds: [2000 rpm, 3000 rpm]}", "speeds and weights go together"),
        ("{speeds: [3000 rpm, 2000 rpm], weights: [1, 1]}", "speeds must rise"),
        ("{speeds: [2000 rpm, 3000 rpm], weights: [0, 0]}", "no speed has a weight"),
        ("{ranges: [{from: 3000 rpm, to: 2000 rpm}]}", "'to' must be above 'from'"),
        ("{gears: {ratios: [1, 2], shift_at: 6000 rpm}}", "each smaller than the one before"),
        ("{log: missing.csv}", "cannot be read"),
        ("{ranges: [{from: 2000 rpm, to: 3000 rpm}], column: rpm}", "give one of"),
    ],
)
def test_wrong_use(use, said, tmp_path):
    with pytest.raises(InputError, match=re.escape(said)):
        aircolumn.load(used(tmp_path, use))


def test_use_goes_in_place_of_the_range(tmp_path):
    path = tmp_path / "engine.yaml"
    path.write_text(
        DEMO.read_text().replace(
            INTEREST, f"{INTEREST}\n  use: {{ranges: [{{from: 2000 rpm, to: 3000 rpm}}]}}"
        )
    )
    with pytest.raises(InputError, match="give either use, or interest_from and interest_to"):
        aircolumn.load(path)


def test_aims_of_a_study_follow_it():
    span = Range(((2000.0, 1.0, 2500.0, 1.0), (4000.0, 3.0, 4500.0, 3.0)))
    aim = check_aim(Aim(), RPM, span)
    assert value_of(aim, RPM, TORQUE) == pytest.approx(span.mean(RPM, TORQUE), rel=1e-5)
    power = check_aim(Aim(of="mean_power"), RPM, span)
    assert value_of(power, RPM, TORQUE) == pytest.approx(
        span.mean(RPM, TORQUE * RPM * np.pi / 30.0), rel=1e-5
    )


def test_commands_use_it(tmp_path):
    path = used(tmp_path, "{speeds: [2000 rpm, 3000 rpm, 5000 rpm], weights: [0, 1, 0]}")
    with made_up.in_place():
        done = command("compare", path, out=tmp_path / "o")
    assert done.code == 0
    said = " ".join(done.said.split())
    table = rows_of(done.out / "compare.csv")
    rpm = np.array([float(r["rpm"]) for r in table if r["runner"] == "long"])
    torque = np.array(
        [
            float(next(v for k, v in r.items() if k.startswith("torque")))
            for r in table
            if r["runner"] == "long"
        ]
    )
    mean = Range.lines([2000, 3000, 5000], [0, 1, 0]).mean(rpm, torque)
    assert "mean torque from 2000 to 5000 rpm, weighted by use, N m:" in said
    assert f"long {mean:.1f}" in said


def test_check_says_what_of_it_is_not_computed(tmp_path, capsys):
    from aircolumn.cli import main

    path = used(tmp_path, "{ranges: [{from: 1000 rpm, to: 2000 rpm}, {from: 5500 rpm, to: 6500 rpm}]}")
    assert main(["check", str(path)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    told = "from 1000 to 2000 rpm and from 5500 to 6500 rpm; 50 % of it lies outside the speeds"
    assert f"range that matters {told} computed" in said
