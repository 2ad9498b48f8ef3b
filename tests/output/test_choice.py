"""The choice, its margin and its costs, by hand; the same sentences on the screen and on the page."""

import re

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command

from aircolumn.cli import main
from aircolumn.curves.choice import choice_of
from aircolumn.engine.description.computing import Speeds
from aircolumn.output.curves.choice import choice_sentences, how_sure_sentence
from aircolumn.study.bands.kept import KeptBands, kept_bands

RPM = np.arange(1000.0, 5001.0, 1000.0)
SPEEDS = Speeds.model_validate(
    {
        "from": "1000 rpm",
        "to": "5000 rpm",
        "step": "1000 rpm",
        "interest_from": "2000 rpm",
        "interest_to": "3000 rpm",
    }
)
#: N m: b leads in the range by 10 of 190, loses above it and at peak power, a is level with it below
TORQUE = {
    "a": [150.0, 190.0, 190.0, 200.0, 180.0],
    "b": [150.0, 200.0, 200.0, 160.0, 120.0],
    "c": [100.0, 100.0, 100.0, 100.0, 100.0],
}


def curves(torque):
    """Runners as a Dataset."""
    names = list(torque)
    data = xr.Dataset(coords={"runner": names, "rpm": RPM})
    values = np.array([torque[n] for n in names])
    for figure, made in (("torque", values), ("power", values * RPM * np.pi / 30.0), ("ve", values / 200.0)):
        data[figure] = (("runner", "rpm"), made)
    return data


def test_the_choice_by_hand():
    found = choice_of(curves(TORQUE), SPEEDS)
    assert (found.winner, found.torque, found.second) == ("b", 200.0, ("a", 190.0))
    power, above = found.costs
    assert above.over.spans == [(3000.0, 5000.0)]
    assert (above.runner, above.own, above.most) == ("a", 160.0, 192.5)
    assert above.share == pytest.approx(1.0 - 160.0 / 192.5)
    assert (power.over, power.runner) == (None, "a")
    assert (power.own, power.most) == pytest.approx([160 * 4000 * np.pi / 30, 180 * 5000 * np.pi / 30])
    assert choice_sentences(found) == [
        "b makes the most torque from 2000 to 3000 rpm: 200.0 N m on average, 10.0 N m (5.3 %) more than a.",
        "It costs 27.2 kW (28.9 %) of peak power and 32.5 N m (16.9 %) of mean torque from 3000 to 5000 rpm,"
        " against a.",
    ]


def test_costs_of_two_others_name_each():
    torque = {**TORQUE, "c": [250.0, 100.0, 100.0, 100.0, 100.0]}
    _, costs = choice_sentences(choice_of(curves(torque), SPEEDS))
    assert "from 1000 to 2000 rpm (against c)" not in costs  # its mean there is that of b: (250 + 100) / 2
    torque["c"][0] = 300.0
    _, costs = choice_sentences(choice_of(curves(torque), SPEEDS))
    assert "25.0 N m (12.5 %) of mean torque from 1000 to 2000 rpm (against c)" in costs
    assert costs.count("(against a)") == 2


def test_level_runners_and_none():
    level = {"a": [190.0] * 5, "b": [190.5] * 5}
    found = choice_of(curves(level), SPEEDS)
    assert found.winner is None
    assert found.best == ["b", "a"]
    assert choice_of(curves({"a": [np.nan] * 5, "b": [np.nan] * 5}), SPEEDS) is None
    (said,) = choice_sentences(None)
    assert said.startswith("Which runner is best cannot be said")


def test_where_friction_takes_all():
    """Means below 0: a best there is all the same."""
    found = choice_of(curves({"a": [-20.0] * 5, "b": [-10.0] * 5}), SPEEDS)
    assert (found.winner, found.second, found.costs) == ("b", ("a", -20.0), [])
    assert choice_sentences(found)[0].endswith("-10.0 N m on average, 10.0 N m more than a.")
    assert choice_of(curves({"a": [-20.0] * 5, "b": [-20.0] * 5}), SPEEDS).best == ["a", "b"]


def test_nothing_is_lost():
    found = choice_of(curves({"a": [200.0] * 5, "b": [150.0] * 5}), SPEEDS)
    assert found.shortfall is None
    assert choice_sentences(found)[1].startswith("It costs nothing elsewhere")


def test_what_is_lost_within_the_range():
    """Over all speeds: a mean that leads hides what is lost at the ends."""
    torque = {"a": [220.0, 220.0, 220.0, 200.0, 150.0], "b": [150.0, 190.0, 190.0, np.nan, 187.5]}
    torque["c"] = [100.0, 100.0, 100.0, 202.0, 100.0]
    every = Speeds.model_validate({"from": "1000 rpm", "to": "5000 rpm", "step": "1000 rpm"})
    found = choice_of(curves(torque), every)
    assert (found.shortfall.rpm, found.shortfall.runner) == (5000.0, "b")
    assert found.shortfall.share == pytest.approx(0.2)
    said = choice_sentences(found)[1]
    assert said.endswith("Within the range it loses most at 5000 rpm: 37.5 N m (20.0 %), against b.")
    assert choice_of(curves({**torque, "b": [np.nan] * 5}), SPEEDS).shortfall is None  # 5000 rpm is beyond


def test_how_sure():
    found = choice_of(curves(TORQUE), SPEEDS)
    kept = KeptBands("", 48, 48, [], "b", "b", 0.0625, "measure the bore", 0.02)
    said = "The chance that another is better is 6 %, by 48 engines that fit the file."
    assert how_sure_sentence(found, kept) == f"{said} To know better: measure the bore (then 2 %)."
    sure = KeptBands("", 48, 48, [], "b", "b", 0.0, "", 0.0)
    assert how_sure_sentence(found, sure) == "It is the best in all of 48 engines that fit the file."
    other = KeptBands("", 48, 48, [], "a", "a", 0.3, "", 0.0)
    assert "choose another runner, a" in how_sure_sentence(found, other)
    old = KeptBands("", 48, 48, [], "b", "b", 0.0, "", 0.0, outdated=True)
    assert "of an earlier state of the engine file" in how_sure_sentence(found, old)
    level = choice_of(curves({"b": [190.0] * 5, "a": [190.5] * 5}), SPEEDS)
    assert how_sure_sentence(level, None) == "How sure that is has not been computed."
    assert how_sure_sentence(level, kept).startswith("Of 48 engines that fit the file, b is the best in most")
    assert how_sure_sentence(choice_of(curves({"b": [190.0] * 5}), SPEEDS), kept) == ""
    assert how_sure_sentence(found, None, "x") == "How sure that is has not been computed (x does)."


def test_bands_that_one_has_are_used(tmp_path, monkeypatch):
    """By compare and report, with their speeds and engines; no more once the file has changed."""
    pytest.importorskip("plotly")
    monkeypatch.chdir(tmp_path)
    file = tmp_path / "engine.yaml"
    file.write_text(DEMO.read_text())
    with made_up.in_place():
        bands = command(
            "bands", file, "--rpm", "2000", "3000", "4000", "5000", "--cases", "40", out="engine-bands"
        )
        assert bands.code == 0, bands.complaints
        said = " ".join(command("compare", file, "--only-given", out=tmp_path / "c").said.split())
        assert main(["report", str(file), "--only-given", "--out", "r"]) == 0
    sentence = re.search(
        r"(It is the best in all of 40|The chance that another is better is \d+ %, by 40)", said
    )
    assert sentence
    page = " ".join((tmp_path / "r" / "report.html").read_text().split())
    assert sentence[0] in page
    assert "How sure is it" in page
    import aircolumn

    assert kept_bands(aircolumn.load(file), tmp_path / "engine-bands").rpm == [2000.0, 3000.0, 4000.0, 5000.0]
    file.write_text(file.read_text().replace("diameter: 35 mm", "diameter: 34 mm"))
    with made_up.in_place():
        said = " ".join(command("compare", file, "--only-given", out=tmp_path / "d").said.split())
        assert "of an earlier state of the engine file" in said
        assert main(["report", str(file), "--only-given", "--out", "r2"]) == 0
    assert "How sure is it" not in (tmp_path / "r2" / "report.html").read_text()
