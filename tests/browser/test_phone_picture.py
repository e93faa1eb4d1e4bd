"""The phone that README shows is the page as it is."""

import os
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np
from matplotlib.image import imread

from frostalert.messages.task_words import job_words
from frostalert.messages.wording import Wording
from frostalert.model.job_sheet import Job
from tests.adapters.test_personal_page import SHEET
from tests.adapters.test_web import Page
from tests.browser.conftest import Open
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    STRAWBERRIES,
    night_grid,
    plan_of,
    planting,
)

PICTURE = Path(__file__).parents[2] / "deploy" / "phone.png"
SCREEN = {"width": 390, "height": 780, "deviceScaleFactor": 1, "mobile": True}
MOST_BYTES = 60_000
MOST_APART = 0.04
"""Mean difference of two pictures of one page: fonts differ from machine to machine.
[0..1]"""


def jobs_of_a_night() -> tuple[Job, ...]:
    """The jobs of an invented planting, in the words of the page."""
    farm = planting(APRICOTS, CHERRIES, STRAWBERRIES)
    plan = plan_of(farm, night_grid(-3.0))
    wording = Wording(farm.site, plan.made_utc)
    return tuple(
        Job(night=SHEET.night, key=str(n), who=(), words=job_words(task, wording))
        for n, task in enumerate(plan.tasks[:4])
    )


def test_the_phone_in_the_readme_is_the_page_as_it_is(
    browser: Open, answering: Page
) -> None:
    answering.store.save_job_sheet(replace(SHEET, jobs=jobs_of_a_night()))
    chrome = browser()
    chrome.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", SCREEN)
    chrome.get(f"{answering.origin}/a/{answering.ticket()}")
    made = chrome.get_screenshot_as_png()
    if os.environ.get("FROSTALERT_WRITE_PHONE"):
        PICTURE.write_bytes(made)
    shown, kept = (
        imread(BytesIO(data))[..., :3] for data in (made, PICTURE.read_bytes())
    )
    assert kept.shape == shown.shape == (SCREEN["height"], SCREEN["width"], 3)
    assert np.abs(kept - shown).mean() < MOST_APART, (
        "write it anew with FROSTALERT_WRITE_PHONE=1"
    )
    assert PICTURE.stat().st_size < MOST_BYTES
