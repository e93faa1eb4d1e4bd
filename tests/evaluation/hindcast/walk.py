"""Walk forward through the nights: each source corrected by what is past, no more."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from frostalert.model.forecast import BoolArray, FloatArray
from frostalert.model.site import Rules
from frostalert.risk.source_bias import FADE, FadeRules, fade_errors
from tests.evaluation.hindcast.pairs import Dates, Series

FROST_MONTHS = (11, 12, 1, 2, 3, 4, 5)
SPRING_MONTHS = (3, 4, 5)
NOTHING_HELD_BACK = replace(
    FADE, enough_nights=0.0, warmer_share=1.0, most_warmer_c=np.inf
)
"""Believes a warmer lesson as it believes a colder one: what caution costs."""
_DAY = np.timedelta64(1, "D")


@dataclass(frozen=True, slots=True, kw_only=True)
class Nights:
    """The nights of all stations at one lead on which every source had spoken.

    Lows have the shape (sources, nights): as forecast, corrected, and corrected as if
    warmer lessons were not held back. [degC]
    """

    lead_days: int
    station: NDArray[np.str_]
    night: Dates
    raw_c: FloatArray
    corrected_c: FloatArray
    unheld_c: FloatArray
    analysed_c: FloatArray
    left_out: int = 0
    """Nights on which one of the sources had not spoken."""

    @property
    def ahead(self) -> int:
        """How many nights ahead: the low of one day's lead is that of tonight."""
        return self.lead_days - 1

    @property
    def spread_c(self) -> FloatArray:
        """From the coldest corrected low to the warmest. [degC]"""
        return np.asarray(np.ptp(self.corrected_c, axis=0))

    def months(self, months: Sequence[int]) -> BoolArray:
        """Return which nights lie in some months."""
        return np.isin(self.night.astype("datetime64[M]").astype(int) % 12 + 1, months)

    def only(self, chosen: BoolArray) -> "Nights":
        """Return some of the nights."""
        return Nights(
            lead_days=self.lead_days,
            station=self.station[chosen],
            night=self.night[chosen],
            raw_c=self.raw_c[:, chosen],
            corrected_c=self.corrected_c[:, chosen],
            unheld_c=self.unheld_c[:, chosen],
            analysed_c=self.analysed_c[chosen],
        )


def walk_forward(series: Sequence[Series], lead_days: int) -> Nights:
    """Return the nights of November to May at one lead, corrected night by night.

    Nights of other months teach as well.
    """
    own = [item for item in series if item.lead_days == lead_days]
    nights = Nights(
        lead_days=lead_days,
        station=np.concatenate([[item.station] * item.night.size for item in own]),
        night=np.concatenate([item.night for item in own]),
        raw_c=np.concatenate([item.lows_c for item in own], axis=1),
        corrected_c=np.concatenate([correct(item) for item in own], axis=1),
        unheld_c=np.concatenate(
            [correct(item, NOTHING_HELD_BACK) for item in own], axis=1
        ),
        analysed_c=np.concatenate([item.analysed_c for item in own]),
    )
    is_known = np.isfinite(nights.raw_c).all(axis=0)
    is_counted = nights.months(FROST_MONTHS)
    left_out = int(np.count_nonzero(is_counted & ~is_known))
    return replace(nights.only(is_counted & is_known), left_out=left_out)


def correct(series: Series, rules: FadeRules = FADE) -> FloatArray:
    """Return each source's lows with the bias taken off that the past nights show.

    The file tells no kind of night, so all nights are of one kind.
    """
    corrected = series.lows_c.copy()
    errors = series.analysed_c - series.lows_c
    last_known = last_known_night(series.night, series.lead_days)
    sigma_c = Rules().sigma_c
    for place, last in enumerate(last_known):
        ages = (series.night[place] - series.night) / _DAY
        is_past = series.night <= last
        for source, own in enumerate(errors):
            known = is_past & np.isfinite(own)
            lesson = fade_errors(own[known], ages[known], sigma_c, rules)
            corrected[source, place] += lesson.applied_c
    return corrected


def last_known_night(night: Dates, lead_days: int) -> Dates:
    """Return the last night that was over when the forecast for a night was made.

    The night before had not ended in the small hours in which forecasts were collected.
    """
    return np.asarray(night - (lead_days + 1) * _DAY)
