"""Hourly temperatures of every block's air and buds, all blocks at once.

A look asks for the hours of several curves of the site's air, one source's beside
another's: they are laid end to end and worked out together, for that costs little more
than one of them.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from datetime import date
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from frostalert.agronomy.looks import stage_on
from frostalert.model.assessment import StageInForce
from frostalert.model.crop import Organ
from frostalert.model.forecast import FloatArray, sealed
from frostalert.model.hours import BlockHours, SiteHours
from frostalert.model.site import Block, Farm, Site
from frostalert.physics.bud import (
    ORGAN_SIZE_M,
    dry_bud_c,
    dry_deficit_c,
    wet_bud_c,
)
from frostalert.physics.humidity import frost_point_c, ice_bulb_c, wet_bulb_c
from frostalert.physics.site_air import (
    ground_delta_c,
    lapse_delta_c,
    shifted_dewpoint_c,
)
from frostalert.physics.wetness import dew_probability
from frostalert.risk.items import Places
from frostalert.risk.site_hours import rain_wet


def derive_block_hours(
    several: Sequence[SiteHours],
    site: Site,
    blocks: tuple[Block, ...],
    organs: tuple[Organ, ...],
) -> BlockHours:
    """Return each block's air and bud temperatures through the forecast.

    Parameters
    ----------
    several : sequence of SiteHours
        Hours of the one site, laid end to end.
    site : Site
        Where the blocks are.
    blocks : tuple of Block
        The blocks.
    organs : tuple of Organ
        What freezes first in each of them.

    Returns
    -------
    BlockHours
        Of all those hours, in their order.

    Raises
    ------
    PhysicsDomainError
        If a corrected temperature leaves what the formulas hold for.
    """
    shapes = tuple(
        _Shape(full_weight_delta_c(block), organ, block.is_measured_unshielded)
        for block, organ in zip(blocks, organs, strict=True)
    )
    return _block_hours(_air_of(several, site), shapes)


# The same for the same: what is measured of it is kept by which hours these are.
@lru_cache(maxsize=2)
def first_part(hours: BlockHours, count: int) -> BlockHours:
    """Return the hours of the first of several that are laid end to end."""
    return sealed(
        BlockHours(
            **{
                item.name: getattr(hours, item.name)[:, :count]
                for item in fields(hours)
            }
        )
    )


class _Air(NamedTuple):
    """All of a site's hours that its blocks' rest on, by its content.

    As an hour goes by most looks find the same air again: what is to come of it is cut
    out later.
    """

    air_c: bytes
    dewpoint_c: bytes
    wind_mps: bytes
    sky: bytes
    weight: bytes
    rain_wet: bytes
    lapse_c: bytes
    pressure_hpa: float


def _air_of(several: Sequence[SiteHours], site: Site) -> _Air:
    """Return what blocks' hours rest on, of hours laid end to end."""
    lapse = [
        lapse_delta_c(site.elevation_m, shared.run.elevation_m, shared.weight)
        for shared in several
    ]
    columns = (
        [shared.air_c for shared in several],
        [shared.dewpoint_c for shared in several],
        [shared.bud_wind_mps for shared in several],
        [shared.sky for shared in several],
        [shared.weight for shared in several],
        [rain_wet(several)],
        lapse,
    )
    air, dew, wind, sky, weight, rain, lapse_c = (
        np.concatenate(column).tobytes() for column in columns
    )
    pressure_hpa = several[0].pressure_hpa
    return _Air(air, dew, wind, sky, weight, rain, lapse_c, pressure_hpa)


# Looks at a forecast that has not changed since the last find the hours made.
@lru_cache(maxsize=2)
def _block_hours(air: _Air, shapes: "tuple[_Shape, ...]") -> BlockHours:
    """Return the hours of blocks by what alone tells them apart."""
    *columns, pressure_hpa = air
    hourly = np.array([np.frombuffer(column) for column in columns])
    # Blocks with the same offset and organ feel the same air: work it out once.
    distinct = sorted(set(shapes))
    at_row, at_hour, number = _differing(np.frombuffer(air.weight), distinct)
    values = _values(hourly[:, at_hour], pressure_hpa, _columns_of(distinct)[:, at_row])
    index = number[[distinct.index(shape) for shape in shapes]]
    return sealed(
        BlockHours(**{name: array.take(index) for name, array in values.items()})
    )


def _differing(
    weight: FloatArray, shapes: Sequence["_Shape"]
) -> tuple[Places, Places, Places]:
    """Return shape and hour of all values that differ, and which of those each takes.

    Offsets count on clear calm nights alone: by day shapes differ by their organs. The
    last has the shape (shapes, hours).
    """
    kinds = [shape._replace(delta_c=0.0) for shape in shapes]
    own = np.arange(len(shapes))[:, None]
    alike = np.array([[kinds.index(kind)] for kind in kinds])
    row = np.where(weight == 0.0, alike, own)
    # The flat search is several times as fast.
    places = np.flatnonzero(row == own)
    number = np.zeros(row.size, dtype=np.intp)
    number[places] = np.arange(places.size)
    at_row, at_hour = np.divmod(places, weight.size)
    return at_row, at_hour, number.take(row * weight.size + np.arange(weight.size))


def organ_of(farm: Farm, block: Block, shared: SiteHours) -> Organ:
    """Return what freezes first in a block, over all the nights that are looked at."""
    return _organ(stage_on(farm, block, night) for night in _ends(shared))


def organs_of(
    stages: Mapping[date, Sequence[StageInForce]], shared: SiteHours
) -> tuple[Organ, ...]:
    """Return the same of every block, by the stages in force of them all."""
    in_force = [stages[night] for night in _ends(shared)]
    return tuple(_organ(of_block) for of_block in zip(*in_force, strict=True))


def _ends(shared: SiteHours) -> tuple[date, date]:
    """Return the first and the last night that are looked at."""
    return shared.nights[0].window.night, shared.nights[-1].window.night


def _organ(stages: Iterable[StageInForce]) -> Organ:
    """Return what freezes first at some stages: a leaf, once there is one."""
    for stage in stages:
        if stage.threshold is not None and stage.threshold.organ is Organ.LEAF:
            return Organ.LEAF
    return Organ.BUD


def full_weight_delta_c(block: Block) -> float:
    """Return how much colder a block's air is at full clear-and-calm weight. [degC]"""
    return block.cold_spot_delta_c + ground_delta_c(
        block.height_m, is_measured_at_height=block.is_measured_at_height
    )


class _Shape(NamedTuple):
    """What blocks must share to feel the same.

    Attributes
    ----------
    delta_c : float
        How much colder their air is at full clear-and-calm weight. [degC]
    organ : Organ
        What freezes first in them.
    has_bud_deficit : bool
        Whether that air was measured as a bud feels it.
    """

    delta_c: float
    organ: Organ
    has_bud_deficit: bool


def _columns_of(shapes: Sequence[_Shape]) -> FloatArray:
    """Return offset, width of the organ and whether it was measured as a bud is."""
    rows = [
        (shape.delta_c, ORGAN_SIZE_M[shape.organ], float(shape.has_bud_deficit))
        for shape in shapes
    ]
    return np.array(rows).T


def _values(
    hourly: FloatArray, pressure_hpa: float, shapes: FloatArray
) -> dict[str, FloatArray]:
    """Return the values of some hours of a site's air for a shape each."""
    site_c, dewpoint_c, wind, sky, weight, rain_chance, lapse_c = hourly
    delta_c, size_m, counted = shapes
    air = site_c + lapse_c + delta_c * weight
    dew = shifted_dewpoint_c(dewpoint_c, air)
    wet_bulb = wet_bulb_c(air, dew, pressure_hpa)
    # Ice can only be on what is cold enough: most hours need no ice bulb.
    ice_bulb = np.full_like(air, np.nan)
    can_freeze = wet_bulb <= 0.0
    ice_bulb[can_freeze] = ice_bulb_c(air[can_freeze], dew[can_freeze], pressure_hpa)
    frost = frost_point_c(dew)
    saturation = np.where(np.isfinite(frost), frost, dew)
    deficit = dry_deficit_c(air, dew, wind, sky, size_m)
    # A thermometer open to the sky has lost what a bud loses; a leaf loses more.
    bud_m = ORGAN_SIZE_M[Organ.BUD]
    if counted.any():
        bud = dry_deficit_c(air, dew, wind, sky, bud_m)
        deficit = np.maximum(deficit - counted * bud, 0.0)
    dry = dry_bud_c(air, saturation, deficit, wind, size_m)
    dew_chance = np.nan_to_num(dew_probability(air - deficit, saturation))
    return {
        "air_c": air,
        "dewpoint_c": dew,
        "wet_bulb_c": wet_bulb,
        "ice_bulb_c": ice_bulb,
        "deficit_c": deficit,
        "dry_c": dry,
        "wet_c": wet_bud_c(wet_bulb, ice_bulb, deficit),
        "wet_probability": np.maximum(dew_chance, rain_chance),
    }
