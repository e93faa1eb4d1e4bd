"""A way to protect plants: one record a method, and why one is refused.

The rows themselves stand in `agronomy.methods`. What is behaviour, and not a value of a
row, is chosen by `match` over the kind, each with `assert_never`: a kind without one of
its parts does not type-check.
"""

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from typing import assert_never


class MethodKind(StrEnum):
    """What a method works by: its options are reckoned alike."""

    OVER_PLANT_WATER = "water over the plants"
    HAND_WATER = "water by hand"
    UNDER_PLANT_WATER = "water under the plants"
    COVER = "cover"
    FIRE = "heat"
    FAN = "fan"
    LAMP = "lamp under a cover"


class Agent(StrEnum):
    """What a method brings among the plants: it decides what holds once it runs.

    Water that was begun goes on until the ice melts; a flame is tended and put out.
    """

    WATER = "water"
    FLAME = "flame"
    NEITHER = "neither"


class EquipmentKey(StrEnum):
    """Keys of [[equipment]] that a method may need to be reckoned."""

    FLOW = "flow"
    WATER_PER_PLANT = "water_per_plant"
    TIME_EACH = "time_each"
    COUNT = "count"
    HEAT_EACH = "heat_each"
    WEIGHT = "weight"
    SKIN_EACH = "skin_each"


class RefusalReason(StrEnum):
    """Why a method is refused, or cannot be reckoned."""

    TOO_WINDY = "too windy"
    FIRE_WIND = "too windy for open fire"
    NO_INVERSION = "it needs warmer air above, which such a night does not have"
    FLAT_AIR = "the forecast has no warmer air above that it could bring down"
    NO_WIND = "the forecast lacks wind"
    NO_HUMIDITY = "the forecast lacks humidity"
    LESS_THAN_NEEDED = "it gives less water than tonight takes"
    MAY_NOT_HOLD = "it would not hold if the night gets colder than expected"
    MORE_HARM = "it would do more harm than good"
    TOO_LATE = "too late to begin, since dry buds would freeze as they are wetted"
    OVER_BEFORE = "it could not be running before the cold is over"
    ROUND_TOO_LONG = "the round takes longer than the film lasts: do not wet buds"
    LINES_FREEZE = "at so low a rate the lines freeze"
    NO_GAIN = "it saves too little of the buds to be worth its work"
    DRY_ENOUGH = "dry buds are not at risk: leave them dry"
    STRAW = "no fire beside straw"
    ROOF = "no fire under a roof"
    UNATTENDED = "no fire that nobody tends"
    UNKNOWN_GROUND = "give the ground that it wets or heats, as its area or the block's"
    UNKNOWN_SIZE = "give the block's area, or plants and canopy"
    UNKNOWN_NUMBERS = "describe it under [[equipment]]"


PUT_OUT = frozenset(
    {
        RefusalReason.FIRE_WIND,
        RefusalReason.TOO_WINDY,
        RefusalReason.STRAW,
        RefusalReason.ROOF,
        RefusalReason.UNATTENDED,
    }
)
"""Grounds on which heat that burns already is put out."""


class WindAt(StrEnum):
    """Where the wind that forbids a method blows."""

    PLANTS = "at plant height"
    FORECAST = "as forecast"


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """One way to protect plants; a row that lacks a part does not type-check.

    Attributes
    ----------
    name : str
        Name in the configuration.
    kind : MethodKind
        What it works by.
    caution : str
        What can hurt people or the crop, said beside every mention.
    needs : tuple of EquipmentKey
        Without these no plan can reckon with it.
    needs_or_gain : tuple of EquipmentKey
        Nor without these, unless a gain of one's own is given.
    most_wind_mps : float or None
        Wind above which it is not used. [m/s] None where wind does not forbid it.
    wind_at : WindAt
        Where that wind blows: 2 m above the ground, or 10 m.
    harms_when : frozenset of RefusalReason
        Grounds on which beginning it does harm: a call to start is taken back.
    needs_inversion : bool
        Whether it only brings down or keeps warmer air that a windy cold does not have.
    is_before_dark : bool
        Whether it is put in place before dark and needs no start in the night.
    is_open_fire : bool
        Whether it burns in the open.
    is_by_hand : bool
        Whether people carry it round from plant to plant.
    ahead : timedelta
        How long before harm it must run to be of use then.
    """

    name: str
    kind: MethodKind
    caution: str
    needs: tuple[EquipmentKey, ...]
    needs_or_gain: tuple[EquipmentKey, ...] = ()
    most_wind_mps: float | None
    wind_at: WindAt = WindAt.PLANTS
    harms_when: frozenset[RefusalReason]
    needs_inversion: bool = False
    is_before_dark: bool = False
    is_open_fire: bool = False
    is_by_hand: bool = False
    ahead: timedelta = timedelta(0)

    @property
    def agent(self) -> Agent:
        """What it brings among the plants."""
        kind = self.kind
        match kind:
            case (
                MethodKind.OVER_PLANT_WATER
                | MethodKind.HAND_WATER
                | MethodKind.UNDER_PLANT_WATER
            ):
                return Agent.WATER
            case MethodKind.FIRE:
                return Agent.FLAME
            case MethodKind.COVER | MethodKind.FAN | MethodKind.LAMP:
                return Agent.NEITHER
            case _:
                assert_never(kind)

    @property
    def is_water(self) -> bool:
        """Whether it takes water, over the plants or under them."""
        return self.agent is Agent.WATER

    @property
    def burns(self) -> bool:
        """Whether it is a flame, in the open or in a heater."""
        return self.agent is Agent.FLAME

    @property
    def needs_ground(self) -> bool:
        """Whether it is reckoned over ground, so that crowns alone say too little."""
        return self.kind in (MethodKind.OVER_PLANT_WATER, MethodKind.FIRE)

    @property
    def wets_buds(self) -> bool:
        """Whether it puts water on the buds."""
        kind = self.kind
        match kind:
            case MethodKind.OVER_PLANT_WATER | MethodKind.HAND_WATER:
                return True
            case (
                MethodKind.UNDER_PLANT_WATER
                | MethodKind.COVER
                | MethodKind.FIRE
                | MethodKind.FAN
                | MethodKind.LAMP
            ):
                return False
            case _:
                assert_never(kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodPair:
    """Two kinds of method that go together in one block.

    Attributes
    ----------
    kinds : frozenset of MethodKind
        The two.
    caution : str
        What can hurt where they run together, beside what each has of its own.
    source : str
        Who says that they go together.
    """

    kinds: frozenset[MethodKind]
    caution: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseholdMeans:
    """What a house has against frost, for low plants, without any equipment.

    Attributes
    ----------
    text : str
        What is done.
    source : str
        Who says so.
    is_by_day : bool
        Whether it is of use only by day, before the frost.
    is_hot : bool
        Whether it could set straw on fire.
    """

    text: str
    source: str
    is_by_day: bool = False
    is_hot: bool = False
