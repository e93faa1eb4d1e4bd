"""The morning after a night that called for hands: one mail, and only then."""

from datetime import date

from frostalert.model.notice import Message, Subject
from tests.scenario.test_service import WARM, Place, place

__all__ = ["place"]
NIGHT = date(2026, 4, 12)


def mornings(place: Place) -> list[Message]:
    return [
        row.message
        for row in place.queued()
        if row.message.subject_kind is Subject.MORNING_AFTER
        and row.message.night == NIGHT
    ]


def live_through(place: Place, hours: int, **forecast: object) -> None:
    """Let the service look once an hour, at a forecast that is always fresh."""
    for _ in range(hours):
        place.forecast(**forecast)
        place.service.fetch()
        place.service.morning_after()
        place.clock.step(hours=1)


def test_it_comes_once_when_the_cold_is_over(place: Place) -> None:
    live_through(place, 26)  # until 08:00 of the next day
    assert not mornings(place)
    live_through(place, 6, air_c=WARM)
    found = mornings(place)
    assert {message.person for message in found} == {"Ines", "Tobias"}
    for message in found:
        assert "the forecast had" in message.text
        assert "count" in message.text.lower()
    mails = [message for message in found if message.subject]
    assert mails
    for mail in mails:
        assert mail.subject == "After the frost: count buds from noon (Heron Bench)"
        assert "Nobody answered." in mail.text
        assert 'frostalert buds "' in mail.text


def test_a_quiet_night_has_none(place: Place) -> None:
    live_through(place, 30, air_c=WARM)
    assert not mornings(place)
