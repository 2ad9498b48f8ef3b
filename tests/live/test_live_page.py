"""The page that follows the hand, in a real browser: what it shows, takes, refuses and saves."""

import json
from importlib.resources import files

import numpy as np
import pytest
from tests.conftest import DEMO, ROOT

import aircolumn
from aircolumn.measured.atmosphere import Atmosphere, factor

pytest.importorskip("uvicorn")
pytest.importorskip("selenium")
from selenium.webdriver import ActionChains, Keys
from tests.live.browsing import BROWSER, browser, rests, sized, until
from tests.live.serving import served

pytestmark = pytest.mark.skipif(not all(BROWSER), reason="no chromium and chromedriver here")
TITLE = "Four <b>$ & </script><img src=x onerror=alert(1)> 'quoted'"
LENGTH = "intake.runner.length"
#: key, what is typed: none is a value that it can have
WRONG = {
    LENGTH: ["430", "430 mn", "9 m", "-3 mm", "0 mm", "long", "4,30,1 mm", "[1 mm]", "{a: 1}", "1e9 mm"],
    "intake.port.length": ["inf mm", "'", '"', "&x", "*x", "!x 1", "430 kPa", "true", "mm 430", "<b>1</b>"],
    "intake.runner.bore.to": ["0.01 mm", "2 m", "42 deg", "{from: 1 mm}"],
    "intake.valve.count": ["0", "1.5", "two", "99"],
    "intake.valve.opens_btdc": ["2", "500 deg", "2 mm", "late"],
    "mixture.fuel": ["diesel oil", "3", "[]"],
    "mixture.air_fuel_ratio": ["0", "13.8 kg", "400"],
    "intake.ambient.humidity": ["140 %", "40", "wet"],
    "speeds.step": ["0 rpm", "-5 rpm", "500"],
}


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    """The served page, opened in a browser; its file has an awkward title."""
    folder = tmp_path_factory.mktemp("live")
    path = folder / "engine.yaml"
    text = DEMO.read_text()
    title = next(row for row in text.splitlines() if row.startswith("title:"))
    text = text.replace(title, f"title: {json.dumps(TITLE)}  # of the page")
    path.write_text(text.replace("from: 1500 rpm", "from: 2500 rpm").replace("to: 6000 rpm", "to: 4500 rpm"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder / "cache"))
        with served(path) as one, browser() as driver:
            driver.path, driver.served = path, one
            driver.get(one.door.address)
            until(driver, "state !== null")
            yield driver


@pytest.fixture(autouse=True)
def at_rest(page):
    """Each test begins with the long runner chosen and nothing under way."""
    rests(page)
    page.execute_script("selected = 'long'; chosen = 'intake.runner'; showState()")


def type_in(driver, key, text):
    """Type a value into the field of a key, found by the search box."""
    search = driver.find_element("id", "search")
    search.send_keys(Keys.CONTROL, "a")
    search.send_keys(key)
    field = driver.find_element("css selector", f'[data-key="{key}"]')
    field.send_keys(Keys.CONTROL, "a")
    field.send_keys(text, Keys.ENTER)


def errors_of(driver):
    return [row for row in driver.get_log("browser") if row["level"] == "SEVERE"]


def test_the_address_keeps_no_token_and_texts_are_texts(page):
    assert page.current_url == f"http://{page.served.host}/"
    assert page.find_element("id", "title").text == TITLE
    assert not page.find_elements("css selector", "img")
    assert errors_of(page) == []


def test_one_screen_holds_drawing_curves_and_keys(page):
    rests(page)
    assert page.execute_script("return document.documentElement.scrollHeight <= innerHeight")
    for name in ("drawing", "torque", "keys"):
        box = page.execute_script(
            "return document.getElementById(arguments[0]).getBoundingClientRect().toJSON()", name
        )
        assert box["height"] > 80
        assert box["bottom"] <= 768
    sized(page, 400, 800)
    assert page.execute_script("return document.documentElement.scrollWidth <= innerWidth")
    sized(page, 1366, 768)


def test_an_arrow_key_moves_the_engine_and_the_curve(page):
    """Coarse at once; when the hand rests, what compare finds of the saved file, to the last digit."""
    before = page.execute_script("return curves.long.torque")
    for _ in range(3):
        page.execute_script("document.querySelector('[data-path=\"intake.runner.length\"]').focus()")
        ActionChains(page).key_down(Keys.SHIFT).send_keys(Keys.ARROW_RIGHT).key_up(Keys.SHIFT).perform()
        until(page, "waiting === null && next === null")
    assert page.execute_script(f"return state.values.long['{LENGTH}'].text") == "680 mm"
    rests(page)
    assert page.execute_script("return curves.long.torque") != before
    ActionChains(page).key_down(Keys.CONTROL).send_keys("s").key_up(Keys.CONTROL).perform()
    until(page, "!state.changed")
    assert "long: {length: 680 mm}\n" in page.path.read_text()
    assert "# of the page\n" in page.path.read_text()
    data = aircolumn.compare(aircolumn.load(page.path))
    for name in ("short", "middle", "long"):
        shown = page.execute_script("return [curves[arguments[0]].rpm, curves[arguments[0]].torque]", name)
        due = data.torque.sel(runner=name, rpm=shown[0]).values
        assert np.array_equal(shown[1], due)
    assert "long makes the most torque" in page.find_element("id", "answer").text
    assert errors_of(page) == []


@pytest.mark.slow
def test_what_is_wrong_is_said_beside_the_field(page):
    rests(page)
    version = page.execute_script("return state.version")
    for key, text in ((key, text) for key, texts in WRONG.items() for text in texts):
        page.execute_script("wrongs = {}")
        type_in(page, key, text)
        until(page, f"waiting === null && wrongs['{key}']", 10.0)
        told = page.find_element("css selector", f'[data-wrong="{key}"]').text
        assert len(told) > 8, (key, text)
        field = page.find_element("css selector", f'[data-key="{key}"]')
        assert field.get_attribute("aria-invalid") == "true"
    assert page.execute_script("return state.version") == version
    assert page.execute_script("return current()")
    assert errors_of(page) == []


@pytest.mark.parametrize(
    ("key", "typed", "si"),
    [
        (LENGTH, "17 in", 0.4318),
        (LENGTH, "430mm", 0.43),
        ("intake.plenum.volume", "5000 cc", 0.005),
        ("intake.runner.bend_angle", "40 deg", 40.0),
    ],
)
def test_typing_takes_what_the_file_takes_and_undo_takes_it_back(page, key, typed, si):
    before = page.execute_script("return [state.undo, JSON.stringify(state.values)]")
    type_in(page, key, typed)
    until(page, f"state.undo === {before[0] + 1}")
    engine = page.served.session.opened.description.with_runner("long")
    value = engine
    for step in key.split("."):
        value = getattr(value, step)
    assert value == pytest.approx(si)
    page.find_element("id", "undo").click()
    until(page, f"state.undo === {before[0]}")
    assert page.execute_script("return JSON.stringify(state.values)") == before[1]


def test_candidates_are_copied_named_and_deleted(page):
    before = page.execute_script("return state.undo")
    for button, answer, names in (
        ("Copy", "long & wide", ["short", "middle", "long", "long & wide"]),
        ("Rename", "wide", ["short", "middle", "long", "wide"]),
        ("Delete", None, ["short", "middle", "long"]),
    ):
        page.find_element("xpath", f"//div[@id='candidates']/button[.='{button}']").click()
        question = page.switch_to.alert
        if answer is not None:
            question.send_keys(answer)
        question.accept()
        until(
            page,
            f"state.names.length === {len(names)} && state.names.join() === {json.dumps(','.join(names))}",
        )
    for _ in range(3):
        page.find_element("id", "undo").click()
    until(page, f"state.undo === {before} && state.names.length === 3")
    assert errors_of(page) == []


def test_why_at_a_speed(page):
    field = page.find_element("id", "speed")
    field.clear()
    field.send_keys("3500", Keys.ENTER)
    until(page, "wave !== null")
    said = page.find_element("id", "reasons").text
    assert said.startswith("long: At 3500 rpm VE is ")
    assert "suction wave" in said
    assert "IMEP" in said
    before = page.execute_script("return Number(document.getElementById('angle').value)")
    page.find_element("id", "play").click()
    until(page, f"Number(document.getElementById('angle').value) !== {before}")
    page.find_element("id", "play").click()
    field.clear()
    field.send_keys("fast", Keys.ENTER)
    assert "give a speed" in page.find_element("id", "reasons").text
    assert errors_of(page) == []


def test_a_pull_is_laid_over_as_pull_reads_it(page):
    page.find_element("id", "pull").send_keys(str(ROOT / "configs" / "invented-pulls-long.csv"))
    until(page, "pulls.long")
    said = page.find_element("id", "pull-said").text
    assert said.startswith("long: torque is taken as observed")
    assert "Predicted minus measured: torque " in said
    session = aircolumn.measure(
        page.served.session.opened.description, {"long": ROOT / "configs" / "invented-pulls-long.csv"}
    )
    shown = page.execute_script("return [pulls.long.rpm, pulls.long.torque]")
    overlay, ambient = session.overlays["long"], session.description.engine.intake.ambient
    here = Atmosphere(ambient.pressure, ambient.temperature, ambient.humidity)
    assert shown[0] == pytest.approx(list(overlay.curve.rpm))
    assert shown[1] == pytest.approx(list(overlay.torque / factor("j1349", here)))
    wrong = page.path.parent / "no <b>pull.csv"
    wrong.write_text("a,b\n1,2\n")
    page.find_element("id", "pull").send_keys(str(wrong))
    until(page, "document.getElementById('pull-said').textContent.includes('no line of headings')")
    assert errors_of(page) == []


def test_how_sure_shows_progress_and_stops(page):
    rests(page)
    page.find_element("id", "sure").click()
    until(page, "document.getElementById('sure-said').textContent.match(/[1-9] of \\d{3} points/)")
    page.find_element("id", "stop").click()
    until(page, "document.getElementById('sure-said').textContent === 'stopped'")
    assert page.find_element("id", "sure").is_enabled()
    assert errors_of(page) == []


def test_nothing_keeps_anybody_out(page):
    """By axe: contrast, names, roles, order, keyboard."""
    axe = pytest.importorskip("axe_core_python")
    rests(page)
    page.execute_script((files(axe) / "axe.min.js").read_text(encoding="utf-8"))
    found = page.execute_async_script("const done = arguments[0]; axe.run().then(done)")
    assert found["passes"]
    assert [(v["id"], v["impact"], v["nodes"][0]["html"][:80]) for v in found["violations"]] == []


def test_another_programs_change_is_offered(page):
    rests(page)
    page.path.write_text(page.path.read_text().replace("volume: 6 L", "volume: 7 L"))
    until(page, "state.other", 10.0)
    assert "Another program has changed the file" in page.find_element("id", "notice").text
    page.find_element("xpath", "//span[@id='notice-buttons']/button[.='Take its state']").click()
    until(page, "!state.other && state.values.long['intake.plenum.volume'].text === '7 L'")
    assert not page.find_element("id", "notice").is_displayed()
