"""What equipment gained in a night that is over is kept for the next plans."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from frostalert.app import build_parts
from frostalert.config.accepted import AcceptedConfig
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.notice import Decision, NightDecision, NightHistory, Reason
from frostalert.model.reading import Reading
from frostalert.service import Service
from frostalert.store.open import open_store
from tests.scenario.test_service import SteppedClock
from tests.support.configs import config_text
from tests.support.plans import planned

NIGHT = date(2026, 4, 12)
NEXT_AFTERNOON = datetime(2026, 4, 13, 22, tzinfo=UTC)
DUSK = datetime(2026, 4, 13, 4, tzinfo=UTC)
MORE = """
[[equipment]]
name = "Covers"
method = "row cover"
blocks = ["Apricots by the lane"]

[[sensors]]
name = "Under"
kind = "sheltered"
block = "Apricots by the lane"
treated = true
equipment = "Covers"

[[sensors]]
name = "Open"
kind = "sheltered"
block = "Apricots by the lane"
"""


def test_the_morning_does_not_hide_what_was_put_to_use(tmp_path: Path) -> None:
    path = tmp_path / "frostalert.toml"
    path.write_text(config_text(state=str(tmp_path), more=MORE))
    store = open_store(tmp_path)
    pair = ("Covers", "Apricots by the lane")
    past = NightHistory(
        night=NIGHT,
        told=Tier.ACT,
        said=Tier.ACT,
        revision=2,
        starts=tuple(planned(pair).values()),
        is_closed=True,
    )
    item = NightDecision(
        night=NIGHT, say=None, why=Reason.COLD_IS_OVER, detail="", remember=past
    )
    decision = Decision(nights=(item,), next_look_utc=NEXT_AFTERNOON)
    store.record_decision(decision, [], NEXT_AFTERNOON)
    store.record_answer(
        Answer(
            person="Ines",
            night=NIGHT,
            tier=Tier.ACT,
            revision=2,
            kind=AnswerKind.ACTING,
            given_utc=DUSK,
        )
    )
    store.add_readings(
        [
            Reading(sensor=name, at_utc=DUSK + timedelta(minutes=20 * n), air_c=air_c)
            for n in range(24)
            for name, air_c in (("Open", -2.0), ("Under", 0.5))
        ]
    )
    config = AcceptedConfig(path, tmp_path)
    service = Service(config, store, SteppedClock(NEXT_AFTERNOON), build=build_parts)
    service.learn()
    [gained] = store.gain_nights()
    assert (gained.equipment, gained.night, gained.delta_c) == ("Covers", NIGHT, 2.5)
    store.database.close()
