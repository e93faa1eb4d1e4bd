"""Schema of where `frostalert past` finds what came in past springs."""

from typing import Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import Field, field_validator

from frostalert.config.section import Section, checked_https


class PastSection(Section):
    """Past springs, for `frostalert past`: old readings, and archives to ask."""

    csv: str | None = Field(
        default=None,
        description="File with old readings of a thermometer at your place, also one "
        "with a line a day; by default the reference's in the file of [readings].",
        examples=["old-readings.csv"],
    )
    unit: Literal["degF", "degC"] = Field(
        default="degF",
        description='Unit of the values in it: "degF" or "degC".',
        examples=["degF"],
    )
    time_column: str = Field(
        default="time",
        min_length=1,
        description="Its column of times. A date alone is the morning on which that "
        "night's low was read.",
        examples=["Date"],
    )
    value_column: str = Field(
        default="value",
        min_length=1,
        description="Its column of values.",
        examples=["Low"],
    )
    sensor: str | None = Field(
        default=None,
        description="The one thermometer that counts, where the file has several.",
        examples=["Post by the shed"],
    )
    sensor_column: str = Field(
        default="sensor",
        min_length=1,
        description="Its column of thermometers' names.",
        examples=["sensor"],
    )
    time_format: str | None = Field(
        default=None,
        description="How its times are written, if not like 2025-04-12 06:10: "
        "%m month, %d day, %Y year, %H hour, %M minute, %I and %p for 12 hours.",
        examples=["%m/%d/%Y %I:%M %p"],
    )
    zone: str | None = Field(
        default=None,
        description="Time zone of times without an offset; the site's by default.",
        examples=["America/Los_Angeles"],
    )
    station: str | None = Field(
        default=None,
        pattern=r"^[A-Z0-9_-]{11}$",
        description="GHCN-Daily identifier of the station to take instead of the "
        "nearest, where no file is given.",
        examples=["USW00024163"],
    )
    at_start: bool = Field(
        default=False,
        description="True lets the service look at the last three springs once, after "
        "its first start.",
        examples=[True],
    )
    previous_runs_url: str = Field(
        default="https://previous-runs-api.open-meteo.com",
        description="Address of Open-Meteo's previous runs.",
        examples=["https://previous-runs-api.open-meteo.com"],
    )
    reanalysis_url: str = Field(
        default="https://archive-api.open-meteo.com",
        description="Address of Open-Meteo's reanalysis, the last resort.",
        examples=["https://archive-api.open-meteo.com"],
    )
    stations_url: str = Field(
        default="https://www.ncei.noaa.gov",
        description="Address of the stations' daily minimums (NOAA NCEI).",
        examples=["https://www.ncei.noaa.gov"],
    )

    @field_validator("previous_runs_url", "reanalysis_url", "stations_url")
    @classmethod
    def _is_https(cls, value: str) -> str:
        """Refuse a plain connection to another machine."""
        return checked_https(value).rstrip("/")

    @field_validator("zone")
    @classmethod
    def _known_zone(cls, value: str | None) -> str | None:
        """Refuse a name that the zone tables do not have."""
        try:
            return value if value is None else ZoneInfo(value).key
        except (ZoneInfoNotFoundError, ValueError, OSError) as error:
            message = f'unknown time zone "{value}"; write it like "America/New_York"'
            raise ValueError(message) from error
