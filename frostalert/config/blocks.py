"""Schema of the blocks: what stands where, and at what stage."""

from datetime import date
from typing import Any, Literal

from pydantic import Field, field_validator, model_validator

from frostalert.agronomy.methods import METHODS
from frostalert.config.quantities import (
    Area,
    ColdSpot,
    CrownWidth,
    CultivarOffset,
    PlantHeight,
)
from frostalert.config.section import Name, Section, refuse_unknown_methods


class BlockSection(Section):
    """Plants of one crop that stand together and freeze together."""

    name: Name = Field(
        min_length=1,
        max_length=60,
        description="Your name for it; no two alike.",
        examples=["Apricots by the lane"],
    )
    crop: str = Field(
        description='One of the crops that "frostalert crops" lists, or one of yours.',
        examples=["apricot"],
    )
    cultivar_offset: CultivarOffset = Field(
        default=0.0,
        description="What to add to the table's kill temperatures for your cultivar: "
        "minus if it is hardier, such as -1 degF for Golden Delicious apple.",
        examples=["0 degF"],
    )
    stage: str = Field(
        description="Stage of the most advanced tenth of the buds, as the crop's table "
        'names it, or "dormant" or "harvested".',
        examples=["full bloom"],
    )
    stage_seen: date = Field(
        description="Date on which you last looked.",
        examples=[date(2026, 4, 10)],
    )
    plants: int | None = Field(
        default=None,
        ge=1,
        le=10_000_000,
        description="Number of plants; give this or the area.",
        examples=[36],
    )
    area: Area | None = Field(
        default=None,
        description="Ground that it covers, with its unit.",
        examples=["0.3 acre"],
    )
    height: PlantHeight = Field(
        description="Height of the flowers above the ground, with its unit.",
        examples=["9 ft"],
    )
    cold_spot: ColdSpot = Field(
        default=0.0,
        description="How much colder (minus) the air in the block is than at the "
        "reference spot on clear calm nights.",
        examples=["-2 degF"],
    )
    cold_spot_thermometer: Literal["shielded", "unshielded"] = Field(
        default="shielded",
        description='What cold_spot was measured with. "unshielded" for a thermometer '
        "open to the sky: it cools as a bud does, so that buds are then taken to be as "
        "cold as it read, and not colder still.",
        examples=["shielded"],
    )
    cold_spot_measured_at_height: bool = Field(
        default=False,
        description="True if cold_spot was measured among the flowers themselves, so "
        "that low plants get no further allowance for growing near the ground.",
        examples=[False],
    )
    buds_lost_pct: float = Field(
        default=0.0,
        ge=0.0,
        le=100.0,
        description="Share of this season's buds already lost, as you counted, in "
        "percent.",
        examples=[0],
    )
    crop_value: float | None = Field(
        default=None,
        gt=0.0,
        description="What a full crop of the block is worth, in the site's currency; "
        "without it no money is mentioned.",
        examples=[2400],
    )
    night_costs: dict[str, float] = Field(
        default={},
        description="What a night of each method costs here, in the site's currency.",
        examples=[{"micro-sprinklers": 35}],
    )
    alarm_at: Literal["first harm", "crop loss"] = Field(
        default="first harm",
        description='What calls hands out at night. "crop loss", for apple, pear and '
        "peach from full bloom on: only a night that is likely to cost more than a "
        "twentieth of a full crop.",
        examples=["first harm"],
    )
    start_by: Literal["forecast", "thermometer"] = Field(
        default="forecast",
        description="Whether a call to start waits for the block's own thermometer. "
        '"thermometer" needs a sheltered sensor in its coldest place, checked in ice '
        "water this season; on a clear calm night, and while harm is less than likely, "
        "hands are called once it nears the start reading.",
        examples=["forecast"],
    )
    priority: float = Field(
        default=1.0,
        gt=0.0,
        le=100.0,
        description="How much more it counts than its value says when not all can be "
        "saved.",
        examples=[1],
    )
    canopy: CrownWidth | None = Field(
        default=None,
        description="Width of one plant's crown; with plants it gives the ground to be "
        "protected.",
        examples=["9 ft"],
    )
    brittle_wood: bool = Field(
        default=False,
        description="True if its limbs break under ice.",
        examples=[False],
    )
    straw: bool = Field(
        default=False,
        description="True if straw or dry mulch lies in it: no open fire there.",
        examples=[False],
    )
    tunnel: bool = Field(
        default=False,
        description="True if it stands under a roof: no fire there.",
        examples=[False],
    )
    methods: list[str] = Field(
        default=[],
        description="What you can use here: " + ", ".join(METHODS) + ".",
        examples=[["micro-sprinklers"]],
    )

    @field_validator("stage_seen", mode="before")
    @classmethod
    def _a_plain_date(cls, value: Any) -> Any:
        """Refuse a date in quotes and a date with a time."""
        if type(value) is not date:
            message = f'"{value}" is not a date; write it like 2026-04-10, no quotes'
            raise ValueError(message)
        return value

    @field_validator("methods", "night_costs")
    @classmethod
    def _known_methods(
        cls, value: list[str] | dict[str, float]
    ) -> list[str] | dict[str, float]:
        """Refuse a method that is not in the list."""
        refuse_unknown_methods(value)
        return value

    @model_validator(mode="after")
    def _has_a_size(self) -> "BlockSection":
        """Refuse a block of unknown size."""
        if self.plants is None and self.area is None:
            message = 'give plants = NUMBER or area = "0.3 acre"'
            raise ValueError(message)
        return self
