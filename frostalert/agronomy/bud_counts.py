"""Counting buds after a frost, and what a count can and cannot say. Pure."""

from dataclasses import dataclass

from scipy.stats import binomtest, fisher_exact

from frostalert.errors import PhysicsDomainError

SURE = 0.95
"""Confidence of every interval here. [1]"""
WIDE = 0.25
"""Width of an interval from which a count says little. [1] Common practice, no
source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A share that was counted, with its 95 % interval, 0 to 1."""

    share: float
    low: float
    high: float
    counted: int

    @property
    def is_wide(self) -> bool:
        """Whether the interval is too wide to act on."""
        return self.high - self.low > WIDE


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """Treated against left alone.

    Attributes
    ----------
    treated, left_alone : Share
        Share dead in each.
    saved : float
        Dead left alone less dead treated, 0 to 1.
    saved_low, saved_high : float
        Its 95 % interval.
    p_value : float
        Chance of a difference at least as great if the treatment did nothing.
    """

    treated: Share
    left_alone: Share
    saved: float
    saved_low: float
    saved_high: float
    p_value: float

    @property
    def can_tell(self) -> bool:
        """Whether the numbers are enough to say that it made a difference."""
        return self.p_value < 1.0 - SURE


def counted_share(dead: int, counted: int) -> Share:
    """Return the share of dead buds with its exact interval.

    Parameters
    ----------
    dead, counted : int
        Dead buds, and all that were cut. [1]

    Returns
    -------
    Share
        Share and 95 % interval of a random sample; buds of one tree fare alike, so
        the truth is less sure than that.

    Raises
    ------
    PhysicsDomainError
        If more are dead than were counted, or none were.

    References
    ----------
    .. [1] Clopper and Pearson, "The use of confidence or fiducial limits illustrated
       in the case of the binomial," Biometrika 26, 1934, 404-413.

    Examples
    --------
    >>> found = counted_share(37, 120)
    >>> [round(value, 3) for value in (found.share, found.low, found.high)]
    [0.308, 0.227, 0.399]
    """
    if not 0 <= dead <= counted or counted < 1:
        message = (
            f"{dead} dead of {counted} counted cannot be: at least one bud must be "
            "counted, and no more can be dead than were"
        )
        raise PhysicsDomainError(message)
    interval = binomtest(dead, counted).proportion_ci(SURE, method="exact")
    return Share(
        share=dead / counted,
        low=float(interval.low),
        high=float(interval.high),
        counted=counted,
    )


def crop_outlook_pct(
    found: Share, lost_before_pct: float, needed_pct: float
) -> tuple[float, float, float]:
    """Return the share of a full crop that can still be had.

    Parameters
    ----------
    found : Share
        Share of the buds dead now.
    lost_before_pct : float
        Share of the season's buds lost before. [%]
    needed_pct : float
        Share of the blossoms that makes a full crop. [%]

    Returns
    -------
    tuple of float
        Expected, least and most, by the interval of the count. [%]

    References
    ----------
    .. [1] Utah State University Extension, Critical Temperatures of Frost Damage on
       Fruit Trees, IPM-012, 2011: share of blossoms for a full crop.

    Examples
    --------
    >>> found = counted_share(90, 120)
    >>> [round(value) for value in crop_outlook_pct(found, 0.0, 15.0)]
    [100, 100, 100]
    """
    left = 100.0 - lost_before_pct

    def outlook(dead: float) -> float:
        return min(100.0, 100.0 * left * (1.0 - dead) / needed_pct)

    return outlook(found.share), outlook(found.high), outlook(found.low)


def compare_trial(treated: tuple[int, int], left_alone: tuple[int, int]) -> Trial:
    """Return what a small trial says: treated against left alone.

    Parameters
    ----------
    treated, left_alone : tuple of int
        Dead, and counted, in each. [1]

    Returns
    -------
    Trial
        Difference with its interval, and an exact test.

    Raises
    ------
    PhysicsDomainError
        If more are dead than were counted, or none were.

    References
    ----------
    .. [1] Fisher's exact test, two-sided (scipy.stats.fisher_exact).
    .. [2] Newcombe, "Interval estimation for the difference between independent
       proportions," Statistics in Medicine 17, 1998, 873-890, method 10.

    Examples
    --------
    >>> trial = compare_trial((12, 60), (35, 60))
    >>> round(trial.saved, 2), trial.can_tell
    (0.38, True)
    """
    one, other = counted_share(*treated), counted_share(*left_alone)
    table = [
        [treated[0], treated[1] - treated[0]],
        [left_alone[0], left_alone[1] - left_alone[0]],
    ]
    low, high = _newcombe(left_alone, treated)
    return Trial(
        treated=one,
        left_alone=other,
        saved=other.share - one.share,
        saved_low=low,
        saved_high=high,
        p_value=float(fisher_exact(table)[1]),
    )


def _newcombe(first: tuple[int, int], second: tuple[int, int]) -> tuple[float, float]:
    """Return the interval of first less second share, by Wilson's limits of each."""
    p1, low1, high1 = _wilson(first)
    p2, low2, high2 = _wilson(second)
    below = ((p1 - low1) ** 2 + (high2 - p2) ** 2) ** 0.5
    above = ((high1 - p1) ** 2 + (p2 - low2) ** 2) ** 0.5
    return p1 - p2 - below, p1 - p2 + above


def _wilson(count: tuple[int, int]) -> tuple[float, float, float]:
    """Return a share with Wilson's limits."""
    dead, counted = count
    interval = binomtest(dead, counted).proportion_ci(SURE, method="wilson")
    return dead / counted, float(interval.low), float(interval.high)
