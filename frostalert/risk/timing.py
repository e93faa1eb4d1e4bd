"""When people must hear of it, and when work must start, counted back from the cold."""

from datetime import datetime

import numpy as np

from frostalert.model.block_values import TimeArray
from frostalert.model.site import Rules


def send_by_utc(
    running_by_utc: TimeArray, sunset_utc: TimeArray, rules: Rules
) -> TimeArray:
    """Return the moments by which preparation must be called for.

    Work is done before dark where there is a sunset before that hour, and before the
    hour itself; people need some time to see the message first.

    References
    ----------
    .. [1] Common practice, no source.
    """
    # A night without a sunset has none to be ready by.
    ready_by = np.fmin(acts_at_utc(running_by_utc, rules), sunset_utc)
    ready_by[np.isnat(running_by_utc)] = np.datetime64("NaT")
    return np.asarray(ready_by - np.timedelta64(rules.preparation + rules.notice))


def acts_at_utc(running_by_utc: TimeArray, rules: Rules) -> TimeArray:
    """Return `act_at_utc` of a column of moments."""
    return np.asarray(running_by_utc - np.timedelta64(rules.set_up))


def act_at_utc(running_by_utc: datetime, rules: Rules) -> datetime:
    """Return the moment at which work must start.

    References
    ----------
    .. [1] Common practice, no source.
    """
    return running_by_utc - rules.set_up
