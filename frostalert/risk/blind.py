"""Nights of which nothing can be judged: there is no forecast that would do."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from frostalert.agronomy.looks import stages_on
from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.nights import Facts, Nights
from frostalert.model.site import Farm
from frostalert.physics.nights import night_of, night_sun, night_window
from frostalert.risk.night_record import NOTHING_WATCHED


def blind_nights(farm: Farm, facts: Facts, now_utc: datetime, problem: str) -> Nights:
    """Return the present night and the next, neither of which can be judged.

    Parameters
    ----------
    farm : Farm
        The site.
    facts : Facts
        What there is: no run that can be judged by.
    now_utc : datetime
        The present moment.
    problem : str
        Why there is nothing to judge by.

    Returns
    -------
    Nights
        Without hours. Where no block is watched on a night there is nothing to judge.
    """
    return Nights(
        assessment=Assessment(
            issued_utc=now_utc,
            forecast=None,
            nights=tuple(_blind_night(farm, now_utc, problem, n) for n in range(2)),
            problem=problem,
            official=facts.official,
        ),
        farm=farm,
        facts=facts,
    )


def _blind_night(
    farm: Farm, now_utc: datetime, problem: str, days: int
) -> NightAssessment:
    """Return a night of which nothing is known."""
    site = farm.site
    zone = ZoneInfo(site.time_zone)
    window = night_window(night_of(now_utc, zone) + timedelta(days=days), zone)
    sunset, sunrise = night_sun(window, site.latitude, site.longitude)
    is_watched = _may_be_watched(farm, window.night)
    return NightAssessment(
        night=window.night,
        start_utc=window.start_utc,
        end_utc=window.end_utc,
        sunset_utc=sunset,
        sunrise_utc=sunrise,
        tier=Tier.CANNOT_JUDGE if is_watched else Tier.NONE,
        reason=problem if is_watched else NOTHING_WATCHED,
        kind=None,
        kind_reason=problem,
        signs=None,
        is_frost_forecast=False,
        send_by_utc=None,
        act_at_utc=None,
        cold_over_utc=None,
        stop_not_before_utc=None,
        heat_out_utc=None,
        lacks_past_hours=True,
        missing=problem,
        blocks=(),
    )


def _may_be_watched(farm: Farm, night: date) -> bool:
    """Return whether a block is watched on a night, or none knows."""
    try:
        return any(not stage.is_muted for stage in stages_on(farm, [night])[night])
    except Exception:  # noqa: BLE001 - what broke the judging may break this: warn
        return True
