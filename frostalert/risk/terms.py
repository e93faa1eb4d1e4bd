"""The named corrections of the air, from the source's grid to the plants.

Their sum is the blocks' air less the source's: what cannot be named is not added.
"""

from collections.abc import Sequence
from datetime import date

import numpy as np

from frostalert.model.forecast import FloatArray
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
    air = shared.air_c.copy()
    for term in terms:
        air += term.value_c * term.weights
    return with_air(shared, air, [_low_with(night, terms) for night in shared.nights])


def _low_with(night: SiteNight, terms: Sequence[Term]) -> float | None:
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
