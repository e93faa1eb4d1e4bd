"""What there is to protect plants with: installations, supplies and hands."""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import assert_never

from frostalert.model.method import EquipmentKey, Method


class Compass(StrEnum):
    """A side of the holding."""

    N = "N"
    NE = "NE"
    E = "E"
    SE = "SE"
    S = "S"
    SW = "SW"
    W = "W"
    NW = "NW"


def compass_of(degrees: float) -> Compass:
    """Return the side that a direction lies on.

    Examples
    --------
    >>> compass_of(350.0).value, compass_of(118.0).value
    ('N', 'SE')
    """
    sides = list(Compass)
    return sides[round(degrees / (360.0 / len(sides))) % len(sides)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel:
    """What a heat burns and what there is of it; `unit` is "L" or "kg"."""

    burned_per_h: float
    stock: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Equipment:
    """One installation, or a set of like things, for one method.

    Attributes
    ----------
    blocks : tuple of str
        Where it can be used; empty for every block that lists its method.
    count : int or None
        Heaters, fires, lamps, fans or covers that there are.
    flow_l_per_h : float or None
        Water that it gives with everything open. [L/h]
    area_m2 : float or None
        Ground that all of it serves. [m2]
    catch_fraction : float
        Share of its water that lands on the plants and freezes there, 0 to 1.
    litres_per_plant : float or None
        Water that one plant gets in a round by hand. [L]
    time_each : timedelta or None
        Time for one plant by hand, or to lay, light or place one piece.
    load_l : float or None
        Water that is fetched at a time. [L]
    trip : timedelta
        Time to fetch a load.
    heat_each_w : float or None
        Heat of one heater, fire or lamp. [W]
    skin_each_m2 : float or None
        Surface of the cover over one lamp. [m2]
    gain_delta_c : float or None
        Gain that was measured here, or that the maker states. [degC]
    is_measured : bool
        Whether that gain was measured here.
    has_held_edges : bool
        Whether soil or weights hold a cover's edges, so that no wind lifts it.
    gain_nights : int
        On how many nights, by thermometers; 0 where the configuration says it.
    weight_g_per_m2 : float or None
        Weight of a cover. [g/m2]
    hands : int
        People whom it needs while it runs.
    set_up : timedelta
        Time to bring it to where it can be started, for one person, by day.
    """

    name: str
    method: Method
    blocks: tuple[str, ...] = ()
    count: int | None = None
    flow_l_per_h: float | None = None
    area_m2: float | None = None
    catch_fraction: float = 0.7
    litres_per_plant: float | None = None
    time_each: timedelta | None = None
    load_l: float | None = None
    trip: timedelta = timedelta(0)
    heat_each_w: float | None = None
    skin_each_m2: float | None = None
    fuel: Fuel | None = None
    gain_delta_c: float | None = None
    is_measured: bool = False
    has_held_edges: bool = False
    gain_nights: int = 0
    weight_g_per_m2: float | None = None
    hands: int = 1
    set_up: timedelta = timedelta(minutes=30)

    @property
    def missing(self) -> tuple[EquipmentKey, ...]:
        """What its method needs to be reckoned and is not given."""
        method = self.method
        wanted = method.needs
        if self.gain_delta_c is None:
            wanted += method.needs_or_gain
        return tuple(key for key in wanted if self._is_missing(key))

    def _is_missing(self, key: EquipmentKey) -> bool:
        """Return whether a key is not given; none of a thing counts as not given."""
        given: object
        match key:
            case EquipmentKey.FLOW:
                given = self.flow_l_per_h
            case EquipmentKey.WATER_PER_PLANT:
                given = self.litres_per_plant
            case EquipmentKey.TIME_EACH:
                given = self.time_each
            case EquipmentKey.COUNT:
                given = self.count
            case EquipmentKey.HEAT_EACH:
                given = self.heat_each_w
            case EquipmentKey.WEIGHT:
                given = self.weight_g_per_m2
            case EquipmentKey.SKIN_EACH:
                given = self.skin_each_m2
            case _:
                assert_never(key)
        return not given


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplies:
    """Hands and water for a night.

    Attributes
    ----------
    hands : int or None
        People who can work through the night; None where nobody has said.
    crew : tuple of str
        Their names, if given.
    water_l : float or None
        Water at hand at dusk. [L] None for a supply that does not run out, or where
        nobody has said.
    refill_l_per_h : float
        Water that comes in meanwhile. [L/h]
    """

    hands: int | None = None
    crew: tuple[str, ...] = ()
    water_l: float | None = None
    refill_l_per_h: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """When things were last tried; None where nobody has said."""

    pump_tried: date | None = None
    thermometers_checked: date | None = None
    wake_up_tried: date | None = None
