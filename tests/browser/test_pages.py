"""The status page and the page to answer on, in a real browser."""

import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from selenium.common.exceptions import WebDriverException
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support import expected_conditions
from selenium.webdriver.support.ui import WebDriverWait

from frostalert.clock import SystemClock
from frostalert.cycle.health import Finding, Light
from frostalert.forecast.nws import parse_grid
from frostalert.messages.picture import NightPicture
from frostalert.report.files import save_files
from frostalert.report.night_picture import NightPlotter
from frostalert.report.status_page import PAGE, REFRESHED_S, VALID_FOR, render_status
from frostalert.risk.charting import night_chart
from tests.adapters.test_personal_page import SHEET
from tests.adapters.test_web import Page
from tests.browser.conftest import Open
from tests.support.grids import frosty_hours, grid_text
from tests.support.judged import nights_of
from tests.support.pages import status_of
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    COVERS,
    HEATERS,
    LINE,
    STRAWBERRIES,
    planting,
)

HOSTILE = '<script>document.title="taken"</script>"\'&'
HOLDING = planting(
    replace(APRICOTS, name=f"Apricots {HOSTILE}"[:60]), CHERRIES, STRAWBERRIES
)
WIDTHS = (390, 1280)


def write_page(folder: Path, now: datetime) -> Path:
    """Write the status page as the service does, for a frosty night."""
    first = now.replace(minute=0, second=0, microsecond=0) - timedelta(hours=6)
    seen = now.date() - timedelta(days=1)
    farm = replace(
        HOLDING,
        site=replace(HOLDING.site, name=HOSTILE),
        blocks=tuple(replace(block, stage_seen=seen) for block in HOLDING.blocks),
    )
    air = [value for value in frosty_hours(low_c=-4.0, hours=96) if value is not None]
    run = parse_grid(grid_text(air_c=air, first=first, updated=now), now)
    nights = nights_of(farm, run, now)
    chart = night_chart(nights, nights.assessment.nights[0])
    assert chart is not None
    status = status_of(
        nights,
        now,
        findings=(Finding(light=Light.BAD, words=f"something {HOSTILE} is wrong"),),
        picture=NightPicture(chart=chart, png=NightPlotter().draw(chart)),
    )
    save_files(folder, render_status(status))
    return folder / PAGE


@pytest.fixture
def page(tmp_path: Path) -> Path:
    return write_page(tmp_path / "status", SystemClock().now_utc())


def keep(chrome: Chrome, name: str) -> None:
    """Keep a screenshot where the environment names a folder for them."""
    folder = os.environ.get("FROSTALERT_SCREENSHOTS")
    if folder:
        height = chrome.execute_script("return document.documentElement.scrollHeight")
        width = chrome.execute_script("return window.innerWidth")
        screen = {"width": width, "deviceScaleFactor": 1, "mobile": True}
        override = "Emulation.setDeviceMetricsOverride"
        chrome.execute_cdp_cmd(override, {**screen, "height": height})
        chrome.save_screenshot(str(Path(folder) / f"{name}.png"))
        chrome.execute_cdp_cmd(override, {**screen, "height": 900})


@pytest.mark.parametrize("is_dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", WIDTHS)
def test_the_status_page_fits_and_hostile_names_do_nothing(
    browser: Open, page: Path, width: int, *, is_dark: bool
) -> None:
    chrome = browser(width, is_dark=is_dark)
    chrome.get(page.as_uri())
    assert chrome.title != "taken"
    heading = chrome.find_element(By.TAG_NAME, "h1")
    assert heading.is_displayed()
    assert "something <script>" in chrome.find_element(By.TAG_NAME, "main").text
    # Nothing is wider than the screen; tables scroll inside themselves.
    script = "return document.documentElement.scrollWidth <= window.innerWidth"
    assert chrome.execute_script(script)
    light = chrome.find_element(By.CLASS_NAME, "light")
    assert chrome.execute_script("return arguments[0].naturalWidth", light)
    picture = chrome.find_element(By.CLASS_NAME, "night")
    assert chrome.execute_script("return arguments[0].naturalWidth", picture) == 640
    assert not chrome.find_element(By.CLASS_NAME, "old-warning").is_displayed()
    refused = [
        entry["message"]
        for entry in chrome.get_log("browser")  # type: ignore[no-untyped-call]
        if "Content Security Policy" in entry["message"]
    ]
    assert refused == []
    keep(chrome, f"status-{width}-{'dark' if is_dark else 'light'}")


def test_an_old_page_says_so_by_itself(browser: Open, tmp_path: Path) -> None:
    long_ago = SystemClock().now_utc() - VALID_FOR - timedelta(minutes=1)
    old = write_page(tmp_path / "old", long_ago)
    chrome = browser()
    chrome.get(old.as_uri())
    warning = chrome.find_element(By.CLASS_NAME, "old-warning")
    assert warning.is_displayed()
    assert "looks like good weather" in warning.text
    keep(chrome, "status-old")


def test_without_a_script_the_page_still_looks_for_a_newer_one(
    browser: Open, page: Path
) -> None:
    chrome = browser()
    chrome.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    chrome.get(page.as_uri())
    refresh = chrome.find_element(By.CSS_SELECTOR, "meta[http-equiv=refresh]")
    assert refresh.get_attribute("content") == str(REFRESHED_S)
    assert chrome.find_element(By.TAG_NAME, "h1").is_displayed()


def test_print_is_black_on_white_and_cuts_nothing_off(
    browser: Open, page: Path
) -> None:
    chrome = browser(1280, is_dark=True)
    media = {"media": "print", "features": []}
    chrome.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    chrome.get(page.as_uri())
    body = chrome.find_element(By.TAG_NAME, "body")
    assert body.value_of_css_property("color") in ("rgb(0, 0, 0)", "rgba(0, 0, 0, 1)")
    assert "255, 255, 255" in body.value_of_css_property("background-color")
    for table in chrome.find_elements(By.CLASS_NAME, "wide"):
        assert table.value_of_css_property("overflow-x") == "visible"
    keep(chrome, "status-print")


@pytest.fixture
def sixty(tmp_path: Path) -> Path:
    """The page of sixty blocks, most of which nothing can hold."""
    now = datetime(2026, 4, 12, 22, tzinfo=UTC)
    weak = replace(LINE, flow_l_per_h=900.0)
    kinds = (APRICOTS, CHERRIES, STRAWBERRIES)
    blocks = [replace(kinds[n % 3], name=f"{kinds[n % 3].name} {n}") for n in range(60)]
    farm = planting(*blocks, equipment=(weak, HEATERS, COVERS))
    run = parse_grid(grid_text(air_c=frosty_hours(-4.0), updated=now), now)
    save_files(tmp_path, render_status(status_of(nights_of(farm, run, now), now)))
    return tmp_path / PAGE


def test_sixty_blocks_take_five_screens_of_a_phone(browser: Open, sixty: Path) -> None:
    chrome = browser()
    chrome.get(sixty.as_uri())
    names = chrome.find_element(By.CSS_SELECTOR, "details p")
    assert not names.is_displayed()
    height = chrome.execute_script("return document.documentElement.scrollHeight")
    keep(chrome, "status-sixty")
    assert height < 5 * 844
    # The names behind a number open without a script, and by the keyboard.
    chrome.find_element(By.TAG_NAME, "summary").send_keys(Keys.ENTER)
    assert "Apricots 0, Apricots 3" in names.text


def violations(chrome: Chrome, axe: str) -> list[str]:
    """Return what axe-core finds, contrast included."""
    chrome.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
    chrome.refresh()
    chrome.execute_script(axe)
    found = chrome.execute_async_script(
        "const done = arguments[arguments.length - 1];"
        "axe.run().then(found => done(found.violations));"
    )
    return [f"{item['id']}: {item['nodes'][0]['html']}" for item in found]


@pytest.mark.parametrize("is_dark", [False, True], ids=["light", "dark"])
def test_axe_finds_nothing_on_the_status_page(
    browser: Open, axe: str, page: Path, *, is_dark: bool
) -> None:
    chrome = browser(is_dark=is_dark)
    chrome.get(page.as_uri())
    assert violations(chrome, axe) == []


def test_axe_finds_nothing_where_many_blocks_share_a_reason(
    browser: Open, axe: str, sixty: Path
) -> None:
    chrome = browser()
    chrome.get(sixty.as_uri())
    assert violations(chrome, axe) == []


@pytest.mark.parametrize("width", WIDTHS)
def test_a_person_answers_with_two_clicks(
    browser: Open, answering: Page, width: int
) -> None:
    chrome = browser(width)
    chrome.get(f"{answering.origin}/a/{answering.ticket()}")
    keep(chrome, f"answer-{width}")
    chrome.find_element(By.CSS_SELECTOR, "input[value=acting]").click()
    chrome.find_element(By.TAG_NAME, "button").click()
    said = expected_conditions.text_to_be_present_in_element
    WebDriverWait(chrome, 10).until(said((By.TAG_NAME, "body"), "Ines is acting"))
    [answer] = answering.answers()
    assert answer.person == "Ines"


def tapped(chrome: Chrome, section: str, label: str) -> str:
    """Tap a button of a section; return what the page then says there."""
    xpath = f"//section[@id='{section}']//button[normalize-space()='{label}']"
    button = chrome.find_element(By.XPATH, xpath)
    chrome.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
    chrome.execute_script("window.isBefore = true")
    button.click()
    # The old page may go in the middle of a question.
    WebDriverWait(chrome, 10, ignored_exceptions=[WebDriverException]).until(
        lambda shown: shown.execute_script(
            "return !window.isBefore && document.readyState === 'complete'"
        )
    )
    # The page comes back at the place of the tap.
    assert chrome.current_url.endswith(f"#{section}")
    place = chrome.find_element(By.ID, section)
    assert -1 < place.rect["y"] - chrome.execute_script("return scrollY") < 900
    return str(place.text)


@pytest.mark.parametrize("is_dark", [False, True], ids=["light", "dark"])
def test_the_week_is_a_tap_a_block_on_a_phone(
    browser: Open, answering: Page, *, is_dark: bool
) -> None:
    answering.store.save_job_sheet(SHEET)
    chrome = browser(is_dark=is_dark)
    chrome.get(f"{answering.origin}/a/{answering.ticket()}")
    assert "limit goes from 32 F to 28 F" in tapped(chrome, "block-1", "green fruit")
    script = "return document.documentElement.scrollWidth <= window.innerWidth"
    assert chrome.execute_script(script)
    keep(chrome, f"blocks-{'dark' if is_dark else 'light'}")
    assert "Taken back" in tapped(chrome, "block-1", "Take it back")
    assert "Done 3:00 pm, Ines" in tapped(chrome, "jobs", "Done")
    value = chrome.find_element(By.ID, "value")
    value.send_keys("28.4 F")
    assert "Kept." in tapped(chrome, "reading", "Keep this reading")
    keep(chrome, f"reading-{'dark' if is_dark else 'light'}")
    slip = tapped(chrome, "reading", "It was a slip: take it back")
    assert "is taken back" in slip
    refused = [
        entry["message"]
        for entry in chrome.get_log("browser")  # type: ignore[no-untyped-call]
        if "Content Security Policy" in entry["message"]
    ]
    assert refused == []


@pytest.mark.parametrize("is_dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("path", ["", "/seen"], ids=["opened", "sent"])
def test_axe_finds_nothing_on_the_personal_page(
    browser: Open, axe: str, answering: Page, path: str, *, is_dark: bool
) -> None:
    answering.store.save_job_sheet(SHEET)
    chrome = browser(is_dark=is_dark)
    chrome.get(f"{answering.origin}/a/{answering.ticket()}")
    if path:
        tapped(chrome, "block-1", "green fruit")
    assert violations(chrome, axe) == []


@pytest.mark.parametrize("is_dark", [False, True], ids=["light", "dark"])
def test_axe_finds_nothing_on_the_answer_page(
    browser: Open, axe: str, answering: Page, *, is_dark: bool
) -> None:
    chrome = browser(is_dark=is_dark)
    chrome.get(f"{answering.origin}/a/{answering.ticket()}")
    assert violations(chrome, axe) == []
