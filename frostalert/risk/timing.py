"""When people must hear of it, and when work must start, counted back from the cold."""

from datetime import datetime

from frostalert.model.site import Rules


def send_by_utc(
    running_by_utc: datetime, sunset_utc: datetime | None, rules: Rules
) -> datetime:
    """Return the moment by which preparation must be called for.

    Work is done before dark where there is a sunset before that hour, and before the
    hour itself; people need some time to see the message first.

    References
    ----------
    .. [1] Common practice, no source.
    """
    ready_by = running_by_utc - rules.set_up
    if sunset_utc is not None:
        ready_by = min(ready_by, sunset_utc)
    return ready_by - rules.preparation - rules.notice


def act_at_utc(running_by_utc: datetime, rules: Rules) -> datetime:
    """Return the moment at which work must start.

    References
    ----------
    .. [1] Common practice, no source.
    """
    return running_by_utc - rules.set_up
