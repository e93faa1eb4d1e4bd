"""Schema of what there is to protect plants with."""

from datetime import date, timedelta

from pydantic import Field, field_validator, model_validator

from frostalert.config.quantities import (
    Area,
    ClothWeight,
    CoverSkin,
    Flow,
    FuelAmount,
    FuelRate,
    Gain,
    Hours,
    Power,
    Volume,
)
from frostalert.config.section import Name, Section, refuse_unknown_methods


class EquipmentSection(Section):
    """One installation, or a set of like things, for one method."""

    name: Name = Field(
        min_length=1,
        max_length=60,
        description="Your name for it; no two alike.",
        examples=["Micro-sprinklers, lane line"],
    )
    method: str = Field(
        description="The method that it is for, one of those above.",
        examples=["micro-sprinklers"],
    )
    blocks: list[str] = Field(
        default=[],
        description="Blocks where it can be used; by default each that lists the "
        "method.",
        examples=[["Apricots by the lane"]],
    )
    count: int | None = Field(
        default=None,
        ge=1,
        le=100_000,
        description="Heaters, fires, lamps, fans or covers that there are.",
        examples=[20],
    )
    area: Area | None = Field(
        default=None,
        description="Ground that all of it together wets, covers or heats.",
        examples=["0.1 acre"],
    )
    flow: Flow | None = Field(
        default=None,
        description="Water: what it gives with everything open, as measured.",
        examples=["14 gpm"],
    )
    catch_fraction: float = Field(
        default=0.7,
        gt=0.0,
        le=1.0,
        description="Water: share that lands on the plants; half to nine tenths.",
        examples=[0.7],
    )
    water_per_plant: Volume | None = Field(
        default=None,
        description="By hand: what a plant gets in one round.",
        examples=["0.5 L"],
    )
    time_each: Hours | None = Field(
        default=None,
        description="Time for one plant by hand, or to lay or light one piece.",
        examples=["1 min"],
    )
    load: Volume | None = Field(
        default=None,
        description="By hand: water that is fetched at a time.",
        examples=["15 L"],
    )
    trip: Hours = Field(
        default=timedelta(0),
        description="By hand: time to fetch a load.",
        examples=["4 min"],
    )
    heat_each: Power | None = Field(
        default=None,
        description="Heat of one heater, fire or lamp.",
        examples=["40000 BTU/h"],
    )
    skin_each: CoverSkin | None = Field(
        default=None,
        description="Lamps: surface of the cover over one of them.",
        examples=["8 m2"],
    )
    burns: FuelRate | None = Field(
        default=None,
        description="Heat: fuel that one burns in an hour, by volume or weight.",
        examples=["0.5 gal/h"],
    )
    fuel: FuelAmount | None = Field(
        default=None,
        description="Heat: fuel at hand for all of them, in the same measure.",
        examples=["60 gal"],
    )
    gain: Gain | None = Field(
        default=None,
        description="How much warmer it makes the plants on a clear calm night.",
        examples=["4 degF"],
    )
    gain_is_measured: bool = Field(
        default=False,
        description="True if that gain was measured here; false if it is the maker's.",
        examples=[True],
    )
    weight: ClothWeight | None = Field(
        default=None,
        description="Covers: weight of the cloth.",
        examples=["1 oz/yd2"],
    )
    edges_held: bool = Field(
        default=False,
        description="Covers: true if soil or weights hold the edges all around.",
        examples=[True],
    )
    hands: int = Field(
        default=1,
        ge=0,
        le=50,
        description="People whom it needs while it runs.",
        examples=[1],
    )
    set_up: Hours = Field(
        default=timedelta(minutes=30),
        description="Work to bring it to where it can be started, for one person.",
        examples=["30 min"],
    )

    @field_validator("method")
    @classmethod
    def _known_method(cls, value: str) -> str:
        """Refuse a method that is not in the list."""
        refuse_unknown_methods([value])
        return value

    @model_validator(mode="after")
    def _one_measure_of_fuel(self) -> "EquipmentSection":
        """Refuse fuel in gallons that burns in pounds, and one without the other."""
        if (self.burns is None) != (self.fuel is None):
            message = "give burns and fuel together, or neither"
            raise ValueError(message)
        if self.burns and self.fuel and self.burns[1] != self.fuel[1]:
            message = "burns and fuel must both be volumes, or both be weights"
            raise ValueError(message)
        return self


class SuppliesSection(Section):
    """Hands and water for a night."""

    hands: int | None = Field(
        default=None,
        ge=1,
        le=50,
        description="People who can work through the night.",
        examples=[2],
    )
    crew: list[Name] = Field(
        default=[],
        description="Their names, if the plan is to give each their tasks.",
        examples=[["Ines", "Tobias"]],
    )
    water: Volume | None = Field(
        default=None,
        description="Water at hand at dusk; leave it out if it does not run out.",
        examples=["12000 gal"],
    )
    refill: Flow = Field(
        default=0.0,
        description="Water that comes in meanwhile.",
        examples=["3 gpm"],
    )

    @model_validator(mode="after")
    def _as_many_names(self) -> "SuppliesSection":
        """Refuse more names than hands."""
        if self.hands is not None and len(self.crew) > self.hands:
            message = f"crew names {len(self.crew)} people and hands says {self.hands}"
            raise ValueError(message)
        return self


class ReadinessSection(Section):
    """When things were last tried. What was not tried this season is asked for."""

    pump_tried: date | None = Field(
        default=None,
        description="Date of the last dry run of pump, pipes and every nozzle.",
        examples=[date(2026, 3, 14)],
    )
    thermometers_checked: date | None = Field(
        default=None,
        description="Date on which the thermometers last stood in ice water.",
        examples=[date(2026, 3, 14)],
    )
    wake_up_tried: date | None = Field(
        default=None,
        description="Date on which a test message last woke you at night.",
        examples=[date(2026, 3, 15)],
    )
