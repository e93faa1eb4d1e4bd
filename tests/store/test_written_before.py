"""A state that an earlier form of the program wrote is taken up whole.

`written/` holds dumps of databases as that program left them.
"""

import sqlite3
from datetime import UTC, date, datetime
from pathlib import Path

from frostalert.alarms.answers import starts_at
from frostalert.model.learned import NowcastPair
from frostalert.model.notice import NightHistory
from frostalert.model.start import StartState, starts_by_key
from frostalert.store.codec import history_text
from frostalert.store.open import FILE_NAME, open_store
from frostalert.store.state import StateStore

WRITTEN = Path(__file__).parent / "written"
NIGHT = date(2026, 4, 12)
NOW = datetime(2026, 4, 13, 10, tzinfo=UTC)
LINE, HEATERS, SHEETS = (
    ("Lane line", "Apricots"),
    ("Heaters", "Cherries"),
    ("Sheets", "Beds"),
)


def taken_up(folder: Path, name: str) -> StateStore:
    connection = sqlite3.connect(folder / FILE_NAME)
    connection.executescript((WRITTEN / name).read_text())
    connection.close()
    return open_store(folder)


def history_of(store: StateStore) -> NightHistory:
    return store.night_histories(NOW)[NIGHT]


def test_what_was_kept_as_four_sets_is_one_record_a_start(tmp_path: Path) -> None:
    store = taken_up(tmp_path, "four_sets_of_starts.sql")
    history = history_of(store)
    starts = starts_by_key(history.starts)
    assert starts.keys() == {LINE, HEATERS, SHEETS}
    assert starts[HEATERS].state is StartState.REVOKED
    assert starts[LINE].state is StartState.CALLED
    assert starts[LINE].was_reinstated
    assert starts[LINE].called_utc == datetime(2026, 4, 13, 7, tzinfo=UTC)
    # What was never called at its own hour is still to be called.
    assert starts[SHEETS].called_utc is None
    assert starts[SHEETS].planned_utc == datetime(2026, 4, 12, 21, tzinfo=UTC)
    assert history.told_starts == {LINE, HEATERS, SHEETS}
    store.database.close()


def test_an_answer_that_counted_goes_on_counting(tmp_path: Path) -> None:
    store = taken_up(tmp_path, "four_sets_of_starts.sql")
    now = starts_at(history_of(store), store.recent_answers(NOW), NOW)
    state = {start.key: start.state for start in now}
    assert state[LINE] is StartState.RUNNING
    assert state[HEATERS] is StartState.REVOKED
    store.database.close()


def test_it_is_written_in_the_present_form_and_read_back_alike(tmp_path: Path) -> None:
    store = taken_up(tmp_path, "four_sets_of_starts.sql")
    before = store.night_histories(NOW)
    with store.database.writing() as connection:
        for night, history in before.items():
            connection.execute(
                "UPDATE night_history SET content = ? WHERE night = ?",
                (history_text(history), night.isoformat()),
            )
    assert store.night_histories(NOW) == before
    store.database.close()


def test_a_state_without_pairs_of_the_nowcast_gets_room_for_them(
    tmp_path: Path,
) -> None:
    store = taken_up(tmp_path, "four_sets_of_starts.sql")
    assert store.nowcasts() == ()
    pair = NowcastPair(night=NIGHT, guess_c=1.0, low_c=0.0, version=1)
    store.save_nowcasts([pair])
    assert store.nowcasts() == (pair,)
