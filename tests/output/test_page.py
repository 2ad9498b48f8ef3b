"""The page: what it says, and what it does in a real browser."""

import base64
import json
import re
from importlib.resources import files

import numpy as np
import pytest
import xarray as xr
from tests import made_up, made_up_pulls
from tests.chromium import BROWSER, chromium
from tests.conftest import DEMO
from tests.printed import command
from tests.studies import HEAD, SPAN, SPEEDS

import aircolumn
from aircolumn.cli import main
from aircolumn.output.curves.page import recommendation
from aircolumn.output.page.content import MISSING, left_to_defaults

pytest.importorskip("plotly")
pytest.importorskip("jinja2")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The folder of the demo's report, of the made-up engine; its title is awkward."""
    folder = tmp_path_factory.mktemp("report")
    path = folder / "engine.yaml"
    text = DEMO.read_text()
    title = next(row for row in text.splitlines() if row.startswith("title:"))
    path.write_text(text.replace(title, "title: \"Four <b>$ & </script> 'quoted'\""))
    with made_up.in_place():
        assert main(["report", str(path), "--only-given", "--out", str(folder / "o")]) == 0
    return folder / "o"


@pytest.fixture(scope="module")
def html(made):
    return (made / "report.html").read_text()


def test_the_page_needs_nothing_else(made, html):
    assert (made / "report.html").stat().st_size < 6e6
    own = html[: html.index("<script>")]
    assert not re.findall(r"(?:src|href)=\"(?!data:|#)", own)
    assert "@import" not in own


def test_texts_are_escaped(html):
    shown = "Four &lt;b&gt;$ &amp; &lt;/script&gt; &#39;quoted&#39;"
    assert f"<h1>{shown}</h1>" in html
    assert "Four <b>" not in html


def test_what_it_says(made, html):
    """Answer, facts, reasons, assumptions, inputs, origin, caution."""
    assert "middle makes the most torque from 2500 to 4000 rpm" in html
    assert "short: peak VE" in html
    assert html.count("The suction wave leaves the valve") >= 1
    assert "<code>intake.<wbr>throttle.<wbr>discharge_coefficient</code>" in html
    assert not re.search(r"<code>(part|pull|traces|numerics|space)\.", html)  # no curve depends on them
    shown = re.sub(r"<details>.*?</details>", "", html[: html.index("<script>")], flags=re.DOTALL)
    assert "aircolumn " not in shown.replace("with aircolumn", "")  # no commands for who did not run them
    assert "diameter: 35 mm" in html  # the file itself
    assert json.loads((made / "origin.json").read_text())["date"] in html
    assert "not a clearance to run" in html
    assert html.count("<svg") >= 2


def test_only_what_the_file_leaves_out_is_assumed():
    engine = aircolumn.load(DEMO).engine
    keys = {key for key, _, _ in left_to_defaults(engine)}
    assert "intake.throttle.discharge_coefficient" in keys
    assert "engine.pin_offset" in keys
    assert not keys & {"engine.bore", "intake.throttle.shaft", "combustion.ca50"}


def test_a_tie_is_no_recommendation(demo, compared):
    twice = compared.sel(runner=["long", "long"]).assign_coords(runner=["one", "other"])
    said = recommendation(twice, demo.engine.speeds)["answer"]
    assert said == [
        "No runner leads from 2500 to 4000 rpm: one and other are within 0.5 % of each other, at 232.1 N m on"
        " average.",
        "How sure that is has not been computed.",
    ]


def test_missing_libraries_are_named(monkeypatch, tmp_path, capsys):
    import builtins

    real = builtins.__import__

    def without(name, *more, **others):
        if name == "plotly":
            raise ImportError
        return real(name, *more, **others)

    monkeypatch.setattr(builtins, "__import__", without)
    assert main(["report", str(DEMO), "--out", str(tmp_path / "o")]) == 2
    assert capsys.readouterr().err.strip() == MISSING


@pytest.fixture(scope="module")
def browser(made):
    """Chromium without a screen, with the page open."""
    pytest.importorskip("selenium")
    if not all(BROWSER):
        pytest.skip("no chromium and chromedriver here")
    with chromium(logs=("browser", "performance")) as driver:
        driver.page_of_runners = (made / "report.html").as_uri()
        driver.get(driver.page_of_runners)
        yield driver


def lines(browser, chart) -> list:
    """The ordinates of a chart's lines."""
    return browser.execute_script(f"return document.getElementById('{chart}').data.map(d => d.y)")


def axis_title(browser, chart) -> str:
    """Of the ordinates."""
    return browser.execute_script(f"return document.getElementById('{chart}').layout.yaxis.title.text")


def test_browser_shows_what_the_file_holds(browser, made):
    """In both choices of units; nothing is complained of or asked for."""
    data = xr.load_dataset(made / "report.nc")
    for chart, figure, factor in (("ve", "ve", 100.0), ("torque", "torque", 1.0), ("power", "power", 1e-3)):
        assert np.array(lines(browser, chart)) == pytest.approx(factor * data[figure].values)
    browser.find_element("css selector", "input[value=us]").click()
    assert np.array(lines(browser, "torque")) == pytest.approx(data.torque.values / 1.355818, 1e-6)
    assert axis_title(browser, "torque").endswith(", lbf ft")
    assert axis_title(browser, "moving") == "psi over plenum mean"
    assert np.array(lines(browser, "power")) == pytest.approx(data.power.values / 745.69987, 1e-6)
    browser.find_element("css selector", "input[value=metric]").click()
    assert browser.get_log("browser") == []
    events = [json.loads(e["message"])["message"] for e in browser.get_log("performance")]
    asked = {e["params"]["request"]["url"] for e in events if e["method"] == "Network.requestWillBeSent"}
    assert all(url.startswith(("file:", "data:")) for url in asked)


def test_the_slider_moves_the_wave(browser):
    """By keyboard too; pressure is that of the cycle at this angle, and Play goes on."""
    slider = browser.find_element("id", "angle")
    before = lines(browser, "moving")
    slider.send_keys("\ue014" * 3)  # arrow right
    assert slider.get_attribute("value") == "366"
    after = lines(browser, "moving")
    assert after != before
    script = "const c = CYCLES[0]; return [c.p[183], c.forward[183], c.backward[183]]"
    assert np.array(after) == pytest.approx(0.1 * np.array(browser.execute_script(script)))  # kPa
    assert browser.find_element("id", "now").text.startswith("366 deg")
    browser.find_element("css selector", "#events button").click()
    assert slider.get_attribute("value") == str(
        2 * round(browser.execute_script("return CYCLES[0].events[0][1]") / 2)
    )
    play = browser.find_element("id", "play")
    play.click()
    browser.implicitly_wait(0)
    moved = browser.execute_async_script(
        "const done = arguments[0], at = document.getElementById('angle').value;"
        "setTimeout(() => done(document.getElementById('angle').value !== at), 400);"
    )
    assert moved
    assert play.text == "Stop"
    play.click()
    assert play.text == "Play"


@pytest.mark.parametrize("width", [400, 1000, 1600])
def test_every_width_holds_it(browser, width):
    """Nothing sticks out sideways, every chart has some room."""
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False},
    )
    browser.refresh()
    assert browser.execute_script("return document.documentElement.scrollWidth") <= width
    for chart in ("ve", "torque", "power", "moving"):
        size = browser.find_element("id", chart).size
        assert size["width"] > 0.8 * min(width, 480) - 40
        assert size["height"] > 200
    letters = browser.execute_script(
        "return [...document.querySelectorAll('.drawing svg [id^=text_]')]"
        ".map(t => t.getBoundingClientRect().height)"
    )
    assert min(x for x in letters if x) > 6.0  # px, a figure's height


def test_the_first_screen_answers(browser):
    """Which, how much, what it costs at 5500 rpm, how sure, what was assumed: without scrolling."""
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": 1366, "height": 768, "deviceScaleFactor": 1, "mobile": False},
    )
    browser.refresh()
    shown = browser.execute_script(
        "return [...document.querySelectorAll('.answer p, .open, .numbers td')].filter(e => {"
        " const r = e.getBoundingClientRect(); return r.height > 0 && r.bottom < 768; })"
        ".map(e => e.textContent)"
    )
    whole = " ".join(" ".join(shown).split())
    assert "makes the most torque from 2500 to 4000 rpm" in whole
    assert "It costs" in whole
    assert "5500" in shown
    assert "How sure that is has not been computed" in whole
    assert "Assumed, not measured: intake.inlet" in whole


@pytest.mark.parametrize(
    "name",
    ["runners", *(pytest.param(n, marks=pytest.mark.slow) for n in ("bands", "pulls", "sweep"))],
)
def test_nothing_keeps_anybody_out(browser, others, name):
    """By axe: contrast, names, roles, order, keyboard."""
    axe = pytest.importorskip("axe_core_python")
    page = browser.page_of_runners if name == "runners" else page_of(others, name).as_uri()
    browser.get(page)
    browser.execute_script((files(axe) / "axe.min.js").read_text(encoding="utf-8"))
    found = browser.execute_async_script("const done = arguments[0]; axe.run().then(done)")
    assert found["passes"]
    assert [(v["id"], v["impact"], v["nodes"][0]["html"][:80]) for v in found["violations"]] == []
    assert browser.get_log("browser") == []
    browser.get(browser.page_of_runners)


def test_it_prints_on_four_sheets(browser):
    """A heading of a table stands on each of its sheets."""
    printed = browser.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True, "printBackground": True})
    pdf = base64.b64decode(printed["data"])
    assert int(max(re.findall(rb"/Count (\d+)", pdf), key=int)) <= 4
    heads = browser.execute_script("return getComputedStyle(document.querySelector('thead')).display")
    assert heads == "table-header-group"


def test_the_other_runner_has_its_own_cycle(browser):
    along = "return document.getElementById('moving').data[0].x"
    first = browser.execute_script(along)
    browser.find_elements("css selector", "input[name=cycle]")[2].click()
    assert browser.execute_script(along)[-1] > first[-1] + 300.0  # the long one, mm


@pytest.fixture(scope="module")
def others(tmp_path_factory, demo):
    """Pages of measured pulls and of each kind of study, of the made-up engine: {name: folder}."""
    folder = tmp_path_factory.mktemp("others")
    with made_up.in_place(), pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        data = [f"{name}={made_up_pulls.write(folder, demo, name)}" for name in ("long", "short")]
        (folder / "notes.txt").write_text("For the <station>.\n\nSecond paragraph.")
        own = ["--heading", "A <b>heading</b>", "--notes", "notes.txt", "--study", "cases.yaml"]
        commands = {
            "pulls": [str(DEMO), *data, "--only-given", *own],
            "bands": [str(DEMO), "--bands", "--only-given"],
        }
        for name, text in STUDIES.items():
            (folder / f"{name}.yaml").write_text(HEAD + SPEEDS + text)
            commands[name] = [f"{name}.yaml"]
        for name, arguments in commands.items():
            assert main(["report", *arguments, "--out", str(folder / name)]) == 0
    return {name: folder / name for name in commands}


STUDIES = {
    "sweep": "vary:\n  intake.runner.length: {from: 250 mm, to: 650 mm, steps: 4}\n"
    "  intake.runner.bore.to: [39 mm, 40 mm, 41 mm]\n",
    "cases": "cases:\n  - {name: stock, intake.runner.length: 300 mm}\n"
    "  - {name: print, intake.runner.length: 600 mm}\n",
    "search": SPAN + "search: {evaluations: 20, second_aim: {of: flatness}}\n",
    "sensitivity": SPAN + "sensitivity: {count: 8, aim: {of: torque, at: 4500 rpm}}\n",
    "tolerance": "vary: {intake.runner.bore: {plus_minus: 0.4 mm}}\ntolerance: {count: 8}\n",
}
#: page: (what it asks, its charts)
PAGES = {
    "pulls": (
        "Which runner, for the range that matters? 3 candidates.",
        [
            *("torque", "against", "power", "ve"),
            *("pulls-ve", "pulls-torque", "pulls-off", "pulls-difference"),
            *("study1-torque", "study1-family", "moving"),
        ],
    ),
    "bands": (
        "Which runner, for the range that matters? 3 candidates.",
        ["torque", "against", "power", "ve", "bands", "gains", "moving"],
    ),
    "sweep": (
        "What do other values of runner length and runner bore to do?",
        ["torque", "map", "mean", "family"],
    ),
    "cases": ("What do other values of runner length do?", ["torque", "family"]),
    "search": ("Which values give the best mean torque", ["aim0", "aim1", "front"]),
    "sensitivity": ("What decides torque at 4500 rpm?", ["indices"]),
    "tolerance": ("What does runner bore +-0.4 mm do to the torque?", ["torque"]),
}


def page_of(others, name):
    return others[name] / "report.html"


@pytest.mark.parametrize("name", PAGES)
def test_pages_of_pulls_and_studies(others, name):
    question, charts = PAGES[name]
    text = page_of(others, name).read_text()
    assert question in text
    assert re.findall(r'<div id="([\w-]+)" class="chart"', text) == charts
    assert "not a clearance to run" in text
    assert "Mountain-rescue" in text
    assert page_of(others, name).stat().st_size < 6e6
    kept = {p.name for p in others[name].iterdir()}
    assert {"origin.json", page_of(others, name).name} <= kept
    assert "rescue-four.yaml" in kept


def test_the_page_of_pulls_says_who_wins(others):
    text = page_of(others, "pulls").read_text()
    assert "long less short" in text
    assert "Torque repeats within 0.20 %" in text
    data = xr.load_dataset(others["pulls"] / "report-pulls.nc")
    assert list(data.runner.values) == ["long", "short"]


def test_a_study_is_not_computed_again(others, monkeypatch, capsys):
    """The page takes the points of the study's own folder."""
    folder = others["sweep"].parent
    monkeypatch.chdir(folder)
    assert (folder / "sweep-study" / "points.sqlite").exists()
    with made_up.in_place():
        assert main(["study", "sweep.yaml"]) == 0
    assert "0 points computed, 84 taken from sweep-study/points.sqlite" in capsys.readouterr().out


def test_the_page_says_how_sure_it_is(others):
    """The sentences that aircolumn bands prints, from the points that it keeps."""
    text = re.sub(r"<[^>]+>", " ", page_of(others, "bands").read_text())
    with made_up.in_place():
        done = command("bands", DEMO, out=others["bands"].parent / "rescue-four-bands")
    assert "points: 0 computed" in done.said
    kept = (done.out / "bands.txt").read_text().split("\n\n")[0]
    for sentence in " ".join(kept.split()).split(". "):
        assert sentence.rstrip(".") in " ".join(text.split())


def test_heading_and_notes_are_the_users_own(others):
    text = page_of(others, "pulls").read_text()
    assert "<h1>A &lt;b&gt;heading&lt;/b&gt;</h1>" in text
    assert "<p>For the &lt;station&gt;.</p>" in text
    assert "<p>Second paragraph.</p>" in text
    assert "Study: cases.yaml" in text


@pytest.mark.parametrize(
    ("option", "content", "said"),
    [
        ("--logo", b"GIF89a", "a PNG, JPEG or SVG picture is expected"),
        ("--notes", b"\xff\xfe\x00", "not a text file"),
        ("--heading", b"", "at most 200"),
    ],
)
def test_wrong_own_files(option, content, said, tmp_path):
    (tmp_path / "file").write_bytes(content)
    value = "x" * 201 if option == "--heading" else tmp_path / "file"
    done = command("report", DEMO, option, value, out=tmp_path / "o")
    assert done.code == 2
    assert said in done.complaints


def test_a_logo_is_part_of_the_page(tmp_path):
    (tmp_path / "logo.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"></svg>')
    out, logo = tmp_path / "o", tmp_path / "logo.svg"
    with made_up.in_place():
        assert main(["report", str(DEMO), "--only-given", "--logo", str(logo), "--out", str(out)]) == 0
    assert 'src="data:image/svg+xml;base64,' in (out / "report.html").read_text()


def test_text_and_tables_follow_the_units(browser, others):
    browser.get(page_of(others, "pulls").as_uri())
    try:
        shown = "return document.querySelector('main').innerText"
        metric = browser.execute_script(shown)
        browser.execute_script("document.querySelector('input[value=us]').click()")
        us = browser.execute_script(shown)
        browser.execute_script("document.querySelector('input[value=metric]').click()")
        assert "N m on average" in metric
        assert "lbf ft" not in metric.replace("lbf ft, hp, psi, in", "")
        assert "lbf ft on average" in us
        assert " N m" not in us.split("Inputs")[0].replace("N m, kW, kPa, mm", "")
        assert browser.execute_script(shown) == metric
    finally:
        browser.get(browser.page_of_runners)


@pytest.mark.parametrize("width", [680, 703])  # px: A4 and Letter, less 15 mm on each side
def test_paper_holds_it(browser, others, width):
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    size = {"width": width, "height": 1000, "deviceScaleFactor": 1, "mobile": False}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    browser.get(page_of(others, "pulls").as_uri())
    try:
        browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
        assert browser.execute_script("return document.documentElement.scrollWidth") <= width
        assert browser.execute_script("return document.querySelector('table.numbers').offsetWidth") <= width
    finally:
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
        browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        browser.get(browser.page_of_runners)


@pytest.mark.parametrize("name", PAGES)
def test_they_draw_in_a_browser(browser, others, name):
    browser.get_log("browser")
    browser.get(page_of(others, name).as_uri())
    try:
        for chart in PAGES[name][1]:
            drawn = browser.execute_script(
                f"return document.getElementById('{chart}').data.map(d => d.y.length)"
            )
            assert min(drawn) >= 0 < max(drawn)
        assert browser.get_log("browser") == []
        if name == "tolerance":
            low, high, middle = lines(browser, "torque")
            assert np.all(np.array(low) <= middle)
            assert np.all(np.array(middle) <= high)
    finally:
        browser.get(browser.page_of_runners)
