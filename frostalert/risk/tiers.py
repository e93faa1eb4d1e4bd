"""When a block's night becomes an outlook, a call to prepare, or a call to act.

All blocks on all nights are judged at once: each tier by its place among `TIERS`, with
what it rests on. Its words are made for whoever reads them.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from frostalert.model.assessment import Tier
from frostalert.model.block_columns import as_moment
from frostalert.model.block_values import TimeArray
from frostalert.model.forecast import BoolArray, FloatArray
from frostalert.model.percent import at_least, percent_of
from frostalert.model.site import Rules
from frostalert.risk.hands import Hands
from frostalert.risk.timing import acts_at_utc, send_by_utc

NEAR = timedelta(days=3)
FROST_TENDER_C = -3.0
"""Blocks that are hurt above this take the source's own word "frost" as a sign, though
its air stays warmer. [degC] Common practice, no source."""
TIERS = tuple(Tier)
RANKS = np.array([tier.rank for tier in TIERS])
Codes = NDArray[np.int8]


class Basis(IntEnum):
    """What a tier rests on."""

    GAP = 0
    OVER = 1
    UNDER_LIMIT = 2
    FROST_TEXT = 3
    MINIMUM = 4
    CHANCE = 5
    BEGIN = 6
    WAITING = 7
    AT_HAND = 8
    DUE = 9


_RAISED = Basis.CHANCE
"""From this one on a night is at risk by its own hours."""
_TIER_OF = np.array(
    [
        TIERS.index(tier)
        for tier in (
            Tier.CANNOT_JUDGE,
            Tier.NONE,
            Tier.NONE,
            Tier.OUTLOOK,
            Tier.OUTLOOK,
            Tier.OUTLOOK,
            Tier.PREPARE,
            Tier.PREPARE,
            Tier.ACT,
            Tier.ACT,
        )
    ],
    dtype=np.int8,
)
"""The tier of each basis; of a gap its night says which."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Risks:
    """What the tiers of items are told by. Shape (items,) each.

    Attributes
    ----------
    probability : ndarray
        Chance that the deciding bud low to come reaches the alarm temperature, 0 to 1.
    night_probability : ndarray
        The same with the hours gone by since it began to cool, 0 to 1: whoever runs
        water is told of the night until its cold is over.
    hands : Hands
        Whether that is enough to call people out, and why.
    low_utc, running_by_utc, over_utc : ndarray
        Hour of the low; when protection must be running; when the cold is over.
    sunset_utc : ndarray
        Sunset of the night; NaT where there is none.
    is_judged : ndarray of bool
        Whether there are numbers to judge by.
    """

    probability: FloatArray
    night_probability: FloatArray
    hands: Hands
    low_utc: TimeArray
    running_by_utc: TimeArray
    over_utc: TimeArray
    sunset_utc: TimeArray
    is_judged: BoolArray


NO_GAP = -1
"""In place of a tier: no hour of the night is missing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """What speaks of items whose hours are no risk, or not known. Shape (items,) each.

    Attributes
    ----------
    gap : ndarray of int
        What a night is of which hours are missing, a place among `TIERS`; `NO_GAP`
        where none is.
    says_frost : ndarray of bool
        Whether the forecast's own weather text says frost.
    minimum_c : ndarray
        The source's own low of the night. [degC] NaN where it gives none.
    alarm_c : ndarray
        Alarm temperature of the block. [degC]
    """

    gap: Codes
    says_frost: BoolArray
    minimum_c: FloatArray
    alarm_c: FloatArray


@dataclass(frozen=True, slots=True)
class Tiers:
    """The tiers of items.

    Attributes
    ----------
    codes : ndarray of int
        Places among `TIERS`.
    bases : ndarray of int
        What each rests on. `Basis`.
    has_verdict : ndarray of bool
        Whether the night was judged by its hours: not where hours are missing and the
        known ones are no risk, for the known hours' low is not its low.
    limit : ndarray
        Chance from which the night counts. [0..1]
    """

    codes: Codes
    bases: Codes
    has_verdict: BoolArray
    limit: FloatArray


def tiers_of(risks: Risks, signs: Signs, now_utc: datetime, rules: Rules) -> Tiers:
    """Return the tiers of items.

    References
    ----------
    .. [1] The limits are common practice, no source.
    """
    now = as_moment(now_utc)
    is_near = risks.low_utc - now <= np.timedelta64(NEAR)
    limit = np.where(is_near, rules.near_probability, rules.far_probability)
    is_ahead = now < risks.over_utc
    is_at_risk = (
        risks.is_judged
        & is_ahead
        & ((risks.night_probability >= limit) | risks.hands.are_called)
    )
    bases = np.where(is_ahead, Basis.UNDER_LIMIT, Basis.OVER).astype(np.int8)
    bases[is_at_risk] = _raised(risks, now, rules)[is_at_risk]
    has_gap = signs.gap != NO_GAP
    is_gap = has_gap | ~risks.is_judged
    has_verdict = risks.is_judged & (is_at_risk | ~has_gap)
    # A cold that is over is over by every sign.
    may_come = ~is_at_risk & (is_ahead | ~risks.is_judged)
    is_tender = signs.alarm_c >= FROST_TENDER_C
    by_minimum = has_gap & (signs.minimum_c <= signs.alarm_c)
    bases[is_gap & ~is_at_risk] = Basis.GAP
    bases[may_come & by_minimum] = Basis.MINIMUM
    says_frost = signs.says_frost & is_tender & risks.is_judged
    bases[may_come & says_frost] = Basis.FROST_TEXT
    is_by_gap = (bases == Basis.GAP) & has_gap
    codes = np.where(is_by_gap, signs.gap, _TIER_OF[bases])
    return Tiers(codes, bases, has_verdict, limit)


def _raised(risks: Risks, now: np.datetime64, rules: Rules) -> Codes:
    """Return how far the time of nights at risk has come."""
    hands = risks.hands
    bases = np.full(hands.chance.size, Basis.CHANCE, dtype=np.int8)
    bases[now >= send_by_utc(risks.running_by_utc, risks.sunset_utc, rules)] = (
        Basis.BEGIN
    )
    is_time = now >= acts_at_utc(risks.running_by_utc, rules)
    # What can be started, and what must not, only the plan knows.
    bases[is_time] = np.where(hands.are_called, Basis.AT_HAND, Basis.WAITING)[is_time]
    bases[hands.is_due] = Basis.DUE
    return bases


def tier_words(tiers: Tiers, risks: Risks, item: int, gap_reason: str) -> str:
    """Return why an item has its tier.

    Parameters
    ----------
    tiers : Tiers
        The tiers.
    risks : Risks
        What they are told by.
    item : int
        Which one.
    gap_reason : str
        What is missing of its night, in words; empty if nothing is.
    """
    basis = Basis(int(tiers.bases[item]))
    if basis >= _RAISED:
        words = _raised_words(basis, risks, item, _chance(tiers, risks, item))
        # What is not known may be colder.
        return f"{at_least(words)}; {gap_reason}" if gap_reason else words
    if basis is Basis.OVER:
        return "the cold hours of this night are over"
    if basis is Basis.MINIMUM:
        low = "the forecast's own low of the night reaches the alarm temperature"
        return f"{low}; {gap_reason}"
    if basis is Basis.GAP:
        return gap_reason or "no hour of it is known"
    chance = f"{percent_of(risks.probability[item])} chance"
    under = f"{chance} of reaching the alarm temperature, under the limit"
    if basis is Basis.FROST_TEXT:
        return f"the forecast's own weather text says frost; {under}"
    return under


def _chance(tiers: Tiers, risks: Risks, item: int) -> str:
    """Return the chance of harm in words, and that the cold goes on where it does."""
    probability, limit = risks.probability[item], tiers.limit[item]
    chance = f"{percent_of(probability)} chance"
    if probability < limit <= risks.night_probability[item]:
        return f"{chance} in the hours to come; the cold of this night is not over"
    return chance


def _raised_words(basis: Basis, risks: Risks, item: int, chance: str) -> str:
    """Return why a night at risk has come as far as it has."""
    if basis is Basis.BEGIN:
        return f"{chance}, and it is time to get ready"
    if basis is Basis.AT_HAND:
        return f"{chance}, and the cold is at hand"
    if basis is Basis.CHANCE:
        return f"{chance} of reaching the alarm temperature"
    return risks.hands.reason(item)
