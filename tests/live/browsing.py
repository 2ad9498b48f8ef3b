"""A real browser without a screen on a page that is served."""

import time
from contextlib import contextmanager

from tests.chromium import BROWSER, chromium

__all__ = ["BROWSER", "browser", "rests", "sized", "until"]


@contextmanager
def browser(width=1366, height=768):
    """Chromium with a window of this size inside."""
    with chromium() as driver:
        sized(driver, width, height)
        yield driver


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
