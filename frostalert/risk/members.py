"""What each fresh source says of the site's nights, and what they say together."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import chain, islice
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.model.assessment import NightKind, OtherLow, SiteLow
from frostalert.model.forecast import ForecastRun
from frostalert.model.hours import SiteHours
from frostalert.model.learned import ForecastObservation, Learned
from frostalert.model.nights import Term, TermName
from frostalert.model.site import Farm, Rules
from frostalert.physics.nights import night_of
from frostalert.risk.learning import SiteLesson, dark_low_c, dark_weights, site_lesson
from frostalert.risk.lost_minimum import LostMinimums, usual_deficits
from frostalert.risk.pooling import pool_lows
from frostalert.risk.site_hours import dark_hours, prepare_site_hours
from frostalert.risk.terms import corrected
from frostalert.risk.uncertainty import pool_rules


@dataclass(frozen=True, slots=True)
class Member:
    """One source's hours at the site, as it gives them and with its own error off.

    Attributes
    ----------
    source_hours : SiteHours
        As the source gives them.
    shared : SiteHours
        With a lost minimum made up for, and with what past nights have taught.
    """

    source_hours: SiteHours
    lost: LostMinimums
    lesson: SiteLesson
    shared: SiteHours

    @property
    def run(self) -> ForecastRun:
        """The forecast."""
        return self.shared.run


def member_of(
    run: ForecastRun,
    farm: Farm,
    pairs: Sequence[ForecastObservation],
    now_utc: datetime,
) -> Member:
    """Return what one source says.

    Raises
    ------
    PhysicsDomainError
        If a forecast holds values outside what the formulas hold for.
    """
    source_hours = prepare_site_hours(run, farm.site, now_utc)
    lost = usual_deficits(source_hours)
    lesson = site_lesson(source_hours, farm.rules, pairs)
    shared = corrected(source_hours, (*lost.terms, *lesson.terms))
    return Member(source_hours, lost, lesson, shared)


def site_lows(
    first: Member, others: Sequence[Member], farm: Farm
) -> tuple[tuple[SiteLow, ...], ...]:
    """Return what the sources say of their nights.

    Parameters
    ----------
    first : Member
        The source that counts.
    others : sequence of Member
        Those beside it.
    farm : Farm
        Site and rules.

    Returns
    -------
    tuple of tuple of SiteLow
        What all say together of each night of the first; then, where there are others,
        what each source alone says of its own nights, the first one's before theirs.
    """
    zone = ZoneInfo(farm.site.time_zone)
    own = [_own_nights(member, zone) for member in (first, *others)]
    told = [
        _told_nights(other, nights)
        for other, nights in zip(others, own[1:], strict=True)
    ]
    together = [
        _night_lows(one, [by[night] for by in told if night in by])
        for night, one in own[0].items()
    ]
    alone = [
        [_night_lows(one, ()) for one in nights.values()] for nights in own if others
    ]
    groups = (together, *alone)
    found = iter(_pooled(list(chain(*groups)), 1 + len(others), farm.rules))
    return tuple(tuple(islice(found, len(nights))) for nights in groups)


def _pooled(
    nights: Sequence["_NightLows"], members: int, rules: Rules
) -> list[SiteLow]:
    """Return what comes of each night's lows, all pooled at once."""
    # One column a night: where a source does not know the night, it has no low there.
    lows, own = np.full((2, members, len(nights)), np.nan)
    for place, night in enumerate(nights):
        lows[: len(night.lows), place] = night.lows
        own[: len(night.own), place] = night.own
    ahead = np.array([night.ahead for night in nights])
    pooled = pool_lows(lows, ahead, own_sigma_c=own, rules=pool_rules(rules))
    is_learned = np.isfinite(own).any(axis=0)
    return [
        SiteLow(
            low_c=None if night.first_c is None else low_c,
            first_c=night.first_c,
            sigma_c=sigma_c,
            site_sigma_c=0.0 if learned else rules.site_sigma_c,
            spread_c=spread_c,
            others=night.others,
        )
        for night, low_c, sigma_c, spread_c, learned in zip(
            nights,
            pooled.low_c.tolist(),
            pooled.sigma_c.tolist(),
            pooled.spread_c.tolist(),
            is_learned.tolist(),
            strict=True,
        )
    ]


class _NightLows(NamedTuple):
    """What is pooled for one night: lows and errors of the sources that know it.

    Attributes
    ----------
    ahead : float
        How many nights ahead it lay when the forecast that counts was made.
    first_c : float or None
        The low of the source that counts. [degC]
    lows, own : list of float
        What is pooled, that source first; NaN where an error is that of the rules.
        [degC]
    """

    ahead: float
    first_c: float | None
    lows: list[float]
    own: list[float]
    others: tuple[OtherLow, ...]


class _OwnNight(NamedTuple):
    """What one source says of one night.

    Attributes
    ----------
    ahead : float
        How many nights ahead it lay when the forecast was made.
    low_c : float or None
        Its low. [degC]
    own_c : float
        Its own error, NaN where that is of the rules. [degC]
    """

    ahead: float
    low_c: float | None
    own_c: float


def _own_nights(member: Member, zone: ZoneInfo) -> dict[date, _OwnNight]:
    """Return what a source says of its nights, by their dates."""
    made_for = night_of(member.run.updated_utc, zone)
    nights = zip(member.shared.nights, member.lesson.learned, strict=True)
    return {
        night.window.night: _OwnNight(
            ahead=float((night.window.night - made_for).days),
            low_c=dark_low_c(member.shared, night),
            own_c=_own_sigma_c(lesson),
        )
        for night, lesson in nights
    }


def _told_nights(
    other: Member, own: Mapping[date, _OwnNight]
) -> dict[date, tuple[OtherLow, float]]:
    """Return a source's lows as they stand beside another's, and their errors. [degC]

    Only of nights that it knows all of: the low of half a night is no second opinion.
    """
    found = {}
    for night in other.shared.nights:
        _, low_c, own_c = own[night.window.night]
        if night.source_low_c is None or low_c is None:
            continue
        dark = other.shared.air_c[dark_hours(other.shared, night)]
        dawn = night.sunrise_utc or night.window.end_utc
        is_whole = dark.size and other.run.hours.end_utc > dawn
        if is_whole and np.isfinite(dark).all():
            low = OtherLow(
                source=other.run.source_title,
                low_c=night.source_low_c,
                corrected_c=low_c,
            )
            found[night.window.night] = low, own_c
    return found


def _night_lows(
    first: _OwnNight, others: Sequence[tuple[OtherLow, float]]
) -> _NightLows:
    """Return what the sources say of one night."""
    told = tuple(low for low, _ in others)
    own = [first.own_c, *(own_c for _, own_c in others)]
    if first.low_c is None:
        # The others' hours do not stand in for the first's: it is judged by its own.
        return _NightLows(first.ahead, None, [0.0], own[:1], told)
    lows = [first.low_c, *(low.corrected_c for low in told)]
    return _NightLows(first.ahead, first.low_c, lows, own, told)


def _own_sigma_c(lesson: Learned | None) -> float:
    """Return the error that is left of a source whose nights are learned. [degC]"""
    if lesson is None or lesson.sigma_c is None:
        return float("nan")
    return lesson.sigma_c


def pooled_terms(first: Member, lows: Sequence[SiteLow]) -> tuple[Term, ...]:
    """Return by how much each night of the first source is moved to the centre."""
    found = []
    for night, low in zip(first.shared.nights, lows, strict=True):
        if low.low_c is None or low.first_c is None or not low.others:
            continue
        value = low.low_c - low.first_c
        if value:
            names = [other.source for other in low.others]
            found.append(
                Term(
                    name=TermName.POOLED,
                    value_c=value,
                    weights=dark_weights(first.shared, night),
                    origin=", ".join([first.run.source_title, *names]),
                    night=night.window.night,
                )
            )
    return tuple(found)


def windy_notes(first: Member, others: Sequence[Member]) -> tuple[str, ...]:
    """Return which sources have wind in the present night that the first calls calm.

    One source's wind forbids nothing: it is named, so that somebody looks.
    """
    night = first.shared.nights[0]
    if night.kind is None or night.kind is NightKind.ADVECTION:
        return ()
    windy = [
        other.run.source_title
        for other in others
        for record in other.shared.nights
        if record.window.night == night.window.night
        and record.kind is NightKind.ADVECTION
    ]
    if not windy:
        return ()
    return (
        f"{', '.join(windy)} has wind this night where this forecast has calm: "
        "feel the wind before you light or sprinkle",
    )
