"""Readings over HTTP, from thermometers at home that can send.

They come under a key of their own, which is made from the state's and lets its bearer
do nothing else. Whether a reading is believed is decided as for every other.
"""

import hmac
from collections.abc import Mapping
from datetime import datetime, timedelta
from hashlib import sha256

from frostalert.cycle.readings import doubted_c, parse_reading, take_in
from frostalert.errors import UsageError
from frostalert.messages.reading_words import doubt_lines
from frostalert.messages.wording import Wording
from frostalert.model.reading import Reading
from frostalert.model.site import Farm
from frostalert.ports import ReadingBook

_PURPOSE = b"readings over http"
_MOST_AGO, _MOST_AHEAD = timedelta(days=2), timedelta(minutes=10)


def readings_key(key: bytes) -> str:
    """Return the key under which thermometers send, made from the state's."""
    return hmac.new(key, _PURPOSE, sha256).hexdigest()[:32]


def is_authorized(header: str, key: bytes) -> bool:
    """Return whether an Authorization header bears the key."""
    kind, _, given = header.partition(" ")
    right = readings_key(key)
    return kind.lower() == "bearer" and hmac.compare_digest(
        given.strip().encode(), right.encode()
    )


def take_reading(
    content: Mapping[str, object], farm: Farm, book: ReadingBook, now: datetime
) -> dict[str, object]:
    """Keep one reading; return what became of it.

    Parameters
    ----------
    content : mapping
        `sensor`, `value` with its unit, and `time` with its offset if it is not now.
    farm : Farm
        Its sensors.
    book : ReadingBook
        Where it is kept.
    now : datetime
        The present moment.

    Returns
    -------
    dict
        Whether it was new, why it is not believed, and why it needs a second one.

    Raises
    ------
    UsageError
        If it cannot be read.
    """
    item = _reading(content, farm, now)
    doubted_by_c = doubted_c(item, book)
    taken = take_in([item], farm, book, now)
    if not taken:
        return {"kept": False, "problem": "a reading of that moment was kept before"}
    wording = Wording(farm.site, now)
    doubt = [] if doubted_by_c is None else doubt_lines(item, doubted_by_c, wording)
    return {
        "kept": True,
        "problem": taken[0].problem,
        "unconfirmed": " ".join(doubt) or None,
    }


def _reading(content: Mapping[str, object], farm: Farm, now: datetime) -> Reading:
    """Return what was sent as a reading."""
    sensor, value = content.get("sensor"), content.get("value")
    if not isinstance(sensor, str) or not isinstance(value, str):
        message = 'send "sensor" and "value" as text, the value with its unit'
        raise UsageError(message)
    if sensor not in {item.name for item in farm.sensors}:
        message = (
            f'there was no sensor "{sensor[:40]}" when this page was started; name it '
            "under [[sensors]] and start the page again"
        )
        raise UsageError(message.encode(errors="replace").decode())
    return parse_reading(sensor, value, _moment(content.get("time"), now))


def _moment(given: object, now: datetime) -> datetime:
    """Return when it was read."""
    if given is None:
        return now
    try:
        moment = datetime.fromisoformat(str(given))
    except ValueError as error:
        message = f'"{given}" is no time; write it like 2026-04-12T21:28-07:00'
        raise UsageError(message) from error
    if moment.tzinfo is None:
        message = f'the time "{given}" has no offset'
        raise UsageError(message)
    # Compared by difference: the calendar's ends overflow in another zone.
    if not -_MOST_AGO <= moment - now <= _MOST_AHEAD:
        message = f'the time "{given}" is not of the last two days'
        raise UsageError(message)
    return moment
