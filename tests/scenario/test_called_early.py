"""What a clock that was ahead made the service say is called again, and people hear."""

from datetime import timedelta
from pathlib import Path

from frostalert.cycle.cycle import redecide
from frostalert.cycle.early import take_back_early
from frostalert.messages.sms import TWO_SEGMENTS, gsm_length
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import OutboxState, Receipt, Subject
from frostalert.store.open import open_store
from tests.scenario.test_taken_back import AFTERNOON, Night
from tests.support.plans import CHERRIES, HEATERS, TWO_IN_THE_AFTERNOON, planting

AHEAD = timedelta(hours=12)
MINUTES = timedelta(minutes=20)


def begun(folder: Path) -> Night:
    farm = planting(CHERRIES, equipment=(HEATERS,))
    return Night(farm=farm, folder=folder, store=open_store(folder))


def send_all(night: Night, wait: timedelta) -> None:
    """Every message that waits is taken."""
    now = TWO_IN_THE_AFTERNOON + wait
    for row in night.store.unsent(now, is_forced=True):
        assert night.store.mark_sending(row, now)
        night.store.mark_sent(row, Receipt(provider_id="p", is_confirmed=True), now)


def hour_of_call(night: Night, since: timedelta) -> timedelta | None:
    """When the heaters are called for, by looks every twenty minutes to the morning."""
    wait = since
    while wait < timedelta(hours=18):
        wait += MINUTES
        text = night.look(wait).get(ChannelKind.SMS)
        if text is not None and text.text.startswith("START NOW"):
            assert "Heaters" in text.text
            return wait
        send_all(night, wait)
    return None


def played(folder: Path, *, has_jump: bool) -> timedelta | None:
    """The hour of the heaters' call, with and without a jump in the afternoon."""
    night = begun(folder)
    night.look(AFTERNOON)
    send_all(night, AFTERNOON)
    if has_jump:
        ahead = AFTERNOON + AHEAD
        redecide(night.farm, night.store, TWO_IN_THE_AFTERNOON + ahead)
        send_all(night, ahead)
        right = TWO_IN_THE_AFTERNOON + AFTERNOON + MINUTES
        assert take_back_early(night.farm, night.store, right)
        assert not take_back_early(night.farm, night.store, right)
    found = hour_of_call(night, AFTERNOON + MINUTES)
    night.store.database.close()
    return found


def test_a_start_that_was_called_early_is_called_again_at_its_hour(
    tmp_path: Path,
) -> None:
    folders = [tmp_path / name for name in ("right", "jumped")]
    for folder in folders:
        folder.mkdir()
    plain = played(folders[0], has_jump=False)
    assert plain is not None
    assert played(folders[1], has_jump=True) == plain


def test_everybody_who_was_called_early_hears_of_it(tmp_path: Path) -> None:
    night = begun(tmp_path)
    night.look(AFTERNOON)
    send_all(night, AFTERNOON)
    ahead = TWO_IN_THE_AFTERNOON + AFTERNOON + AHEAD
    redecide(night.farm, night.store, ahead)
    called = [
        row for row in night.store.last_messages(20) if row.message.key.count("act")
    ]
    assert called
    send_all(night, AFTERNOON + AHEAD)
    right = TWO_IN_THE_AFTERNOON + AFTERNOON + MINUTES
    assert take_back_early(night.farm, night.store, right)
    told = [row.message for row in night.store.unsent(right, is_forced=False)]
    assert {m.subject_kind for m in told} == {Subject.CORRECTION}
    pairs = {(row.message.person, row.message.channel) for row in called}
    assert {(m.person, m.channel) for m in told} == pairs
    texts = [m for m in told if m.channel is ChannelKind.SMS]
    assert all("start nothing" in m.text.lower() for m in told)
    assert all("If water is on, KEEP IT ON" in m.text for m in told)
    assert all(gsm_length(m.text) <= TWO_SEGMENTS for m in texts)
    night.store.database.close()


def test_what_was_said_at_its_hour_stays_as_it_was(tmp_path: Path) -> None:
    night = begun(tmp_path)
    night.look(AFTERNOON)
    send_all(night, AFTERNOON)
    right = TWO_IN_THE_AFTERNOON + AFTERNOON + MINUTES
    histories = night.store.night_histories(right)
    before = histories[min(histories)]
    redecide(night.farm, night.store, TWO_IN_THE_AFTERNOON + AFTERNOON + AHEAD)
    assert take_back_early(night.farm, night.store, right)
    after = night.store.night_histories(right)[before.night]
    # Hands were called for in the afternoon: nobody is asked as if it were new.
    assert before.hands_since_utc == TWO_IN_THE_AFTERNOON + AFTERNOON
    assert after.hands_since_utc == before.hands_since_utc
    assert after.called_utc is not None
    assert after.called_utc <= right
    assert [start.planned_utc for start in after.starts] == [
        start.planned_utc for start in before.starts
    ]
    assert after.start_since_utc is None
    assert after.said_utc is None or after.said_utc <= right
    night.store.database.close()


def test_what_waited_to_be_sent_from_the_time_to_come_is_not_sent(
    tmp_path: Path,
) -> None:
    night = begun(tmp_path)
    night.look(AFTERNOON)
    send_all(night, AFTERNOON)
    redecide(night.farm, night.store, TWO_IN_THE_AFTERNOON + AFTERNOON + AHEAD)
    right = TWO_IN_THE_AFTERNOON + AFTERNOON + MINUTES
    assert take_back_early(night.farm, night.store, right)
    assert night.store.unsent(right, is_forced=True) == []
    states = {row.state for row in night.store.last_messages(20)}
    assert states == {OutboxState.SENT, OutboxState.DEAD}
    night.store.database.close()


def test_what_only_asked_people_to_get_ready_is_not_corrected(tmp_path: Path) -> None:
    night = begun(tmp_path)
    night.look(AFTERNOON)
    told = night.store.last_messages(20)
    assert {row.message.subject_kind for row in told} <= {
        Subject.OUTLOOK,
        Subject.PREPARE,
    }
    send_all(night, AFTERNOON)
    right = TWO_IN_THE_AFTERNOON + AFTERNOON - timedelta(hours=1)
    assert take_back_early(night.farm, night.store, right)
    assert night.store.unsent(right, is_forced=True) == []
    night.store.database.close()
