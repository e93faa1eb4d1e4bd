"""A real browser, where the machine has one: Debian's chromium and chromium-driver."""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from selenium.webdriver import Chrome, ChromeOptions
from selenium.webdriver.chrome.service import Service

from tests.adapters.test_web import Page
from tests.support.needs import lacking

Open = Callable[..., Chrome]


@pytest.fixture
def browser() -> Iterator[Open]:
    """Return a function that opens a browser of a given width and colour scheme."""
    words = lacking("chromium", "chromedriver")
    if words:
        pytest.skip(words)
    chromium = shutil.which("chromium") or ""
    driver = shutil.which("chromedriver") or ""
    opened: list[Chrome] = []

    def start(width: int = 390, *, is_dark: bool = False) -> Chrome:
        options = ChromeOptions()
        options.binary_location = chromium
        for flag in (
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--hide-scrollbars",
            f"--window-size={width},900",
        ):
            options.add_argument(flag)
        found = Chrome(options=options, service=Service(driver))
        opened.append(found)
        # Phones are narrower than the least window of a desktop browser.
        metrics = {"width": width, "height": 900, "mobile": True}
        found.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride", {**metrics, "deviceScaleFactor": 1}
        )
        scheme = "dark" if is_dark else "light"
        feature = {"name": "prefers-color-scheme", "value": scheme}
        found.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [feature]})
        return found

    yield start
    for found in opened:
        found.quit()


@pytest.fixture
def axe() -> str:
    """Return the accessibility checks of axe-core, where they are at hand."""
    named = os.environ.get("AXE_CORE")
    if not named or not Path(named).is_file():
        pytest.skip(
            "AXE_CORE names no axe.min.js: npm pack axe-core, unpack it, and set "
            "AXE_CORE=package/axe.min.js"
        )
    return Path(named).read_text()


@pytest.fixture
def answering(tmp_path: Path) -> Iterator[Page]:
    """The page to answer on, served, with its state."""
    made = Page(tmp_path)
    yield made
    made.close()
    made.store.database.close()
