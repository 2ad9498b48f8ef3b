"""Runners against one of them. Curves are those of the made-up engine, known beforehand."""

import numpy as np
import pytest
from tests import made_up
from tests.conftest import DEMO
from tests.made_up_curves import RUNNERS, SPEEDS, by_hand
from tests.printed import command, lines_of, right_aligned, rows_of

import aircolumn
from aircolumn.curves.against import gains, ranges_of
from aircolumn.curves.interest import Range
from aircolumn.engine.description.computing import Speeds
from aircolumn.errors import RequestError


def test_ranges_are_the_one_that_matters_and_what_lies_beside_it():
    rpm = np.array([1500.0, 3000.0, 6000.0])
    inside = Speeds(interest_from="2500 rpm", interest_to="4000 rpm")
    assert ranges_of(inside, rpm) == [
        Range.between(2500.0, 4000.0),
        Range.between(1500.0, 2500.0),
        Range.between(4000.0, 6000.0),
    ]
    to_the_top = Speeds(interest_from="2500 rpm", interest_to="6000 rpm")
    assert ranges_of(to_the_top, rpm) == [Range.between(2500.0, 6000.0), Range.between(1500.0, 2500.0)]
    assert ranges_of(Speeds(), rpm) == [Range.between(1500.0, 6000.0)]
    assert ranges_of(Speeds(), rpm[:1]) == []


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    out = tmp_path_factory.mktemp("against") / "o"
    with made_up.in_place():
        return command("compare", DEMO, "--only-given", "--against", "long", out=out)


def torque(demo):
    return {n: np.array([p["torque"] for p in by_hand(demo)[n]]) for n in RUNNERS}


def mean_over(values, low, high):
    x = np.concatenate([[low], SPEEDS[(low < SPEEDS) & (high > SPEEDS)], [high]])
    return np.trapezoid(np.interp(x, SPEEDS, values), x) / (high - low)


def test_table_and_file_hold_the_differences(ran, demo):
    known = torque(demo)
    assert ran.code == 0
    text = ran.said[ran.said.index("Torque against long") :]
    heads, rows = right_aligned(text, "rpm")
    assert heads == ["rpm", "short N m", "middle N m"]
    for k, name in enumerate(("short", "middle"), 1):
        due = known[name] - known["long"]
        assert [float(r[0]) for r in rows] == list(SPEEDS)
        assert [float(r[k]) for r in rows] == pytest.approx(due, abs=0.051)
        assert all(r[k][0] in "+-" for r in rows)
    table = rows_of(ran.out / "compare-against-long.csv")
    written = [float(row["torque of middle less long [N m]"]) for row in table]
    assert written == pytest.approx(known["middle"] - known["long"], rel=1e-5)
    assert list(table[0]) == ["rpm", "torque of short less long [N m]", "torque of middle less long [N m]"]


def test_sentences_say_what_a_runner_gives_and_costs(ran, demo):
    known = torque(demo)
    text = " ".join(ran.said.split())
    said = text[text.index("short against long:") : text.index("middle against long:")]
    for low, high in ((2500, 4000), (1500, 2500), (4000, 6000)):
        own, other = (mean_over(known[n], low, high) for n in ("short", "long"))
        off = own / other - 1.0
        due = f"{own - other:+.1f} N m ({100 * off:+.1f} %) from {low} to {high} rpm"
        level = f"level within 0.5 % from {low} to {high} rpm"
        assert (level if abs(off) < 0.005 else due) in said
    gap = known["short"] - known["long"]
    k, j = int(gap.argmax()), int(gap.argmin())
    assert f"gains most at {SPEEDS[k]:.0f} rpm ({gap[k]:+.1f} N m)" in said
    assert f"loses most at {SPEEDS[j]:.0f} rpm ({gap[j]:+.1f} N m)" in said


def test_picture_draws_the_differences(ran, demo):
    known = torque(demo)
    (panel,) = ran.pictures["compare-against-long.svg"].axes
    lines = lines_of(panel)
    assert panel.get_ylabel().startswith("torque minus that of long, N m")
    for name in ("short", "middle"):
        rpm, values = lines[name]
        assert np.array_equal(rpm, SPEEDS)
        assert values == pytest.approx(known[name] - known["long"])


def test_what_cannot_be_set_against_another_is_told(tmp_path, demo, capsys):
    with made_up.in_place():
        ran = command("compare", DEMO, "--against", "wide", out=tmp_path / "o")
        data = aircolumn.compare(demo.only("long"), [3000.0])
    assert ran.code == 2
    assert "no runner 'wide'" in ran.complaints
    with pytest.raises(RequestError, match="no other runner"):
        gains(data, "long", demo.engine.speeds)


def test_a_gap_is_a_gap_and_not_nothing(demo):
    with made_up.in_place(missing=(3000.0,)):
        data = aircolumn.compare(demo, [2000.0, 3000.0, 4000.0])
    short, _ = gains(data, "long", demo.engine.speeds)
    assert np.isnan(short.torque[1])
    assert np.isnan(short.means[Range.between(2500.0, 4000.0)][0])
