"""Holdings for tests, all invented."""

from datetime import date

from frostalert.agronomy.crops import find_crop
from frostalert.agronomy.methods import METHODS
from frostalert.model.channel import ChannelKind
from frostalert.model.site import (
    Block,
    Farm,
    Person,
    Rules,
    Site,
    Units,
)

SITE = Site(
    name="Heron Bench",
    latitude=46.2205,
    longitude=-119.2412,
    elevation_m=125.0,
    time_zone="America/Los_Angeles",
    units=Units.US,
)


def make_block(
    name: str = "Apricots",
    crop: str = "apricot",
    stage: str = "full bloom",
    *,
    seen: date = date(2026, 4, 11),
    height_m: float = 3.0,
    cold_spot_delta_c: float = 0.0,
    methods: tuple[str, ...] = (),
) -> Block:
    return Block(
        name=name,
        crop=find_crop(crop, {}),
        stage=stage,
        stage_seen=seen,
        height_m=height_m,
        cold_spot_delta_c=cold_spot_delta_c,
        is_measured_at_height=False,
        methods=tuple(METHODS[name] for name in methods),
        plants=10,
    )


INES = Person(
    name="Ines",
    channels=(ChannelKind.EMAIL, ChannelKind.SMS),
    email="ines@heron-bench.example",
    phone="+15095550142",
)


def make_holding(*blocks: Block, site: Site = SITE, rules: Rules | None = None) -> Farm:
    return Farm(
        site=site,
        blocks=blocks or (make_block(),),
        people=(INES,),
        rules=rules or Rules(),
    )
