"""Where this tool touches the inside of the program; all else it reads from outside.

After a change of the inside, these two tables are what has to be pointed anew: what is
watched while the service decides, and where a correction can be dropped. A place is
named by the module that defines it; whoever imports it is found.
"""

import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from importlib import import_module
from pkgutil import walk_packages
from typing import Any
from unittest.mock import patch

import numpy as np

import frostalert
from frostalert.cycle.document import assessment_document
from frostalert.cycle.plan_document import plan_values
from frostalert.risk.learning import SiteLesson
from frostalert.risk.readings import ReadingEffect
from tests.support.kept import nothing_kept

DECIDES = "frostalert.cycle.cycle:redecide"
PLANS = "frostalert.plan.plan:make_plan"


@dataclass
class Watched:
    """What the service judged and decided, as its own documents tell it.

    `nights` is the document of the assessment, `plans` those of the plans by night;
    `announced` is what was decided to be said: night, subject and reason.
    """

    nights: list[dict[str, Any]] = field(default_factory=list)
    plans: dict[str, dict[str, Any]] = field(default_factory=dict)
    announced: list[tuple[str, str, str]] = field(default_factory=list)
    due: set[str] = field(default_factory=set)
    spoken_before: int = 0
    next_look_utc: datetime | None = None


@contextmanager
def watching() -> Iterator[Watched]:
    """Give what the service decides inside, the last time counts."""
    found = Watched()

    def deciding(right: Callable[..., Any]) -> Callable[..., Any]:
        def watched(farm: Any, *given: Any, **named: Any) -> Any:
            found.plans.clear()
            result = right(farm, *given, **named)
            document = assessment_document(result.assessment, farm, [])
            found.nights = document["nights"]
            found.announced += [
                (item.night.isoformat(), item.say.value, item.why.value)
                for item in result.decision.announced
            ]
            found.next_look_utc = result.decision.next_look_utc
            found.due = {
                item.night.isoformat()
                for item in result.decision.nights
                if item.due_starts
            }
            return result

        return watched

    def planning(right: Callable[..., Any]) -> Callable[..., Any]:
        def watched(*given: Any, **named: Any) -> Any:
            plan = right(*given, **named)
            # The plan that the decision rests on comes first.
            found.plans.setdefault(plan.night.isoformat(), plan_values(plan))
            return plan

        return watched

    with replaced(DECIDES, deciding), replaced(PLANS, planning):
        yield found


@contextmanager
def replaced(
    seam: str, make: Callable[[Callable[..., Any]], Callable[..., Any]]
) -> Iterator[None]:
    """Put something in the place of a function, wherever it was imported.

    A seam is "module:function", or "module:function@importer" for one importer alone.
    """
    place, _, importer = seam.partition("@")
    module, _, name = place.partition(":")
    right = getattr(import_module(module), name)
    if importer:
        import_module(importer)
    wrong = make(right)
    with ExitStack() as stack:
        count = 0
        for known, holder in list(sys.modules.items()):
            is_ours = known.startswith("frostalert") and known in (importer or known)
            if is_ours and holder.__dict__.get(name) is right:
                stack.enter_context(patch.object(holder, name, wrong))
                count += 1
        assert count, f"{seam}: nothing was replaced"
        stack.enter_context(nothing_kept())
        yield


@dataclass(frozen=True, slots=True, kw_only=True)
class Defect:
    """One correction that is dropped in one mouth.

    Attributes
    ----------
    mouth : str
        The mouth, by its name in `mouths.SHOWS`.
    seam : str
        Where, as `replaced` reads it.
    make : callable
        Makes the function without the correction from the right one.
    """

    mouth: str
    seam: str
    make: Callable[[Callable[..., Any]], Callable[..., Any]]


def _instead(wrong: Callable[..., Any]) -> Callable[..., Any]:
    """Return what puts a function in the place of any other."""
    return lambda _: wrong


def _all_blocks(right: Callable[..., Any], **changes: Any) -> Callable[..., Any]:
    """Return a loader of settings whose blocks are changed."""

    def wrong(*given: Any, **named: Any) -> Any:
        settings = right(*given, **named)
        farm = settings.farm
        blocks = tuple(replace(block, **changes) for block in farm.blocks)
        return replace(settings, farm=replace(farm, blocks=blocks))

    return wrong


def _without_other_lows(right: Callable[..., Any]) -> Callable[..., Any]:
    """Return a view of a night that forgets the other sources."""
    return lambda night, *given: right(replace(night, site_low=None), *given)


def _without_offsets(right: Callable[..., Any]) -> Callable[..., Any]:
    """Return a view of a night that shows the source's low as the block's."""

    def wrong(night: Any, *given: Any) -> Any:
        blocks = tuple(
            replace(block, site_low_c=block.air_low_c) for block in night.blocks
        )
        return right(replace(night, blocks=blocks), *given)

    return wrong


def _facts_without_offsets(right: Callable[..., Any]) -> Callable[..., Any]:
    """Return a text that shows the source's low as the block's."""

    def wrong(facts: Any, *given: Any) -> Any:
        blocks = tuple(
            replace(block, site_low_c=block.air_low_c) for block in facts.night.blocks
        )
        night = replace(facts.night, blocks=blocks)
        return right(replace(facts, night=night), *given)

    return wrong


def _without_learned_error(right: Callable[..., Any]) -> Callable[..., Any]:
    """Return the lesson that moves the air and leaves the error as it was."""

    def wrong(shared: Any, *given: Any) -> Any:
        return replace(right(shared, *given), learned=(None,) * len(shared.nights))

    return wrong


def _as_if_all_were_fresh(right: Callable[..., Any]) -> Callable[..., Any]:
    """Return the choice of runs made as if the oldest were new."""
    return lambda runs, order, _: right(
        runs, order, min(run.updated_utc for run in runs)
    )


TONIGHT, PLAN, EXPLAIN, ONCE = "tonight --json", "plan --json", "explain", "once"
_COMPOSED = "frostalert.messages.views:night_view@frostalert.messages.compose_warning"
_SOURCES = "frostalert.risk.sources:choose_runs"
_SETTINGS = "frostalert.config.load:load_settings"

DEFECTS: dict[str, Defect] = {
    "source-bias": Defect(
        mouth=TONIGHT,
        seam="frostalert.risk.learning:site_lesson",
        make=_instead(
            lambda shared, *_: SiteLesson(
                terms=(), learned=(None,) * len(shared.nights)
            )
        ),
    ),
    "learned-error": Defect(
        mouth=TONIGHT,
        seam="frostalert.risk.learning:site_lesson",
        make=_without_learned_error,
    ),
    "reading": Defect(
        mouth=TONIGHT,
        seam="frostalert.risk.readings:reading_effect",
        make=_instead(lambda *_: ReadingEffect()),
    ),
    "nowcast": Defect(
        mouth=TONIGHT,
        seam="frostalert.risk.nowcast_error:nowcast_error",
        make=lambda right: lambda _, night: right((), night),
    ),
    "warmth": Defect(
        mouth=TONIGHT,
        seam="frostalert.risk.warmth:with_warmth",
        make=_instead(lambda farm, *_: farm),
    ),
    "pooled": Defect(
        mouth=TONIGHT,
        seam="frostalert.risk.members:pooled_terms",
        make=_instead(lambda *_: ()),
    ),
    "second-source": Defect(
        mouth=ONCE, seam=_SOURCES, make=lambda right: lambda *a: right(*a)[:1]
    ),
    "stale-source": Defect(mouth=ONCE, seam=_SOURCES, make=_as_if_all_were_fresh),
    "past-hours": Defect(
        mouth=ONCE,
        seam="frostalert.risk.past_hours:fill_past_hours",
        make=_instead(lambda run, _: run),
    ),
    "source-minimum": Defect(
        mouth=TONIGHT,
        seam="frostalert.risk.site_hours:_night_minimum",
        make=_instead(lambda *_: None),
    ),
    "lapse": Defect(
        mouth=EXPLAIN,
        seam="frostalert.physics.site_air:lapse_delta_c",
        make=_instead(lambda _site, _grid, weight: np.zeros_like(weight)),
    ),
    "cold-spot": Defect(
        mouth=EXPLAIN,
        seam=_SETTINGS,
        make=lambda right: _all_blocks(right, cold_spot_delta_c=0.0),
    ),
    "ground": Defect(
        mouth=TONIGHT,
        seam=_SETTINGS,
        make=lambda right: _all_blocks(right, is_measured_at_height=True),
    ),
    "measured-gains": Defect(
        mouth=PLAN,
        seam="frostalert.plan.gains:with_measured_gains",
        make=_instead(lambda farm, _: farm),
    ),
    "called-starts": Defect(
        mouth=PLAN,
        seam="frostalert.cycle.planning:progress_of",
        make=_instead(lambda *_: {}),
    ),
    "page-members": Defect(
        mouth="page",
        seam="frostalert.messages.views:night_view@frostalert.report.status_page",
        make=_without_other_lows,
    ),
    "page-offsets": Defect(
        mouth="page",
        seam="frostalert.messages.views:night_view@frostalert.report.status_page",
        make=_without_offsets,
    ),
    "mail-members": Defect(mouth="mail", seam=_COMPOSED, make=_without_other_lows),
    "text-offsets": Defect(
        mouth="text",
        seam="frostalert.messages.warning_text:text_of@frostalert.messages.warning",
        make=_facts_without_offsets,
    ),
}
"""Term to what drops it."""


def load_program() -> None:
    """Import the whole program: what is imported under a defect would keep it."""
    for module in walk_packages(frostalert.__path__, "frostalert."):
        if module.name.endswith("__main__"):
            continue
        try:
            import_module(module.name)
        except ImportError as error:
            # An extra that is not installed speaks to nobody.
            if (error.name or "").startswith("frostalert"):
                raise
