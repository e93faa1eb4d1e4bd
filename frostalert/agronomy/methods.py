"""The methods, as data: one row a method.

The configuration is checked against this list. What a method is worth in one block
tonight is worked out in `plan.options`.
"""

from dataclasses import dataclass
from datetime import timedelta

from frostalert.model.method import (
    EquipmentKey,
    HouseholdMeans,
    Method,
    MethodKind,
    MethodPair,
    RefusalReason,
    WindAt,
)

MOST_SPRINKLING_WIND_MPS = 4.5
"""Wind at 10 m above which nothing is sprinkled. [m/s] 10 mph: Virginia Tech, 2017,
after UF Circular 287."""
MOST_STILL_WIND_MPS = 2.5
"""Wind at 2 m above which an inversion is unlikely, and wind at 10 m above which no
open fire is lit. [m/s] FAO, Frost Protection, vol. 1, 2005, p. 160; for fire common
practice, no source."""

MOST_LOOSE_COVER_WIND_MPS = 7.0
"""Wind at 10 m above which a cover whose edges nothing holds is lifted, and beats
blossoms off. [m/s] Common practice, no source."""

FAN_AHEAD = timedelta(minutes=75)
"""How long before harm a fan must turn: some fifteen rounds until the air among leaves
is mixed. Boekee, Dai, Schilperoort, van de Wiel and ten Veldhuis, "Plant-atmosphere
heat exchange during wind machine operation," TU Delft, in leafed pear (abstract)."""

_WATER = (
    "Once begun it must not stop before ice melts freely and the measured wet bulb is "
    "above freezing; too little water does more harm than none. Ice breaks limbs: keep "
    "out from under them. Use outdoor cords on a GFCI outlet (RCD in Europe) and keep "
    "them out of the wet; keep spray off public roads."
)
_FIRE = (
    "Only where and when local rules allow open heat, never left alone and never in "
    "wind; many small fires, not one big one; refuel cold; carbon monoxide kills in "
    "tunnels and sheds."
)

_HARM_BY_WATER = frozenset(
    {
        RefusalReason.TOO_WINDY,
        RefusalReason.LESS_THAN_NEEDED,
        RefusalReason.MAY_NOT_HOLD,
        RefusalReason.MORE_HARM,
        RefusalReason.ROUND_TOO_LONG,
    }
)
"""Too little water, or what wind carries off, leaves buds colder than dry ones."""
_HARM_BY_FIRE = frozenset({RefusalReason.TOO_WINDY, RefusalReason.FIRE_WIND})
_NO_HARM: frozenset[RefusalReason] = frozenset()

METHODS = {
    method.name: method
    for method in (
        Method(
            name="over-plant sprinklers",
            kind=MethodKind.OVER_PLANT_WATER,
            caution=_WATER,
            needs=(EquipmentKey.FLOW,),
            most_wind_mps=MOST_SPRINKLING_WIND_MPS,
            wind_at=WindAt.FORECAST,
            harms_when=_HARM_BY_WATER,
        ),
        Method(
            name="micro-sprinklers",
            kind=MethodKind.OVER_PLANT_WATER,
            caution=_WATER,
            needs=(EquipmentKey.FLOW,),
            most_wind_mps=MOST_SPRINKLING_WIND_MPS,
            wind_at=WindAt.FORECAST,
            harms_when=_HARM_BY_WATER,
        ),
        Method(
            name="hand wetting",
            kind=MethodKind.HAND_WATER,
            caution=_WATER,
            needs=(EquipmentKey.WATER_PER_PLANT, EquipmentKey.TIME_EACH),
            most_wind_mps=MOST_SPRINKLING_WIND_MPS,
            wind_at=WindAt.FORECAST,
            harms_when=_HARM_BY_WATER,
            is_by_hand=True,
        ),
        Method(
            name="under-plant sprinklers",
            kind=MethodKind.UNDER_PLANT_WATER,
            caution="Use outdoor cords on a GFCI outlet (RCD in Europe), out of the "
            "wet; drain the lines before they freeze.",
            needs=(EquipmentKey.FLOW,),
            most_wind_mps=MOST_STILL_WIND_MPS,
            harms_when=_NO_HARM,
            needs_inversion=True,
        ),
        Method(
            name="row cover",
            kind=MethodKind.COVER,
            caution="On before dusk, clear of blossoms where it can be, edges held "
            "down all round, off in the morning for bees and heat. Keep flames and "
            "lamps away from the fabric.",
            needs=(),
            needs_or_gain=(EquipmentKey.WEIGHT,),
            most_wind_mps=MOST_LOOSE_COVER_WIND_MPS,
            wind_at=WindAt.FORECAST,
            harms_when=_NO_HARM,
            is_before_dark=True,
        ),
        Method(
            name="propane heaters",
            kind=MethodKind.FIRE,
            caution=_FIRE,
            needs=(EquipmentKey.COUNT, EquipmentKey.HEAT_EACH),
            most_wind_mps=MOST_STILL_WIND_MPS,
            harms_when=_HARM_BY_FIRE,
        ),
        Method(
            name="small fires",
            kind=MethodKind.FIRE,
            caution=_FIRE,
            needs=(EquipmentKey.COUNT, EquipmentKey.HEAT_EACH),
            most_wind_mps=MOST_STILL_WIND_MPS,
            wind_at=WindAt.FORECAST,
            harms_when=_HARM_BY_FIRE,
            is_open_fire=True,
        ),
        Method(
            name="fan",
            kind=MethodKind.FAN,
            ahead=FAN_AHEAD,
            caution="Works only with warmer air above: not in wind, and not in "
            "freezing fog, when ice can break a blade. Off once the air among the buds "
            "stays above freezing.",
            needs=(),
            most_wind_mps=MOST_STILL_WIND_MPS,
            harms_when=_NO_HARM,
            needs_inversion=True,
        ),
        Method(
            name="lamps under cover",
            kind=MethodKind.LAMP,
            caution="Keep hot lamps off fabric and fixed in place, on outdoor "
            "cords and a GFCI outlet (RCD in Europe).",
            needs=(EquipmentKey.COUNT,),
            needs_or_gain=(EquipmentKey.HEAT_EACH, EquipmentKey.SKIN_EACH),
            most_wind_mps=None,
            harms_when=_NO_HARM,
        ),
    )
}

PAIRS = (
    MethodPair(
        kinds=frozenset({MethodKind.COVER, MethodKind.OVER_PLANT_WATER}),
        caution="Ice weighs on the cloth: hoops under it. Judge by a thermometer under "
        "the cloth; water off only when blossoms there stay above freezing, cover off "
        "only once the ice has melted.",
        source="sprinkling over covers, with a probe beneath: Pate, Ontario, 2024, and "
        "Poling, NC State, 2013",
    ),
    MethodPair(
        kinds=frozenset({MethodKind.FAN, MethodKind.FIRE}),
        caution="Heat at the margin of what the fan reaches, 120 to 150 ft (36 to 45 "
        "m) from it, not beneath its blades.",
        source="R. Evans, USDA-ARS, in Good Fruit Grower, 2013",
    ),
    MethodPair(
        kinds=frozenset({MethodKind.FAN, MethodKind.UNDER_PLANT_WATER}),
        caution="Spray stays off motor and leads of the fan.",
        source="FAO, Frost Protection, vol. 1, 2005, ch. 7 (from memory)",
    ),
    MethodPair(
        kinds=frozenset({MethodKind.COVER, MethodKind.LAMP}),
        caution="No lamp touches either cloth, and none under a cloth that wind can "
        "move.",
        source="common practice, no source",
    ),
)
"""What may run together in one block. Water and flames never do: spray puts flames out,
and nobody tends both."""


def pair_of(one: Method, other: Method) -> MethodPair | None:
    """Return what holds for two methods in one block; None where they exclude it."""
    kinds = frozenset({one.kind, other.kind})
    return next((pair for pair in PAIRS if pair.kinds == kinds), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """Something that is done days ahead.

    Attributes
    ----------
    days_ahead : int
        Least time that it needs. [d]
    """

    text: str
    days_ahead: int
    source: str


MEASURES = (
    Measure(
        text="Mow grass to under 2 in (5 cm) and take away tall weeds: bare or short "
        "ground gives the air by night up to 1 to 2 C (2 to 3 F) more",
        days_ahead=1,
        source="FAO, Frost Protection, vol. 1, 2005, p. 23",
    ),
    Measure(
        text="Wet dry bare soil, two sunny days ahead or more, so that it stores heat",
        days_ahead=2,
        source="FAO, Frost Protection, vol. 1, 2005, p. 23; two days: Smith, "
        "Agriculture 9(1):9, 2019",
    ),
    Measure(
        text="Open what dams cold air below the planting: hedges, stacks, nets",
        days_ahead=1,
        source="FAO, Frost Protection, vol. 1, 2005, p. 120",
    ),
)

LOW_PLANT_M = 1.0
"""Height of the flowering wood up to which what a house has reaches. [m] Common
practice, no source."""
_OWN = "common practice, no source"
HOUSEHOLD = (
    HouseholdMeans(
        text="Sheets or blankets to the ground, on stakes clear of blossoms, edges "
        "weighed down; off in the morning for bees",
        source=f"{_OWN}; row covers keep 2 to 6 F (1 to 3 C): Univ. of Maine "
        "Extension, 2023",
    ),
    HouseholdMeans(
        text="Buckets or cans upside down over small plants, a stone on each",
        source=_OWN,
    ),
    HouseholdMeans(
        text="Jugs of water, warmed by day, among the plants under the sheet",
        source=_OWN,
    ),
    HouseholdMeans(text="Pots indoors, or against a house wall", source=_OWN),
    HouseholdMeans(
        text="Soak dry bare soil by day, so that it stores heat: best two sunny days "
        "ahead",
        source="FAO, Frost Protection, vol. 1, 2005, p. 23; two days: Smith, "
        "Agriculture 9(1):9, 2019",
        is_by_day=True,
    ),
    HouseholdMeans(
        text="Old string lights that get warm, under the sheet and off the cloth, on "
        "an outdoor cord and a GFCI outlet (RCD in Europe); LEDs give almost no heat",
        source=_OWN,
        is_hot=True,
    ),
    HouseholdMeans(text="Snow on blossom stays until it melts", source=_OWN),
)

NIGHT_CAUTION = (
    "Work in pairs, with a phone and lights; wet, cold and tired people get hurt, and "
    "nobody drives exhausted. Local codes, the fire department and licensed advice go "
    "before anything said here."
)
