"""Whether a block's chance of harm is enough to call people out of their beds.

Getting ready costs an afternoon's hour and is asked for early; a night's work costs a
night. So the two are judged apart: this is the second. Every block's night is judged at
once; the words are made for those that somebody reads.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from frostalert.agronomy.kill import (
    crop_loss_pct,
    kills_at_nodes,
    mean_over_error,
)
from frostalert.model.assessment import BlockNight
from frostalert.model.forecast import BoolArray, FloatArray
from frostalert.model.percent import percent_of
from frostalert.model.site import AlarmAt, Block, Rules, StartBy
from frostalert.physics.start_reading import LIT_ABOVE_ALARM_C
from frostalert.risk.thermometer_start import ThermometerStart

LEAST_PROBABILITY, SURE_PROBABILITY = 0.1, 0.6
"""Below this chance nobody is called, whatever is at stake; from this on everybody is,
whatever it costs. [0..1] Common practice, no source."""
MOST_CROP_LOSS_PCT = 5.0
"""Loss of a full crop that a block with `alarm_at = "crop loss"` bears. [%] Common
practice, no source."""
CROP_LOSS_SIGMA_C = 1.5
"""Error of the kill temperatures where the share of buds counts. [degC] Common
practice, no source."""
THERMOMETER_PROBABILITY = 0.3
"""Chance from which hands are called in a block that waits for its thermometer, while
that does not count. [0..1] Common practice, no source."""
_FULL_BLOOM = "full bloom"


class Grounds(IntEnum):
    """By what hands are called for a block, or are not."""

    ENOUGH = 0
    TOO_LITTLE = 1
    WORTH_IT = 2
    COSTS_MORE = 3
    NOT_YET = 4
    THERMOMETER = 5


_CALLS = np.array([True, False, True, False, False, False])
"""Which of the grounds call hands; of a thermometer it is told apart."""
_ENDINGS = {
    Grounds.ENOUGH: "",
    Grounds.TOO_LITTLE: ", too little to call hands",
    Grounds.WORTH_IT: "; more is at stake than a night costs",
    Grounds.COSTS_MORE: "; a night's work costs more than it saves",
    Grounds.NOT_YET: ", not yet enough to call hands",
    Grounds.THERMOMETER: "",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stakes:
    """What hands are called for by, one value a block or, when taken, an item.

    Attributes
    ----------
    crop_value, night_cost : ndarray
        What a full crop is worth and the cheapest night's work. [site's currency] NaN
        where that is not said.
    least_chance : ndarray
        Chance from which hands are called where worth says nothing. [0..1]
    counts_crop : ndarray of bool
        Whether the crop that is lost counts, and not the first bud.
    """

    crop_value: FloatArray
    night_cost: FloatArray
    least_chance: FloatArray
    counts_crop: BoolArray

    def take(self, places: NDArray[np.intp]) -> "Stakes":
        """Return the stakes of items by their blocks' places."""
        return Stakes(
            crop_value=self.crop_value[places],
            night_cost=self.night_cost[places],
            least_chance=self.least_chance[places],
            counts_crop=self.counts_crop[places],
        )


def stakes_of(blocks: Sequence[Block], rules: Rules) -> Stakes:
    """Return what each block has at stake."""
    costs = [
        min((cost for _, cost in block.night_costs), default=np.nan) for block in blocks
    ]
    least = [
        max(rules.start_probability, THERMOMETER_PROBABILITY)
        if block.start_by is StartBy.THERMOMETER
        else rules.start_probability
        for block in blocks
    ]
    values = [
        np.nan if block.crop_value is None else block.crop_value for block in blocks
    ]
    return Stakes(
        crop_value=np.array(values, dtype=np.float64),
        night_cost=np.array(costs, dtype=np.float64),
        least_chance=np.array(least, dtype=np.float64),
        counts_crop=np.array([_counts_crop(block) for block in blocks], dtype=np.bool_),
    )


def _counts_crop(block: Block) -> bool:
    """Return whether hands are called for a block by what of its crop is lost.

    Not before somebody saw it in full bloom: until then every bud counts.
    """
    if block.alarm_at is not AlarmAt.CROP_LOSS or block.crop.needed_pct is None:
        return False
    names = block.crop.stage_names
    if block.stage not in names or _FULL_BLOOM not in names:
        return False
    return names.index(block.stage) >= names.index(_FULL_BLOOM)


def is_by_crop_loss(record: BlockNight, block: Block) -> bool:
    """Return whether hands are called for a block by what of the crop is lost.

    Parameters
    ----------
    record : BlockNight
        Its night.
    block : Block
        As it is set.

    Returns
    -------
    bool
        False where it does not ask for that, or it cannot be told.
    """
    threshold = record.stage.threshold
    has_numbers = record.bud is not None and record.left_before_pct is not None
    has_curve = threshold is not None and threshold.has_curve
    return has_numbers and has_curve and _counts_crop(block)


class Odds(NamedTuple):
    """What was measured of the items that calls hands. Shape (items,) each.

    Attributes
    ----------
    night_probability : ndarray
        Chance of reaching the alarm temperature, with the hours gone by: water that
        runs is not called off before it is over. [0..1]
    night_low_c, low_sigma_c : ndarray
        The deciding bud's low of the night, and the error of it. [degC]
    t10_c, t90_c : ndarray
        What it is compared with. [degC] NaN where nothing is published.
    left_before_pct, needed_pct : ndarray
        Buds left before the night, and those that a full crop needs. [%]
    expected_kill_pct, crop_loss_pct : ndarray
        What the night is expected to take. [%]
    """

    night_probability: FloatArray
    night_low_c: FloatArray
    low_sigma_c: FloatArray
    t10_c: FloatArray
    t90_c: FloatArray
    left_before_pct: FloatArray
    needed_pct: FloatArray
    expected_kill_pct: FloatArray
    crop_loss_pct: FloatArray


@dataclass(frozen=True, slots=True)
class Hands:
    """Whether hands are called for items, by what, and whether their hour has come.

    Attributes
    ----------
    chance : ndarray
        The chance that counts. [0..1]
    is_by_crop : ndarray of bool
        Whether that is of losing crop.
    are_called, is_due : ndarray of bool
        Whether hands are called, and whether the hour has come: by a thermometer it has
        whatever the forecast's hour is.
    grounds : ndarray of int
        By what. `Grounds`.
    notes : dict of int to str
        What is to be said of an item's thermometer.
    """

    chance: FloatArray
    is_by_crop: BoolArray
    are_called: BoolArray
    is_due: BoolArray
    grounds: NDArray[np.int8]
    notes: dict[int, str]

    def reason(self, item: int) -> str:
        """Return why hands are called for an item, or are not."""
        what = "reaching the alarm temperature"
        if self.is_by_crop[item]:
            what = f"losing over {MOST_CROP_LOSS_PCT:.0f} % of the crop"
        told = f"{percent_of(self.chance[item])} chance of {what}"
        ending = _ENDINGS[Grounds(int(self.grounds[item]))]
        return told + self.notes.get(item, "") + ending


def hands_for(odds: Odds, stakes: Stakes) -> Hands:
    """Return whether each item's night is worth a night's work.

    By worth where the block says what its crop and a night's work are worth; else by
    the chance.
    """
    by_crop = _crop_loss_chance(odds, stakes.counts_crop)
    is_by_crop = ~np.isnan(by_crop)
    chance = np.where(is_by_crop, by_crop, odds.night_probability)
    loss = np.where(
        np.isnan(odds.crop_loss_pct), odds.expected_kill_pct, odds.crop_loss_pct
    )
    saving = stakes.crop_value * loss / 100.0
    has_worth = ~np.isnan(saving) & ~np.isnan(stakes.night_cost)
    grounds = np.full(chance.size, Grounds.NOT_YET, dtype=np.int8)
    # From what goes last to what goes before all else.
    for where, ground in (
        (chance >= stakes.least_chance, Grounds.ENOUGH),
        (has_worth, Grounds.COSTS_MORE),
        (has_worth & (saving > stakes.night_cost), Grounds.WORTH_IT),
        (chance < LEAST_PROBABILITY, Grounds.TOO_LITTLE),
        (chance >= SURE_PROBABILITY, Grounds.ENOUGH),
    ):
        grounds[where] = ground
    return Hands(
        chance=chance,
        is_by_crop=is_by_crop,
        are_called=_CALLS[grounds],
        is_due=np.zeros(chance.size, dtype=np.bool_),
        grounds=grounds,
        notes={},
    )


def _crop_loss_chance(odds: Odds, counts_crop: BoolArray) -> FloatArray:
    """Return the chance that more of the crop is lost than a block bears. [0..1]

    NaN where the block does not ask for it, or where no curve is published.
    """
    found = np.full(counts_crop.size, np.nan)
    where = counts_crop & np.isfinite(odds.t10_c + odds.t90_c)
    if where.any():
        sigma_c = np.hypot(odds.low_sigma_c[where], CROP_LOSS_SIGMA_C)
        curve = odds.t10_c[where], odds.t90_c[where]
        kill = kills_at_nodes(odds.night_low_c[where], sigma_c, *curve)
        left, needed = odds.left_before_pct[where], odds.needed_pct[where]
        lost = crop_loss_pct(kill, left[:, None], needed[:, None])
        found[where] = mean_over_error(lost > MOST_CROP_LOSS_PCT)
    return found


@dataclass(frozen=True, slots=True)
class Wait:
    """An item that waits for its thermometer.

    Attributes
    ----------
    reading_c : float
        What it reads when work must start. [degC] NaN where that is not known.
    """

    item: int
    thermometer: ThermometerStart
    reading_c: float


def by_thermometers(hands: Hands, waits: Sequence[Wait], by_utc: datetime) -> Hands:
    """Return the same, by its thermometer where one can be trusted.

    A likely harm is called for whatever it reads.

    Parameters
    ----------
    hands : Hands
        By chance and worth.
    waits : sequence of Wait
        Items that wait for a thermometer.
    by_utc : datetime
        When who is called now has everything running: the hour that it is asked for.
    """
    open_waits = [w for w in waits if hands.chance[w.item] < SURE_PROBABILITY]
    if not open_waits:
        return hands
    called, due = hands.are_called.copy(), hands.is_due.copy()
    grounds, notes = hands.grounds.copy(), dict(hands.notes)
    for wait in open_waits:
        near = _nears(wait, by_utc)
        place, name = wait.item, wait.thermometer.sensor
        if near is None:
            why = wait.thermometer.lapsed
            notes[place] = f"; its thermometer does not count: {why}"
            continue
        grounds[place] = Grounds.THERMOMETER
        called[place] = due[place] = near
        notes[place] = (
            f"; {name} nears the reading to start at"
            if near
            else f"; {name} is not near the reading to start at yet"
        )
    return Hands(hands.chance, hands.is_by_crop, called, due, grounds, notes)


def _nears(wait: Wait, by_utc: datetime) -> bool | None:
    """Return whether a thermometer nears the start reading; None if it cannot say."""
    ahead_c = wait.thermometer.air_at_c(by_utc)
    if wait.thermometer.lapsed or ahead_c is None or np.isnan(wait.reading_c):
        return None
    return ahead_c <= wait.reading_c


def start_reading_c(
    alarm_c: FloatArray,
    bud_low_c: FloatArray,
    site_low_c: FloatArray,
    start_air_c: FloatArray,
) -> FloatArray:
    """Return what blocks' air reads when water or heat must start.

    Parameters
    ----------
    alarm_c : ndarray of float
        Alarm temperatures. [degC]
    bud_low_c, site_low_c : ndarray of float
        Lows of the deciding bud and of the air. [degC]
    start_air_c : ndarray of float
        Air at the start of water. [degC] NaN where none is planned.

    Returns
    -------
    ndarray of float
        The warmer of the two: which of them the plan takes is not known here. [degC]
        NaN where the air is not known.
    """
    above_c = np.maximum(0.0, site_low_c - bud_low_c)
    lit_c = alarm_c + LIT_ABOVE_ALARM_C + above_c
    return np.where(np.isnan(lit_c), np.nan, np.fmax(lit_c, start_air_c))
