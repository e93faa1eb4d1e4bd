"""A chance as it is printed, by whoever says it."""

_LEAST_PCT, _MOST_PCT = 1.0, 99.0


def percent_of(probability: float) -> str:
    """Return a chance in percent; never certain either way.

    Examples
    --------
    >>> percent_of(0.003), percent_of(0.62), percent_of(0.9999)
    ('under 1 %', '62 %', 'over 99 %')
    """
    percent = 100.0 * probability
    if percent < _LEAST_PCT:
        return "under 1 %"
    return "over 99 %" if percent > _MOST_PCT else f"{percent:.0f} %"
