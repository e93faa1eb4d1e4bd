"""The one truth about the configuration: every key with its meaning and an example.

The commented example file and the messages are made from it. The examples describe an
invented holding.
"""

from datetime import time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import Field, field_validator, model_validator

from frostalert.config.blocks import BlockSection
from frostalert.config.equipment import (
    EquipmentSection,
    ReadinessSection,
    SuppliesSection,
)
from frostalert.config.past import PastSection
from frostalert.config.people import EmailSection, PersonSection, SmsSection
from frostalert.config.quantities import (
    DayHigh,
    Elevation,
    ErrorSize,
    FetchInterval,
    Hours,
    LocalTime,
    Step,
)
from frostalert.config.section import Name, Section, checked_https
from frostalert.config.sensors import ReadingsSection, SensorSection
from frostalert.config.watch import StatusSection, WatcherSection, WebSection
from frostalert.config.zones import near_zone_names
from frostalert.model.equipment import Compass
from frostalert.model.site import Units


class SiteSection(Section):
    """Where the holding is."""

    name: Name = Field(
        min_length=1,
        max_length=60,
        description="Name of the holding, as it stands in messages.",
        examples=["Heron Bench"],
    )
    latitude: float = Field(
        ge=-90.0,
        le=90.0,
        description="Degrees north, south is negative.",
        examples=[46.2205],
    )
    longitude: float = Field(
        ge=-180.0,
        le=180.0,
        description="Degrees east; west, so all of America, is negative.",
        examples=[-119.2412],
    )
    elevation: Elevation = Field(
        description="Height above the sea at the reference spot, with its unit.",
        examples=["410 ft"],
    )
    time_zone: str = Field(
        description="IANA name of the time zone.",
        examples=["America/Los_Angeles"],
    )
    units: Units = Field(
        default=Units.US,
        description='How people read units, hours and dates: "us" (7:40 pm, Apr 12) '
        'or "metric" (19:40, 12 Apr).',
        examples=["us"],
    )

    currency: str = Field(
        default="",
        max_length=8,
        description="Currency of crop_value and night_costs, as you write it.",
        examples=["USD"],
    )

    drift_from: Compass | None = Field(
        default=None,
        description="Side that the air was seen to come from on calm nights; smoke "
        "shows it.",
        examples=["NW"],
    )
    uphill: Compass | None = Field(
        default=None,
        description="Side on which the land rises.",
        examples=["NW"],
    )

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        """Refuse a name that the zone tables do not have."""
        try:
            ZoneInfo(value)
        except (ZoneInfoNotFoundError, ValueError, OSError) as error:
            near = " or ".join(f'"{zone}"' for zone in near_zone_names(value))
            message = f'unknown time zone "{value}"; write an IANA name such as {near}'
            raise ValueError(message) from error
        return value


class ScheduleSection(Section):
    """When things happen."""

    fetch_every: FetchInterval = Field(
        default=timedelta(hours=1),
        description="How often the forecast is asked for.",
        examples=["1 h"],
    )
    daily_line: LocalTime = Field(
        default=time(7, 0),
        description="Local time of the daily line, which comes every day.",
        examples=[time(7, 0)],
    )
    preparation: Hours = Field(
        default=timedelta(hours=3),
        description="Work to be done before dark on a frost night.",
        examples=["3 h"],
    )
    notice: Hours = Field(
        default=timedelta(hours=1),
        description="Time until everybody has seen a message.",
        examples=["1 h"],
    )
    set_up: Hours = Field(
        default=timedelta(hours=1),
        description='Time from "start now" to water or heat running.',
        examples=["45 min"],
    )


class ForecastSection(Section):
    """Where forecasts come from."""

    sources: list[Literal["nws", "open-meteo", "met-norway"]] = Field(
        default=["nws"],
        min_length=1,
        description="Sources in order; the first fresh one counts, the others are a "
        'second opinion. "nws" is the US National Weather Service (USA only); '
        '"met-norway" and "open-meteo" reach the whole world.',
        examples=[["nws", "met-norway"]],
    )
    contact: str = Field(
        min_length=3,
        max_length=120,
        description="Your email address or web page: the services ask for one.",
        examples=["frost@heron-bench.example"],
    )
    nws_url: str = Field(
        default="https://api.weather.gov",
        description="Address of the US National Weather Service's API.",
        examples=["https://api.weather.gov"],
    )
    met_norway_url: str = Field(
        default="https://api.met.no",
        description="Address of MET Norway's API.",
        examples=["https://api.met.no"],
    )
    open_meteo_url: str = Field(
        default="https://api.open-meteo.com",
        description="Address of Open-Meteo's API. The free host is for non-commercial "
        "use; with a subscription it is https://customer-api.open-meteo.com.",
        examples=["https://api.open-meteo.com"],
    )
    open_meteo_ensemble_url: str | None = Field(
        default=None,
        description="Address of Open-Meteo's ensembles, whose spread then counts as "
        "the least error.",
        examples=["https://ensemble-api.open-meteo.com"],
    )
    open_meteo_key_file: str | None = Field(
        default=None,
        description="File with the key of an Open-Meteo subscription on its first "
        "line.",
        examples=["open-meteo-key"],
    )

    @field_validator("sources")
    @classmethod
    def _each_once(cls, value: list[str]) -> list[str]:
        """Refuse a source that is named twice."""
        if len(set(value)) < len(value):
            message = "each source can be named once"
            raise ValueError(message)
        return value

    @field_validator(
        "nws_url", "met_norway_url", "open_meteo_url", "open_meteo_ensemble_url"
    )
    @classmethod
    def _is_https(cls, value: str | None) -> str | None:
        """Refuse a plain connection to another machine."""
        return None if value is None else checked_https(value).rstrip("/")

    @field_validator("contact")
    @classmethod
    def _one_line(cls, value: str) -> str:
        """Refuse what cannot stand in a header."""
        if not value.isascii() or not value.isprintable():
            message = "contact must be plain characters on one line"
            raise ValueError(message)
        return value


class JudgementSection(Section):
    """Limits of judgement. All defaults: common practice, no source."""

    forecast_error: Step = Field(
        default=1.8,
        description="Standard error of one forecast's low, tonight and tomorrow.",
        examples=["3.2 degF"],
    )
    forecast_error_per_day: ErrorSize = Field(
        default=0.4,
        description="What the third day adds to it; later ones two and a half times.",
        examples=["0.7 degF"],
    )
    site_error: ErrorSize = Field(
        default=1.2,
        description="What is not known of this site, until ten nights are learned.",
        examples=["2.2 degF"],
    )
    threshold_error: ErrorSize = Field(
        default=0.8,
        description="Standard error of the kill temperatures themselves.",
        examples=["1.4 degF"],
    )
    chance_near: float = Field(
        default=0.15,
        gt=0.0,
        lt=1.0,
        description="Chance of harm from which people get ready, to the third day.",
        examples=[0.15],
    )
    chance_far: float = Field(
        default=0.25,
        gt=0.0,
        lt=1.0,
        description="The same beyond the third day.",
        examples=[0.25],
    )
    chance_start: float = Field(
        default=0.2,
        gt=0.0,
        lt=1.0,
        description="Chance from which hands are called to start; a block with "
        "crop_value and night_costs goes by what is worth it.",
        examples=[0.2],
    )
    chance_clear: float = Field(
        default=0.08,
        gt=0.0,
        lt=1.0,
        description="Chance below which a night is withdrawn, twice in a row.",
        examples=[0.08],
    )
    worse_step: Step = Field(
        default=1.0,
        description="How much colder a night must get, with likelier harm, to be told "
        "again.",
        examples=["2 degF"],
    )
    earlier_step: Hours = Field(
        default=timedelta(hours=1),
        description="How much earlier the danger must come to be told again.",
        examples=["1 h"],
    )
    stage_days: int = Field(
        default=8,
        ge=1,
        le=60,
        description="Days after which the next stage is assumed.",
        examples=[8],
    )
    bloom_days: int = Field(
        default=4,
        ge=1,
        le=60,
        description="The same from first pink to petal fall.",
        examples=[4],
    )
    warm_day: DayHigh = Field(
        default=20.0,
        description="High of a day that counts double for both.",
        examples=["68 degF"],
    )
    dormant_days: int = Field(
        default=30,
        ge=1,
        le=200,
        description='Days after which "dormant", seen after the winter, is not '
        "believed any more.",
        examples=[30],
    )

    @model_validator(mode="after")
    def _in_order(self) -> "JudgementSection":
        """Refuse a clearing limit that is not below the raising ones."""
        if self.chance_clear >= min(self.chance_near, self.chance_far):
            message = "chance_clear must be below chance_near and chance_far"
            raise ValueError(message)
        return self


class StorageSection(Section):
    """Where things are kept."""

    directory: str | None = Field(
        default=None,
        description="Folder for the state; by default systemd's, or "
        "~/.local/state/frostalert.",
        examples=["/var/lib/frostalert"],
    )
    crops: str | None = Field(
        default=None,
        description="Folder with crop files of your own, which come before the "
        "packaged ones; relative names count from this file.",
        examples=["crops"],
    )


class ConfigFile(Section):
    """The whole file."""

    config_version: Literal[1] = Field(
        description="Version of this file's form.", examples=[1]
    )
    site: SiteSection
    blocks: list[BlockSection] = Field(min_length=1, max_length=10_000)
    equipment: list[EquipmentSection] = Field(default=[], max_length=1000)
    supplies: SuppliesSection = SuppliesSection()
    readiness: ReadinessSection = ReadinessSection()
    sensors: list[SensorSection] = Field(default=[], max_length=1000)
    readings: ReadingsSection = ReadingsSection()
    people: list[PersonSection] = Field(min_length=1, max_length=100)
    email: EmailSection | None = None
    sms: SmsSection | None = None
    schedule: ScheduleSection = ScheduleSection()
    forecast: ForecastSection
    judgement: JudgementSection = JudgementSection()
    storage: StorageSection = StorageSection()
    watcher: WatcherSection | None = None
    web: WebSection | None = None
    status: StatusSection = StatusSection()
    past: PastSection = PastSection()

    @field_validator("people")
    @classmethod
    def _somebody_first(cls, value: list[PersonSection]) -> list[PersonSection]:
        """Refuse a list on which nobody hears at once, or nobody in time."""
        first = [person for person in value if person.turn == 1]
        if not first:
            message = "somebody must have turn = 1, or nobody is told"
            raise ValueError(message)
        if all(person.floor == "act" for person in first):
            message = 'somebody of turn 1 must hear of "prepare", before it is too late'
            raise ValueError(message)
        return value
