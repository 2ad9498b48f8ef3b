"""Candidates built as one manifold that changes over: where, and what it gains."""

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command, lines_of, rows_of

import aircolumn
from aircolumn.cli import main
from aircolumn.curves.interest import Range
from aircolumn.curves.switchable import all_switched, switched
from aircolumn.output.curves.text import switched_text

RPM = np.arange(1000.0, 6001.0, 1000.0)


def curves(**torque):
    """A Dataset of made-up curves; VE is a hundredth of torque."""
    values = np.array(list(torque.values()), dtype=float)
    return xr.Dataset(
        {"torque": (("runner", "rpm"), values), "ve": (("runner", "rpm"), values / 100.0)},
        {"runner": list(torque), "rpm": RPM},
    )


def test_two_lines_that_cross():
    """100 to 150 and 150 to 100 N m: they meet at 3500 rpm and 125 N m; the mean is that of the two
    upper halves, 137.5, 12.5 more than of either."""
    rising = 90.0 + 10.0 * RPM / 1000.0
    m = switched(
        "two", curves(long=rising[::-1], short=rising), ["short", "long"], Range.between(2000.0, 3000.0)
    )
    assert m.runner == ["long"] * 3 + ["short"] * 3
    assert list(m.torque) == [150, 140, 130, 130, 140, 150]
    assert m.ve == pytest.approx(m.torque / 100.0)
    assert m.changes == [(3500.0, "long", "short")]
    whole, part = m.means[Range.between(1000.0, 6000.0)], m.means[Range.between(2000.0, 3000.0)]
    assert whole[0] == pytest.approx(137.5)
    assert whole[1] == pytest.approx({"short": 125.0, "long": 125.0})
    assert (part[0], part[1]["short"]) == pytest.approx((135.0, 115.0))
    assert switched_text(m) == (
        "two: long up to 3500 rpm, short above (equal torque where it changes over)\n"
        "two: mean torque from 2000 to 3000 rpm 135.0 N m, +20.0 over short alone, +0.0 over long"
        " alone\n"
        "two: mean torque from 1000 to 6000 rpm 137.5 N m, +12.5 over short alone, +12.5 over long"
        " alone"
    )


def test_three_runners_and_a_gap():
    """Each has its third of the range; a speed that one lacks is left out."""
    data = curves(
        a=[150, 120, 100, 90, 80, 70], b=[100, 121, 130, 125, 110, 90], c=[80, 90, 100, np.nan, 120, 140]
    )
    m = switched("three", data, ["a", "b", "c"])
    assert list(m.rpm) == [1000, 2000, 3000, 5000, 6000]
    assert m.runner == ["a", "b", "b", "c", "c"]
    assert [c[1:] for c in m.changes] == [("a", "b"), ("b", "c")]
    assert m.changes[0][0] == pytest.approx(1000.0 + 1000.0 * 50 / 51)
    assert m.means == {}
    assert "mean" not in switched_text(m)


def test_a_runner_without_points_makes_no_manifold(demo):
    nothing = np.full(6, np.nan)
    data = curves(short=nothing, middle=np.full(6, 100.0), long=np.full(6, 100.0))
    assert all_switched(demo, data) == []
    assert [m.name for m in all_switched(demo, curves(short=RPM, middle=RPM, long=RPM))] == ["two-way"]


def test_level_curves_do_not_make_it_hunt():
    """Leads of less than half a per cent."""
    m = switched("two", curves(a=[100, 100.3, 100, 100.3, 100, 100.2], b=np.full(6, 100.1)), ["a", "b"])
    assert m.changes == []
    assert m.runner == ["b"] * 6
    assert "two: b at all speeds\n" in switched_text(m)


def test_a_lead_that_grows_slowly_counts_from_where_they_met():
    """b passes a at 2500 rpm and leads by half a per cent only at 4000."""
    m = switched("two", curves(a=np.full(6, 100.0), b=[90, 99.8, 100.2, 101, 102, 103]), ["a", "b"])
    assert m.changes == [(2500.0, "a", "b")]
    assert m.runner == ["a", "a", "b", "b", "b", "b"]


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    with made_up.in_place():
        return command("compare", DEMO, out=tmp_path_factory.mktemp("switchable") / "o")


def test_the_demo_changes_over(ran):
    """Printed, written and drawn, of the made-up engine."""
    description = aircolumn.load(DEMO)
    assert description.switchable == {"two-way": ["long", "short"]}
    data = xr.load_dataset(ran.out / "compare.nc")
    m = switched("two-way", data, ["long", "short"], Range.between(2500.0, 4000.0))
    assert [c[1:] for c in m.changes] == [("long", "short")]
    assert switched_text(m) in ran.said
    best = data.torque.sel(runner=["long", "short"]).max("runner")
    assert m.torque == pytest.approx(best.values)
    rows = rows_of(ran.out / "compare-switchable.csv")
    assert [float(r["torque [N m]"]) for r in rows] == pytest.approx(list(m.torque))
    assert [float(r["ve [%]"]) for r in rows] == pytest.approx(list(100.0 * m.ve))
    assert [r["runner in use"] for r in rows] == m.runner
    assert {r["manifold"] for r in rows} == {"two-way"}
    for panel, values in zip(ran.pictures["compare.png"].axes[:2], (100 * m.ve, m.torque), strict=True):
        x, y = lines_of(panel)["two-way"]
        assert list(x) == list(m.rpm)
        assert y == pytest.approx(values)


#: what is wrong: (text, what the message must say)
WRONG = {
    "no such runner": ("{two-way: [long, tall]}", "no runner 'tall' under runners"),
    "one runner": ("{two-way: [long]}", "two or more runners"),
    "twice the same": ("{two-way: [long, long]}", "two or more runners"),
    "no list": ("{two-way: long}", "two or more runners"),
    "no name": ("[long, short]", "give 'name: [runner, runner]' here"),
    "a runner's name": ("{long: [long, short]}", "a runner has this name already"),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_manifolds(name, tmp_path, capsys):
    text, said = WRONG[name]
    there = "switchable:                                   # candidates built as one manifold that"
    lines = DEMO.read_text().splitlines()
    k = next(i for i, line in enumerate(lines) if line.startswith(there))
    lines[k : k + 2] = [f"switchable: {text}"]
    path = tmp_path / "engine.yaml"
    path.write_text("\n".join(lines) + "\n")
    assert main(["check", str(path)]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert f"{path}:{k + 1}:" in error
