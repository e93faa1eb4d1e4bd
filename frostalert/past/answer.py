"""From what archives held of past springs to the answer, and what learning gets."""

from collections.abc import Callable, Sequence

from frostalert.agronomy.kill import reach_probability
from frostalert.model.learned import ForecastObservation, PairOrigin
from frostalert.model.past import (
    PastFacts,
    PastNight,
    PastSprings,
    SettingResult,
    SpringSpan,
    Tally,
    TruthKind,
)
from frostalert.model.site import Farm
from frostalert.past.harm import costs_of
from frostalert.past.settings import Setting, settings_to_try
from frostalert.past.spans import nights_of
from frostalert.past.walk import (
    Afternoon,
    ArchivedLow,
    afternoons_of,
    pairs_to_keep,
    walk,
)

_ORIGINS = {
    TruthKind.OWN: PairOrigin.ARCHIVE,
    TruthKind.STATION: PairOrigin.ARCHIVE_STATION,
    # A model's own analysis says nothing of what the model misses.
    TruthKind.REANALYSIS: None,
}


def past_springs(
    farm: Farm,
    facts: PastFacts,
    *,
    on_progress: Callable[[float], None] = lambda _: None,
) -> tuple[PastSprings, tuple[ForecastObservation, ...]]:
    """Return how often people would have been called, and what the springs teach.

    Parameters
    ----------
    farm : Farm
        The holding as configured.
    facts : PastFacts
        What archives and the user told.
    on_progress : callable
        Told the share of the work done.

    Returns
    -------
    tuple of (PastSprings, tuple of ForecastObservation)
        The answer, and the pairs for learning.
    """
    origin = _ORIGINS[facts.truth.kind]
    springs, lows = _afternoons(farm, facts, origin)
    tried = settings_to_try(farm, facts.sightings)
    total = sum(map(len, springs.values())) * sum(not item.why_not for item in tried)
    done = 0

    def count() -> None:
        nonlocal done
        done += 1
        on_progress(done / max(1, total))

    results = tuple(_result(item, springs, facts, count) for item in tried)
    pairs = () if origin is None else pairs_to_keep(lows, origin)
    return (
        PastSprings(
            truth=facts.truth,
            settings=results,
            costs={
                span: costs_of(nights, farm.blocks)
                for span, nights in results[0].springs.items()
            },
            stage_years=tuple(sorted({item.seen.year for item in facts.sightings})),
            sources=_titles(facts),
            without_archive=facts.without_archive,
            is_source_asked=facts.is_source_asked,
            pairs=len(pairs),
        ),
        pairs,
    )


def tally(nights: Sequence[PastNight]) -> Tally:
    """Return how calls and cold went together.

    Parameters
    ----------
    nights : sequence of PastNight
        Those of which not both are known are left out.

    Returns
    -------
    Tally
        Counts of nights.
    """
    known = [night for night in nights if night.is_known]
    return Tally(
        nights=len(known),
        harmful=sum(night.is_harmful for night in known),
        worth_hands=sum(night.is_worth_hands for night in known),
        ready=sum(night.is_ready for night in known),
        ready_needed=sum(night.is_ready and night.is_harmful for night in known),
        called=sum(night.is_called for night in known),
        called_needed=sum(night.is_called and night.is_worth_hands for night in known),
    )


def brier_score(nights: Sequence[PastNight], limit_c: float) -> float:
    """Return the Brier score of the chance that the site's low reaches a limit.

    Parameters
    ----------
    nights : sequence of PastNight
        Those of which not both are known are left out.
    limit_c : float
        The limit. [degC]

    Returns
    -------
    float
        Mean squared error of the chance, 0 at best; NaN without a night.

    References
    ----------
    .. [1] Brier, "Verification of forecasts expressed in terms of probability," Monthly
       Weather Review 78, 1950, 1-3.
    """
    squares = [
        (
            float(reach_probability(night.low_c, night.sigma_c, limit_c))
            - float(night.came_c <= limit_c)
        )
        ** 2
        for night in nights
        if night.low_c is not None
        and night.sigma_c is not None
        and night.came_c is not None
    ]
    return sum(squares) / len(squares) if squares else float("nan")


def _afternoons(
    farm: Farm, facts: PastFacts, origin: PairOrigin | None
) -> tuple[dict[SpringSpan, list[Afternoon]], list[ArchivedLow]]:
    """Return the afternoons of each spring, each taught by those before it."""
    found: dict[SpringSpan, list[Afternoon]] = {}
    lows: list[ArchivedLow] = []
    for span in sorted(facts.archives):
        found[span], learned = afternoons_of(
            farm,
            facts.archives[span],
            nights_of(span),
            facts.truth.lows_c,
            origin=origin,
            before=lows,
        )
        lows += learned
    return found, lows


def _result(
    setting: Setting,
    springs: dict[SpringSpan, list[Afternoon]],
    facts: PastFacts,
    on_night: Callable[[], None],
) -> SettingResult:
    """Return one setting's nights."""
    nights = (
        {}
        if setting.why_not
        else {
            span: walk(setting.farm, afternoons, facts.sightings, on_night=on_night)
            for span, afternoons in springs.items()
        }
    )
    return SettingResult(
        name=setting.name, keys=setting.keys, why_not=setting.why_not, springs=nights
    )


def _titles(facts: PastFacts) -> tuple[str, ...]:
    """Return the names of the archives, each once."""
    titles = {
        run.source_title: None
        for archives in facts.archives.values()
        for archive in archives
        for run in archive.values()
    }
    return tuple(titles)
