"""A page with sliders: interpolation against formulas and held-out engines, and the page in a browser."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
from tests import made_up
from tests.chromium import BROWSER, chromium
from tests.conftest import DEMO
from tests.printed import command

from aircolumn.cli import main
from aircolumn.curves.interest import Range
from aircolumn.engine.description.reader import load
from aircolumn.study.cells import cells_of
from aircolumn.study.executors import Cores
from aircolumn.study.explore import at_shares, explore, explore_plan, refined
from aircolumn.study.points import computed
from aircolumn.study.store import Store

SPANS = {"intake.runner.length": ("250 mm", "750 mm"), "intake.plenum.volume": ("3 L", "12 L")}
SPEEDS = [2000.0, 3000.0, 4000.0, 5000.0]
#: moves the sliders and reads the page back
MOVE = """
arguments[0].forEach((v, k) => {
  const slider = document.getElementById("slider" + k);
  slider.value = v;
  slider.dispatchEvent(new Event("input"));
});
const y = (id, n) => Array.from(document.getElementById(id).data[n].y);
const text = (id) => document.getElementById(id).textContent;
return {torque: y("steer-torque", 1), held: y("steer-torque", 0), gain: y("steer-gain", 0),
  ve: y("steer-ve", 1), mean: text("mean"), length: text("now0"),
  drawing: document.getElementById("runner").innerHTML,
  wave: document.querySelector("input[name=cycle]:checked").value};
"""


def test_interpolation_of_a_smooth_function():
    """Cubic splines on 19 points, then straight lines on a grid four times finer: the error is that of the
    straight lines, h^2/8 times the second derivative."""
    x, y = np.linspace(0.0, 1.0, 19)[:, None, None], np.linspace(0.0, 1.0, 5)[None, :, None]
    speeds = np.array([1.0, 2.0])
    table = refined(np.sin(3.0 * np.pi * x) + y**2 * speeds)
    assert table.shape == (73, 17, 2)
    shares = np.random.default_rng(1).random((500, 2))
    due = np.sin(3.0 * np.pi * shares[:, :1]) + shares[:, 1:] ** 2 * speeds
    within = (3.0 * np.pi / 72.0) ** 2 / 8.0 + 2.0 * speeds.max() / 16.0**2 / 8.0 + 1e-4
    assert np.abs(at_shares(table, shares) - due).max() < within


def test_nothing_is_said_beyond_the_grid():
    with pytest.raises(ValueError, match="out of bounds"):
        at_shares(np.zeros((5, 3)), np.array([[1.01]]))


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """The made-up engine over two keys."""
    store = Store(tmp_path_factory.mktemp("explore") / "points.sqlite")
    plan = explore_plan(DEMO, SPANS, SPEEDS)
    with made_up.in_place():
        explored = explore(plan, store, Cores())
    store.close()
    return explored


def test_between_computed_engines(found):
    shares = np.random.default_rng(3).random((300, 2))
    engines = [found.plan.case(values).engine for values in found.plan.scaled(shares)]
    due = [[made_up.point(engine, n).figures["torque"] for n in SPEEDS] for engine in engines]
    off = np.abs(found.at("torque", shares) / np.array(due) - 1.0)
    assert np.mean(off <= found.errors["torque"] + 2e-3) > 0.9  # the made-up cells' error is 0.1 %
    assert found.errors["torque"] < 0.005


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    pytest.importorskip("plotly")
    out = tmp_path_factory.mktemp("explored") / "o"
    vary = [x for key, span in SPANS.items() for x in ("--vary", key, *span)]
    with made_up.in_place():
        assert main(["explore", str(DEMO), *vary, "--rpm", *map(str, SPEEDS), "--out", str(out)]) == 0
    return out / "explore.html"


def test_what_the_page_holds(page, found):
    text = page.read_text()
    held = json.loads(re.search(r"const EXPLORE = (.*);</script>", text)[1])
    assert held["rpm"] == SPEEDS
    assert held["sizes"] == list(found.tables["torque"].shape[:2])
    assert held["torque"] == pytest.approx(found.tables["torque"].ravel(), rel=1e-4)
    assert [k["low"] for k in held["keys"]] == pytest.approx([0.25, 3e-3])
    assert [k["high"] for k in held["keys"]] == pytest.approx([0.75, 12e-3])
    assert "of 100 points (checked on 40 engines in between)" in " ".join(text.split())
    assert "not a clearance to run" in text


@pytest.fixture
def browser():
    pytest.importorskip("selenium")
    if not all(BROWSER):
        pytest.skip("no chromium and chromedriver here")
    with chromium("--window-size=1000,900") as driver:
        yield driver


def test_the_sliders_in_a_browser(browser, page, found):
    """Values are read back from the page, and are those of the interpolation."""
    browser.get(page.as_uri())
    first = browser.execute_script(MOVE, [200, 500])
    browser.execute_script("document.getElementById('pin').click()")
    then = browser.execute_script(MOVE, [730, 250])
    due, pinned = found.at("torque", [[0.73, 0.25], [0.2, 0.5]])
    assert first["torque"] == pytest.approx(pinned, rel=1e-4)
    assert then["held"] == pytest.approx(pinned, rel=1e-4)
    assert then["torque"] == pytest.approx(due, rel=1e-4)
    assert then["gain"] == pytest.approx(due - pinned, abs=0.05)
    assert then["ve"] == pytest.approx(100.0 * found.at("ve", [[0.73, 0.25]])[0], rel=1e-4)
    assert then["length"] == "615 mm"
    assert "350 mm, " in then["mean"]
    assert then["drawing"] != first["drawing"]
    assert (first["wave"], then["wave"]) == ("1", "3")
    mean = Range.between(2500.0, 4000.0).mean(found.rpm, due)
    assert f"{mean:.1f} N m" in then["mean"]
    browser.execute_script("document.querySelector('input[value=us]').click()")
    told = browser.execute_script("return document.getElementById('mean').textContent")
    assert f"{mean / 1.3558179483314:.1f} lbf ft" in told
    browser.execute_script("document.querySelector('input[value=metric]').click()")
    browser.find_element("css selector", "button.start").click()
    told = browser.execute_script("return document.getElementById('mean').textContent")
    answer = browser.find_element("css selector", ".answer p").text
    best = re.search(r"The most mean torque from 2500 to 4000 rpm: ([\d.]+) N m", answer)[1]
    assert f"Mean torque from 2500 to 4000 rpm: {best} N m" in told
    typed = browser.find_element("id", "typed0")
    assert float(typed.get_attribute("value")) == pytest.approx(
        float(re.search(r"runner length ([\d.]+) mm", answer)[1]), abs=0.6
    )
    typed.clear()
    typed.send_keys("400\ue007")
    assert browser.find_element("id", "now0").text == "400 mm"
    assert browser.get_log("browser") == []


def test_any_candidate_is_varied(tmp_path):
    """The long one by name: the page starts at it, and names it."""
    plan = explore_plan(DEMO, {"intake.runner.bore": ("40 mm", "46 mm")}, SPEEDS, "long")
    assert plan.engine.intake.runner.total_length == pytest.approx(0.65)
    key = explore_plan(DEMO, {"runners.long.length": ("500 mm", "700 mm")}, SPEEDS)
    assert key.engine.intake.runner.total_length == pytest.approx(0.65)
    with made_up.in_place():
        assert command("explore", DEMO, "--runner", "long", out=tmp_path / "e").code == 0
        ran = command("map", DEMO, "--runner", "long", "--vary", "bore", "--steps", "3", out=tmp_path / "m")
    page = (tmp_path / "e" / "explore.html").read_text()
    assert "It starts at the runner long, which is pinned: length 650 mm and bore 42 mm." in page
    assert ran.code == 0
    ve = np.loadtxt(tmp_path / "m" / "map-bore-long.csv", delimiter=",", skiprows=1)[1, 1:4]
    own = load(DEMO).with_runner("long")
    rpm = [1500.0, 2000.0, 2500.0]
    assert ve == pytest.approx([100.1 * made_up.filling(own, n) for n in rpm], rel=1e-6)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--vary", "intake.runner.lenght", "1 m", "2 m"], "lenght"),
        (["--vary", "intake.runner.length", "300 mm", "200 mm"], "'to' must be above 'from'"),
        (["--vary", "title", "1", "2"], "it names the engine"),
        (["--vary", "a", "1", "2"] * 3, "--vary may stand once or twice"),
    ],
)
def test_wrong_requests(arguments, said, tmp_path):
    pytest.importorskip("plotly")
    done = command("explore", DEMO, *arguments, out=tmp_path / "o")
    assert done.code == 2
    assert said in done.complaints


@pytest.mark.slow
def test_300_engines_in_between_are_within_what_is_said(tmp_path):
    """Of the demo engine, by the solver: 95 of 100 points of 300 engines that took no part."""
    spans = {"intake.runner.length": ("203 mm", "780 mm"), "intake.runner.bore": ("37 mm", "47 mm")}
    plan = explore_plan(Path(DEMO), spans, list(np.linspace(1500.0, 6000.0, 19)))
    store = Store(tmp_path / "points.sqlite")
    found = explore(plan, store, Cores())
    shares = np.random.default_rng(5).random((300, 2))
    cells = cells_of(plan, store, Cores()).screening
    rows = computed(plan.on(cells), plan.scaled(shares), store, Cores())
    due = np.array([[o.figure("torque") for o in row] for row in rows])
    store.close()
    held = np.mean(np.abs(found.at("torque", shares) / due - 1.0) <= found.errors["torque"])
    assert 0.92 <= held <= 0.98
