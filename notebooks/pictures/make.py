"""The pictures of the README, from the demo: python notebooks/pictures/make.py

Needs the extra `report`, and for the picture of the page selenium, Chromium and its driver.
"""

import shutil
from pathlib import Path
from tempfile import TemporaryDirectory

from aircolumn.cli import main

ROOT = Path(__file__).resolve().parents[2]
DEMO, PICTURES = str(ROOT / "configs" / "rescue-four.yaml"), Path(__file__).resolve().parent
WIDE, HIGH = 900, 940  # pixels of the page that are shown


def made(folder: Path):
    """Run the three commands; keep what the README shows."""
    main(["compare", DEMO, "--out", str(folder / "compare")])
    main(["trace", DEMO, "--rpm", "4000", "--runner", "long", "--out", str(folder / "trace")])
    main(["report", DEMO, "--out", str(folder / "report")])
    shutil.copyfile(folder / "compare" / "compare.png", PICTURES / "compare.png")
    shutil.copyfile(folder / "trace" / "trace-long-4000-map.png", PICTURES / "waves.png")
    photograph(folder / "report" / "report.html", PICTURES / "report.png")


def photograph(page: Path, picture: Path):
    """The page in a browser without a screen, from the curves on."""
    from selenium.webdriver import Chrome
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    options = Options()
    options.binary_location = shutil.which("chromium")
    for argument in ("--headless=new", "--no-sandbox", f"--window-size={WIDE},{HIGH}"):
        options.add_argument(argument)
    driver = Chrome(options=options, service=Service(shutil.which("chromedriver")))
    try:
        driver.get(page.as_uri())
        driver.find_elements("css selector", "input[name=cycle]")[-1].click()
        driver.execute_script(
            "document.getElementById('angle').value = 520; drawWave();"
            "document.getElementById('wave').scrollIntoView()"
        )
        driver.save_screenshot(str(picture))
    finally:
        driver.quit()


if __name__ == "__main__":
    with TemporaryDirectory() as name:
        made(Path(name))
