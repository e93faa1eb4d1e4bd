"""The assessment for when there is nothing to judge by: it says so, night by night."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.site import Holding
from frostalert.physics.nights import night_of, night_sun, night_window


def cannot_judge_anything(
    holding: Holding, now_utc: datetime, problem: str
) -> Assessment:
    """Return an assessment without a forecast.

    Parameters
    ----------
    holding : Holding
        The site.
    now_utc : datetime
        The present moment.
    problem : str
        Why there is nothing to judge by.

    Returns
    -------
    Assessment
        The present night and the next, neither of which can be judged.

    References
    ----------
    .. [1] Our own rule: silence never means safe.
    """
    return Assessment(
        issued_utc=now_utc,
        forecast=None,
        nights=tuple(
            _blind_night(holding, now_utc, problem, days) for days in range(2)
        ),
        problem=problem,
    )


def _blind_night(
    holding: Holding, now_utc: datetime, problem: str, days: int
) -> NightAssessment:
    """Return a night of which nothing is known."""
    zone = ZoneInfo(holding.site.time_zone)
    window = night_window(night_of(now_utc, zone) + timedelta(days=days), zone)
    sunset, sunrise = night_sun(window, holding.site.latitude, holding.site.longitude)
    return NightAssessment(
        night=window.night,
        start_utc=window.start_utc,
        end_utc=window.end_utc,
        sunset_utc=sunset,
        sunrise_utc=sunrise,
        tier=Tier.CANNOT_JUDGE,
        reason=problem,
        kind=None,
        kind_reason=problem,
        signs=None,
        is_frost_forecast=False,
        send_by_utc=None,
        act_at_utc=None,
        cold_over_utc=None,
        stop_not_before_utc=None,
        lacks_past_hours=True,
        missing=problem,
        blocks=(),
    )
