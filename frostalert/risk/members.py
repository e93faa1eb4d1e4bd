"""What each fresh source says of the site's nights, and what they say together."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.model.assessment import NightKind, OtherLow, SiteLow
from frostalert.model.forecast import ForecastRun
from frostalert.model.hours import SiteHours, SiteNight
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
    alone = [(member, ()) for member in (first, *others)] if others else []
    groups: list[tuple[Member, Sequence[Member]]] = [(first, others), *alone]
    nights = [
        _night_lows(one, beside, place)
        for one, beside in groups
        for place in range(len(one.shared.nights))
    ]
    found = iter(_pooled(nights, 1 + len(others), farm.rules, _ahead(groups, farm)))
    return tuple(
        tuple(next(found) for _ in member.shared.nights) for member, _ in groups
    )


def _ahead(
    groups: Sequence[tuple[Member, Sequence[Member]]], farm: Farm
) -> list[float]:
    """Return how many nights ahead each night lay when its forecast was made."""
    zone = ZoneInfo(farm.site.time_zone)
    found = []
    for member, _ in groups:
        made_for = night_of(member.run.updated_utc, zone)
        found += [
            float((night.window.night - made_for).days)
            for night in member.shared.nights
        ]
    return found


def _pooled(
    nights: Sequence["_NightLows"], members: int, rules: Rules, ahead: Sequence[float]
) -> list[SiteLow]:
    """Return what comes of each night's lows, all pooled at once."""
    # One column a night: where a source does not know the night, it has no low there.
    lows, own = np.full((2, members, len(nights)), np.nan)
    for place, night in enumerate(nights):
        lows[: len(night.lows), place] = night.lows
        own[: len(night.own), place] = night.own
    pooled = pool_lows(lows, np.array(ahead), own_sigma_c=own, rules=pool_rules(rules))
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
    first_c : float or None
        The low of the source that counts. [degC]
    lows, own : list of float
        What is pooled, that source first; NaN where an error is that of the rules.
        [degC]
    """

    first_c: float | None
    lows: list[float]
    own: list[float]
    others: tuple[OtherLow, ...]


def _night_lows(first: Member, others: Sequence[Member], place: int) -> _NightLows:
    """Return what the sources say of one night."""
    night = first.shared.nights[place]
    low_c = dark_low_c(first.shared, night)
    found = [
        known for other in others if (known := _whole_night(other, night)) is not None
    ]
    lessons = [first.lesson.learned[place], *(lesson for _, lesson in found)]
    own = [_own_sigma_c(lesson) for lesson in lessons]
    told = tuple(low for low, _ in found)
    if low_c is None:
        # The others' hours do not stand in for the first's: it is judged by its own.
        return _NightLows(None, [0.0], own[:1], told)
    return _NightLows(low_c, [low_c, *(low.corrected_c for low in told)], own, told)


def _own_sigma_c(lesson: Learned | None) -> float:
    """Return the error that is left of a source whose nights are learned. [degC]"""
    if lesson is None or lesson.sigma_c is None:
        return float("nan")
    return lesson.sigma_c


def _whole_night(
    other: Member, night: SiteNight
) -> tuple[OtherLow, Learned | None] | None:
    """Return another source's low of a night, if it knows all of it.

    The low of half a night is no second opinion.
    """
    for place, record in enumerate(other.shared.nights):
        if record.window.night != night.window.night or record.source_low_c is None:
            continue
        dark = other.shared.air_c[dark_hours(other.shared, record)]
        dawn = record.sunrise_utc or record.window.end_utc
        is_whole = other.run.hours.end_utc > dawn
        low_c = dark_low_c(other.shared, record)
        if not (dark.size and is_whole and np.isfinite(dark).all()) or low_c is None:
            return None
        low = OtherLow(
            source=other.run.source_title,
            low_c=record.source_low_c,
            corrected_c=low_c,
        )
        return low, other.lesson.learned[place]
    return None


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
        f"{', '.join(windy)} has wind in this night, which this forecast has calm: "
        "feel the wind before you light or sprinkle",
    )
