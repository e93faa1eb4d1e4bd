"""The settings that past springs are played with: the present one, and others."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from frostalert.model.past import SettingName
from frostalert.model.site import AlarmAt, Block, Farm, Rules
from frostalert.model.warmth import Sighting

CAREFUL, LESS_CAREFUL = 0.6, 1.7
"""Factors of the chances from which people get ready and are called. [1] Common
practice, no source."""
_LEAST, _MOST, _CLEAR = 0.05, 0.9, 0.9
_PER_CENT = 100.0
_BLOOM = "full bloom"


@dataclass(frozen=True, slots=True)
class Setting:
    """A holding as it would be with one setting changed.

    Attributes
    ----------
    keys : str
        What the configuration would say.
    why_not : str
        Why it cannot be played; empty if it can.
    """

    name: SettingName
    farm: Farm
    keys: str = ""
    why_not: str = ""


def settings_to_try(
    farm: Farm, sightings: Sequence[Sighting] = ()
) -> tuple[Setting, ...]:
    """Return the present setting, three others, and the other `alarm_at`.

    Parameters
    ----------
    farm : Farm
        The holding as configured.
    sightings : sequence of Sighting
        When stages were seen: what goes by loss of crop begins with a bloom seen.

    Returns
    -------
    tuple of Setting
        The present one first. What this season has already lost counts in none.
    """
    farm = _every(farm, lambda block: replace(block, buds_lost_pct=0.0))
    return (Setting(SettingName.PRESENT, farm), *_others(farm, sightings))


def _others(farm: Farm, sightings: Sequence[Sighting]) -> Iterator[Setting]:
    """Give the other settings."""
    for name, factor in (
        (SettingName.CAREFUL, CAREFUL),
        (SettingName.LESS_CAREFUL, LESS_CAREFUL),
    ):
        rules = scaled(farm.rules, factor)
        # A block that goes by its worth would not heed chance_start.
        yield Setting(name, _by_chance(replace(farm, rules=rules)), _keys(rules, farm))
    yield _worth(farm)
    yield _other_alarm(farm, sightings)


def _keys(rules: Rules, farm: Farm) -> str:
    """Return what the configuration would say for other chances."""
    keys = [
        f"chance_near = {rules.near_probability:g}",
        f"chance_far = {rules.far_probability:g}",
        f"chance_start = {rules.start_probability:g}",
    ]
    if rules.clear_probability != farm.rules.clear_probability:
        keys.append(f"chance_clear = {rules.clear_probability:g}")
    if any(_has_worth(block) for block in farm.blocks):
        keys.append("no night_costs")
    return ", ".join(keys)


def scaled(rules: Rules, factor: float) -> Rules:
    """Return rules with their chances so many times as high.

    Parameters
    ----------
    rules : Rules
        As configured.
    factor : float
        Below one people are called sooner.

    Returns
    -------
    Rules
        With whole per cents, and a clearing limit that stays below the raising ones.
    """

    def changed(chance: float) -> float:
        whole = round(chance * factor * _PER_CENT) / _PER_CENT
        return min(max(whole, _LEAST), _MOST)

    near, far = changed(rules.near_probability), changed(rules.far_probability)
    return replace(
        rules,
        near_probability=near,
        far_probability=far,
        start_probability=changed(rules.start_probability),
        clear_probability=min(
            rules.clear_probability, round(_CLEAR * min(near, far), 3)
        ),
    )


def _worth(farm: Farm) -> Setting:
    """Return the holding by worth; by the chance alone if it goes by worth already."""
    if any(_has_worth(block) for block in farm.blocks):
        keys = "no night_costs"
        return Setting(SettingName.BY_CHANCE, _by_chance(farm), keys)
    return Setting(
        SettingName.BY_WORTH,
        farm,
        keys="crop_value, night_costs",
        why_not="needs crop_value and night_costs",
    )


def _has_worth(block: Block) -> bool:
    """Return whether a block goes by what is at stake."""
    return block.crop_value is not None and bool(block.night_costs)


def _by_chance(farm: Farm) -> Farm:
    """Return the holding with no block that goes by what is at stake."""
    return _every(farm, lambda block: replace(block, night_costs=()))


def _other_alarm(farm: Farm, sightings: Sequence[Sighting]) -> Setting:
    """Return the holding by loss of crop; by first harm if it all goes by that."""
    able = [block for block in farm.blocks if block.crop.needed_pct is not None]
    name, other = SettingName.CROP_LOSS, AlarmAt.CROP_LOSS
    if able and all(block.alarm_at is AlarmAt.CROP_LOSS for block in able):
        name, other = SettingName.FIRST_HARM, AlarmAt.FIRST_HARM
    keys = f'alarm_at = "{other.value}"'
    if not able:
        return Setting(name, farm, keys, "for apple, pear and peach alone")
    if name is SettingName.CROP_LOSS and not _was_bloom_seen(able, sightings):
        return Setting(name, farm, keys, "needs full bloom seen (--crop-stages)")
    changed = _every(
        farm,
        lambda block: (
            replace(block, alarm_at=other)
            if block.crop.needed_pct is not None
            else block
        ),
    )
    return Setting(name, changed, keys)


def _was_bloom_seen(blocks: Sequence[Block], sightings: Sequence[Sighting]) -> bool:
    """Return whether any of some blocks was seen in full bloom in those years."""
    names = {block.name for block in blocks}
    return any(item.block in names and item.stage == _BLOOM for item in sightings)


def _every(farm: Farm, change: Callable[[Block], Block]) -> Farm:
    """Return the holding with a change in every block."""
    return replace(farm, blocks=tuple(change(block) for block in farm.blocks))
