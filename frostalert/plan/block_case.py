"""One block's night as the plan sees it: its hours, its stake, what it loses."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from frostalert.agronomy.kill import (
    ERROR_NODES,
    crop_loss_pct,
    kill_pct,
    mean_over_error,
    reached_share,
)
from frostalert.model.assessment import BlockNight, NightAssessment, NightKind
from frostalert.model.crop import Organ, StageThreshold
from frostalert.model.equipment import Equipment
from frostalert.model.forecast import HOUR, BoolArray, FloatArray, ForecastRun
from frostalert.model.hours import SiteNight
from frostalert.model.nights import Nights
from frostalert.model.progress import Progress
from frostalert.model.site import Block, Farm, Rules
from frostalert.model.start import StartKey
from frostalert.physics.sky import wind_at_2m_mps
from frostalert.risk.block_hours import organ_of
from frostalert.risk.measure import SURELY_WET
from frostalert.risk.site_hours import rain_wet

COLD_NIGHT = 1.2816
"""Standard errors to the night that is colder than nine in ten. [1]"""
LEAST_SAVING = 0.1
"""Share of the loss that a method must save to be worth its work. [1] Common practice,
no source."""
SURE_TO_HOLD = 0.8
"""Chance of holding below which a method is not said to hold, whatever its figures say.
[1] Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseHours:
    """A block's hours from dusk, or earlier harm, to the night's end; shape (hours,).

    Attributes
    ----------
    air_c, dewpoint_c, wet_bulb_c, dry_c, wet_c : ndarray
        Among the plants; buds dry and wet. [degC]
    wind_2m_mps, wind_10m_mps : ndarray
        As forecast, not reduced for hidden calms. [m/s]
    wind_from_deg : ndarray
        Where it comes from. [deg]
    sky : ndarray
        How far the sky is open, by night, 0 to 1.
    aloft_delta_c : ndarray
        Air some 80 m up less air at 2 m. [degC] NaN where unknown.
    rain_wet : ndarray
        Chance that buds drip from rain, 0 to 1; hoar does not count.
    """

    first_utc: datetime
    air_c: FloatArray
    dewpoint_c: FloatArray
    wet_bulb_c: FloatArray
    dry_c: FloatArray
    wet_c: FloatArray
    wind_2m_mps: FloatArray
    wind_10m_mps: FloatArray
    wind_from_deg: FloatArray
    sky: FloatArray
    aloft_delta_c: FloatArray
    rain_wet: FloatArray

    def moment(self, place: int) -> datetime:
        """Return the moment of an hour."""
        return self.first_utc + place * HOUR

    def between(self, start_utc: datetime, end_utc: datetime) -> BoolArray:
        """Return which hours lie in a stretch, both ends rounded outwards."""
        count = self.air_c.size
        start = max(0, (start_utc - self.first_utc) // HOUR)
        stop = min(count, -((self.first_utc - end_utc) // HOUR) + 1)
        inside = np.zeros(count, dtype=np.bool_)
        inside[min(start, count - 1) : max(stop, 1)] = True
        return inside


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockAtRisk:
    """One block at risk.

    Attributes
    ----------
    pressure_hpa : float
        Pressure at the site. [hPa]
    weight : float
        Value and priority: what all of its crop counts.
    """

    block: Block
    record: BlockNight
    threshold: StageThreshold
    organ: Organ
    kind: NightKind | None
    hours: CaseHours
    pressure_hpa: float
    now_utc: datetime
    rules: Rules
    weight: float
    start_utc: datetime
    end_utc: datetime
    sunrise_utc: datetime | None
    progress: Progress

    def may_be_begun(self, equipment: Equipment) -> bool:
        """Whether people were called to start an equipment here, or may have been."""
        return self.was_called(equipment) or not self.progress.is_known

    def was_called(self, equipment: Equipment) -> bool:
        """Whether people were called to start an equipment here."""
        return self._key(equipment) in self.progress.told_starts

    def is_begun(self, equipment: Equipment, start_utc: datetime | None = None) -> bool:
        """Whether an equipment counts as running in this block.

        Somebody said that they act on the call to start just that, and there was time
        to set it up and to start it.
        """
        if self._key(equipment) not in self.progress.running:
            return False
        ready = self.earliest_start_utc(equipment, equipment.set_up)
        return max(start_utc or self.start_utc, ready) <= self.now_utc

    def earliest_start_utc(self, equipment: Equipment, work: timedelta) -> datetime:
        """Return when something that one person must set up first can run.

        Only what people were told to set up stands ready: what the day left out is set
        up from now on.
        """
        if not self.progress.is_known:
            return self.now_utc
        since = self.progress.ready_since_utc(self._key(equipment))
        return max(self.now_utc, (since or self.now_utc) + work)

    def running_since_utc(self, equipment: Equipment) -> datetime | None:
        """Return the earliest moment at which it can have been begun, if it is known.

        Before its hour, and before people were told of it, it took no water.
        """
        start = self.progress.starts.get(self._key(equipment))
        if start is None:
            return None
        hours = [h for h in (start.called_utc, start.run_by_utc) if h is not None]
        return min(hours, default=start.planned_utc)

    def _key(self, equipment: Equipment) -> StartKey:
        """Return what a start of an equipment in this block is called."""
        return equipment.name, self.block.name

    def is_too_late(self, moment: datetime, latest_utc: datetime | None) -> bool:
        """Whether buds would freeze as they are wetted first at a moment.

        Not before the last hour for dry buds, and not if they surely drip from rain
        then. How wet the whole night is says nothing of that hour, and hoar is no
        water.
        """
        if latest_utc is None or moment < latest_utc:
            return False
        inside = self.hours.between(moment, moment)
        return not self.hours.rain_wet[inside].min() > SURELY_WET

    @property
    def bud_low_c(self) -> float:
        """Expected low of the bud if nothing is done. [degC]"""
        assert self.record.bud is not None  # noqa: S101 - cases are judged blocks
        return self.record.bud.low_c

    def loss_of(self, lows_c: FloatArray) -> float:
        """Return the expected loss when the bud low is one of these at each node.

        Parameters
        ----------
        lows_c : ndarray of float
            Bud low at every node of the error. [degC] Shape (nodes,).

        Returns
        -------
        float
            Mean share of the crop lost, 0 to 1; where no curve is published, the
            chance that damage begins.
        """
        threshold = self.threshold
        if threshold.t10_c is None or threshold.t90_c is None:
            return reached_share(lows_c, threshold.alarm_c)
        kill = kill_pct(lows_c, threshold.t10_c, threshold.t90_c)
        needed = self.block.crop.needed_pct
        left = self.record.left_before_pct
        if needed is not None and left is not None:
            kill = crop_loss_pct(kill, left, needed)
        return float(mean_over_error(kill)) / 100.0

    @property
    def crop_before(self) -> float | None:
        """Share of a full crop that is left before the night, 0 to 1.

        None where losses are shares of living buds, or a chance.
        """
        left, needed = self.record.left_before_pct, self.block.crop.needed_pct
        if left is None or needed is None or not self.threshold.has_curve:
            return None
        return min(left / needed, 1.0)

    @property
    def in_buds(self) -> "BlockAtRisk":
        """The same with losses that are shares of living buds, not of a full crop."""
        return self.with_buds_left(None)

    def with_buds_left(self, left_pct: float | None) -> "BlockAtRisk":
        """Return the same with other buds left before the night. [%]"""
        return replace(self, record=replace(self.record, left_before_pct=left_pct))

    def loss_with(self, lows_c: FloatArray, reached: float) -> float:
        """Return the expected loss if a share of plants has other lows. [0..1]"""
        return self.loss_before + reached * (self.loss_of(lows_c) - self.loss_before)

    @property
    def errors_c(self) -> FloatArray:
        """Errors of the low at the nodes. [degC]"""
        return np.asarray(self.record.sigma_c * ERROR_NODES, dtype=np.float64)

    def cold_span(
        self, values_c: FloatArray, below_c: float
    ) -> tuple[datetime, datetime]:
        """Return from when to when to protect in the night colder than nine in ten.

        Never less than in the expected one, until the values stay above a limit.
        """
        cold = np.flatnonzero(values_c - COLD_NIGHT * self.record.sigma_c <= below_c)
        if not cold.size:
            return self.start_utc, self.end_utc
        first, last = self.hours.moment(int(cold[0])), self.hours.moment(int(cold[-1]))
        return min(self.start_utc, first), max(self.end_utc, last + HOUR)

    def ahead(self, end_utc: datetime) -> BoolArray:
        """Return which hours protection has still to run in, up to an end."""
        return self.hours.between(max(self.start_utc, self.now_utc), end_utc)

    @property
    def loss_before(self) -> float:
        """Expected loss if nothing is done. [0..1]"""
        return self.loss_of(self.bud_low_c + self.errors_c)


def block_cases(
    nights: Nights, farm: Farm, night: NightAssessment, progress: Progress
) -> list[BlockAtRisk]:
    """Return the blocks at risk on a night with all that a plan needs.

    A block without a crop value counts by priority alone, and then every block does. A
    reading that nobody has borne out may bring a block in; where the block is at risk
    without it as well, it says nothing of what is done there: `plan.hastened` has what
    it says of the hour.
    """
    cases = _cases(nights, farm, night, progress)
    if nights.confirmed is None:
        return cases
    judged = {item.night: item for item in nights.confirmed.assessment.nights}
    if night.night not in judged:
        return cases
    known = {
        case.block.name: case
        for case in _cases(nights.confirmed, farm, judged[night.night], progress)
    }
    return [known.get(case.block.name, case) for case in cases]


def cases_by_reading(
    nights: Nights, farm: Farm, night: NightAssessment, progress: Progress
) -> list[BlockAtRisk]:
    """Return the same by a reading that nobody has borne out; none without one."""
    if nights.confirmed is None:
        return []
    return _cases(nights, farm, night, progress)


def _cases(
    nights: Nights, farm: Farm, night: NightAssessment, progress: Progress
) -> list[BlockAtRisk]:
    """Return the blocks at risk by what was judged."""
    shared, derived = nights.site_hours, nights.block_hours
    if shared is None or derived is None:
        return []
    at_risk = [
        (row, block, record)
        for row, (block, record) in enumerate(
            zip(farm.blocks, night.blocks, strict=True)
        )
        if record.tier.rank and record.bud is not None and record.stage.threshold
    ]
    found = [item for item in shared.nights if item.window.night == night.night]
    if not at_risk or not found:
        return []
    run = shared.run
    starts = [record.running_by_utc for _, _, record in at_risk]
    part = _part(found[0], run, [at for at in starts if at is not None])
    by_value = all(block.crop_value is not None for _, block, _ in at_risk)
    cases = []
    for row, block, record in at_risk:
        assert record.stage.threshold is not None  # noqa: S101 - chosen above
        cases.append(
            BlockAtRisk(
                block=block,
                record=record,
                threshold=record.stage.threshold,
                organ=organ_of(farm, block, shared),
                kind=night.kind,
                hours=CaseHours(
                    first_utc=run.hours.first_utc + part.start * HOUR,
                    air_c=derived.air_c[row, part],
                    dewpoint_c=derived.dewpoint_c[row, part],
                    wet_bulb_c=derived.wet_bulb_c[row, part],
                    dry_c=derived.dry_c[row, part],
                    wet_c=derived.wet_c[row, part],
                    wind_2m_mps=wind_at_2m_mps(run.hours.wind_mps[part]),
                    wind_10m_mps=run.hours.wind_mps[part],
                    wind_from_deg=run.hours.wind_from_deg[part],
                    sky=shared.sky[part],
                    aloft_delta_c=run.hours.aloft_delta_c[part],
                    rain_wet=rain_wet((shared,))[part],
                ),
                pressure_hpa=shared.pressure_hpa,
                now_utc=nights.assessment.issued_utc,
                rules=nights.farm.rules,
                weight=_weight(block, by_value=by_value),
                start_utc=record.running_by_utc or night.start_utc,
                end_utc=record.danger_end_utc or night.end_utc,
                sunrise_utc=night.sunrise_utc,
                progress=progress,
            )
        )
    return cases


def _weight(block: Block, *, by_value: bool) -> float:
    """Return what all of a block's crop counts."""
    value = block.crop_value if by_value and block.crop_value is not None else 1.0
    return value * block.priority


def _part(night: SiteNight, run: ForecastRun, starts_utc: list[datetime]) -> slice:
    """Return the hours from dusk, or from a freeze that begins by day, to the end."""
    dusk = night.sunset_utc or night.window.start_utc
    first = (min([dusk, *starts_utc]) - run.hours.first_utc) // HOUR
    start = min(max(night.hours.start, first), night.hours.stop - 1)
    return slice(max(0, start), night.hours.stop)
