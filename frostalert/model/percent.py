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


def at_least(words: str) -> str:
    """Return a chance in words as the least that it can be; "over" says so already."""
    return words if words.startswith("over") else f"at least {words}"
