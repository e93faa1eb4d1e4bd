"""One block's night step by step, so that it can be checked by hand.

The steps are those of the assessment, taken from the same arrays at the hour of the
block's lowest air: they add up to what the assessment shows.
"""

from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from frostalert.errors import UsageError
from frostalert.model.assessment import BlockNight
from frostalert.model.forecast import HOUR, FloatArray, ForecastRun
from frostalert.model.site import Block, Holding
from frostalert.physics.bud import WET_SHARE
from frostalert.physics.site_air import (
    QUESTIONED_DELTA_C,
    ground_delta_c,
    lapse_delta_c,
)
from frostalert.risk.assess import assess
from frostalert.risk.block_hours import BlockHours, derive_block_hours, organ_of
from frostalert.risk.explain_words import WORDS
from frostalert.risk.site_hours import SiteHours, SiteNight, prepare_site_hours


@dataclass(frozen=True, slots=True)
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
    ground = weight * ground_delta_c(
        scene.block.height_m, is_measured_at_height=scene.block.is_measured_at_height
    )
    cold_spot = weight * scene.block.cold_spot_delta_c
    total = scene.lapse_c + cold_spot + ground
    steps = [
        _step("grid", grid, title=run.source_title, place=run.place),
        _step("bend", float(shared.air_c[at]) - grid),
        _step("weight", weight),
        _step("lapse", scene.lapse_c),
        _step("cold spot", cold_spot),
        _step("ground", ground),
        _step("learned", 0.0),
        _step("air", scene.record.site_low_c, site=holding.site.name),
    ]
    if abs(total) > QUESTIONED_DELTA_C:
        steps.append(_step("doubtful", total, limit=QUESTIONED_DELTA_C))
    return steps


def _bud_steps(scene: _Scene) -> list[Step]:
    """Return the steps from the air to the buds, at the hour and over the exposure."""
    at, hours, record = scene.at, scene.hours, scene.record
    minutes = scene.block.crop.exposure_minutes
    dry, wet, bud = record.dry, record.wet, record.bud
    steps = [
        _step("dew point", _at(hours.dewpoint_c, at), title=scene.run.source_title),
        _step("pressure", scene.shared.pressure_hpa),
        _step("wet bulb", _at(hours.wet_bulb_c, at)),
        _step("ice bulb", _at(hours.ice_bulb_c, at)),
        _step("deficit", -float(hours.deficit_c[0, at])),
        _step("dry", _at(hours.dry_c, at)),
        _step("wet", _at(hours.wet_c, at), share=WET_SHARE),
        _step("dry low", dry.low_c if dry else None, minutes=minutes),
        _step("wet low", wet.low_c if wet else None, minutes=minutes),
        _step("wet chance", _percent(record.wet_probability)),
        _step(
            "deciding",
            bud.low_c if bud else None,
            deciding=record.deciding,
            why=record.why_deciding,
        ),
    ]
    return [step for step in steps if step.value is not None]


def _verdict_steps(scene: _Scene) -> list[Step]:
    """Return the steps from the bud to the percentages."""
    record, crop = scene.record, scene.block.crop
    threshold = record.stage.threshold
    if threshold is None:
        return []
    table = {"minutes": crop.exposure_minutes, "threshold": threshold.source}
    stage = record.stage
    steps = [
        _step("stage", None, stage=stage.stage, stage_reason=stage.reason),
        _step("t10", threshold.t10_c, **table),
        _step("t90", threshold.t90_c, **table),
        _step(
            "alarm",
            threshold.alarm_c,
            alarm_name=threshold.alarm_name,
            threshold=threshold.source,
        ),
        _step("sigma", record.sigma_c),
        _step("probability", _percent(record.probability)),
        _step("kill dry", record.kill_dry_pct),
        _step("kill wet", record.kill_wet_pct),
        _step("expected", record.expected_kill_pct),
        _step(
            "crop",
            record.crop_loss_pct,
            needed=crop.needed_pct or 0.0,
            left=record.left_before_pct or 0.0,
            needed_source=crop.needed_source,
        ),
    ]
    return [step for step in steps if step.value is not None or not step.unit]


def _step(key: str, value: float | None, **fill: object) -> Step:
    """Return a step with its words filled in."""
    name, unit, formula, source = WORDS[key]
    return Step(
        name.format(**fill),
        value,
        unit,
        formula.format(**fill),
        source.format(**fill),
    )


def _at(curves: FloatArray, at: int) -> float | None:
    """Return the block's value at an hour, or None for NaN."""
    value = curves[0, at]
    return None if np.isnan(value) else float(value)


def _percent(probability: float | None) -> float | None:
    """Return a chance in percent."""
    return None if probability is None else 100.0 * probability
