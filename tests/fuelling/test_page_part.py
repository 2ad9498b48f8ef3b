"""The control unit's table on the page."""

import json
import shutil

import numpy as np
import pytest
from tests import made_up
from tests.conftest import DEMO, ROOT
from tests.printed import command

from aircolumn.engine.description.reader import load
from aircolumn.fuelling.session import UsersOwn, control_table
from aircolumn.fuelling.table_file import read_user_table
from aircolumn.output.fuelling.page import fuelled

TABLE = ROOT / "configs" / "invented-ve-middle.csv"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """(what was found, its part of the page)."""
    own = UsersOwn(read_user_table(TABLE), "middle")
    with made_up.in_place():
        found = control_table(load(DEMO), "long", tmp_path_factory.mktemp("table"), own, count=8)
    return found, fuelled(found, load(DEMO).with_runner("long"))


def test_the_answer_comes_first(made):
    _, part = made
    assert part["answer"][0].startswith("From the tuned table of middle (invented-ve-middle.csv):")
    assert any("lean mixture at load breaks engines" in fact for fact in part["facts"])
    json.dumps(part, allow_nan=False)


def test_its_maps_hold_the_table_and_the_change(made):
    found, part = made
    ve, change = part["charts"]
    assert np.array(ve["traces"][0]["z"]["values"]) == pytest.approx(found.values.T)
    shown = np.array(change["traces"][0]["z"]["values"], dtype=float)
    assert shown == pytest.approx(found.moved.ratio.T - 1.0, nan_ok=True)
    assert ve["y"]["title"] == "manifold pressure"
    assert ve["traces"][0]["y"] == pytest.approx(found.at.loads)


def test_the_report_shows_it(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shutil.copy(DEMO, tmp_path / "engine.yaml")
    with made_up.in_place():
        ran = command("report", tmp_path / "engine.yaml", "--rpm", 3000, 4500, "--fuelling", "short",
                      out=tmp_path / "o", rendered=True)  # fmt: skip
    assert ran.code == 0, ran.complaints
    page = (ran.out / "report.html").read_text()
    assert 'id="fuelling">Table of the control unit' in page
    assert "VE of short, over speed and load" in page
    assert list(tmp_path.glob("*fuelling*/points.sqlite"))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--table", f"middle={TABLE}"], "go with --fuelling"),
        (["--fuelling", "huge"], "no runner 'huge'"),
        (["--fuelling", "middle", "--table", f"middle={TABLE}"], "name another"),
    ],
)
def test_wrong_requests_are_told_at_once(words, said, tmp_path):
    with made_up.in_place():
        ran = command("report", DEMO, *words, out=tmp_path / "o")
    assert ran.code == 2
    assert said in ran.complaints
    assert "computed" not in ran.complaints
    assert not ran.out.exists()
