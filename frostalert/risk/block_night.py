"""The record of a block's night, made of what was measured and judged of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from frostalert.model.assessment import BlockNight, StageInForce, Tier
from frostalert.model.block_columns import part_of, rows_of
from frostalert.model.crop import StageThreshold
from frostalert.model.site import Block
from frostalert.risk.items import Places
from frostalert.risk.judge import Judgement
from frostalert.risk.measure import SURELY_DRY, SURELY_WET, NightContext
from frostalert.risk.tiers import TIERS, tier_words


@dataclass(frozen=True, slots=True)
class NightBlocks:
    """The blocks of one night, as they were judged.

    Attributes
    ----------
    blocks, stages : sequence
        Every block with its stage in force.
    items : ndarray of int
        The place of each block's item; -1 where it is not watched.
    """

    frame: NightContext
    blocks: Sequence[Block]
    stages: Sequence[StageInForce]
    items: Places
    judged: Judgement

    def reason(self, place: int) -> str:
        """Return why a block has its tier, without making its record."""
        item = int(self.items[place])
        if item < 0:
            return self.stages[place].reason
        missing = self.frame.coverage.reason
        return tier_words(self.judged.tiers, self.judged.risks, item, missing)

    def records(self) -> tuple[BlockNight, ...]:
        """Return the records of all blocks."""
        known = self.items[self.items >= 0]
        if not known.size:
            return tuple(self._unwatched(place) for place in range(len(self.blocks)))
        # A night's items stand side by side.
        first, last = int(known[0]), int(known[-1])
        rows = rows_of(part_of(self.judged.columns, slice(first, last + 1)))
        return tuple(
            self._unwatched(place)
            if item < 0
            else self._record(place, item, rows[item - first])
            for place, item in enumerate(self.items.tolist())
        )

    def _record(self, place: int, item: int, values: dict[str, Any]) -> BlockNight:
        """Return the record of a block that is watched."""
        judged, frame = self.judged, self.frame
        if not judged.tiers.has_verdict[item]:
            return self._without_verdict(place, item, values)
        wet, bud = values["wet"], values["wet" if values["is_wet"] else "dry"]
        threshold = self.stages[place].threshold
        assert threshold is not None  # noqa: S101 - it is watched
        chance = values["wet_probability"]
        return BlockNight(
            **values,
            **self._told(place, TIERS[judged.tiers.codes[item]]),
            air_low_c=frame.night.source_low_c,
            air_low_from=frame.night.low_from,
            why_deciding=_why_deciding(chance, has_humidity=wet is not None),
            calls_hands=bool(judged.risks.hands.are_called[item]),
            hands_reason=judged.risks.hands.reason(item),
            adverse_start_utc=judged.adverse_utc(item),
            adverse_source=judged.adverse.sources.get(item, ""),
            why=why_missing(
                threshold,
                has_humidity=wet is not None,
                has_dewpoint=values["dewpoint_at_low_c"] is not None
                and chance is not None,
                stays_above=bud.first_below_utc is None,
            ),
        )

    def _without_verdict(
        self, place: int, item: int, values: dict[str, Any]
    ) -> BlockNight:
        """Return a block whose night cannot be judged.

        The known hours' low is not its low. Where humidity alone is missing the air is
        told; a chance of harm is not. Without any number nothing is told of the past.
        """
        told = self._told(place, TIERS[self.judged.tiers.codes[item]])
        low_c = told_low_c(self.frame)
        numbers = {}
        if self.judged.risks.is_judged[item]:
            names = ("past_low_c", "past_low_utc", "left_before_pct")
            numbers = {name: values[name] for name in names}
        return BlockNight(
            **told,
            **numbers,
            air_low_c=low_c,
            air_low_from=None if low_c is None else self.frame.night.low_from,
            why_deciding=told["reason"],
            site_low_c=self.judged.told_site_low_c(item),
        )

    def _unwatched(self, place: int) -> BlockNight:
        """Return a block that has nothing to be compared with."""
        low_c = told_low_c(self.frame)
        return BlockNight(
            **self._told(place, Tier.NONE),
            air_low_c=low_c,
            air_low_from=None if low_c is None else self.frame.night.low_from,
            why_deciding=self.stages[place].reason,
        )

    def _told(self, place: int, tier: Tier) -> dict[str, Any]:
        """Return what is told of every block."""
        block = self.blocks[place]
        return {
            "block": block.name,
            "crop": block.crop.name,
            "stage": self.stages[place],
            "tier": tier,
            "reason": self.reason(place),
        }


def told_low_c(frame: NightContext) -> float | None:
    """Return the source's low of a night that cannot be judged. [degC]"""
    coverage = frame.coverage
    has_low = coverage.has_air or frame.night.minimum_c is not None
    return frame.night.source_low_c if has_low and not coverage.is_too_old else None


def _why_deciding(chance: float | None, *, has_humidity: bool) -> str:
    """Return why the dry or the wet bud decides."""
    if chance is None or not has_humidity:
        return "humidity is missing, so only dry buds are judged"
    share = f"{100 * chance:.0f} % chance that buds are wet"
    if SURELY_DRY <= chance <= SURELY_WET:
        return f"{share}, so the colder decides"
    return share


_WHY_MISSING_ANYWHERE = {
    "start_air_c": "no water is planned for this block, or humidity is missing",
    "water_start_utc": "no water is expected to be put on",
    **dict.fromkeys(
        ("past_low_c", "past_low_time_utc"),
        "the night has not begun to cool, or no hour gone by is known",
    ),
    **dict.fromkeys(
        ("adverse_start_utc", "adverse_source"),
        "no other source has harm begin earlier",
    ),
}


@cache
def why_missing(
    threshold: StageThreshold,
    *,
    has_humidity: bool,
    has_dewpoint: bool,
    stays_above: bool,
) -> dict[str, str]:
    """Return the reason for every value that is missing."""
    why: dict[str, str] = {}
    no_curve = "no published kill curve: ranked, not estimated"
    if threshold.t10_c is None:
        single = "only the temperature at which damage begins is published"
        why |= dict.fromkeys(
            ("t10_c", "probability_below_t10", "hours_below_t10"), single
        )
    if threshold.t90_c is None:
        why |= dict.fromkeys(("t90_c", "hours_below_t90"), no_curve)
    if not threshold.has_curve:
        why |= dict.fromkeys(
            ("kill_dry_pct", "kill_wet_pct", "expected_kill_pct"), no_curve
        )
    if threshold.damage_begins_c is None:
        why["damage_begins_c"] = "the table gives 10 % and 90 % kill instead"
    why |= _WHY_MISSING_ANYWHERE
    why["crop_loss_pct"] = (
        why.get("kill_dry_pct")
        or "no published share of blossoms that a full crop of it needs"
    )
    if stays_above:
        why["first_below_utc"] = "the expected low stays above the alarm temperature"
    if not has_humidity:
        missing = "the forecast lacks humidity"
        why |= {"kill_wet_pct": why.get("kill_wet_pct", missing)}
        why |= dict.fromkeys(("wet_bulb_low_c", "wet_bud_low_c"), missing)
    if not has_dewpoint:
        why |= dict.fromkeys(
            ("dewpoint_at_low_c", "wet_bulb_at_low_c", "wet_probability"),
            "the forecast lacks humidity at the hour of the low",
        )
    return why
