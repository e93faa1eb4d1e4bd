"""Ask what became of texts that a service took: taken is not delivered."""

import logging
from datetime import timedelta

from frostalert.errors import TransportError
from frostalert.messages.masking import without_addresses
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Arrival, ArrivalState, MessageClass
from frostalert.ports import UNCONFIRMED, ArrivalReader, Clock, ReceiptStore

_LOG = logging.getLogger(__name__)
_ROUND = timedelta(seconds=60)
"""Longest that one round of questions goes on: others wait in its lane."""


def check_arrivals(
    book: ReceiptStore, readers: dict[ChannelKind, ArrivalReader], clock: Clock
) -> int:
    """Ask for each text that was taken of late; return how many were settled."""
    settled = 0
    is_silent = False
    begun_utc = clock.now_utc()
    for row in book.awaiting_proof(clock.now_utc()):
        reader = readers.get(row.message.channel)
        if reader is None or row.provider_id is None:
            continue
        arrival = Arrival(state=ArrivalState.PENDING, detail="not asked")
        try:
            # Where one question gets no answer, the others of this round would not.
            if not is_silent and clock.now_utc() - begun_utc < _ROUND:
                arrival = reader.arrival(row.provider_id)
        except TransportError as error:
            _LOG.warning("text %s: its state is not known: %s", row.message.key, error)
            is_silent = True
        now_utc = clock.now_utc()
        if arrival.state is ArrivalState.DELIVERED:
            book.mark_delivered(row, now_utc)
            settled += 1
        elif arrival.state is ArrivalState.FAILED:
            said = without_addresses(arrival.detail)
            _LOG.warning("text to %s failed: %s", row.message.person, said)
            reason = f"the service took it and could not deliver it: {said}"
            book.mark_undelivered(row, reason, now_utc)
            settled += 1
        elif (
            row.message.message_class is MessageClass.WAKING
            and row.last_try_utc is not None
            and now_utc - row.last_try_utc >= UNCONFIRMED
            and book.fall_back(row, now_utc)
        ):
            _LOG.warning("text to %s unconfirmed; mail is sent", row.message.person)
    return settled
