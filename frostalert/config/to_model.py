"""From the schema's tables to the plain values that everything else uses."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from frostalert.agronomy.crops import find_crop, find_stage
from frostalert.agronomy.cultivar import of_cultivar
from frostalert.agronomy.methods import METHODS
from frostalert.config.blocks import BlockSection
from frostalert.config.channels import section_in
from frostalert.config.equipment import EquipmentSection
from frostalert.config.lines import Location
from frostalert.config.paths import beside
from frostalert.config.people import (
    ChannelSection,
    EmailSection,
    PersonSection,
    SmsSection,
)
from frostalert.config.references import Names
from frostalert.config.schema import ConfigFile, ForecastSection
from frostalert.config.secrets import read_secret
from frostalert.config.section import Section
from frostalert.config.sensors import SensorSection
from frostalert.errors import SecretError
from frostalert.model.assessment import Tier
from frostalert.model.channel import CHANNELS
from frostalert.model.crop import Crop
from frostalert.model.equipment import Equipment, Fuel, Readiness, Supplies
from frostalert.model.reading import Sensor
from frostalert.model.secret import Secret
from frostalert.model.settings import (
    EmailSettings,
    PastSettings,
    Settings,
    SmsSettings,
    SourceSettings,
    WatcherSettings,
    WebSettings,
)
from frostalert.model.site import (
    DORMANT,
    HARVESTED,
    AlarmAt,
    Block,
    Farm,
    Person,
    Rules,
    Site,
    StartBy,
)

_NAMES = {
    # The unit that the schema has turned the value into.
    "area": "area_m2",
    "canopy": "canopy_m",
    "cold_spot": "cold_spot_delta_c",
    "elevation": "elevation_m",
    "flow": "flow_l_per_h",
    "gain": "gain_delta_c",
    "heat_each": "heat_each_w",
    "height": "height_m",
    "load": "load_l",
    "refill": "refill_l_per_h",
    "skin_each": "skin_each_m2",
    "water": "water_l",
    "water_per_plant": "litres_per_plant",
    "weight": "weight_g_per_m2",
    "warm_day": "warm_day_c",
    "worse_step": "worse_step_c",
    # What is so or is not.
    "brittle_wood": "has_brittle_wood",
    "cold_spot_measured_at_height": "is_measured_at_height",
    "gain_is_measured": "is_measured",
    "edges_held": "has_held_edges",
    "operator": "is_operator",
    "straw": "has_straw",
    "tunnel": "is_tunnel",
    # The statisticians' words.
    "chance_clear": "clear_probability",
    "chance_far": "far_probability",
    "chance_near": "near_probability",
    "chance_start": "start_probability",
    "forecast_error": "sigma_c",
    "forecast_error_per_day": "sigma_per_day_c",
    "site_error": "site_sigma_c",
    "threshold_error": "threshold_sigma_c",
    "daily_line": "daily_line_at",
    "sources": "names",
}
"""Keys of the file that the model calls otherwise; all others have one name."""
_WHERE = ("password_file", "password_env")
"""Where a password is kept; the model has the password."""


def to_settings(
    content: ConfigFile,
    own: Mapping[str, Crop],
    folder: Path,
    *,
    needs_secrets: bool,
) -> Settings:
    """Return the configuration as plain values.

    Parameters
    ----------
    content : ConfigFile
        The checked file.
    own : mapping of str to Crop
        The user's own crops.
    folder : Path
        Folder of the file, for relative names.
    needs_secrets : bool
        Whether a secret that cannot be read is a mistake; else it is left out, and
        the others are read all the same.

    Returns
    -------
    Settings
        The configuration.

    Raises
    ------
    SecretError
        If a secret cannot be had.
    """
    watcher, web = content.watcher, content.web
    return Settings(
        farm=_holding(content, own),
        email=_email(content.email, folder, needs_secrets=needs_secrets),
        sms=_sms(content.sms, folder, needs_secrets=needs_secrets),
        fetch_every=content.schedule.fetch_every,
        sources=_sources(content.forecast, folder, needs_secrets=needs_secrets),
        state_directory=_named(content.storage.directory, folder),
        readings_csv=_named(content.readings.csv, folder),
        readings_unit=content.readings.unit,
        status_directory=_named(content.status.directory, folder),
        watcher=None if watcher is None else WatcherSettings(**_values(watcher)),
        web=None if web is None else WebSettings(**_values(web)),
        past=PastSettings(
            **_values(content.past, "csv"), csv=_named(content.past.csv, folder)
        ),
    )


def secret_problems(
    content: ConfigFile, folder: Path
) -> Iterator[tuple[Location, str]]:
    """Return what is wrong with the passwords and the key."""
    readers: dict[str, Callable[[], Secret | None]] = {
        "forecast": partial(_key, content.forecast, folder, is_needed=True)
    }
    for row in CHANNELS:
        section = section_in(content, row.kind)
        if section is not None:
            readers[row.section] = partial(_password, section, folder, is_needed=True)
    for name, read in readers.items():
        try:
            read()
        except SecretError as error:
            key, mark, words = str(error).partition(": ")
            is_key = mark and key.isidentifier()
            yield (name, key) if is_key else (name,), words if is_key else f"{error}"


def _named(named: str | None, folder: Path) -> str | None:
    """Return a path that the file may name; relative names count from the file."""
    return None if named is None else str(beside(folder, named))


def _values(section: Section, *but: str) -> dict[str, Any]:
    """Return what a table says under the model's names, without some keys."""
    return {
        _NAMES.get(key, key): tuple(value) if isinstance(value, list) else value
        for key, value in section
        if key not in but
    }


def _holding(content: ConfigFile, own: Mapping[str, Crop]) -> Farm:
    """Return the grower's side."""
    supplies = content.supplies
    names = Names(block.name for block in content.blocks)
    things = Names(item.name for item in content.equipment)
    people = Names(person.name for person in content.people)
    return Farm(
        site=Site(**_values(content.site)),
        blocks=tuple(_block(block, own) for block in content.blocks),
        people=_people(content.people),
        rules=Rules(
            **_values(content.schedule, "fetch_every"), **_values(content.judgement)
        ),
        sources=tuple(content.forecast.sources),
        sensors=tuple(_sensor(item, names, things) for item in content.sensors),
        equipment=tuple(_equipment(item, names) for item in content.equipment),
        supplies=Supplies(
            **_values(supplies, "hands", "crew"),
            # Who is told is found by the name: one spelling for one person.
            crew=tuple(people.find(name) or name for name in supplies.crew),
            hands=supplies.hands or len(supplies.crew) or None,
        ),
        readiness=Readiness(**_values(content.readiness)),
    )


def _sensor(item: SensorSection, blocks: Names, equipment: Names) -> Sensor:
    """Return a thermometer; beside equipment it does not feel the open air."""
    is_treated = item.treated or item.equipment is not None
    return Sensor(
        **_values(item, "treated", "block", "equipment"),
        block=None if item.block is None else blocks.find(item.block),
        equipment=None if item.equipment is None else equipment.find(item.equipment),
        is_treated=is_treated,
    )


def _block(block: BlockSection, own: Mapping[str, Crop]) -> Block:
    """Return a block with its crop."""
    crop = of_cultivar(find_crop(block.crop, own), block.cultivar_offset)
    return Block(
        **_values(
            block,
            "crop",
            "cultivar_offset",
            "stage",
            "methods",
            "night_costs",
            "alarm_at",
            "start_by",
            "cold_spot_thermometer",
        ),
        crop=crop,
        stage=find_stage(crop, block.stage, (DORMANT, HARVESTED)),
        methods=tuple(METHODS[name] for name in block.methods),
        is_measured_unshielded=block.cold_spot_thermometer == "unshielded",
        night_costs=tuple(block.night_costs.items()),
        alarm_at=AlarmAt(block.alarm_at),
        start_by=StartBy(block.start_by),
    )


def _equipment(item: EquipmentSection, blocks: Names) -> Equipment:
    """Return what there is for one method."""
    fuel = None
    if item.burns is not None and item.fuel is not None:
        burned_per_h, unit = item.burns
        fuel = Fuel(burned_per_h=burned_per_h, stock=item.fuel[0], unit=unit)
    return Equipment(
        **_values(item, "blocks", "method", "burns", "fuel"),
        blocks=tuple(found for name in item.blocks if (found := blocks.find(name))),
        method=METHODS[item.method],
        fuel=fuel,
    )


def _people(sections: Sequence[PersonSection]) -> tuple[Person, ...]:
    """Return the people, turns without a gap: an empty one would cost its wait."""
    turns = sorted({section.turn for section in sections})
    return tuple(
        Person(
            **_values(item, "turn", "floor"),
            turn=turns.index(item.turn) + 1,
            floor=Tier(item.floor),
        )
        for item in sections
    )


def _password(
    section: ChannelSection, folder: Path, *, is_needed: bool
) -> Secret | None:
    """Return the password of a channel, if it logs in."""
    named = section.password_file is not None or section.password_env is not None
    if section.username is None and not named:
        return None
    file, variable = section.password_file, section.password_env
    return _had(partial(read_secret, file, variable, folder), is_needed=is_needed)


def _key(section: ForecastSection, folder: Path, *, is_needed: bool) -> Secret | None:
    """Return the key of the forecast service, if there is one."""
    file = section.open_meteo_key_file
    if file is None:
        return None
    read = partial(read_secret, file, None, folder, key="open_meteo_key_file")
    return _had(read, is_needed=is_needed)


def _had(read: Callable[[], Secret], *, is_needed: bool) -> Secret | None:
    """Return a secret; without one that is not needed and cannot be had."""
    try:
        return read()
    except SecretError:
        if is_needed:
            raise
        return None


def _email(
    section: EmailSection | None, folder: Path, *, needs_secrets: bool
) -> EmailSettings | None:
    """Return the mail server."""
    if section is None:
        return None
    password = _password(section, folder, is_needed=needs_secrets)
    return EmailSettings(**_values(section, *_WHERE), password=password)


def _sms(
    section: SmsSection | None, folder: Path, *, needs_secrets: bool
) -> SmsSettings | None:
    """Return the service for text messages."""
    if section is None:
        return None
    password = _password(section, folder, is_needed=needs_secrets)
    return SmsSettings(**_values(section, *_WHERE), password=password)


def _sources(
    section: ForecastSection, folder: Path, *, needs_secrets: bool
) -> SourceSettings:
    """Return where forecasts are asked for."""
    key = _key(section, folder, is_needed=needs_secrets)
    return SourceSettings(**_values(section, "open_meteo_key_file"), open_meteo_key=key)
