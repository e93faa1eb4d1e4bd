"""Nights that between them reach every kind of message."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Subject
from tests.adapters.test_nws_official import alert, listed
from tests.golden.house import CONFIG, House, april, empty_folder
from tests.golden.planting import (
    APRICOTS,
    ASLEEP,
    BARE_STRAWBERRIES,
    CHERRIES,
    CHERRIES_BY_FIRE,
    COVERS,
    FIRES,
    GRAPES,
    HEATERS,
    INES,
    LINE,
    MARA,
    OFTEN,
    PEOPLE,
    STRAWBERRIES,
    TOBIAS,
    planting,
)
from tests.golden.record import first_html_of, messages_of
from tests.golden.weather import Weather

CALM_KMH, WINDY_KMH, GALE_KMH = 1.8, 18.0, 32.0
Files = dict[str, str]


@contextmanager
def house(config: str, begin: str, **given: Any) -> Iterator[House]:
    """A house in an empty folder, from a moment on."""
    with empty_folder():
        made = House(config, april(begin), **given)
        try:
            yield made
        finally:
            made.close()


def equipped() -> Files:
    """Outlook, prepare, passed on, answered, start, next start, worse, stopped."""
    config = planting(
        APRICOTS, CHERRIES, STRAWBERRIES, GRAPES, LINE, HEATERS, COVERS, PEOPLE
    )
    with house(config, "11 06:30", weather=Weather({13: -3.0})) as now:
        now.until("12 20:00", step_min=30)
        answered = now.command("ack", "--by", "Ines")
        now.until("13 03:10")
        now.weather.lows_c = {13: -5.0}
        now.until("13 04:20")
        now.weather.wind_kmh = GALE_KMH
        now.until("13 05:40")
        now.weather.wind_kmh = CALM_KMH
        now.until("13 11:00", step_min=20)
        return {
            "messages.txt": messages_of(now),
            "prepare.html": first_html_of(now, Subject.PREPARE),
            "daily-line.html": first_html_of(now, Subject.DAILY_LINE),
            "ack.txt": answered,
        }


def fires() -> Files:
    """Be ready to start, start, taken back, called for again, withdrawn at night."""
    config = planting(BARE_STRAWBERRIES, CHERRIES_BY_FIRE, FIRES, PEOPLE, OFTEN)
    with house(config, "12 15:40", weather=Weather({13: -3.0})) as now:
        now.until("12 16:00")
        now.command("ack", "--by", "Ines")
        now.until("13 02:30", step_min=20)
        now.command("ack", "--by", "Ines")
        for hour, wind in (("02:50", WINDY_KMH), ("04:20", CALM_KMH)):
            now.weather.wind_kmh = wind
            now.until(f"13 {hour}")
        now.weather.lows_c, now.weather.cloud_pct = {}, 100.0
        now.until("13 08:30", step_min=20)
        return {"messages.txt": messages_of(now)}


def bare() -> Files:
    """No equipment, metric: methods alone; a late forecast, gaps, humidity missing."""
    config = planting(APRICOTS, GRAPES, ASLEEP, PEOPLE, units="metric")
    with house(config, "12 18:50", weather=Weather({13: -4.0})) as now:
        now.until("13 02:00")
        now.weather.grid = {"dewpoint": {"values": []}}
        now.until("13 10:00", step_min=20)
        return {"messages.txt": messages_of(now)}


def covers() -> Files:
    """Covers alone: due before dark, then they lie; one who hears of it too late."""
    in_time = planting(STRAWBERRIES, COVERS, INES)
    with house(in_time, "12 15:40", weather=Weather({13: -3.0})) as now:
        now.until("13 04:00", step_min=20)
        early = messages_of(now)
    with house(in_time, "12 22:40", weather=Weather({13: -3.0})) as now:
        now.until("13 03:00", step_min=20)
        late = messages_of(now)
    return {"in-time.txt": early, "too-late.txt": late}


def nothing_holds() -> Files:
    """Too little water: nothing is to be started, by day and by night."""
    pond = 'water = "130 gal"\nrefill = "0.04 gpm"'
    config = planting(APRICOTS, LINE, INES, supplies=pond)
    with house(config, "12 15:40", weather=Weather({13: -5.0})) as now:
        now.until("13 03:00", step_min=20)
        return {"messages.txt": messages_of(now)}


def withdrawn() -> Files:
    """Told and withdrawn; a quiet daily line; put off; someone is listed later."""
    config = planting(APRICOTS, CHERRIES, LINE, HEATERS, INES, TOBIAS)
    with house(config, "11 06:30", weather=Weather({13: -2.0}), has_links=True) as now:
        now.until("12 16:10", step_min=30)
        CONFIG.write_text(CONFIG.read_text() + MARA)
        now.until("12 17:00")
        later = now.command("ack", "--by", "Tobias", "--later", "16 h")
        now.weather.lows_c = {}
        now.until("13 10:00", step_min=30)
        return {"messages.txt": messages_of(now), "ack.txt": later}


def blind() -> Files:
    """The source goes away: an old forecast, then none; faults; back with a gap."""
    config = planting(APRICOTS, CHERRIES, PEOPLE)
    with house(config, "11 08:00", weather=Weather({13: -3.0})) as now:
        now.until("11 18:00", step_min=30)
        now.is_source_away = True
        now.until("13 13:00", step_min=30)
        now.is_source_away = False
        now.weather.lows_c = {14: -4.0}
        air = [None] * 96
        now.weather.grid = {"air_c": air[:40], "dewpoint_c": air[:40]}
        now.until("13 15:00", step_min=30)
        now.weather.grid = {}
        now.until("13 18:00", step_min=30)
        return {"messages.txt": messages_of(now)}


def wet() -> Files:
    """Rain until the evening, and a night minimum that is colder than every hour."""
    config = planting(APRICOTS, CHERRIES, GRAPES, LINE, HEATERS, INES)
    rain = [90.0] * 42 + [0.0] * 54
    weather = Weather({13: -1.5}, rain_pct=rain, grid={"minimum_c": -3.0})
    with house(config, "12 15:40", weather=weather) as now:
        now.until("13 03:00", step_min=20)
        return {"messages.txt": messages_of(now)}


def never_any() -> Files:
    """No forecast from the first day on: it cannot be judged, and again a day later."""
    with house(planting(APRICOTS, INES), "12 09:00", is_source_away=True) as now:
        now.until("13 22:00", step_min=30)
        return {"messages.txt": messages_of(now)}


def faults() -> Files:
    """A broken configuration, mail that is refused, hours that were not watched."""
    with house(planting(APRICOTS, PEOPLE), "12 09:00") as now:
        now.until("12 10:00")
        now.change("[site]", "[site")
        now.until("12 11:00")
        now.change("[site", "[site]")
        now.refusing.add(ChannelKind.EMAIL)
        now.weather.lows_c = {13: -3.0}
        now.until("12 20:00", step_min=20)
        now.refusing.clear()
        now.sleep("13 06:00")
        now.until("13 09:00", step_min=20)
        return {"messages.txt": messages_of(now)}


def two_nights() -> Files:
    """Cold that goes on into a second night, official warnings, a second source."""
    config = planting(APRICOTS, CHERRIES, LINE, HEATERS, INES, MARA).replace(
        "[forecast]", '[forecast]\nsources = ["nws", "open-meteo"]'
    )
    given = {
        "weather": Weather({13: -3.0, 14: -4.5}),
        "world": Weather({13: -1.0, 14: -6.0}),
        "alerts": listed(alert()),
    }
    with house(config, "12 12:30", **given) as now:
        now.until("13 01:00", step_min=30)
        now.command("ack", "--by", "Ines")
        now.until("14 01:00", step_min=30)
        return {"messages.txt": messages_of(now)}


def stuck() -> Files:
    """The same forecast again and again: its age is told in what follows."""
    config = planting(APRICOTS, LINE, PEOPLE)
    with house(config, "12 07:30", weather=Weather({13: -3.0})) as now:
        now.updated_utc = now.now_utc - timedelta(hours=2)
        now.until("13 10:00", step_min=30)
        return {"messages.txt": messages_of(now)}


def clock_ahead() -> Files:
    """A start called by a clock that is ahead; then it is set right."""
    config = planting(APRICOTS, CHERRIES, HEATERS, INES, TOBIAS)
    with house(config, "12 15:40", weather=Weather({13: -3.0})) as now:
        now.until("12 16:10")
        now.pass_time(minutes=9 * 60)
        now.sleep("12 16:30")
        now.until("13 03:00", step_min=20)
        return {"messages.txt": messages_of(now)}


NIGHTS: dict[str, Callable[[], Files]] = {
    "night-equipped": equipped,
    "night-fires": fires,
    "night-bare": bare,
    "night-covers": covers,
    "night-nothing-holds": nothing_holds,
    "night-withdrawn": withdrawn,
    "night-blind": blind,
    "night-wet": wet,
    "night-never-any": never_any,
    "night-faults": faults,
    "night-two": two_nights,
    "night-stuck": stuck,
    "night-clock": clock_ahead,
}
