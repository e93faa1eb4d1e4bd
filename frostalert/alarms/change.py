"""What changed about a night since people were last told of it."""

from dataclasses import replace
from datetime import datetime, timedelta

from frostalert.model.assessment import NightAssessment
from frostalert.model.notice import Change, NightHistory
from frostalert.model.site import Rules

LIKELIER = 0.2
"""Rise of the chance of harm that is worse, however cold the low is. [0..1] Common
practice, no source."""
_CERTAIN = 0.9
"""From this chance on it can hardly rise: then the low alone counts. [0..1]"""
_LEAST_RISE = 0.05
_LEAST_C = 0.5
_LEAST_TIME = timedelta(minutes=20)


def what_got_worse(
    past: NightHistory, night: NightAssessment, rules: Rules
) -> Change | None:
    """Return what got worse by a step since people were told, if anything did.

    The chance counts: a colder low that is no likelier to do harm is no news, and a low
    that stays while the forecasts part is.

    References
    ----------
    .. [1] The steps are common practice, no source.
    """
    colder_c, earlier = _moved(past, night)
    joined = _joined(past, night)
    before, now = past.told_probability, _probability(past, night)
    rise = None if before is None or now is None else now - before
    is_likelier = rise is not None and rise >= LIKELIER
    is_colder = colder_c >= rules.worse_step_c and (
        rise is None or rise >= _LEAST_RISE or (now or 0.0) >= _CERTAIN
    )
    is_earlier = earlier >= rules.earlier_step
    if not (is_colder or is_earlier or is_likelier or joined):
        return None
    return Change(
        joined=joined,
        colder_c=colder_c if is_colder else 0.0,
        earlier=earlier if is_earlier else timedelta(0),
        likelier=(before, now) if is_likelier and before and now else None,
    )


def _probability(past: NightHistory, night: NightAssessment) -> float | None:
    """Return the highest chance of harm of the blocks that people were told of."""
    return likeliest_of(night, at_risk(night) & set(past.told_blocks))


def likeliest_of(night: NightAssessment, names: set[str]) -> float | None:
    """Return the highest chance of harm of some blocks; None where none is known."""
    known = [
        block.probability
        for block in night.blocks
        if block.block in names and block.probability is not None
    ]
    return max(known, default=None)


def what_changed(past: NightHistory, night: NightAssessment) -> Change | None:
    """Return what moved either way since people were told, if it is worth a word.

    References
    ----------
    .. [1] Our own limits: less is not worth a word.
    """
    if not past.told_blocks or past.is_closed:
        return None
    colder_c, earlier = _moved(past, night)
    colder_c = colder_c if abs(colder_c) >= _LEAST_C else 0.0
    earlier = earlier if abs(earlier) >= _LEAST_TIME else timedelta(0)
    joined = _joined(past, night)
    if not colder_c and not earlier and not joined:
        return None
    return Change(joined=joined, colder_c=colder_c, earlier=earlier)


def told_as_well(past: NightHistory, night: NightAssessment) -> NightHistory:
    """Return what people were told, once another message has said it too."""
    low_c, running_by_utc = extremes(night, at_risk(night))
    lows = [low for low in (past.told_low_c, low_c) if low is not None]
    starts = [at for at in (past.told_running_by_utc, running_by_utc) if at]
    odds = (past.told_probability, likeliest_of(night, at_risk(night)))
    return replace(
        past,
        told_probability=max((p for p in odds if p is not None), default=None),
        told_low_c=min(lows, default=None),
        told_running_by_utc=min(starts, default=None),
    )


def moved_away(past: NightHistory, night: NightAssessment, rules: Rules) -> bool:
    """Return whether the danger moved away by a step since people were told.

    References
    ----------
    .. [1] Common practice, no source.
    """
    _, earlier = _moved(past, night)
    return earlier <= -rules.earlier_step


def _moved(past: NightHistory, night: NightAssessment) -> tuple[float, timedelta]:
    """Return by how much the told blocks got colder, and their start earlier."""
    # Not the worst block against the worst block: which one that is may change while
    # the forecast does not. Those that join are told by name.
    known = at_risk(night) & set(past.told_blocks)
    low_c, running_by_utc = extremes(night, known)
    colder_c, earlier = 0.0, timedelta(0)
    if past.told_low_c is not None and low_c is not None:
        colder_c = past.told_low_c - low_c
    if past.told_running_by_utc is not None and running_by_utc is not None:
        earlier = past.told_running_by_utc - running_by_utc
    return colder_c, earlier


def _joined(past: NightHistory, night: NightAssessment) -> tuple[str, ...]:
    """Return the blocks that are newly at risk."""
    return tuple(sorted(at_risk(night) - set(past.told_blocks)))


def extremes(
    night: NightAssessment, names: set[str]
) -> tuple[float | None, datetime | None]:
    """Return the coldest deciding bud low of some blocks, and their first start.

    Parameters
    ----------
    night : NightAssessment
        The night.
    names : set of str
        The blocks.

    Returns
    -------
    tuple
        Low [degC] and hour; None where no block has one.
    """
    blocks = [block for block in night.blocks if block.block in names]
    lows = [block.bud.low_c for block in blocks if block.bud]
    starts = [block.running_by_utc for block in blocks if block.running_by_utc]
    return min(lows, default=None), min(starts, default=None)


def at_risk(night: NightAssessment) -> set[str]:
    """Return the names of the blocks at risk."""
    return {block.block for block in night.at_risk}
