"""What a plan would be with fewer hands, less water, or without one equipment."""

from collections.abc import Callable
from dataclasses import replace
from difflib import get_close_matches

from frostalert.errors import QuantityError, UsageError
from frostalert.model.site import Farm
from frostalert.physics.units import parse_quantity

_OTHER_WORDS = {"water": ["tank"], "people": ["hands"], "inflow": ["refill"]}
_EXAMPLE = 'write for instance --what-if "hands=1, tank=800 gal, without=Lane line"'


def parse_what_if(text: str, farm: Farm) -> Farm:
    """Return a holding changed as a what-if says.

    Parameters
    ----------
    text : str
        Changes between commas: hands=1, tank=800 gal, refill=2 gpm, without=NAME.
    farm : Farm
        The holding as it is.

    Returns
    -------
    Farm
        The changed one.

    Raises
    ------
    UsageError
        If a change cannot be understood; the message says what to write.
    """
    changed = farm
    for part in text.split(","):
        name, mark, value = (piece.strip() for piece in part.partition("="))
        change = _CHANGES.get(name)
        if not mark or change is None:
            known = ", ".join(_CHANGES)
            near = _OTHER_WORDS.get(name) or get_close_matches(name, _CHANGES, n=1)
            hint = f'; did you mean "{near[0]}"?' if near else ""
            message = f'"{part.strip()}" is no change ({known}){hint}; {_EXAMPLE}'
            raise UsageError(message)
        try:
            changed = change(changed, value)
        except QuantityError as error:
            message = f"--what-if {name}: {error}"
            raise UsageError(message) from error
    return changed


def _hands(farm: Farm, value: str) -> Farm:
    """Return the holding with other hands; who is left keeps their names."""
    if not value.isdigit() or not int(value):
        message = f'hands must be a whole number from 1, not "{value}"; {_EXAMPLE}'
        raise UsageError(message)
    crew = farm.supplies.crew[: int(value)]
    return replace(farm, supplies=replace(farm.supplies, hands=int(value), crew=crew))


def _tank(farm: Farm, value: str) -> Farm:
    """Return the holding with other water."""
    litres = parse_quantity(value, "volume")
    return replace(farm, supplies=replace(farm.supplies, water_l=litres))


def _refill(farm: Farm, value: str) -> Farm:
    """Return the holding with another inflow."""
    flow = parse_quantity(value, "flow")
    return replace(farm, supplies=replace(farm.supplies, refill_l_per_h=flow))


def _without(farm: Farm, value: str) -> Farm:
    """Return the holding without an equipment."""
    kept = tuple(item for item in farm.equipment if item.name != value)
    if len(kept) == len(farm.equipment):
        known = ", ".join(f'"{item.name}"' for item in farm.equipment) or "none"
        message = f'there is no equipment "{value}"; known are {known}'
        raise UsageError(message)
    return replace(farm, equipment=kept)


_CHANGES: dict[str, Callable[[Farm, str], Farm]] = {
    "hands": _hands,
    "tank": _tank,
    "refill": _refill,
    "without": _without,
}
