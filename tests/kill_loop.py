"""Kill the real service at random moments, again and again: nothing may be lost.

    python -m tests.kill_loop [--kills 200] [--seed 1]

The service runs as a process against a real SMTP server that refuses one mail in ten
for the time being. Each round queues messages beside it, as other commands do, and
kills it (SIGKILL). At the end every message must have arrived, twice only where a kill
or a refusal left the outcome unknown, and the database must be sound.
"""

import argparse
import asyncio
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from frostalert.errors import StoreError
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Message, MessageClass, Subject
from frostalert.store.backup import Condition, examine
from frostalert.store.open import FILE_NAME, open_beside
from tests.support.configs import config_text
from tests.support.servers import MailBox, Reply, http_server, smtp_server

MESSAGES_A_ROUND = 6
_LATER_SHARE = 0.1
_LONGEST_S = 0.3
_MOST_ROUNDS = 10
"""Rounds of `once`, which sends whatever waits; what is missing then is lost."""


class ForgetfulBox(MailBox):
    """A mail box that asks for another try now and then."""

    def __init__(self, chance: random.Random) -> None:
        super().__init__()
        self._chance = chance

    async def handle_DATA(  # noqa: N802 - the library's name
        self, server: object, session: object, envelope: object
    ) -> str:
        # Long enough that a kill meets a mail under way.
        await asyncio.sleep(self._chance.uniform(0.0, _LONGEST_S))
        if self._chance.random() < _LATER_SHARE:
            return "451 try again later"
        return await super().handle_DATA(server, session, envelope)


@dataclass(frozen=True)
class Outcome:
    """What became of all messages."""

    kills: int
    queued: int
    arrived: int
    lost: int
    duplicates: int
    unmarked: int
    is_sound: bool


def run_kills(folder: Path, kills: int, seed: int) -> Outcome:
    """Return what became of the messages of some rounds with a kill each."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    box = ForgetfulBox(chance)
    state = folder / "state"
    with (
        http_server(lambda _: Reply(404)) as nws,
        http_server(lambda _: Reply(201, '{"id": "SM1"}')) as texts,
        smtp_server(box) as mail,
    ):
        text = config_text(
            smtp_port=mail.port, sms_url=texts.url, nws_url=nws.url, state=str(state)
        )
        (folder / "frostalert.toml").write_text(text)
        _make_state(folder, state)
        keys: set[str] = set()
        for number in range(kills):
            process = _start(folder)
            time.sleep(chance.uniform(0.0, 2.0))
            keys |= _queue(state, number)
            # From before it has loaded to the middle of its sending.
            time.sleep(chance.uniform(0.1, 3.0))
            process.send_signal(signal.SIGKILL)
            process.wait()
        _send_the_rest(folder, box, keys)
    counts = _arrivals(box)
    unmarked = sum(
        1 for key in keys if sum(str(m["Subject"]) == key for m in list(box.mails)) > 1
    )
    return Outcome(
        kills=kills,
        queued=len(keys),
        arrived=len(keys & set(counts)),
        lost=len(keys - set(counts)),
        duplicates=sum(counts[key] - 1 for key in keys if counts[key]),
        unmarked=unmarked,
        is_sound=examine(state / FILE_NAME) is Condition.SOUND,
    )


def _make_state(folder: Path, state: Path) -> None:
    """Let the service start once and make its state."""
    process = _start(folder)
    ends_at = time.monotonic() + 60.0
    while time.monotonic() < ends_at:
        try:
            open_beside(state).database.close()
        except StoreError:
            time.sleep(0.2)
        else:
            break
    process.send_signal(signal.SIGTERM)
    process.wait(60)


def _send_the_rest(folder: Path, box: MailBox, keys: set[str]) -> None:
    """Send what waits for another try, until every message has arrived."""
    for _ in range(_MOST_ROUNDS):
        if keys <= set(_arrivals(box)):
            return
        subprocess.run(
            [sys.executable, "-m", "frostalert", "once"],
            cwd=folder,
            env={**os.environ, "HOME": str(folder)},
            capture_output=True,
            timeout=600,
            check=False,
        )


def _arrivals(box: MailBox) -> Counter[str]:
    """Return how often each message arrived, by its subject without a repeat's mark."""
    return Counter(
        str(mail["Subject"]).removeprefix("(again) ") for mail in list(box.mails)
    )


def _start(folder: Path) -> "subprocess.Popen[bytes]":
    """Start the service."""
    with (folder / "log").open("ab") as log:
        return subprocess.Popen(
            [sys.executable, "-m", "frostalert", "run"],
            cwd=folder,
            env={**os.environ, "HOME": str(folder)},
            stdout=log,
            stderr=log,
        )


def _queue(state: Path, number: int) -> set[str]:
    """Queue messages beside the service; return the keys of those that were kept."""
    now = datetime.now(UTC)  # noqa: TID251 - beside the real service
    messages = [
        Message(
            key=f"round {number} message {index}",
            subject_kind=Subject.TEST,
            message_class=MessageClass.OPERATOR,
            night=None,
            person="Ines",
            channel=ChannelKind.EMAIL,
            address="ines@heron-bench.example",
            subject=f"round {number} message {index}",
            text="Nothing to do.\n",
            html=None,
            message_id=f"<{number}.{index}@frostalert.invalid>",
            deadline_utc=now + timedelta(hours=6),
        )
        for index in range(MESSAGES_A_ROUND)
    ]
    store = open_beside(state)
    store.queue(messages, now)
    store.database.close()
    return {message.key for message in messages}


def main() -> int:
    """Run the loop that the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.kill_loop")
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="kill-loop-") as folder:
        outcome = run_kills(Path(folder), given.kills, given.seed)
    for name, value in vars(outcome).items():
        sys.stdout.write(f"{name.replace('_', ' ')}: {value}\n")
    return 0 if outcome.lost == 0 and outcome.is_sound and not outcome.unmarked else 1


if __name__ == "__main__":
    sys.exit(main())
