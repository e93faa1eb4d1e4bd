"""The named corrections of the air, from the source's grid to the plants.

Their sum is the blocks' air less the source's: what cannot be named is not added.
"""

from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from frostalert.model.forecast import FloatArray, sealed
from frostalert.model.hours import SiteHours, SiteNight
from frostalert.model.nights import Nights, Term, TermName
from frostalert.model.site import Block, Farm
from frostalert.physics.site_air import ground_delta_c, lapse_delta_c
from frostalert.risk.site_hours import with_air


def corrected(shared: SiteHours, terms: Sequence[Term]) -> SiteHours:
    """Return a site's hours with corrections of the whole site's air added.

    Parameters
    ----------
    shared : SiteHours
        The hours.
    terms : sequence of Term
        What is added. [degC]

    Returns
    -------
    SiteHours
        The same where there is nothing to add.
    """
    if not terms:
        return shared
    return _corrected(shared, tuple(_change(term) for term in terms))


class _Change(NamedTuple):
    """All of a term that the hours rest on, so that equal terms are told as equal."""

    value_c: float
    night: date | None
    weights: bytes


def _change(term: Term) -> _Change:
    """Return what a term does to the hours."""
    weights = np.asarray(term.weights, dtype=np.float64)
    return _Change(term.value_c, term.night, weights.tobytes())


# Each look finds the same lessons and readings anew: the hours that come of them, and
# whatever was worked out of those, are made once. The nights that are learned from are
# some thirty, the looks at the coming ones some six.
@lru_cache(maxsize=64)
def _corrected(shared: SiteHours, changes: tuple[_Change, ...]) -> SiteHours:
    """Return the hours with some changes added: the same for the same."""
    air = shared.air_c.copy()
    for change in changes:
        air += change.value_c * np.frombuffer(change.weights)
    lows = [_low_with(night, changes) for night in shared.nights]
    return sealed(with_air(shared, air, lows))


def _low_with(night: SiteNight, terms: Sequence[_Change]) -> float | None:
    """Return a night's low, moved by the corrections of just that night. [degC]

    It stands for hours that are not known: the source's minimum moves as they would.
    """
    if night.low_c is None:
        return None
    own = [term.value_c for term in terms if term.night == night.window.night]
    return night.low_c + sum(own)


def minimum_terms(source_hours: SiteHours) -> tuple[Term, ...]:
    """Return by how much each night was bent to the source's own minimum."""
    delta = np.nan_to_num(source_hours.air_c - source_hours.run.hours.air_c)
    found = []
    for night in source_hours.nights:
        value = float(delta[night.own_hours].min(initial=0.0))
        if value < 0.0:
            weights = np.zeros(delta.size)
            weights[night.own_hours] = delta[night.own_hours] / value
            found.append(
                Term(
                    name=TermName.NIGHT_MINIMUM,
                    value_c=value,
                    weights=weights,
                    origin=source_hours.run.source_title,
                    night=night.window.night,
                )
            )
    return tuple(found)


def block_terms(farm: Farm, shared: SiteHours) -> tuple[Term, ...]:
    """Return what is added to the site's air for its height and for each block."""
    height = (farm.site.elevation_m, shared.run.elevation_m)
    lapse = float(lapse_delta_c(*height, np.zeros(1))[0])
    mixed: FloatArray = 1.0 - shared.weight
    found = [
        Term(
            name=TermName.LAPSE,
            value_c=lapse,
            weights=mixed,
            origin=f"{shared.run.source_title}, height of its cell",
        )
    ]
    for block in farm.blocks:
        found += _offsets(block, shared.weight)
    return tuple(term for term in found if term.value_c)


def _offsets(block: Block, weight: FloatArray) -> list[Term]:
    """Return how much colder a block is on clear calm nights."""
    ground = ground_delta_c(
        block.height_m, is_measured_at_height=block.is_measured_at_height
    )
    return [
        Term(
            name=name,
            value_c=value,
            weights=weight,
            origin="configuration",
            block=block.name,
        )
        for name, value in (
            (TermName.COLD_SPOT, block.cold_spot_delta_c),
            (TermName.GROUND, ground),
        )
    ]


def terms_at(
    nights: Nights, block: str, night: date, hour: int
) -> dict[TermName, list[Term]]:
    """Return the corrections of a block's air on a night, by their names."""
    found: dict[TermName, list[Term]] = {}
    for term in nights.terms:
        if (
            term.block in (None, block)
            and term.night in (None, night)
            and term.weights[hour]
        ):
            found.setdefault(term.name, []).append(term)
    return found
