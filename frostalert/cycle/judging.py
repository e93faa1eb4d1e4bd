"""Judge the nights by what is stored: forecasts, readings, and what was learned."""

import logging
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Protocol

from frostalert.agronomy.looks import with_looks
from frostalert.errors import PhysicsDomainError
from frostalert.model.forecast import ForecastRun
from frostalert.model.learned import ForecastObservation, GainNight, NowcastPair
from frostalert.model.nights import Facts, Nights
from frostalert.model.official import OfficialWord
from frostalert.model.reading import Reading
from frostalert.model.site import Farm, Site
from frostalert.model.warmth import DayAir, Sighting
from frostalert.ports import LookBook, NightBook
from frostalert.risk.assess import assess_all
from frostalert.risk.blind import blind_nights
from frostalert.risk.readings import OLD
from frostalert.risk.remarks import is_for_site
from frostalert.risk.sources import choose_runs

_LOG = logging.getLogger(__name__)
PAST = timedelta(hours=36)
"""How far back from the newest run others are read, for the hours of a night that have
gone by."""


def judge_stored(
    farm: Farm,
    store: NightBook,
    now_utc: datetime,
    *,
    is_rehearsal: bool = False,
) -> Nights:
    """Return what the stored forecasts mean by all that is known.

    A rehearsal judges by whatever forecast it is given, also for another place.
    """
    site = None if is_rehearsal else farm.site
    seen = as_seen(farm, store)
    return judge(seen, stored_facts(store, now_utc, site), now_utc)


def as_seen(farm: Farm, book: LookBook) -> Farm:
    """Return the holding with each block as it was seen last, by file or by phone."""
    try:
        return with_looks(farm, book.phone_looks())
    except Exception:  # noqa: BLE001 - what the file says still counts
        _LOG.exception("what was seen and sent by phone could not be read")
        return farm


def stored_facts(store: NightBook, now_utc: datetime, site: Site | None) -> Facts:
    """Return all that the state holds for a judgement.

    A site that was moved must not be judged by its old place's forecast. What was
    learned and read is left out where it cannot be read: the forecast still counts.
    """
    # Not back from now: what is worked out of the runs holds until the next one comes.
    newest = store.recent_runs(now_utc, now_utc)
    since_utc = newest[0].updated_utc - PAST if newest else now_utc
    runs = tuple(
        run
        for run in store.recent_runs(since_utc, now_utc)
        if site is None or is_for_site(site, run)
    )
    official = _official(store)
    try:
        return replace(known_facts(store, now_utc, runs), official=official)
    except Exception:  # noqa: BLE001 - the plain forecast still counts
        _LOG.exception("what was learned and read could not be read")
        return Facts(runs=runs, official=official)


class KnownBook(Protocol):
    """What the state keeps of past nights, beside their forecasts."""

    def readings_since(self, since_utc: datetime) -> tuple[Reading, ...]:
        """Return the readings since a moment, oldest first."""

    def night_pairs(self) -> tuple[ForecastObservation, ...]:
        """Return what past nights taught, the oldest first."""

    def nowcasts(self) -> tuple[NowcastPair, ...]:
        """Return what was guessed of each night and came, the oldest night first."""

    def gain_nights(self) -> tuple[GainNight, ...]:
        """Return what equipment gained, the oldest night first."""

    def days_air(self) -> tuple[DayAir, ...]:
        """Return all days, the oldest first."""

    def sightings(self) -> tuple[Sighting, ...]:
        """Return every stage that was seen, the oldest first."""


def known_facts(
    book: KnownBook, since_utc: datetime, runs: Iterable[ForecastRun] = ()
) -> Facts:
    """Return all that the state holds since a moment, for `facts_known_at`."""
    return Facts(
        runs=tuple(runs),
        pairs=tuple(book.night_pairs()),
        nowcasts=tuple(book.nowcasts()),
        readings=tuple(book.readings_since(since_utc - OLD)),
        days_air=tuple(book.days_air()),
        sightings=tuple(book.sightings()),
        gain_nights=tuple(book.gain_nights()),
        has_history=True,
    )


def facts_known_at(facts: Facts, moment_utc: datetime, night: date) -> Facts:
    """Return what of some facts was known at a moment of a past night."""
    return replace(
        facts,
        runs=tuple(
            sorted(
                (
                    run
                    for run in facts.runs
                    if moment_utc - PAST <= run.fetched_utc <= moment_utc
                ),
                key=lambda run: (run.updated_utc, run.fetched_utc),
                reverse=True,
            )
        ),
        pairs=tuple(pair for pair in facts.pairs if pair.night < night),
        nowcasts=tuple(pair for pair in facts.nowcasts if pair.night < night),
        readings=tuple(item for item in facts.readings if item.at_utc <= moment_utc),
        days_air=tuple(day for day in facts.days_air if day.day < night),
        sightings=tuple(item for item in facts.sightings if item.seen <= night),
    )


def judge(farm: Farm, facts: Facts, now_utc: datetime) -> Nights:
    """Return what the nights mean, whatever breaks: silence is the worst answer."""
    if not facts.runs:
        problem = "no forecast for this place has been received"
        return blind_nights(farm, facts, now_utc, problem)
    try:
        return assess_all(farm, facts, now_utc)
    except Exception:  # noqa: BLE001 - the plain forecast still counts
        _LOG.exception("readings, learning or a second source broke off")
    try:
        first = choose_runs(facts.runs, farm.sources, now_utc)[0]
        plain = Facts(runs=(first,), official=facts.official)
        return assess_all(farm, plain, now_utc)
    except PhysicsDomainError as error:
        _LOG.exception("the stored forecast could not be worked out")
        problem = f"the forecast holds impossible values ({error})"
    except Exception as error:  # noqa: BLE001 - a defect of ours must not end in silence
        _LOG.exception("the stored forecast could not be worked out")
        problem = f"the program failed on this forecast ({type(error).__name__})"
    return blind_nights(farm, facts, now_utc, problem)


def _official(store: NightBook) -> OfficialWord | None:
    """Return what the weather service itself says; it changes no tier."""
    try:
        return store.official_word()
    except Exception:  # noqa: BLE001 - what is only quoted must not end in silence
        _LOG.exception("the official word could not be read")
        return None
