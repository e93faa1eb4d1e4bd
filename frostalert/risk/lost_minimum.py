"""Nights whose own minimum the source did not send, though it gives one for each.

Its hours smooth the trough away; the minimum would have said by how much. A lost one
must not make a night warmer, so the usual difference stands in for it.
"""

from dataclasses import dataclass

import numpy as np

from frostalert.model.hours import SiteHours, SiteNight
from frostalert.model.nights import Term, TermName
from frostalert.physics.low import (
    USUAL_DEFICIT_C,
    NightShape,
    bending_share,
    is_surrounded,
    trough_of,
)
from frostalert.risk.site_hours import is_windy


@dataclass(frozen=True, slots=True, kw_only=True)
class LostMinimums:
    """What stands in for minimums that were not sent.

    Attributes
    ----------
    terms : tuple of Term
        One a night.
    notes : tuple of str
        Which nights, in words.
    """

    terms: tuple[Term, ...] = ()
    notes: tuple[str, ...] = ()


def usual_deficits(source_hours: SiteHours) -> LostMinimums:
    """Return by how much nights without a minimum of their own are lowered."""
    if not source_hours.run.gives_minimums:
        return LostMinimums()
    terms = tuple(
        term
        for night in source_hours.nights
        if night.minimum_c is None
        and (term := _deficit(source_hours, night)) is not None
    )
    if not terms:
        return LostMinimums()
    nights = ", ".join(
        f"{term.night:%a} {term.night:%d} {term.night:%b}" for term in terms
    )
    by = f"{USUAL_DEFICIT_C:.1f} C ({USUAL_DEFICIT_C * 1.8:.0f} F)"
    note = (
        f"its own minimum is missing for {nights}: the coldest hour of each night is "
        f"lowered by the usual {by}"
    )
    return LostMinimums(terms=terms, notes=(note,))


def _deficit(shared: SiteHours, night: SiteNight) -> Term | None:
    """Return one night's term; None where its trough has gone by or is not known."""
    own = night.own_hours
    air, dark = shared.air_c[own], shared.dark[own]
    of_night = np.flatnonzero(dark > 0.0)
    if night.signs is None or not of_night.size:
        return None
    shape = NightShape(
        within=slice(int(of_night[0]), int(of_night[-1]) + 1),
        night=dark,
        is_windy=is_windy(night.signs),
        first_ahead=night.coming.start - own.start,
        open_ends=(True, True),
    )
    trough = trough_of(air, shape.within)
    if trough is None or trough < shape.first_ahead:
        return None
    if not is_surrounded(air, trough, shape.open_ends):
        return None
    weights = np.zeros(shared.air_c.size)
    weights[own] = np.nan_to_num(bending_share(air, trough, shape))
    return Term(
        name=TermName.USUAL_DEFICIT,
        value_c=-USUAL_DEFICIT_C,
        weights=weights,
        origin=shared.run.source_title,
        night=night.window.night,
    )
