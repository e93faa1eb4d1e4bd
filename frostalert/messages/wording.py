"""Numbers, times and names as people read them, in the site's units and local time.

Fahrenheit exists here and in the configuration, nowhere between. Hours and dates for
people are written here alone: a site with US units reads "7:40 pm" and "Apr 12", every
other one "19:40" and "12 Apr".
"""

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from frostalert.model.percent import percent_of
from frostalert.model.site import Site, Units

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip
_KM_PER_MILE = 1.609344
_NONE = "-"
NO_CURVE = "no curve"
_F_PER_C = 1.8
_MPH_PER_MPS = 2.23694
_FREEZING_F = 32.0
_MM_PER_IN = 25.4
_US_AMOUNTS = {"L": (0.264172, "gal"), "kg": (2.20462, "lb")}
_FEW_UNITS = 10.0
_FEW_PCT, _MOST_PCT = 10.0, 90.0
_NOON_HOUR = 12
_DAYBREAK_HOUR = 5
_HALF_A_DAY = timedelta(hours=12)
_SPACED_HOUR = re.compile(r"(\b\d{1,2}:\d\d) (?=[ap]m\b)")


@dataclass(frozen=True, slots=True)
class Wording:
    """Words for one site at one moment."""

    site: Site
    now_utc: datetime

    @property
    def zone(self) -> ZoneInfo:
        """The site's time zone."""
        return ZoneInfo(self.site.time_zone)

    @property
    def today(self) -> date:
        """The site's local date."""
        return self.now_utc.astimezone(self.zone).date()

    def temperature(self, celsius: float | None) -> str:
        """Return a temperature with its unit, or a dash.

        Forecast grids hold whole degrees Fahrenheit: no more precision is shown.
        """
        if celsius is None:
            return _NONE
        if self.site.units is Units.US:
            # Adding zero turns a minus zero into a plain one.
            return f"{round(celsius * _F_PER_C + _FREEZING_F) + 0} F"
        return f"{round(celsius, 1) + 0.0:.1f} C"

    def difference(self, celsius: float) -> str:
        """Return a difference of temperatures with its unit."""
        if self.site.units is Units.US:
            return f"{celsius * _F_PER_C:.0f} F"
        return f"{celsius:.1f} C"

    def speed(self, metres_per_second: float) -> str:
        """Return a wind speed with its unit."""
        if self.site.units is Units.US:
            return f"{metres_per_second * _MPH_PER_MPS:.0f} mph"
        return f"{metres_per_second:.0f} m/s"

    def distance(self, kilometres: float) -> str:
        """Return a distance with its unit."""
        if self.site.units is Units.US:
            return f"{kilometres / _KM_PER_MILE:.0f} mi"
        return f"{kilometres:.0f} km"

    def amount(self, value: float, unit: str = "L") -> str:
        """Return a volume or a weight with its unit, as exact as it can be known."""
        if self.site.units is Units.US:
            value, unit = value * _US_AMOUNTS[unit][0], _US_AMOUNTS[unit][1]
        places = 1 if value < _FEW_UNITS else 0
        return f"{value:,.{places}f} {unit}"

    def rate(self, mm_per_h: float) -> str:
        """Return a rate of water over the ground with its unit."""
        if self.site.units is Units.US:
            return f"{mm_per_h / _MM_PER_IN:.2f} in/h"
        return f"{mm_per_h:.1f} mm/h"

    def clock(self, moment: datetime | None) -> str:
        """Return a local time of day, or a dash."""
        if moment is None:
            return _NONE
        local = moment.astimezone(self.zone)
        if self.site.units is Units.US:
            return f"{local.hour % _NOON_HOUR or _NOON_HOUR}:{local:%M} {_half(local)}"
        return f"{local:%H:%M}"

    def hours(self, first: datetime, last: datetime) -> str:
        """Return from when to when; "am" stands once where both hours are of it."""
        start, end = self.clock(first), self.clock(last)
        half = _half(first.astimezone(self.zone))
        if end.endswith(half) and last - first < _HALF_A_DAY:
            start = start.removesuffix(f" {half}")
        return f"{start}-{end}"

    def moment(self, moment: datetime) -> str:
        """Return a local date and time, with the zone's abbreviation."""
        local = moment.astimezone(self.zone)
        between = ", " if self.site.units is Units.US else " "
        return f"{self.day(local.date())}{between}{self.clock(moment)} {local:%Z}"

    def day(self, value: date) -> str:
        """Return a date with its day of the week."""
        return f"{_DAYS[value.weekday()]} {self.month_day(value)}"

    def weekday(self, moment: datetime) -> str:
        """Return the day of the week of a moment."""
        return _DAYS[moment.astimezone(self.zone).weekday()]

    def month_day(self, value: date) -> str:
        """Return a date without its day of the week."""
        month = _MONTHS[value.month - 1]
        if self.site.units is Units.US:
            return f"{month} {value.day}"
        return f"{value.day} {month}"

    def night(self, night: date) -> str:
        """Return a night by the date of its evening, the near ones by name."""
        # By the calendar, as people speak: at ten in the morning "tonight" is to come.
        local = self.now_utc.astimezone(self.zone)
        ahead = (night - local.date()).days
        if not ahead and local.hour < _DAYBREAK_HOUR:
            # Before dawn "tonight" is the night that runs.
            return f"this coming night, {self.day(night)}"
        if ahead == -1:
            morning = night + timedelta(days=1)
            return f"overnight {self.day(night)} to {self.day(morning)}"
        names = {0: "tonight", 1: "tomorrow night"}
        name = self.day(night)
        return f"{names[ahead]}, {name}" if ahead in names else name

    def short_night(self, night: date) -> str:
        """Return a night's date in few words; past midnight the morning's."""
        local = self.now_utc.astimezone(self.zone)
        is_morning = local.hour < _NOON_HOUR and local.date() > night
        return self.day(night + timedelta(days=1) * is_morning)

    def of_night(self, night: date) -> str:
        """Return a night as the one that something is said of."""
        return f"the night of {self.day(night)}"

    def short_moment(self, moment: datetime) -> str:
        """Return a local date and time, as short as can be."""
        local = moment.astimezone(self.zone)
        return f"{self.month_day(local.date())} {self.clock(moment)}"

    def age(self, moment: datetime) -> str:
        """Return how long ago a moment was."""
        since = self.now_utc - moment
        if since < timedelta(0):
            return f"made {span(-since)} after this moment"
        return f"{span(since)} old"


def capital(text: str) -> str:
    """Return a text that begins with a capital letter.

    Examples
    --------
    >>> capital("tonight, Sun Apr 12")
    'Tonight, Sun Apr 12'
    """
    return f"{text[:1].upper()}{text[1:]}"


def _half(local: datetime) -> str:
    """Return the half of the day."""
    return "am" if local.hour < _NOON_HOUR else "pm"


def full_hour(local: datetime, *, is_us: bool) -> str:
    """Return a full hour in few places, for the axis of a picture.

    Examples
    --------
    >>> full_hour(datetime(2026, 4, 12, 21), is_us=True)
    '9 pm'
    """
    if is_us:
        return f"{local.hour % _NOON_HOUR or _NOON_HOUR} {_half(local)}"
    return f"{local:%H}"


def tight_hours(text: str) -> str:
    """Return a text whose hours take no more room than they need.

    Examples
    --------
    >>> tight_hours("harm 2:05 am-9:07 am, 3 am trees"), tight_hours("19:40")
    ('harm 2:05am-9:07am, 3 am trees', '19:40')
    """
    return _SPACED_HOUR.sub(r"\1", text)


def span(duration: timedelta) -> str:
    """Return a duration in words.

    Examples
    --------
    >>> span(timedelta(minutes=95)), span(timedelta(days=3))
    ('1 h 35 min', '3 days')
    """
    minutes = round(duration.total_seconds() / 60)
    if minutes < 60:  # noqa: PLR2004 - minutes in an hour
        return f"{minutes} min"
    if minutes < 2 * 24 * 60:
        hours, rest = divmod(minutes, 60)
        return f"{hours} h {rest} min" if rest and hours < 12 else f"{hours} h"  # noqa: PLR2004 - half a day
    return f"{minutes // (24 * 60)} days"


def counted(equipment: str, units: int) -> str:
    """Return an equipment with its number of pieces, where they are counted."""
    return f"{equipment} x {units}" if units else equipment


def share(percent: float | None) -> str:
    """Return a share killed; outside the published points only the side is told.

    Examples
    --------
    >>> share(4.2), share(31.4), share(97.0), share(None)
    ('under 10 %', '31 %', 'over 90 %', 'no curve')
    """
    if percent is None:
        return NO_CURVE
    if percent < _FEW_PCT:
        return "under 10 %"
    return "over 90 %" if percent > _MOST_PCT else f"{percent:.0f} %"


def chance(probability: float | None) -> str:
    """Return a chance, or a dash where it is not known."""
    return _NONE if probability is None else percent_of(probability)
