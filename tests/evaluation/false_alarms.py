"""False alarms over a bloom, on real spring nights degraded by forecast error.

    python -m tests.evaluation.false_alarms [--draws N] [--seed S]

Every afternoon of a month of bloom a forecast of the next four nights is made from
what was observed, each night shifted by an error of known size that shrinks as the
night comes near. The tiers are run over it, and compared with what they say of the
observations themselves: a night is risky if the bud reached the alarm temperature.
"""

import argparse
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.model.assessment import Tier
from frostalert.model.forecast import HOUR, ForecastRun, Hours
from frostalert.model.site import Block, Farm, Rules, Site, Units
from frostalert.physics.nights import night_of
from tests.evaluation.stations import Station, load_airport, load_greensboro
from tests.support.holdings import INES, make_block
from tests.support.judged import assess

TRUE_SIGMA_C = 1.5
GROWTH_C = 0.25
NIGHTS = 4
BLOOM_DAYS = 30
AFTERNOON = time(16, 0)
BLOOMS = {"Greensboro NC": date(2013, 3, 18), "Newark NJ": date(2013, 3, 20)}


@dataclass
class Tally:
    """Counts over all blooms."""

    blooms: int = 0
    risky: int = 0
    caught: int = 0
    false_outlook: int = 0
    false_prepare: int = 0


def site_of(station: Station) -> Site:
    """Return a holding's site at the station."""
    return Site(
        name=station.name,
        latitude=station.latitude,
        longitude=station.longitude,
        elevation_m=station.elevation_m,
        time_zone=station.time_zone,
        units=Units.METRIC,
    )


def hollow(first_day: date) -> Block:
    """Return apples in bloom in a hollow that runs 2 degC colder."""
    return make_block(
        "Apples",
        "apple",
        "full bloom",
        seen=first_day,
        cold_spot_delta_c=-2.0,
    )


def run_of(station: Station, start: int, count: int) -> ForecastRun:
    """Return the observations from an hour on as a forecast without error."""
    part = slice(start, start + count)
    first = station.first_utc + start * HOUR
    return ForecastRun(
        source="observed",
        source_title=station.name,
        place=station.name,
        updated_utc=first,
        fetched_utc=first,
        elevation_m=station.elevation_m,
        latitude=station.latitude,
        longitude=station.longitude,
        hides_calm=False,
        hours=Hours(
            first_utc=first,
            air_c=station.air_c[part],
            dewpoint_c=np.minimum(station.dewpoint_c[part], station.air_c[part]),
            wind_mps=station.wind_mps[part],
            cloud_pct=station.cloud_pct[part],
            shutting_cloud_pct=np.full(count, np.nan),
            precipitation_probability_pct=np.zeros(count),
            is_frost=np.zeros(count, dtype=np.bool_),
            is_wet_weather=np.zeros(count, dtype=np.bool_),
        ),
        night_minimums=(),
        precipitation_mm=(),
    )


def shifted(run: ForecastRun, errors_c: np.ndarray, zone: ZoneInfo) -> ForecastRun:
    """Return a run with each night's hours shifted by its error."""
    first_night = night_of(run.hours.first_utc, zone)
    nights = [
        (night_of(run.hours.first_utc + n * HOUR, zone) - first_night).days
        for n in range(run.hours.count)
    ]
    by = errors_c[np.minimum(np.array(nights), errors_c.size - 1)]
    air = run.hours.air_c + by
    dew = np.minimum(run.hours.dewpoint_c + by, air)
    return replace(run, hours=replace(run.hours, air_c=air, dewpoint_c=dew))


def evaluate(
    station: Station, rules: Rules, draws: int, seed: int, tally: Tally
) -> None:
    """Add one station's blooms to a tally."""
    random = np.random.default_rng(seed)
    zone = ZoneInfo(station.time_zone)
    first_day = BLOOMS[station.name]
    farm = Farm(
        site=site_of(station),
        blocks=(hollow(first_day),),
        people=(INES,),
        # The stage holds through the month: only the forecast's error is looked at.
        rules=replace(rules, stage_days=2 * BLOOM_DAYS, bloom_days=2 * BLOOM_DAYS),
    )
    sigmas = TRUE_SIGMA_C + GROWTH_C * np.arange(NIGHTS)
    steps = np.sqrt(np.diff(np.concatenate([[0.0], sigmas**2])))
    for _ in range(draws):
        tally.blooms += 1
        # A night's error is a sum of steps; each day nearer takes one step away.
        parts = random.normal(0.0, 1.0, (BLOOM_DAYS + NIGHTS, NIGHTS)) * steps
        errors = np.cumsum(parts, axis=1)
        told_outlook: set[int] = set()
        for day in range(BLOOM_DAYS):
            afternoon = datetime.combine(
                first_day + timedelta(days=day), AFTERNOON, tzinfo=zone
            ).astimezone(UTC)
            start = int((afternoon - station.first_utc) / HOUR) - 4
            truth = run_of(station, start, 4 + 24 * NIGHTS)
            lead = np.array([errors[day + ahead, ahead] for ahead in range(NIGHTS)])
            nights = assess(farm, shifted(truth, lead, zone), afternoon).nights
            for ahead, night in enumerate(nights[1:NIGHTS], start=1):
                if night.tier.rank:
                    told_outlook.add(day + ahead)
            is_risky = _is_risky(farm, truth, afternoon)
            is_told = nights[0].tier.rank >= Tier.PREPARE.rank
            tally.risky += is_risky
            tally.caught += is_risky and is_told
            tally.false_prepare += is_told and not is_risky
            tally.false_outlook += day in told_outlook and not is_risky


def _is_risky(farm: Farm, truth: ForecastRun, now_utc: datetime) -> bool:
    """Return whether the bud really reached the alarm temperature."""
    bud = assess(farm, truth, now_utc).nights[0].blocks[0].bud
    return bud is not None and bud.first_below_utc is not None


def sigma_c(rules: Rules) -> float:
    """Return the error of one source's low tonight, with the site's. [degC]"""
    return float(np.hypot(rules.sigma_c, rules.site_sigma_c))


def table(draws: int, seed: int) -> str:
    """Return the table that `tests/README.md` shows."""
    lines = [
        "| station | rules' sigma | risky nights a bloom | caught | false `outlook` a "
        "bloom | false `prepare` a bloom |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    # Once a site's nights are learned, nothing is left that is not known of it.
    learned = Rules(sigma_c=TRUE_SIGMA_C, sigma_per_day_c=GROWTH_C, site_sigma_c=0.0)
    for station in (load_greensboro(), load_airport("EWR")):
        for name, rules in (("default", Rules()), ("learned", learned)):
            tally = Tally()
            evaluate(station, rules, draws, seed, tally)
            caught = 100.0 * tally.caught / tally.risky if tally.risky else 0.0
            lines.append(
                f"| {station.name} | {name} {sigma_c(rules):.1f} °C "
                f"| {tally.risky / tally.blooms:.1f} "
                f"| {caught:.0f} % | {tally.false_outlook / tally.blooms:.1f} "
                f"| {tally.false_prepare / tally.blooms:.1f} |"
            )
    return "\n".join(lines)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--draws", type=int, default=40)
    parser.add_argument("--seed", type=int, default=2013)
    given = parser.parse_args()
    print(table(given.draws, given.seed))  # noqa: T201


if __name__ == "__main__":
    main()
