"""The methods a block can have, each with the cautions that belong to it.

What a method gains and when it can work is not judged here: this is the list that the
configuration is checked against, and the cautions that stand beside each in messages.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Method:
    """A way to protect plants.

    Attributes
    ----------
    name : str
        Name in the configuration.
    wets_buds : bool
        Whether it puts water on the buds.
    is_before_dark : bool
        Whether it is put in place before dark and needs no start in the night.
    caution : str
        What can hurt people or the crop, said beside every mention.
    """

    name: str
    wets_buds: bool
    caution: str
    is_before_dark: bool = False


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
        Method("over-plant sprinklers", True, _WATER),
        Method("micro-sprinklers", True, _WATER),
        Method("hand wetting", True, _WATER),
        Method(
            "under-plant sprinklers",
            False,
            "Keep electric leads out of the wet, with residual-current protection; "
            "drain the lines before they freeze.",
        ),
        Method(
            "row cover",
            False,
            "On before dusk, clear of blossoms where it can be, off in the morning for "
            "bees and heat. Keep flames and lamps away from the fabric.",
            is_before_dark=True,
        ),
        Method("propane heaters", False, _FIRE),
        Method("small fires", False, _FIRE),
        Method(
            "fan",
            False,
            "Works only with warmer air above: not in wind, and not in freezing fog, "
            "when ice can break a blade.",
        ),
        Method(
            "lamps under cover",
            False,
            "Keep hot lamps off fabric and fixed in place; outdoor-rated leads with "
            "residual-current protection.",
        ),
    )
}

NIGHT_CAUTION = (
    "Work in pairs, with a phone and lights; wet, cold and tired people get hurt, and "
    "nobody drives exhausted. Local codes, the fire authority and licensed advice go "
    "before anything said here."
)
