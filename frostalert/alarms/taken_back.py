"""Calls to start that no longer hold: what would do harm if it were begun now."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from frostalert.alarms.answers import is_standing
from frostalert.alarms.calling import SUBJECTS
from frostalert.model.assessment import Tier
from frostalert.model.method import Ground
from frostalert.model.notice import (
    TO_OTHERS,
    Decision,
    NightDecision,
    NightHistory,
    Subject,
    Why,
)
from frostalert.model.plan import Option, Pair, Plan


def with_taken_back(decision: Decision, plans: Mapping[date, Plan]) -> Decision:
    """Return a decision that also takes back calls to start that would do harm.

    Parameters
    ----------
    decision : Decision
        What is to be said.
    plans : mapping of date to Plan
        What can be done by the present forecast.

    Returns
    -------
    Decision
        A night whose plan refuses what people were called to start, on grounds of
        harm, is told again with that. Where the plan has it again later, that is told
        too, once a night.

    References
    ----------
    .. [1] Common practice, no source: who was told to light or to water in wind must
       hear of it before they do.
    """
    nights = tuple(_taken_back(item, plans.get(item.night)) for item in decision.nights)
    return replace(decision, nights=nights)


def _stands(item: NightDecision) -> bool:
    """Return whether people were called to start something, and nothing is new.

    Old data take nothing back: what was called for was called for on better ones.
    """
    past = item.remember
    was_called = past.said is Tier.ACT and bool(past.told_starts)
    is_as_told = item.why in (Why.ALREADY_TOLD, Why.JUST_CALLED)
    return was_called and is_standing(item) and is_as_told


def _taken_back(item: NightDecision, plan: Plan | None) -> NightDecision:
    """Return a night's decision with the calls to start that no longer hold."""
    is_silent = _stands(item)
    is_said = item.say is Subject.ACT and item.why not in TO_OTHERS
    if plan is None or not (is_silent or is_said):
        return item
    back = _harmful_now(item.remember, plan, is_news=is_said)
    again = _good_again(item.remember, plan)
    if not back and not again:
        return item
    past = item.remember
    remember = replace(past, taken_back=_with(past.taken_back, back))
    told = replace(item, taken_back=tuple(back), called_again=tuple(again))
    if is_said:
        return replace(told, remember=remember)
    return replace(
        told,
        say=SUBJECTS[Tier.ACT],
        why=Why.TAKEN_BACK if back else Why.CALLED_AGAIN,
        # Nobody is asked anew: who acts on the night goes on acting on the rest.
        remember=replace(
            remember,
            revision=past.revision + 1,
            called_again=_with(past.called_again, again),
        ),
        turns=past.turns,
    )


def _harmful_now(past: NightHistory, plan: Plan, *, is_news: bool) -> list[Option]:
    """Return what people were called to start and would do harm by the plan.

    The last hour of water passes every night: it is spoken of only beside news, by
    which it may have moved before the hour that people were told.
    """
    return [
        option
        for option in plan.refused
        if option.pair in past.told_starts
        and option.pair not in past.taken_back
        and (_does_harm(option) or (is_news and _is_too_late(option)))
    ]


def _good_again(past: NightHistory, plan: Plan) -> list[Option]:
    """Return what was taken back and is in the plan, called for again for the first."""
    return [
        option
        for option in plan.chosen
        if option.pair in past.taken_back
        and not option.is_running
        # A forecast that swings must not send people back and forth.
        and option.pair not in past.called_again
    ]


def _with(pairs: tuple[Pair, ...], more: list[Option]) -> tuple[Pair, ...]:
    """Return equipment and block of some options added to others."""
    return tuple(sorted({*pairs, *(option.pair for option in more)}))


def _does_harm(option: Option) -> bool:
    """Return whether beginning what the plan refuses would do more than no good."""
    return not option.method.harms_when.isdisjoint(option.grounds)


def _is_too_late(option: Option) -> bool:
    """Return whether dry buds would freeze if water were begun now."""
    return Ground.TOO_LATE in option.grounds
