"""The figures as lines `name: value`, lead by lead."""

from collections.abc import Iterator, Sequence

import numpy as np

from frostalert.model.forecast import BoolArray, FloatArray
from tests.evaluation.hindcast.judged import FROST_C, SPRING_C, Judged
from tests.evaluation.hindcast.pairs import SOURCES
from tests.evaluation.hindcast.scores import (
    Bin,
    Calls,
    brier,
    calls,
    calls_at_hits,
    cost,
    largest_gap,
    log_score,
    reliability,
)
from tests.evaluation.hindcast.walk import SPRING_MONTHS
from tests.evaluation.hindcast.ways import MEAN, OURS

GET_READY = 0.15
CALLED_C = (0.0, -2.2)
RATIOS = (0.005, 0.02, 0.05, 0.1)

Line = tuple[str, str]


def errors(judged: Judged) -> Iterator[Line]:
    """Give bias and RMSE before and after learning."""
    for name in (*SOURCES, MEAN, OURS):
        for stage, ways in (("before", judged.unlearned), ("after", judged.ways)):
            off = ways[name].centre_c - judged.nights.analysed_c
            rmse = np.sqrt((off**2).mean())
            yield (
                f"{name}, bias {stage} learning [degC]",
                f"{off.mean().round(2) + 0.0:+.2f}",
            )
            yield f"{name}, RMSE {stage} learning [degC]", f"{rmse:.2f}"


def chances(judged: Judged) -> Iterator[Line]:
    """Give the scores of the chances, all nights, then the spring's."""
    everything = np.ones(judged.nights.night.size, dtype=np.bool_)
    yield from _chances(judged, FROST_C, everything, "")
    spring = judged.nights.months(SPRING_MONTHS)
    if spring.any():
        yield "March to May, nights", str(np.count_nonzero(spring))
        yield from _chances(judged, SPRING_C, spring, "March to May, ")
    for name, density in judged.densities().items():
        yield f"log score of the low, {name}", f"{-density.mean():.3f}"


def _chances(
    judged: Judged, limits_c: Sequence[float], chosen: BoolArray, when: str
) -> Iterator[Line]:
    once = np.ones(np.count_nonzero(chosen))
    for limit_c in limits_c:
        happened = judged.happened(limit_c)[chosen]
        start = f"{when}{limit_c:.1f} degC"
        yield f"{start}, nights at or below", str(np.count_nonzero(happened))
        told = {n: chance[chosen] for n, chance in judged.chances(limit_c).items()}
        for name, chance in told.items():
            yield f"{start}, Brier, {name}", f"{brier(chance, happened, once):.4f}"
        for name, chance in told.items():
            value = log_score(chance, happened, once)
            yield f"{start}, log score, {name}", f"{value:.4f}"


def bins(leads: Sequence[Judged], name: str) -> list[Bin]:
    """Return the reliability of one way over leads and frosty limits."""
    told = [item.chances(limit)[name] for item in leads for limit in FROST_C]
    came = [item.happened(limit) for item in leads for limit in FROST_C]
    return reliability(np.concatenate(told), np.concatenate(came))


def reliabilities(leads: Sequence[Judged]) -> Iterator[Line]:
    """Give the five bins of ours, and every way's largest gap."""
    own = bins(leads, OURS)
    for place, item in enumerate(own, start=1):
        yield (
            f"reliability, {OURS}, bin {place} of {len(own)}",
            f"told {item.told:.2f}, happened {item.happened:.2f}, {item.cases} cases",
        )
    for name in leads[0].ways:
        gap = largest_gap(bins(leads, name))
        yield f"reliability, largest gap, {name}", f"{gap:.3f}"


def ready_calls(judged: Judged, limit_c: float, weight: FloatArray) -> Calls:
    """Return what comes of calling at the chance of *get ready*."""
    chance = judged.chances(limit_c)[OURS]
    return calls(chance >= GET_READY, judged.happened(limit_c), weight)


def landed_calls(
    judged: Judged, limit_c: float, weight: FloatArray, first: str, hits: float
) -> Calls:
    """Return what comes of the landed rule at the level that gives so many hits."""
    chance = judged.landed[first].chance(limit_c)
    return calls_at_hits(chance, judged.happened(limit_c), weight, hits)


def called(judged: Judged) -> Iterator[Line]:
    """Give hits, misses and false calls, ours and by the landed rule."""
    once = np.ones(judged.nights.night.size)
    for limit_c in CALLED_C:
        happened = judged.happened(limit_c)
        start = f"{limit_c:.1f} degC, get ready at {GET_READY:.0%}"
        own = ready_calls(judged, limit_c, once)
        yield from _calls(f"{start}, {OURS}", own)
        for first, way in judged.landed.items():
            name = f"{start}, landed rule with {first} first"
            told = way.chance(limit_c) >= GET_READY
            yield from _calls(name, calls(told, happened, once))
            equal = landed_calls(judged, limit_c, once, first, own.hits)
            yield f"{name}, false calls at equal hits", f"{equal.false_calls:.0f}"


def _calls(name: str, found: Calls) -> Iterator[Line]:
    yield f"{name}, hits", f"{found.hits:.0f}"
    yield f"{name}, misses", f"{found.misses:.0f}"
    yield f"{name}, false calls", f"{found.false_calls:.0f}"


def costs(judged: Judged) -> Iterator[Line]:
    """Give what 100 nights cost, in losses, when acting costs a share of a loss."""
    for limit_c in FROST_C:
        happened = judged.happened(limit_c)
        own = judged.chances(limit_c)[OURS]
        raw = dict(zip(SOURCES, judged.nights.raw_c <= limit_c, strict=True))
        for ratio in RATIOS:
            acts = {
                OURS: own >= ratio,
                "always": np.ones_like(happened),
                "never": np.zeros_like(happened),
                **{f"{name} as forecast": low for name, low in raw.items()},
                **{
                    f"landed rule with {first} first": way.chance(limit_c) >= ratio
                    for first, way in judged.landed.items()
                },
            }
            for name, act in acts.items():
                value = 100.0 * cost(act, happened, ratio)
                yield f"{limit_c:.1f} degC, cost at C/L {ratio}, {name}", f"{value:.2f}"
