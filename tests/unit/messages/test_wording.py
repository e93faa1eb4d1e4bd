"""Hours and dates as people read them, in both styles."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from frostalert.messages.wording import Wording, full_hour, tight_hours
from frostalert.model.site import Units
from tests.support.holdings import SITE

NIGHT = date(2026, 4, 12)
EVENING = datetime(2026, 4, 13, 2, 40, tzinfo=UTC)  # 19:40 local
US = Wording(SITE, EVENING)
METRIC = Wording(replace(SITE, units=Units.METRIC), EVENING)
BOTH = pytest.mark.parametrize(
    ("words", "style"), [(US, 0), (METRIC, 1)], ids=["us", "metric"]
)


@BOTH
def test_hours_and_dates_follow_the_units_of_the_site(
    words: Wording, style: int
) -> None:
    shown = {
        words.clock(EVENING): ("7:40 pm", "19:40"),
        words.moment(EVENING): ("Sun Apr 12, 7:40 pm PDT", "Sun 12 Apr 19:40 PDT"),
        words.short_moment(EVENING): ("Apr 12 7:40 pm", "12 Apr 19:40"),
        words.day(NIGHT): ("Sun Apr 12", "Sun 12 Apr"),
        words.month_day(NIGHT): ("Apr 12", "12 Apr"),
        words.night(NIGHT): ("tonight, Sun Apr 12", "tonight, Sun 12 Apr"),
        full_hour(EVENING, is_us=style == 0): ("2 am", "02"),
    }
    assert {key: forms[style] for key, forms in shown.items()} == {
        key: key for key in shown
    }
    assert words.clock(None) == "-"
    assert words.weekday(EVENING) == "Sun"


@pytest.mark.parametrize(
    ("hour", "shown", "short"),
    [
        (3, "this coming night, Mon Apr 13", "Mon Apr 13"),
        (6, "tonight, Mon Apr 13", "Mon Apr 13"),
    ],
)
def test_before_dawn_tonight_would_be_the_night_that_runs(
    hour: int, shown: str, short: str
) -> None:
    words = Wording(SITE, datetime(2026, 4, 13, hour, tzinfo=US.zone))
    assert words.night(date(2026, 4, 13)) == shown
    # The night that runs goes by its morning, so that it is not taken for yesterday's.
    assert words.short_night(date(2026, 4, 12)) == short
    assert words.of_night(date(2026, 4, 12)) == "the night of Sun Apr 12"


@pytest.mark.parametrize(
    ("hour", "shown"), [(0, "12:05 am"), (11, "11:05 am"), (12, "12:05 pm")]
)
def test_noon_and_midnight_are_twelve(hour: int, shown: str) -> None:
    local = datetime(2026, 4, 12, hour, 5, tzinfo=US.zone)
    assert US.clock(local) == shown


@pytest.mark.parametrize(
    ("first_h", "last_h", "forms"),
    [
        (2, 7, ("2:05-7:05 am", "02:05-07:05")),
        (22, 31, ("10:05 pm-7:05 am", "22:05-07:05")),
        (14, 16, ("2:05-4:05 pm", "14:05-16:05")),
        (1, 26, ("1:05 am-2:05 am", "01:05-02:05")),
    ],
)
@BOTH
def test_a_stretch_names_the_half_of_the_day_once(
    words: Wording, style: int, first_h: int, last_h: int, forms: tuple[str, str]
) -> None:
    start = datetime(2026, 4, 12, 0, 5, tzinfo=US.zone)
    hours = [start + timedelta(hours=hour) for hour in (first_h, last_h)]
    assert words.hours(hours[0], hours[1]) == forms[style]


def test_a_text_has_no_room_between_hour_and_half() -> None:
    assert tight_hours("by 7:40 pm, 3 am trees") == "by 7:40pm, 3 am trees"
