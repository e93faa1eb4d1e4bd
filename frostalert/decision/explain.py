"""One block's night step by step, so that it can be checked by hand.

The steps are those of the assessment, taken from the same arrays at the hour of the
block's lowest air: they add up to what the assessment shows.
"""

from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from frostalert.decision.assess import assess
from frostalert.decision.block_hours import BlockHours, derive_block_hours, organ_of
from frostalert.decision.site_hours import SiteHours, SiteNight, prepare_site_hours
from frostalert.errors import UsageError
from frostalert.model.assessment import BlockNight
from frostalert.model.forecast import HOUR, ForecastRun
from frostalert.model.site import Block, Holding
from frostalert.physics.bud import WET_SHARE
from frostalert.physics.site_air import (
    QUESTIONED_DELTA_C,
    ground_delta_c,
    lapse_delta_c,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the way from the grid to the percentage.

    Attributes
    ----------
    name : str
        What it is.
    value : float or None
        Its value; None for a step that is only words.
    unit : str
        "degC", "%", "h" and so on; "delta_degC" for a difference.
    formula, source : str
        How it comes about, and where that was published.
    """

    name: str
    value: float | None
    unit: str
    formula: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """A block's night with its steps; `low_utc` is the hour of the lowest air."""

    record: BlockNight
    night: date
    low_utc: datetime
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class _Scene:
    """Everything at the hour of the block's lowest air."""

    run: ForecastRun
    shared: SiteHours
    night: SiteNight
    hours: BlockHours
    block: Block
    record: BlockNight
    at: int
    lapse_c: float


def explain(
    holding: Holding, run: ForecastRun, now_utc: datetime, block: Block, night: date
) -> Explanation:
    """Return the steps from the grid value to the percentage.

    Parameters
    ----------
    holding : Holding
        The site and its rules.
    run : ForecastRun
        The forecast.
    now_utc : datetime
        The present moment.
    block : Block
        The block, one of the holding's.
    night : date
        The night.

    Returns
    -------
    Explanation
        The steps, in order.

    Raises
    ------
    UsageError
        If the night is not covered, or the block has nothing to be compared with.

    References
    ----------
    .. [1] Each step names its own.
    """
    assessment = assess(holding, run, now_utc)
    place = holding.blocks.index(block)
    found = next((n for n in assessment.nights if n.night == night), None)
    if found is None:
        nights = ", ".join(str(n.night) for n in assessment.nights)
        message = (
            f"the forecast does not reach the night of {night}; write one of {nights}"
        )
        raise UsageError(message)
    record = found.blocks[place]
    if record.site_low_c is None:
        message = (
            f"{block.name} has no numbers on the night of {night}: {record.reason}"
        )
        raise UsageError(message)
    scene = _scene(holding, run, now_utc, block, record, night)
    steps = (*_air_steps(scene, holding), *_bud_steps(scene), *_verdict_steps(scene))
    return Explanation(
        record=record,
        night=night,
        low_utc=run.hours.first_utc + scene.at * HOUR,
        steps=steps,
    )


def _scene(
    holding: Holding,
    run: ForecastRun,
    now_utc: datetime,
    block: Block,
    record: BlockNight,
    night: date,
) -> _Scene:
    """Return everything at the hour of the block's lowest air."""
    shared = prepare_site_hours(run, holding.site, now_utc)
    site_night = next(n for n in shared.nights if n.window.night == night)
    organ = organ_of(holding, block, shared)
    hours = derive_block_hours(shared, holding.site, (block,), (organ,))
    part = hours.air_c[0, site_night.hours]
    at = site_night.hours.start + int(np.nanargmin(part))
    lapse = lapse_delta_c(holding.site.elevation_m, run.elevation_m, shared.weight)
    return _Scene(run, shared, site_night, hours, block, record, at, float(lapse[at]))


def _air_steps(scene: _Scene, holding: Holding) -> list[Step]:
    """Return the steps from the grid to the air among the plants."""
    at, run, shared = scene.at, scene.run, scene.shared
    grid = float(run.hours.air_c[at])
    weight = float(shared.weight[at])
    ground = ground_delta_c(
        scene.block.height_m, is_measured_at_height=scene.block.is_measured_at_height
    )
    cold_spot = scene.block.cold_spot_delta_c * weight
    total = scene.lapse_c + cold_spot + ground * weight
    steps = [
        Step(
            name="grid air at that hour",
            value=grid,
            unit="degC",
            formula="hourly value of the forecast",
            source=f"{run.source_title}, cell {run.place}",
        ),
        Step(
            name="bent to the night minimum",
            value=float(shared.air_c[at]) - grid,
            unit="delta_degC",
            formula="T' = T - d (M - T) / (M - low); all hours alike when windy",
            source="derivation; the source's own night minimum",
        ),
        Step(
            name="clear-and-calm weight",
            value=weight,
            unit="1",
            formula="calm x open sky x darkness",
            source="FAO, Frost Protection vol. 1, p. 160; ramps common practice",
        ),
        Step(
            name="lapse to the site's height",
            value=scene.lapse_c,
            unit="delta_degC",
            formula="-0.0065 per m x height above the cell x (1 - weight)",
            source="ICAO Standard Atmosphere",
        ),
        Step(
            name="cold spot",
            value=cold_spot,
            unit="delta_degC",
            formula="the block's own offset x weight",
            source="your configuration",
        ),
        Step(
            name="near the ground",
            value=ground * weight,
            unit="delta_degC",
            formula="-2 x weight for plants up to 0.5 m, unless measured there",
            source="common practice, no source; Fairbanks Museum, 2024: 4 degF",
        ),
        Step(
            name="learned from this site",
            value=0.0,
            unit="delta_degC",
            formula="observed less forecast",
            source="nothing learned yet",
        ),
        Step(
            name="air among the plants",
            value=scene.record.site_low_c,
            unit="degC",
            formula="sum of the above",
            source=f"site {holding.site.name}",
        ),
    ]
    if abs(total) > QUESTIONED_DELTA_C:
        steps.append(
            Step(
                name="doubtful",
                value=total,
                unit="delta_degC",
                formula=f"corrections beyond {QUESTIONED_DELTA_C:g} degC in all",
                source="is one cold counted twice? Look at cold_spot and height",
            )
        )
    return steps


def _bud_steps(scene: _Scene) -> list[Step]:
    """Return the steps from the air to the buds, at the hour and over 30 minutes."""
    at, hours, record = scene.at, scene.hours, scene.record
    minutes = scene.block.crop.exposure_minutes
    psychrometer = "AMS Glossary of Meteorology, psychrometric formula"
    steps = [
        Step(
            name="dew point",
            value=_number(hours.dewpoint_c[0, at]),
            unit="degC",
            formula="the forecast's, never above the air",
            source=scene.run.source_title,
        ),
        Step(
            name="pressure",
            value=scene.shared.pressure_hpa,
            unit="hPa",
            formula="1013.25 (1 - 2.25577e-5 h)^5.25588",
            source="ICAO Standard Atmosphere",
        ),
        Step(
            name="wet bulb at that hour",
            value=_number(hours.wet_bulb_c[0, at]),
            unit="degC",
            formula="e(Td) = es(Tw) - 6.60e-4 p (T - Tw)",
            source=psychrometer,
        ),
        Step(
            name="ice bulb at that hour",
            value=_number(hours.ice_bulb_c[0, at]),
            unit="degC",
            formula="e(Td) = ei(Ti) - 5.82e-4 p (T - Ti), at most the air",
            source=psychrometer,
        ),
        Step(
            name="deficit of dry tissue",
            value=-float(hours.deficit_c[0, at]),
            unit="delta_degC",
            formula="half the clear-sky loss over the heat exchange",
            source="FAO-56 eq. 39; Campbell and Norman 1998 (from memory)",
        ),
        Step(
            name="dry bud at that hour",
            value=float(hours.dry_c[0, at]),
            unit="degC",
            formula="air less the deficit, shrunk where dew or hoar forms",
            source="derivation",
        ),
        Step(
            name="wet bud at that hour",
            value=_number(hours.wet_c[0, at]),
            unit="degC",
            formula=f"wet bulb, or ice bulb below 0, less {WET_SHARE:g} of the deficit",
            source="common practice, no source",
        ),
        Step(
            name="dry bud low",
            value=record.dry.low_c if record.dry else None,
            unit="degC",
            formula=f"coldest mean over {minutes:.0f} minutes of the night",
            source="exposure of the published tables",
        ),
        Step(
            name="wet bud low",
            value=record.wet.low_c if record.wet else None,
            unit="degC",
            formula=f"coldest mean over {minutes:.0f} minutes of the night",
            source="exposure of the published tables",
        ),
        Step(
            name="chance that buds are wet",
            value=_percent(record.wet_probability),
            unit="%",
            formula="rain or snow not yet dried, or dew and hoar",
            source="derivation; 0.1 mm film and 1.5 degC common practice",
        ),
        Step(
            name=f"the {record.deciding} bud decides",
            value=record.bud.low_c if record.bud else None,
            unit="degC",
            formula=record.why_deciding,
            source="common practice, no source",
        ),
    ]
    return [step for step in steps if step.value is not None]


def _verdict_steps(scene: _Scene) -> list[Step]:
    """Return the steps from the bud to the percentages."""
    record = scene.record
    threshold = record.stage.threshold
    if threshold is None:
        return []
    steps = [
        Step(
            name=f"stage {record.stage.stage}",
            value=None,
            unit="",
            formula=record.stage.reason,
            source="your configuration",
        ),
        Step(
            name="10 % kill",
            value=threshold.t10_c,
            unit="degC",
            formula="tissue, 30 minutes",
            source=threshold.source,
        ),
        Step(
            name="90 % kill",
            value=threshold.t90_c,
            unit="degC",
            formula="tissue, 30 minutes",
            source=threshold.source,
        ),
        Step(
            name="alarm temperature",
            value=threshold.alarm_c,
            unit="degC",
            formula=threshold.alarm_name,
            source=threshold.source,
        ),
        Step(
            name="error of the low",
            value=record.sigma_c,
            unit="delta_degC",
            formula="sqrt((first day + growth x further days)^2 + threshold's^2)",
            source="common practice, no source",
        ),
        Step(
            name="chance of reaching the alarm temperature",
            value=_percent(record.probability),
            unit="%",
            formula="Phi((alarm - low) / error)",
            source="normal distribution",
        ),
        Step(
            name="kill at the dry low",
            value=record.kill_dry_pct,
            unit="%",
            formula="1 / (1 + exp(ln 81 / (T10 - T90) (T - (T10 + T90) / 2)))",
            source="derivation through the two published points",
        ),
        Step(
            name="kill at the wet low",
            value=record.kill_wet_pct,
            unit="%",
            formula="as above",
            source="derivation through the two published points",
        ),
        Step(
            name="expected kill",
            value=record.expected_kill_pct,
            unit="%",
            formula="mean of the curve over the error",
            source="trapezoidal rule, 81 nodes",
        ),
        Step(
            name="expected loss of crop",
            value=record.crop_loss_pct,
            unit="%",
            formula=f"{scene.block.crop.needed_pct or 0:.0f} % of blossoms needed, "
            f"{record.left_before_pct or 0:.0f} % left before",
            source=scene.block.crop.needed_source,
        ),
    ]
    return [step for step in steps if step.value is not None or not step.unit]


def _number(value: float) -> float | None:
    """Return a number, or None for NaN."""
    return None if np.isnan(value) else float(value)


def _percent(probability: float | None) -> float | None:
    """Return a chance in percent."""
    return None if probability is None else 100.0 * probability
