"""The holding: where it is, what stands there, who is to be told."""

import math
from dataclasses import dataclass, field
from datetime import date, time, timedelta
from enum import StrEnum
from typing import assert_never

from frostalert.model.assessment import Tier
from frostalert.model.channel import AddressKey, ChannelKind, channel_of
from frostalert.model.crop import Crop
from frostalert.model.equipment import Compass, Equipment, Readiness, Supplies
from frostalert.model.method import Method
from frostalert.model.reading import Sensor
from frostalert.model.warmth import Spring, StageWarmth

DORMANT = "dormant"
HARVESTED = "harvested"


class Units(StrEnum):
    """Units that people read."""

    US = "us"
    METRIC = "metric"


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The place.

    Attributes
    ----------
    latitude, longitude : float
        Position. [deg]
    elevation_m : float
        Height above sea level. [m]
    time_zone : str
        IANA name.
    drift_from : Compass or None
        Side that the air was seen to come from on calm nights.
    uphill : Compass or None
        Side on which the land rises.
    """

    name: str
    latitude: float
    longitude: float
    elevation_m: float
    time_zone: str
    units: Units
    currency: str = ""
    drift_from: Compass | None = None
    uphill: Compass | None = None

    @property
    def is_south(self) -> bool:
        """Whether its summer is in January."""
        return self.latitude < 0.0


class StartBy(StrEnum):
    """What a block's start is called by."""

    FORECAST = "forecast"
    THERMOMETER = "thermometer"


class AlarmAt(StrEnum):
    """What hands are called by."""

    FIRST_HARM = "first harm"
    CROP_LOSS = "crop loss"


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Plants of one crop that stand together.

    Attributes
    ----------
    stage_seen : date
        Local date on which the stage was last looked at.
    height_m : float
        Height of the flowering wood above the ground. [m]
    cold_spot_delta_c : float
        Block air minus site air on clear calm nights; negative is colder. [degC]
    is_measured_unshielded : bool
        Whether the offset was measured with a thermometer open to the sky, which cools
        as a bud does: what a bud is below the air is then in it already.
    is_measured_at_height : bool
        Whether the offset was measured among the plants themselves, so that no
        further allowance for growing near the ground is added.
    area_m2 : float or None
        Ground that the block covers. [m2]
    buds_lost_pct : float
        Share of the buds already lost this season, as counted. [%]
    crop_value : float or None
        What a full crop is worth. [site's currency]
    night_costs : tuple of (str, float)
        What a night of each method costs here. [site's currency]
    alarm_at : AlarmAt
        What hands are called by.
    start_by : StartBy
        Whether its own thermometer may hold that call back on a clear calm night.
    priority : float
        How much more than by its value it counts when not all can be saved.
    canopy_m : float or None
        Width of one plant's crown. [m]
    has_brittle_wood, has_straw, is_tunnel : bool
        Whether ice breaks its limbs, straw lies in it, or it stands under a roof.
    warmth : StageWarmth or None
        Warmth since its stage was seen; None where it is not known.
    stage_since : date or None
        Day on which that stage was first seen this season, if that is known.
    spring : Spring or None
        When the crop may wake this year; None where no weather is known.
    """

    name: str
    crop: Crop
    stage: str
    stage_seen: date
    height_m: float
    cold_spot_delta_c: float
    is_measured_at_height: bool
    is_measured_unshielded: bool = False
    methods: tuple[Method, ...] = ()
    plants: int | None = None
    area_m2: float | None = None
    buds_lost_pct: float = 0.0
    crop_value: float | None = None
    night_costs: tuple[tuple[str, float], ...] = ()
    alarm_at: AlarmAt = AlarmAt.FIRST_HARM
    start_by: StartBy = StartBy.FORECAST
    priority: float = 1.0
    canopy_m: float | None = None
    has_brittle_wood: bool = False
    has_straw: bool = False
    is_tunnel: bool = False
    warmth: StageWarmth | None = None
    stage_since: date | None = None
    spring: Spring | None = None

    def may_use(self, equipment: Equipment) -> bool:
        """Whether an equipment is for this block, and the block lists its method."""
        is_meant = not equipment.blocks or self.name in equipment.blocks
        return is_meant and equipment.method in self.methods

    @property
    def has_cover(self) -> bool:
        """Whether it has something of its own that is laid before dark."""
        return any(method.is_before_dark for method in self.methods)

    @property
    def plans_water(self) -> bool:
        """Whether one of the methods puts water on the buds."""
        return any(method.wets_buds for method in self.methods)

    @property
    def plant_area_m2(self) -> float | None:
        """Ground under one plant's crown. [m2]"""
        if self.canopy_m is not None:
            return math.pi * self.canopy_m**2 / 4.0
        if self.area_m2 is not None and self.plants is not None:
            return self.area_m2 / self.plants
        return None

    @property
    def protected_area_m2(self) -> float | None:
        """Ground that has to be protected. [m2]"""
        if self.area_m2 is not None:
            return self.area_m2
        if self.plant_area_m2 is None or self.plants is None:
            return None
        return self.plant_area_m2 * self.plants


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody who is told, by the channels named, in order of preference.

    Attributes
    ----------
    turn : int
        1 hears at once; 2 when nobody in turn 1 has answered in time, and so on.
    floor : Tier
        The least tier of a night that they hear of.
    quiet_from, quiet_to : time or None
        Local hours in which only what cannot wait is sent.
    """

    name: str
    channels: tuple[ChannelKind, ...]
    email: str | None
    phone: str | None
    is_operator: bool = False
    turn: int = 1
    floor: Tier = Tier.OUTLOOK
    quiet_from: time | None = None
    quiet_to: time | None = None

    def address(self, channel: ChannelKind) -> str:
        """Address on a channel that the person has."""
        key = channel_of(channel).address_key
        match key:
            case AddressKey.EMAIL:
                address = self.email
            case AddressKey.PHONE:
                address = self.phone
            case _:
                assert_never(key)
        if address is None:
            message = f"{self.name} has no address for {channel}"
            raise ValueError(message)
        return address


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """The defaults of judgement, each of which the configuration can change.

    Attributes
    ----------
    preparation, notice, set_up : timedelta
        Work before dark; time for people to see a message; time from "start now"
        to water or heat running.
    daily_line_at : time
        Local time of the daily line.
    sigma_c, sigma_per_day_c : float
        Standard error of one source's low tonight and tomorrow, and what the third day
        adds. [degC]
    site_sigma_c, threshold_sigma_c : float
        What is not known of the site until its nights are learned, and the standard
        error of the thresholds themselves. [degC]
    near_probability, far_probability : float
        Chance of reaching the alarm temperature from which people get ready, to the
        third day and beyond it. [0..1]
    start_probability : float
        Chance from which hands are called, where nothing says what they are worth.
        [0..1]
    clear_probability : float
        Chance below which a told night is cleared. [0..1]
    worse_step_c : float
        How much colder a told night must get to be told again. [degC]
    earlier_step : timedelta
        How much earlier its danger hour must move to be told again.
    stage_days, bloom_days : int
        Age at which a stage counts as moved on, and the same from first pink to petal
        fall. [d]
    warm_day_c : float
        High of a day that counts double for that. [degC]
    dormant_days : int
        Age at which "dormant", seen in spring, cannot be relied on. [d]
    """

    preparation: timedelta = timedelta(hours=3)
    notice: timedelta = timedelta(hours=1)
    set_up: timedelta = timedelta(hours=1)
    daily_line_at: time = time(7, 0)
    sigma_c: float = 1.8
    sigma_per_day_c: float = 0.4
    site_sigma_c: float = 1.2
    threshold_sigma_c: float = 0.8
    near_probability: float = 0.15
    far_probability: float = 0.25
    start_probability: float = 0.2
    clear_probability: float = 0.08
    worse_step_c: float = 1.0
    earlier_step: timedelta = timedelta(hours=1)
    stage_days: int = 8
    bloom_days: int = 4
    warm_day_c: float = 20.0
    dormant_days: int = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Farm:
    """Everything that an assessment needs to know about the grower's side."""

    site: Site
    blocks: tuple[Block, ...]
    people: tuple[Person, ...]
    rules: Rules
    sources: tuple[str, ...] = ()
    sensors: tuple[Sensor, ...] = ()
    equipment: tuple[Equipment, ...] = ()
    supplies: Supplies = field(default_factory=Supplies)
    readiness: Readiness = field(default_factory=Readiness)

    @property
    def is_in_season(self) -> bool:
        """Whether any block is watched."""
        return any(block.stage not in (DORMANT, HARVESTED) for block in self.blocks)
