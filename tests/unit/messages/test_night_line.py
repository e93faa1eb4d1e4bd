"""A night in a line: how cold and where, or that it is over, or that nobody knows."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from frostalert.forecast.nws import parse_grid
from frostalert.messages.cannot_judge import CannotJudgeWords
from frostalert.messages.night_line import cold_words, night_line
from frostalert.messages.sms import ONE_SEGMENT
from frostalert.messages.views import is_over
from frostalert.messages.wording import Wording
from frostalert.model.assessment import NightAssessment, Tier
from tests.support.grids import grid_text
from tests.support.holdings import INES, SITE, make_holding
from tests.support.judged import assess

NOW = datetime(2026, 4, 13, 0, tzinfo=UTC)
LINK = "https://frost.example/a/x"


def tonight() -> NightAssessment:
    return assess(make_holding(), parse_grid(grid_text(), NOW), NOW).nights[0]


def test_only_a_night_without_risk_is_over_and_only_once_the_sun_is_up() -> None:
    night = tonight()
    assert night.tier is Tier.PREPARE
    sunrise = night.sunrise_utc
    assert sunrise is not None
    quiet = replace(night, tier=Tier.NONE)
    assert not is_over(quiet, sunrise - timedelta(minutes=1))
    assert is_over(quiet, sunrise)
    assert not is_over(night, sunrise + timedelta(hours=1))
    assert not is_over(replace(quiet, sunrise_utc=None), sunrise)


def test_a_line_tells_the_low_the_block_and_the_chance() -> None:
    night, wording = tonight(), Wording(SITE, NOW)
    told = night_line(night, wording)
    worst = night.worst
    assert worst is not None
    assert worst.probability is not None
    assert worst.site_low_c is not None
    assert f"{round(1.8 * worst.site_low_c + 32.0)} F in Apricots" in told
    assert f"({100.0 * worst.probability:.0f} %)" in told
    unknown = replace(night, blocks=(replace(worst, probability=None),))
    assert cold_words(unknown, wording).endswith("chance of harm not known")
    blind = replace(night, tier=Tier.CANNOT_JUDGE, reason="it is far too old")
    assert "frost risk unknown, it is far too old" in night_line(blind, wording)


def test_what_cannot_be_judged_says_how_to_answer_by_link_or_by_command() -> None:
    words = CannotJudgeWords(
        night=date(2026, 4, 12),
        wording=Wording(SITE, NOW),
        why="the forecast is 27 h old",
        brief_why="old forecast",
        also="",
        ahead=(),
        in_force=(),
        source="S, made today.",
        short_source="S 5pm",
    )
    assert words.letter(INES, LINK).answering == f"Confirm that you saw this: {LINK}"
    asked = words.letter(INES, "").answering
    assert asked.endswith('on the home server, frostalert ack --by "Ines"')
    text = words.text(INES, LINK, "")
    assert "NOT an all-clear" in text
    assert "read a thermometer" in text
    assert "water" not in text
    # In the night itself water may run, and who gets ready for the evening is late.
    running = replace(words, wording=Wording(SITE, NOW + timedelta(hours=14)))
    text, letter = running.text(INES, LINK, ""), running.letter(INES, LINK)
    assert "If water is on, KEEP IT ON." in text
    assert "get ready" not in text
    assert len(text) <= ONE_SEGMENT
    assert "now, and every hour" in letter.jobs[0]
    assert "KEEP IT ON until you measure a wet bulb above 32 F" in letter.jobs[1]


def test_a_night_that_is_over_is_told_without_a_low_that_nobody_knows() -> None:
    night = tonight()
    sunrise, worst = night.sunrise_utc, night.likeliest
    assert sunrise is not None
    assert worst is not None
    wording = Wording(SITE, sunrise + timedelta(minutes=1))
    quiet = replace(night, tier=Tier.NONE)
    known = replace(worst, past_low_c=-2.0, past_low_utc=sunrise)
    told = night_line(replace(quiet, blocks=(known,)), wording)
    assert "Apr 12: over; forecast low 28 F at " in told
    for blocks in (
        (),
        (replace(known, past_low_c=None),),
        (replace(known, past_low_utc=None),),
    ):
        told = night_line(replace(quiet, blocks=blocks), wording)
        assert told.endswith("Apr 12: over.")
