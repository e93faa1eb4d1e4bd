"""Who hears of a night when the list changes in it, or when channels fail."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from frostalert.cycle.deliver import deliver_due
from frostalert.errors import DeliveryError, Refusal
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Message, Receipt
from tests.adapters.test_nws import Office
from tests.scenario.test_service import WARM, Place
from tests.support.servers import Reply, http_server

INES, TOBIAS = "ines@heron-bench.example", "+15095550142"


@dataclass
class Channel:
    """Takes messages, or refuses as it is told to."""

    kind: ChannelKind
    refusal: Refusal | None = None
    sent: list[Message] = field(default_factory=list)

    def send(self, message: Message, *, is_repeat: bool) -> Receipt:
        del is_repeat
        if self.refusal is not None:
            raise DeliveryError(self.kind, self.refusal, "scripted")
        self.sent.append(message)
        return Receipt(provider_id="p", is_confirmed=True)


class Night:
    """A place in the evening of a frost, with its channels."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self.channels = {kind: Channel(kind) for kind in ChannelKind}

    def edit(self, old: str, new: str) -> None:
        text = self.place.path.read_text()
        assert old in text
        self.place.path.write_text(text.replace(old, new))
        self.place.service.reload()

    def pass_by(self, minutes: int, *, step: int = 5) -> None:
        for _ in range(0, minutes, step):
            self.place.service.fetch()
            self.place.service.look()
            deliver_due(self.place.store, dict(self.channels), self.place.clock)
            self.place.clock.step(minutes=step)

    def told(self, address: str) -> list[str]:
        messages = [m for channel in self.channels.values() for m in channel.sent]
        return [m.subject_kind.value for m in messages if m.address == address]

    def said_by_the_operator(self) -> str:
        messages = [m for channel in self.channels.values() for m in channel.sent]
        words = [m.text for m in messages if m.subject_kind.value == "operator"]
        return " ".join(" ".join(words).split())


@pytest.fixture
def night(tmp_path: Path) -> Iterator[Night]:
    office = Office()
    with http_server(office) as server:
        place = Place(tmp_path, office, server)
        place.clock.step(hours=9, minutes=45)
        place.forecast()
        yield Night(place)
        place.store.database.close()


def test_a_corrected_address_hears_of_the_night_that_was_told(night: Night) -> None:
    night.channels[ChannelKind.EMAIL].refusal = Refusal.BAD_RECIPIENT
    night.pass_by(10)
    assert night.told(INES) == []
    night.channels[ChannelKind.EMAIL].refusal = None
    night.edit(INES, "ines.ruiz@heron-bench.example")
    night.pass_by(10)
    assert "prepare" in night.told("ines.ruiz@heron-bench.example")
    told = len(night.told("ines.ruiz@heron-bench.example"))
    night.pass_by(30)
    assert len(night.told("ines.ruiz@heron-bench.example")) == told
    assert night.told(TOBIAS).count("prepare") == 1


def test_another_channel_hears_of_the_night_that_was_told(night: Night) -> None:
    night.channels[ChannelKind.SMS].refusal = Refusal.TRY_AGAIN
    night.pass_by(10)
    new = 'channels = ["email"]\nemail = "tobias@heron-bench.example"'
    night.edit(f'channels = ["sms"]\nphone = "{TOBIAS}"', new)
    night.pass_by(10)
    assert night.told("tobias@heron-bench.example").count("prepare") == 1


def test_a_new_person_is_told_at_once_if_the_turn_has_come(night: Night) -> None:
    night.pass_by(10)
    person = (
        '\n[[people]]\nname = "{}"\nturn = {}\nchannels = ["email"]\nemail = "{}"\n'
    )
    more = person.format("Mara", 1, "mara@a.example")
    more += person.format("Jon", 2, "jon@a.example")
    night.place.path.write_text(night.place.path.read_text() + more)
    night.place.service.reload()
    night.pass_by(5)
    assert night.told("mara@a.example") == ["prepare"]
    assert night.told("jon@a.example") == []
    assert night.told(INES).count("prepare") == 1


def test_a_new_name_gets_the_word_that_it_is_over(night: Night) -> None:
    night.pass_by(10)
    night.edit('name = "Ines"', 'name = "Ines K."')
    for _ in range(3):
        night.pass_by(65)
        night.place.forecast(air_c=WARM)
    assert "withdrawn" in night.told(TOBIAS)
    assert "withdrawn" in night.told(INES)


def test_who_was_not_reached_is_named_while_it_is_night(night: Night) -> None:
    night.channels[ChannelKind.SMS].refusal = Refusal.TRY_AGAIN
    night.pass_by(40)
    words = night.said_by_the_operator()
    assert 'Tobias did not get "get ready" for the night of Sun Apr 12' in words
    assert "phone " in words


def test_others_hear_that_the_only_operator_cannot_be_reached(night: Night) -> None:
    night.edit('name = "Tobias"', 'name = "Tobias"\noperator = true')
    night.channels[ChannelKind.SMS].refusal = Refusal.TRY_AGAIN
    night.pass_by(60)
    assert "operator" in night.told(INES)
    assert "Tobias did not get" in night.said_by_the_operator()


def test_after_a_night_without_network_it_is_told_who_was_not_reached(
    night: Night,
) -> None:
    night.pass_by(5)
    for channel in night.channels.values():
        channel.sent.clear()
        channel.refusal = Refusal.TRY_AGAIN
    grid, points = night.place.office.grid, night.place.office.points
    night.place.office.grid = night.place.office.points = Reply(404)
    night.pass_by(24 * 60, step=15)
    for channel in night.channels.values():
        channel.refusal = None
    night.place.office.grid, night.place.office.points = grid, points
    night.place.forecast()
    night.pass_by(60)
    assert "did not get" in night.said_by_the_operator()
