"""How anything that warms is judged: gain against loss, and what it takes."""

from datetime import datetime

from frostalert.agronomy.kill import mean_over_error
from frostalert.model.equipment import Equipment
from frostalert.model.forecast import HOUR
from frostalert.model.method import RefusalReason
from frostalert.model.plan import GainFacts, Option, Resource, Verdict
from frostalert.physics.start_reading import LIT_ABOVE_ALARM_C
from frostalert.plan.block_case import LEAST_SAVING, SURE_TO_HOLD, BlockAtRisk
from frostalert.plan.warm_start import running_by

SURE_SHARE = 0.75
"""Share of a derived gain that is counted with. [1] Common practice, no source."""


MOST_LEARNED_C = 3.0
"""The most that a gain by thermometers counts where none is published. [degC] Common
practice, no source."""


def measured_gain(
    equipment: Equipment, published: tuple[float, float, str] | None = None
) -> tuple[float, float, str] | None:
    """Return the range of gain that was measured here or is given, and whose it is.

    Parameters
    ----------
    equipment : Equipment
        What there is.
    published : tuple of (float, float, str), optional
        What is published for such an equipment. [degC]

    Returns
    -------
    tuple of (float, float, str) or None
        From, to [degC] and the source; None where there is none. What two thermometers
        taught counts up to what is published and lowers only the range's lower end.

    References
    ----------
    .. [1] The grower's own measurement, or the maker.
    """
    gain = equipment.gain_delta_c
    if gain is None:
        return None
    if equipment.gain_nights:
        most = published[1] if published is not None else MOST_LEARNED_C
        least = min(gain, most)
        high = least if published is None else most
        return least, high, measured_words(equipment)
    if equipment.is_measured:
        return gain, gain, measured_words(equipment)
    return 0.0, gain, "the figure in your configuration"


def measured_words(equipment: Equipment) -> str:
    """Return who measured a gain."""
    if not equipment.gain_nights:
        return "measured here"
    return f"measured here on {equipment.gain_nights} nights, three of four gave more"


def judged(
    case: BlockAtRisk,
    equipment: Equipment,
    facts: GainFacts,
    uses: tuple[tuple[Resource, str, float], ...],
    *,
    units: int = 0,
    share: float = 1.0,
) -> Option:
    """Return an option with its verdict; `share` of the plants are reached.

    Parameters
    ----------
    case : BlockAtRisk
        The block's night.
    equipment : Equipment
        What there is.
    facts : GainFacts
        What it gains.
    uses : tuple
        What it takes, as in `Option.uses`.
    units : int
        Pieces. [1]
    share : float
        Share of the plants that it reaches. [0..1]

    Returns
    -------
    Option
        It holds only if the least gain keeps the expected low above the alarm, and the
        middle one does so on four nights of five.
    """
    before = case.loss_before
    lows_c = case.bud_low_c + case.errors_c + facts.middle_delta_c
    after = case.loss_with(lows_c, share)
    alarm = case.threshold.alarm_c
    grounds: tuple[RefusalReason, ...] = ()
    least_c = case.bud_low_c + facts.low_delta_c
    hold_chance = float(mean_over_error(lows_c > alarm))
    is_sure = least_c > alarm and hold_chance >= SURE_TO_HOLD
    if is_sure and share >= 1.0:
        verdict = Verdict.HOLDS
    elif before - after >= LEAST_SAVING * before * share:
        verdict = Verdict.PARTLY
    elif not equipment.method.harms_when and before > after:
        # What cannot harm is nobody's to forbid.
        verdict = Verdict.LITTLE_USE
    else:
        verdict, grounds = Verdict.WILL_NOT_HOLD, (RefusalReason.NO_GAIN,)
    cold_start, cold_end = _cold_span(case)
    start_utc, start_air_c = case.start_utc, None
    if not equipment.method.is_before_dark:
        start_utc, start_air_c = running_by(case, equipment.method)
    return Option(
        equipment=equipment.name,
        method=equipment.method,
        block=case.block.name,
        verdict=verdict,
        grounds=grounds,
        facts=facts,
        loss_before=before,
        loss_after=after,
        buds_lost=case.in_buds.loss_with(lows_c, share),
        worth=case.weight * (before - after),
        uses=uses,
        units=units,
        start_utc=start_utc,
        end_utc=case.end_utc,
        cold_start_utc=cold_start,
        cold_end_utc=cold_end,
        is_running=case.is_begun(equipment, start_utc),
        start_air_c=start_air_c,
    )


def refused(
    case: BlockAtRisk,
    equipment: Equipment,
    verdict: Verdict,
    ground: RefusalReason,
    facts: GainFacts | None = None,
) -> Option:
    """Return an option that is not to be used."""
    return Option(
        equipment=equipment.name,
        method=equipment.method,
        block=case.block.name,
        verdict=verdict,
        grounds=(ground,),
        facts=facts,
        loss_before=case.loss_before,
        loss_after=case.loss_before,
        buds_lost=case.in_buds.loss_before,
        start_utc=case.start_utc,
        end_utc=case.end_utc,
    )


def unknown(case: BlockAtRisk, equipment: Equipment, ground: RefusalReason) -> Option:
    """Return an option that cannot be reckoned."""
    return refused(case, equipment, Verdict.NOT_ESTIMATED, ground)


def _cold_span(case: BlockAtRisk) -> tuple[datetime, datetime]:
    """Return from when to when warmth is wanted in the coldest night of ten."""
    return case.cold_span(case.hours.dry_c, case.threshold.alarm_c + LIT_ABOVE_ALARM_C)


def cold_hours_h(case: BlockAtRisk) -> float:
    """Return how long that is. [h]

    Parameters
    ----------
    case : BlockAtRisk
        The block's night.

    Returns
    -------
    float
        How long warmth is wanted in the night colder than nine in ten. [h]
    """
    start, end = _cold_span(case)
    return (end - start) / HOUR
