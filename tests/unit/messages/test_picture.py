"""The picture of a night: in the mail, small, told in words, and never in the way."""

import struct
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from frostalert.cycle.cycle import run_cycle
from frostalert.forecast.file_source import FileSource
from frostalert.forecast.nws import parse_grid
from frostalert.messages.picture import NightPicture
from frostalert.messages.wording import Wording
from frostalert.model.chart import Chart, Mark
from frostalert.model.forecast import HOUR
from frostalert.model.notice import Message
from frostalert.plan.plan import make_plan
from frostalert.ports import Plotter
from frostalert.report.night_picture import NightPlotter
from frostalert.risk.charting import night_chart
from frostalert.store.open import open_store
from tests.support.grids import frosty_hours, grid_text
from tests.support.judged import nights_of
from tests.support.mails import everything
from tests.support.plans import (
    APRICOTS,
    LINE,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    night_grid,
    planting,
)

HOLDING = planting(APRICOTS, STRAWBERRIES)
NOW = TWO_IN_THE_AFTERNOON + timedelta(hours=2)


def chart_of(grid: str) -> Chart | None:
    run = parse_grid(grid, NOW)
    nights = nights_of(HOLDING, run, NOW)
    return night_chart(nights, nights.assessment.nights[0])


def mail_of(folder: Path, plotter: Plotter | None) -> Message:
    (folder / "grid.json").write_text(night_grid(-3.0))
    store = open_store(folder)
    try:
        run_cycle(
            HOLDING, [FileSource(folder / "grid.json")], store, NOW, plotter=plotter
        )
        rows = store.unsent(NOW, is_forced=True)
    finally:
        store.database.close()
    return next(row.message for row in rows if row.message.html is not None)


def test_the_mail_shows_a_small_picture_and_says_what_is_on_it(tmp_path: Path) -> None:
    mail = mail_of(tmp_path, NightPlotter())
    [picture] = [item for item in mail.attachments if item.cid is not None]
    assert picture.media_type == "image/png"
    assert len(picture.content) < 100_000
    # The size stands in the first chunk of a PNG file.
    assert struct.unpack(">II", picture.content[16:24]) == (640, 360)
    assert mail.html is not None
    assert 'src="cid:night"' in mail.html
    assert "air lowest" in mail.html
    assert "harm to strawberry, popcorn at 28 F" in mail.html
    assert "cid:" not in everything(mail)


def test_a_picture_that_breaks_off_silences_no_warning(tmp_path: Path) -> None:
    class Broken:
        def draw(self, chart: Chart) -> bytes:
            del chart
            message = "no ink"
            raise RuntimeError(message)

    mail = mail_of(tmp_path, Broken())
    assert mail.subject.startswith("Get ready")
    assert mail.html is not None
    assert "<img" not in mail.html
    assert {item.cid for item in mail.attachments} == {None}


def test_what_is_drawn_is_the_block_most_at_risk() -> None:
    chart = chart_of(night_grid(-3.0))
    assert chart is not None
    assert chart.block == "Strawberries"
    # Its own limit alone: another block's would not fit its curves.
    assert chart.line is not None
    assert chart.line.name == "strawberry, popcorn"
    assert chart.sunset_utc is not None
    # From three hours before sunset, rounded down to the hour.
    before = chart.sunset_utc - chart.first_utc
    assert timedelta(hours=3) <= before < timedelta(hours=4)


def test_gaps_are_drawn_as_gaps_and_said_without_a_number() -> None:
    dew = [None] * 72
    chart = chart_of(grid_text(air_c=frosty_hours(), dewpoint_c=dew))
    assert chart is not None
    assert np.isnan(chart.wet_bulb_c).all()
    png = NightPlotter().draw(chart)
    assert png.startswith(b"\x89PNG")
    words = NightPicture(chart=chart, png=png).alt(Wording(HOLDING.site, NOW))
    assert "nan" not in words


@pytest.mark.parametrize("is_fahrenheit", [True, False])
def test_it_is_drawn_in_either_unit(*, is_fahrenheit: bool) -> None:
    chart = chart_of(night_grid(-3.0))
    assert chart is not None
    drawn = NightPlotter().draw(replace(chart, is_fahrenheit=is_fahrenheit))
    assert drawn.startswith(b"\x89PNG")


def test_no_hour_no_picture() -> None:
    run = parse_grid(grid_text(air_c=frosty_hours(hours=26)), NOW)
    nights = nights_of(HOLDING, run, NOW)
    unknown = nights.assessment.nights[1]
    assert unknown.worst is None
    assert night_chart(nights, unknown) is None


def test_a_freeze_that_begins_by_day_is_drawn_from_before_its_first_harm() -> None:
    nights = nights_of(HOLDING, parse_grid(night_grid(-3.0), NOW), NOW)
    night = nights.assessment.nights[0]
    worst = night.likeliest
    assert worst is not None
    assert worst.bud is not None
    assert night.sunset_utc is not None
    usual = night_chart(nights, night)
    assert usual is not None
    for hours, before in ((2, 5), (20, 7)):
        bud = replace(
            worst.bud, first_below_utc=night.sunset_utc - timedelta(hours=hours)
        )
        early = replace(night, blocks=(replace(worst, dry=bud, wet=bud),))
        chart = night_chart(nights, early)
        assert chart is not None
        # Three hours before, but never in the night before.
        begin = max(night.sunset_utc - timedelta(hours=before), night.start_utc)
        assert begin - HOUR < chart.first_utc <= begin
        assert chart.first_utc < usual.first_utc


def test_the_plan_s_own_starts_are_marked_by_name() -> None:
    alone = planting(APRICOTS)
    run = parse_grid(night_grid(-3.0), NOW)
    nights = nights_of(alone, run, NOW)
    night = nights.assessment.nights[0]
    plan = make_plan(nights, night)
    chart = night_chart(nights, night, plan)
    assert chart is not None
    [start] = plan.starts
    assert chart.starts == (Mark(name="Lane line", run_by_utc=start.deadline_utc),)
    assert chart.stop_utc == plan.stop_not_before_utc
    wording = Wording(alone.site, NOW)
    words = NightPicture(chart=chart, png=b"").alt(wording)
    assert f"start Lane line by {wording.clock(start.deadline_utc)}" in words
    named = NightPlotter().draw(chart)
    renamed = replace(chart, starts=(replace(chart.starts[0], name="Pond pump"),))
    assert NightPlotter().draw(renamed) != named


def test_nothing_is_marked_that_the_plan_does_not_start() -> None:
    dry = planting(APRICOTS, equipment=(replace(LINE, flow_l_per_h=300.0),))
    run = parse_grid(night_grid(-3.0), NOW)
    nights = nights_of(dry, run, NOW)
    night = nights.assessment.nights[0]
    chart = night_chart(nights, night, make_plan(nights, night))
    assert chart is not None
    assert (chart.starts, chart.stop_utc) == ((), None)
    # Without a plan the forecast's own hour stands there.
    unplanned = night_chart(nights, night)
    assert unplanned is not None
    assert [mark.name for mark in unplanned.starts] == [""]


def test_in_the_morning_the_low_to_come_is_told_as_in_the_mail() -> None:
    """The curve has the whole night; what has gone by is said to have."""
    chart = chart_of(night_grid(-3.0))
    assert chart is not None
    picture = NightPicture(chart=chart, png=b"")
    evening = picture.alt(Wording(HOLDING.site, NOW))
    low = int(np.nanargmin(chart.air_c))
    past = f"{1.8 * chart.air_c[low] + 32.0:.0f} F at"
    assert f"air lowest {past}" in evening
    assert "gone by" not in evening
    later = chart.first_utc + (low + 2) * HOUR
    morning = picture.alt(Wording(HOLDING.site, later))
    coming = 1.8 * float(np.nanmin(chart.air_c[low + 2 :])) + 32.0
    assert f"air lowest {coming:.0f} F at" in morning
    assert f"; {past}" in morning
    assert "has gone by" in morning
    over = picture.alt(Wording(HOLDING.site, chart.first_utc + chart.air_c.size * HOUR))
    assert "air lowest" not in over
    assert f"{past}" in over
