"""A real browser without a screen."""

import shutil
from contextlib import contextmanager

BROWSER = shutil.which("chromium"), shutil.which("chromedriver")


@contextmanager
def chromium(*arguments, logs=("browser",)):
    """Chromium with these arguments too, whose ``logs`` can be read, until the block ends."""
    from selenium.webdriver import Chrome
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    options = Options()
    options.binary_location = BROWSER[0]
    usual = ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage")
    for argument in (*usual, *arguments):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", dict.fromkeys(logs, "ALL"))
    driver = Chrome(options=options, service=Service(BROWSER[1]))
    try:
        yield driver
    finally:
        driver.quit()
