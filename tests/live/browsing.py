"""A real browser without a screen on a page that is served."""

import shutil
import time
from contextlib import contextmanager

BROWSER = shutil.which("chromium"), shutil.which("chromedriver")


@contextmanager
def browser(width=1366, height=768):
    """Chromium with a window of this size inside."""
    from selenium.webdriver import Chrome
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    options = Options()
    options.binary_location = BROWSER[0]
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = Chrome(options=options, service=Service(BROWSER[1]))
    try:
        sized(driver, width, height)
        yield driver
    finally:
        driver.quit()


def sized(driver, width, height):
    """The window's inside, which may be narrower than a window."""
    told = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", told)


def until(driver, condition, within=60.0):
    """Wait until something is true on the page."""
    end = time.monotonic() + within
    while not driver.execute_script(f"return Boolean({condition})"):
        assert time.monotonic() < end, condition
        time.sleep(0.02)


def rests(driver):
    """The curves of the file's accuracy are there."""
    until(driver, "told.version === state.version && told.accuracy === 'file' && !dragging")
