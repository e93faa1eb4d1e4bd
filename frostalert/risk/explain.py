"""One block's night step by step, so that it can be checked by hand.

The steps are those of the assessment, taken from the same arrays at the hour of the
block's lowest air: they add up to what the assessment shows.
"""

from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from frostalert.errors import UsageError
from frostalert.model.assessment import BlockNight
from frostalert.model.forecast import HOUR, FloatArray
from frostalert.model.hours import BlockHours, SiteHours
from frostalert.model.nights import Nights, TermName
from frostalert.model.site import Block
from frostalert.physics.bud import WET_SHARE
from frostalert.physics.site_air import QUESTIONED_DELTA_C
from frostalert.risk.explain_words import WORDS
from frostalert.risk.terms import terms_at


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
    """Everything at the hour of the block's lowest air; `row` is the block's."""

    nights: Nights
    shared: SiteHours
    hours: BlockHours
    block: Block
    record: BlockNight
    night: date
    at: int
    row: int

    def here(self, curves: FloatArray) -> float | None:
        """Return the block's value at that hour, or None for NaN."""
        value = curves[self.row, self.at]
        return None if np.isnan(value) else float(value)


def explain(nights: Nights, block: Block, night: date) -> Explanation:
    """Return the steps from the grid value to the percentage.

    Parameters
    ----------
    nights : Nights
        What was judged.
    block : Block
        The block, by its name one of those that were judged.
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
    """
    row = next(n for n, i in enumerate(nights.farm.blocks) if i.name == block.name)
    records = nights.assessment.nights
    found = next((n for n in records if n.night == night), None)
    if found is None:
        reached = ", ".join(str(n.night) for n in records)
        message = (
            f"the forecast does not reach the night of {night}; write one of {reached}"
        )
        raise UsageError(message)
    record = found.blocks[row] if found.blocks else None
    if record is None or record.bud is None:
        reason = found.reason if record is None else record.reason
        message = f"{block.name} has no numbers on the night of {night}: {reason}"
        raise UsageError(message)
    scene = _scene(nights, row, record, night)
    steps = (*_air_steps(scene), *_bud_steps(scene), *_verdict_steps(scene))
    return Explanation(
        record=record,
        night=night,
        low_utc=scene.shared.run.hours.first_utc + scene.at * HOUR,
        steps=steps,
    )


def _scene(nights: Nights, row: int, record: BlockNight, night: date) -> _Scene:
    """Return everything at the hour of the block's lowest air."""
    shared, hours = nights.site_hours, nights.block_hours
    assert shared is not None  # noqa: S101 - a block with numbers has hours
    assert hours is not None  # noqa: S101
    site_night = next(n for n in shared.nights if n.window.night == night)
    ahead = site_night.coming
    at = ahead.start + int(np.nanargmin(hours.air_c[row, ahead]))
    block = nights.farm.blocks[row]
    return _Scene(nights, shared, hours, block, record, night, at, row)


def _air_steps(scene: _Scene) -> list[Step]:
    """Return the steps from the grid to the air among the plants."""
    at, run = scene.at, scene.shared.run
    grid = float(run.hours.air_c[at])
    terms = terms_at(scene.nights, scene.block.name, scene.night, at)

    def term_step(name: TermName, otherwise: str) -> Step:
        own = terms.get(name, [])
        origin = "; ".join(term.origin for term in own) or otherwise
        return _step(
            name.value, sum((term.at_c(at) for term in own), 0.0), origin=origin
        )

    unlearned = (
        "nothing learned yet"
        if scene.nights.facts.has_history
        else "the service's state was not read"
    )
    steps = [
        _step("grid", grid, title=run.source_title, place=run.place),
        term_step(TermName.NIGHT_MINIMUM, run.source_title),
        *(
            [term_step(TermName.USUAL_DEFICIT, "")]
            if TermName.USUAL_DEFICIT in terms
            else []
        ),
        term_step(TermName.LEARNED, unlearned),
        *([term_step(TermName.POOLED, "")] if TermName.POOLED in terms else []),
        term_step(TermName.READING, "no reading lowers this hour"),
        *([term_step(TermName.NOWCAST, "")] if TermName.NOWCAST in terms else []),
        _step("weight", float(scene.shared.weight[at])),
        term_step(TermName.LAPSE, ""),
        term_step(TermName.COLD_SPOT, ""),
        term_step(TermName.GROUND, ""),
        _step("air", scene.record.site_low_c, site=scene.nights.farm.site.name),
    ]
    offsets = (TermName.LAPSE, TermName.COLD_SPOT, TermName.GROUND)
    total = sum(term.at_c(at) for name in offsets for term in terms.get(name, []))
    if abs(total) > QUESTIONED_DELTA_C:
        steps.append(_step("doubtful", total, limit=QUESTIONED_DELTA_C))
    return steps


def _bud_steps(scene: _Scene) -> list[Step]:
    """Return the steps from the air to the buds, at the hour and over the exposure."""
    at, hours, record = scene.at, scene.hours, scene.record
    title = scene.shared.run.source_title
    minutes = scene.block.crop.exposure_minutes
    dry, wet, bud = record.dry, record.wet, record.bud
    steps = [
        _step("dew point", scene.here(hours.dewpoint_c), title=title),
        _step("pressure", scene.shared.pressure_hpa),
        _step("wet bulb", scene.here(hours.wet_bulb_c)),
        _step("ice bulb", scene.here(hours.ice_bulb_c)),
        _step(
            "deficit counted" if scene.block.is_measured_unshielded else "deficit",
            -float(hours.deficit_c[scene.row, at]),
        ),
        _step("dry", scene.here(hours.dry_c)),
        _step("wet", scene.here(hours.wet_c), share=WET_SHARE),
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
    night = next(n for n in scene.nights.assessment.nights if n.night == scene.night)
    site_c = night.site_low.site_sigma_c if night.site_low else 0.0
    sources_c = float(np.sqrt(max(0.0, record.low_sigma_c**2 - site_c**2)))
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
        _step("low sigma", record.low_sigma_c, sources=sources_c, site=site_c),
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


def _percent(probability: float | None) -> float | None:
    """Return a chance in percent."""
    return None if probability is None else 100.0 * probability
