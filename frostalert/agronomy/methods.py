"""The methods, as data: when each can work, what it gains, what can hurt.

The configuration is checked against this list. What a method is worth in one block
tonight is worked out in `plan.water_options` and `plan.warm_options`.
"""

from dataclasses import dataclass
from enum import StrEnum


class MethodKind(StrEnum):
    """What a method works by: its options are reckoned alike."""

    OVER_PLANT_WATER = "water over the plants"
    HAND_WATER = "water by hand"
    UNDER_PLANT_WATER = "water under the plants"
    COVER = "cover"
    FIRE = "heat"
    FAN = "fan"
    LAMP = "lamp under a cover"


WATER_KINDS = frozenset(
    {
        MethodKind.OVER_PLANT_WATER,
        MethodKind.HAND_WATER,
        MethodKind.UNDER_PLANT_WATER,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """A way to protect plants.

    Attributes
    ----------
    name : str
        Name in the configuration.
    kind : MethodKind
        What it works by.
    caution : str
        What can hurt people or the crop, said beside every mention.
    is_before_dark : bool
        Whether it is put in place before dark and needs no start in the night.
    most_wind_mps : float or None
        Wind above which it is not used. [m/s] None where wind does not forbid it.
    is_open_fire : bool
        Whether it burns in the open.
    """

    name: str
    kind: MethodKind
    caution: str
    is_before_dark: bool = False
    most_wind_mps: float | None = None
    is_open_fire: bool = False

    @property
    def wets_buds(self) -> bool:
        """Whether it puts water on the buds."""
        return self.kind in (MethodKind.OVER_PLANT_WATER, MethodKind.HAND_WATER)


MOST_SPRINKLING_WIND_MPS = 4.5
"""Wind at 10 m above which nothing is sprinkled. [m/s] 10 mph: Virginia Tech, 2017,
after UF Circular 287."""
MOST_STILL_WIND_MPS = 2.5
"""Wind at 2 m above which an inversion is unlikely, and no open fire is lit. [m/s]
FAO, Frost Protection, vol. 1, 2005, p. 160; for fire common practice, no source."""

_WATER = (
    "Once begun it must not stop before ice melts freely and the measured wet bulb is "
    "above freezing; too little water does more harm than none. Ice breaks limbs: keep "
    "out from under them. Keep electric leads out of the wet, outdoor-rated, with "
    "residual-current protection; keep spray off public roads."
)
_FIRE = (
    "Only where and when local rules allow open heat, never left alone and never in "
    "wind; many small heats, not one big one; refuel cold; carbon monoxide kills in "
    "tunnels and sheds."
)

METHODS = {
    method.name: method
    for method in (
        Method(
            name="over-plant sprinklers",
            kind=MethodKind.OVER_PLANT_WATER,
            caution=_WATER,
            most_wind_mps=MOST_SPRINKLING_WIND_MPS,
        ),
        Method(
            name="micro-sprinklers",
            kind=MethodKind.OVER_PLANT_WATER,
            caution=_WATER,
            most_wind_mps=MOST_SPRINKLING_WIND_MPS,
        ),
        Method(
            name="hand wetting",
            kind=MethodKind.HAND_WATER,
            caution=_WATER,
            most_wind_mps=MOST_SPRINKLING_WIND_MPS,
        ),
        Method(
            name="under-plant sprinklers",
            kind=MethodKind.UNDER_PLANT_WATER,
            caution="Keep electric leads out of the wet, with residual-current "
            "protection; drain the lines before they freeze.",
            most_wind_mps=MOST_STILL_WIND_MPS,
        ),
        Method(
            name="row cover",
            kind=MethodKind.COVER,
            caution="On before dusk, clear of blossoms where it can be, off in the "
            "morning for bees and heat. Keep flames and lamps away from the fabric.",
            is_before_dark=True,
        ),
        Method(
            name="propane heaters",
            kind=MethodKind.FIRE,
            caution=_FIRE,
            most_wind_mps=MOST_STILL_WIND_MPS,
        ),
        Method(
            name="small fires",
            kind=MethodKind.FIRE,
            caution=_FIRE,
            most_wind_mps=MOST_STILL_WIND_MPS,
            is_open_fire=True,
        ),
        Method(
            name="fan",
            kind=MethodKind.FAN,
            caution="Works only with warmer air above: not in wind, and not in "
            "freezing fog, when ice can break a blade.",
            most_wind_mps=MOST_STILL_WIND_MPS,
        ),
        Method(
            name="lamps under cover",
            kind=MethodKind.LAMP,
            caution="Keep hot lamps off fabric and fixed in place; outdoor-rated leads "
            "with residual-current protection.",
        ),
    )
}


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

NIGHT_CAUTION = (
    "Work in pairs, with a phone and lights; wet, cold and tired people get hurt, and "
    "nobody drives exhausted. Local codes, the fire authority and licensed advice go "
    "before anything said here."
)
