"""The walk of the guide: a runner 100 mm longer, named, set against the others, and what is lost at 5500 rpm.

``python -m tests.live.test_walk`` makes the pictures of the guide.
"""

import json
import os
import shutil
import tempfile
from pathlib import Path

import pytest
from tests.conftest import DEMO, ROOT

pytest.importorskip("uvicorn")
pytest.importorskip("selenium")
from selenium.webdriver import ActionChains, Keys
from tests.live.browsing import BROWSER, browser, rests, until
from tests.live.serving import served

AT = "const c = curves[arguments[0]]; return at({ rpm: c.rpm, values: c.torque }, arguments[1])"
pytestmark = pytest.mark.skipif(not all(BROWSER), reason="no chromium and chromedriver here")


def walk(path, pictures):
    """Do what the guide says with the file at ``path``; what is lost at 5500 rpm, N m."""
    with served(path) as one, browser() as page:
        page.get(one.door.address)
        until(page, "state !== null")
        rests(page)
        page.find_element("xpath", "//div[@id='candidates']/button[.='long']").click()
        page.find_element("xpath", "//div[@id='candidates']/button[.='Copy']").click()
        page.switch_to.alert.send_keys("longer")
        page.switch_to.alert.accept()
        until(page, "selected === 'longer'")
        for _ in range(10):
            page.execute_script("document.querySelector('[data-path=\"intake.runner.length\"]').focus()")
            keys = ActionChains(page).key_down(Keys.SHIFT).send_keys(Keys.ARROW_RIGHT).key_up(Keys.SHIFT)
            keys.perform()
            until(page, "waiting === null && next === null")
        assert page.execute_script("return state.values.longer['intake.runner.length'].text") == "750 mm"
        page.save_screenshot(str(pictures / "live-moved.png"))
        rests(page)
        page.execute_script("against = 'long'; showCurves()")
        page.save_screenshot(str(pictures / "live-curves.png"))
        torque = [page.execute_script(AT, name, 5500) for name in ("longer", "long")]
        field = page.find_element("id", "speed")
        field.send_keys("5500", Keys.ENTER)
        until(page, "wave !== null")
        page.execute_script("document.getElementById('why').scrollIntoView()")
        page.save_screenshot(str(pictures / "live-why.png"))
        page.find_element("id", "save").click()
        until(page, "!state.changed")
        return torque[0] - torque[1]


@pytest.mark.slow
def test_the_walk_of_the_guide(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    path = tmp_path / "rescue-four.yaml"
    shutil.copy(DEMO, path)
    assert -20.0 < walk(path, tmp_path) < 0.0
    assert path.read_text() == DEMO.read_text().replace(
        "  long: {length: 650 mm}\n", "  long: {length: 650 mm}\n  longer: {length: 750 mm}\n"
    )
    for name in ("moved", "curves", "why"):
        assert (tmp_path / f"live-{name}.png").stat().st_size > 30_000
        assert (ROOT / "notebooks" / "guide" / f"live-{name}.png").exists()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CACHE_HOME"] = folder
        copy = Path(folder) / "rescue-four.yaml"
        shutil.copy(DEMO, copy)
        print(json.dumps({"lost at 5500 rpm, N m": walk(copy, ROOT / "notebooks" / "guide")}))
