"""From the schema's tables to the plain values that everything else uses."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

from frostalert.agronomy.crops import find_crop, find_stage
from frostalert.agronomy.cultivar import of_cultivar
from frostalert.agronomy.methods import METHODS
from frostalert.config.blocks import BlockSection
from frostalert.config.equipment import EquipmentSection
from frostalert.config.paths import beside
from frostalert.config.people import EmailSection, PersonSection, SmsSection
from frostalert.config.schema import ConfigFile, ForecastSection
from frostalert.config.secrets import read_secret
from frostalert.config.watch import WatcherSection, WebSection
from frostalert.errors import SecretError
from frostalert.model.assessment import Tier
from frostalert.model.crop import Crop
from frostalert.model.equipment import Equipment, Fuel, Readiness, Supplies
from frostalert.model.reading import Sensor
from frostalert.model.secret import Secret
from frostalert.model.settings import (
    EmailSettings,
    Settings,
    SmsSettings,
    SourceSettings,
    WatcherSettings,
    WebSettings,
)
from frostalert.model.site import (
    DORMANT,
    HARVESTED,
    Block,
    Holding,
    Person,
    Rules,
    Site,
)


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
    return Settings(
        holding=_holding(content, own),
        email=_email(content.email, folder, needs_secrets=needs_secrets),
        sms=_sms(content.sms, folder, needs_secrets=needs_secrets),
        fetch_every=content.schedule.fetch_every,
        sources=_sources(content.forecast, folder, needs_secrets=needs_secrets),
        state_directory=_named(content.storage.directory, folder),
        readings_csv=_named(content.readings.csv, folder),
        readings_unit=content.readings.unit,
        status_directory=_named(content.status.directory, folder),
        watcher=_watcher(content.watcher),
        web=_web(content.web),
    )


def secret_problems(content: ConfigFile, folder: Path) -> list[str]:
    """Return what is wrong with the passwords and the key."""
    readers: dict[str, Callable[[], Secret | None]] = {
        "forecast": partial(_key, content.forecast, folder, is_needed=True)
    }
    for name, section in (("email", content.email), ("sms", content.sms)):
        if section is not None:
            readers[name] = partial(_password, section, folder, is_needed=True)
    problems = []
    for name, read in readers.items():
        try:
            read()
        except SecretError as error:
            problems.append(f"{name}: {error}")
    return problems


def _named(named: str | None, folder: Path) -> str | None:
    """Return a path that the file may name; relative names count from the file."""
    return None if named is None else str(beside(folder, named))


def _holding(content: ConfigFile, own: Mapping[str, Crop]) -> Holding:
    """Return the grower's side."""
    site = content.site
    return Holding(
        site=Site(
            name=site.name,
            latitude=site.latitude,
            longitude=site.longitude,
            elevation_m=site.elevation,
            time_zone=site.time_zone,
            units=site.units,
            currency=site.currency,
            drift_from=site.drift_from,
            uphill=site.uphill,
        ),
        blocks=tuple(_block(block, own) for block in content.blocks),
        people=_people(content.people),
        rules=_rules(content),
        sources=tuple(content.forecast.sources),
        sensors=tuple(
            Sensor(
                name=item.name,
                kind=item.kind,
                block=item.block,
                is_treated=item.treated or item.equipment is not None,
                equipment=item.equipment,
            )
            for item in content.sensors
        ),
        equipment=tuple(_equipment(item) for item in content.equipment),
        supplies=Supplies(
            hands=content.supplies.hands or len(content.supplies.crew) or None,
            crew=tuple(content.supplies.crew),
            water_l=content.supplies.water,
            refill_l_per_h=content.supplies.refill,
        ),
        readiness=Readiness(**content.readiness.model_dump()),
    )


def _block(block: BlockSection, own: Mapping[str, Crop]) -> Block:
    """Return a block with its crop."""
    crop = of_cultivar(find_crop(block.crop, own), block.cultivar_offset)
    return Block(
        name=block.name,
        crop=crop,
        stage=find_stage(crop, block.stage, (DORMANT, HARVESTED)),
        stage_seen=block.stage_seen,
        height_m=block.height,
        cold_spot_delta_c=block.cold_spot,
        is_measured_at_height=block.cold_spot_measured_at_height,
        methods=tuple(block.methods),
        plans_water=any(METHODS[name].wets_buds for name in block.methods),
        plants=block.plants,
        area_m2=block.area,
        buds_lost_pct=block.buds_lost_pct,
        crop_value=block.crop_value,
        night_costs=tuple(block.night_costs.items()),
        priority=block.priority,
        canopy_m=block.canopy,
        has_brittle_wood=block.brittle_wood,
        has_straw=block.straw,
        is_tunnel=block.tunnel,
    )


def _equipment(item: EquipmentSection) -> Equipment:
    """Return what there is for one method."""
    fuel = None
    if item.burns is not None and item.fuel is not None:
        burned_per_h, unit = item.burns
        fuel = Fuel(burned_per_h=burned_per_h, stock=item.fuel[0], unit=unit)
    return Equipment(
        name=item.name,
        method=item.method,
        blocks=tuple(item.blocks),
        count=item.count,
        flow_l_per_h=item.flow,
        area_m2=item.area,
        catch_fraction=item.catch_fraction,
        litres_per_plant=item.water_per_plant,
        time_each=item.time_each,
        load_l=item.load,
        trip=item.trip,
        heat_each_w=item.heat_each,
        skin_each_m2=item.skin_each,
        fuel=fuel,
        gain_delta_c=item.gain,
        is_measured=item.gain_is_measured,
        weight_g_per_m2=item.weight,
        hands=item.hands,
        set_up=item.set_up,
    )


def _people(sections: Sequence[PersonSection]) -> tuple[Person, ...]:
    """Return the people, turns without a gap: an empty one would cost its wait."""
    turns = sorted({section.turn for section in sections})
    return tuple(_person(item, turns.index(item.turn) + 1) for item in sections)


def _person(person: PersonSection, turn: int) -> Person:
    """Return a person."""
    return Person(
        name=person.name,
        channels=tuple(person.channels),
        email=person.email,
        phone=person.phone,
        is_operator=person.operator,
        turn=turn,
        floor=Tier(person.floor),
        quiet_from=person.quiet_from,
        quiet_to=person.quiet_to,
    )


def _rules(content: ConfigFile) -> Rules:
    """Return the rules of judgement."""
    schedule, judgement = content.schedule, content.judgement
    return Rules(
        preparation=schedule.preparation,
        notice=schedule.notice,
        set_up=schedule.set_up,
        daily_line_at=schedule.daily_line,
        sigma_c=judgement.forecast_error,
        sigma_per_day_c=judgement.forecast_error_per_day,
        threshold_sigma_c=judgement.threshold_error,
        near_probability=judgement.chance_near,
        far_probability=judgement.chance_far,
        clear_probability=judgement.chance_clear,
        worse_step_c=judgement.worse_step,
        earlier_step=judgement.earlier_step,
        stage_days=judgement.stage_days,
        bloom_days=judgement.bloom_days,
        warm_day_c=judgement.warm_day,
        dormant_days=judgement.dormant_days,
    )


def _password(
    section: EmailSection | SmsSection, folder: Path, *, is_needed: bool
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
    return EmailSettings(
        host=section.host,
        port=section.port,
        security=section.security,
        sender=section.sender,
        username=section.username,
        password=_password(section, folder, is_needed=needs_secrets),
    )


def _sms(
    section: SmsSection | None, folder: Path, *, needs_secrets: bool
) -> SmsSettings | None:
    """Return the service for text messages."""
    if section is None:
        return None
    return SmsSettings(
        url=section.url,
        body=section.body,
        fields=dict(section.fields),
        id_pointer=section.id_pointer,
        username=section.username,
        password=_password(section, folder, is_needed=needs_secrets),
        status_url=section.status_url,
        status_pointer=section.status_pointer,
        status_delivered=tuple(section.status_delivered),
        status_failed=tuple(section.status_failed),
    )


def _sources(
    section: ForecastSection, folder: Path, *, needs_secrets: bool
) -> SourceSettings:
    """Return where forecasts are asked for."""
    return SourceSettings(
        names=tuple(section.sources),
        contact=section.contact,
        nws_url=section.nws_url,
        met_norway_url=section.met_norway_url,
        open_meteo_url=section.open_meteo_url,
        open_meteo_ensemble_url=section.open_meteo_ensemble_url,
        open_meteo_key=_key(section, folder, is_needed=needs_secrets),
    )


def _watcher(section: WatcherSection | None) -> WatcherSettings | None:
    """Return who watches the service."""
    if section is None:
        return None
    return WatcherSettings(
        url=section.url, fail_url=section.fail_url, checked_by=section.checked_by
    )


def _web(section: WebSection | None) -> WebSettings | None:
    """Return the page to answer on."""
    if section is None:
        return None
    return WebSettings(
        host=section.host, port=section.port, public_url=section.public_url
    )
