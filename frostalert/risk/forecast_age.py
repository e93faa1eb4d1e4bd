"""What the age of a forecast is worth."""

from datetime import timedelta

FRESH = timedelta(hours=8)
STALE = timedelta(hours=14)
UNUSABLE = timedelta(hours=24)
"""Ages of a forecast by its own update time; common practice, no source. Offices of
the US National Weather Service reissue several times a day."""


def age_word(age: timedelta) -> str:
    """Return what an age of a forecast is worth.

    References
    ----------
    .. [1] Common practice, no source.

    Examples
    --------
    >>> age_word(timedelta(hours=9))
    'ageing'
    """
    if age <= FRESH:
        return "fresh"
    if age <= STALE:
        return "ageing"
    return "stale" if age <= UNUSABLE else "too old"
