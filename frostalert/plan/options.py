"""What a method is worth in one block: refused, not to be reckoned, or its options."""

import math
from dataclasses import replace
from typing import assert_never

import numpy as np

from frostalert.model.assessment import NightKind
from frostalert.model.equipment import Equipment
from frostalert.model.forecast import FloatArray
from frostalert.model.method import Method, MethodKind, RefusalReason
from frostalert.model.plan import Option, Verdict
from frostalert.plan.block_case import BlockAtRisk
from frostalert.plan.heat_options import heat_options
from frostalert.plan.listed import listed_option
from frostalert.plan.served import Served
from frostalert.plan.warm_judgement import refused
from frostalert.plan.warm_options import (
    cover_options,
    fan_options,
    lamp_options,
    under_plant_options,
)
from frostalert.plan.water_options import water_option
from frostalert.plan.wind import hour_now, needed_hours, wind_mps


def options_of(case: BlockAtRisk, equipment: Equipment, served: Served) -> list[Option]:
    """Return what an equipment is worth in a block; one option, for heat several."""
    lacking = _lacking(case, equipment)
    if lacking is None and equipment.method.wets_buds:
        # Told with its rate and need: `plan.water_options` refuses it itself.
        return _by_kind(case, equipment, served)
    forbidden = _forbidden(case, equipment)
    if forbidden is not None:
        return [forbidden]
    if lacking is not None:
        return [listed_option(case, equipment, lacking)]
    return _by_kind(case, equipment, served)


def _lacking(case: BlockAtRisk, equipment: Equipment) -> RefusalReason | None:
    """Return what must be given before a method can be reckoned in a block."""
    block, method = case.block, equipment.method
    if equipment.missing:
        return RefusalReason.UNKNOWN_NUMBERS
    if method.needs_ground and not (equipment.area_m2 or block.area_m2):
        # Crowns are less than the ground: over them alone it would seem to give more.
        return RefusalReason.UNKNOWN_GROUND
    if method.wets_buds and block.protected_area_m2 is None:
        return RefusalReason.UNKNOWN_SIZE
    return None


def undescribed(case: BlockAtRisk, method: Method) -> Option:
    """Return a method that is listed and of which nothing is known.

    What a caution forbids is forbidden whoever has it: it is refused all the same.
    """
    bare = Equipment(name=method.name, method=method)
    forbidden = _forbidden(case, bare)
    return forbidden or listed_option(case, bare, RefusalReason.UNKNOWN_NUMBERS)


def _forbidden(case: BlockAtRisk, equipment: Equipment) -> Option | None:
    """Return the refusal that a method's row asks for tonight."""
    ground = _refusal(case, equipment)
    if ground is None:
        return None
    option = refused(case, equipment, Verdict.NOT_TONIGHT, ground)
    if ground in (RefusalReason.FIRE_WIND, RefusalReason.TOO_WINDY):
        return replace(option, wind_mps=_most_wind_mps(case, equipment))
    return option


def _by_kind(case: BlockAtRisk, equipment: Equipment, served: Served) -> list[Option]:
    """Return what an equipment is worth by what it works by."""
    kind = equipment.method.kind
    options: list[Option]
    match kind:
        case MethodKind.OVER_PLANT_WATER | MethodKind.HAND_WATER:
            options = [water_option(case, equipment, served)]
        case MethodKind.UNDER_PLANT_WATER:
            options = under_plant_options(case, equipment, served)
        case MethodKind.COVER:
            options = cover_options(case, equipment)
        case MethodKind.FIRE:
            options = heat_options(case, equipment)
        case MethodKind.FAN:
            options = fan_options(case, equipment)
        case MethodKind.LAMP:
            options = lamp_options(case, equipment)
        case _:
            assert_never(kind)
    return options


def _refusal(case: BlockAtRisk, equipment: Equipment) -> RefusalReason | None:
    """Return what forbids a method tonight, whatever it gains."""
    method = equipment.method
    by_flame = _flame_refusal(case, equipment) if method.burns else None
    if by_flame is not None:
        return by_flame
    if method.most_wind_mps is not None and not equipment.has_held_edges:
        wind = _judged_wind_mps(case, equipment)
        if (wind > method.most_wind_mps).any():
            return (
                RefusalReason.FIRE_WIND
                if method.is_open_fire
                else RefusalReason.TOO_WINDY
            )
        if np.isnan(wind).any():
            return RefusalReason.NO_WIND  # wind that is not known may be too strong
    if method.needs_inversion and case.kind is NightKind.ADVECTION:
        return RefusalReason.NO_INVERSION
    return None


def _flame_refusal(case: BlockAtRisk, equipment: Equipment) -> RefusalReason | None:
    """Return what forbids a flame in a block on any night."""
    for forbidden, ground in (
        (case.block.is_tunnel, RefusalReason.ROOF),
        (case.block.has_straw, RefusalReason.STRAW),
        (equipment.hands < 1, RefusalReason.UNATTENDED),
    ):
        if forbidden:
            return ground
    return None


def _judged_wind_mps(case: BlockAtRisk, equipment: Equipment) -> FloatArray:
    """Return the wind that a method must bear. [m/s]

    Heat that may burn already is put out for wind that blows now, not for wind to come.
    """
    method = equipment.method
    if method.burns and case.was_called(equipment):
        return wind_mps(case, method, hour_now(case))
    return wind_mps(case, method, needed_hours(case, method, case.end_utc))


def _most_wind_mps(case: BlockAtRisk, equipment: Equipment) -> float | None:
    """Return the strongest of that wind. [m/s]"""
    most = float(_judged_wind_mps(case, equipment).max())
    return most if math.isfinite(most) else None
