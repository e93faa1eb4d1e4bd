"""Whose time counts: the machine's, until servers that agree contradict it."""

from datetime import UTC, datetime, timedelta

from frostalert.clock import CheckedClock

BEGIN = datetime(2026, 4, 12, 14, 30, tzinfo=UTC)
NWS, MET = "api.nws.example", "api.met.example"


class Machine:
    """A machine whose clock somebody sets, and whose ticks nobody does."""

    def __init__(self) -> None:
        self.s = 500.0
        self.off = timedelta(0)
        self.clock = CheckedClock(lambda: self.true_utc + self.off, lambda: self.s)

    @property
    def true_utc(self) -> datetime:
        return BEGIN + timedelta(seconds=self.s)

    def wait(self, minutes: float) -> None:
        self.s += minutes * 60.0

    def ask(self, server: str, **lie: float) -> None:
        self.clock.note(self.true_utc + timedelta(**lie), server)

    def is_settled(self) -> bool:
        return self.clock.is_settled

    @property
    def error(self) -> timedelta:
        return self.clock.now_utc() - self.true_utc


def test_one_odd_answer_moves_nothing_and_is_told() -> None:
    machine = Machine()
    machine.ask(MET)
    machine.ask(NWS, hours=26)
    assert machine.error == timedelta(0)
    assert machine.clock.is_sure
    machine.wait(180)
    machine.ask(NWS, hours=26)
    machine.ask(MET)
    # However often it is said, another one sides with the machine.
    assert machine.error == timedelta(0)
    assert machine.clock.problem is None


def test_two_servers_that_agree_are_believed_at_once() -> None:
    machine = Machine()
    machine.off = timedelta(hours=-5)
    machine.ask(NWS)
    assert not machine.is_settled()
    assert machine.error == timedelta(hours=-5)
    machine.ask(MET, seconds=40)
    assert machine.is_settled()
    assert not machine.clock.is_sure
    assert abs(machine.error) <= timedelta(seconds=40)
    assert "300 min behind of the forecast service's" in str(machine.clock.problem)


def test_one_server_alone_must_say_it_twice_ten_minutes_apart() -> None:
    machine = Machine()
    machine.off = timedelta(hours=2)
    machine.ask(NWS)
    machine.wait(9)
    machine.ask(NWS)
    assert machine.error == timedelta(hours=2)
    assert "nobody else says so yet" in str(machine.clock.problem)
    assert not machine.is_settled()
    machine.wait(1)
    machine.ask(NWS)
    assert machine.error == timedelta(0)
    assert machine.is_settled()
    assert "its time is used instead" in str(machine.clock.problem)


def test_two_servers_that_contradict_each_other_move_nothing() -> None:
    machine = Machine()
    machine.off = timedelta(hours=2)
    machine.ask(NWS)
    machine.ask(MET, hours=-1)
    assert machine.error == timedelta(hours=2)
    assert not machine.is_settled()


def test_a_doubt_that_nobody_resolves_holds_calls_up_for_a_quarter_of_an_hour() -> None:
    machine = Machine()
    machine.ask(NWS, hours=3)
    machine.wait(14)
    assert not machine.is_settled()
    machine.wait(1)
    assert machine.is_settled()
    assert not machine.clock.is_sure
    assert machine.error == timedelta(0)


def test_a_clock_that_jumps_is_not_believed_where_servers_spoke_before() -> None:
    machine = Machine()
    machine.ask(NWS)
    machine.ask(MET)
    machine.wait(50)
    machine.off = timedelta(hours=12)
    # Nobody was asked since: their words still tell the time.
    assert machine.error == timedelta(0)
    assert machine.clock.off == timedelta(hours=-12)
    machine.off = timedelta(0)
    assert machine.clock.is_sure


def test_a_jump_after_one_answer_calls_nobody_until_it_is_settled() -> None:
    machine = Machine()
    machine.ask(NWS)
    machine.wait(50)
    machine.off = timedelta(hours=12)
    assert not machine.is_settled()
    machine.ask(NWS)
    assert machine.error == timedelta(0)
    assert machine.is_settled()


def test_a_clock_that_is_set_right_counts_again() -> None:
    machine = Machine()
    machine.off = timedelta(hours=-5)
    machine.ask(NWS)
    machine.ask(MET)
    machine.wait(400)
    assert machine.error == timedelta(0)
    machine.off = timedelta(minutes=1)
    assert machine.error == timedelta(minutes=1)
    assert machine.clock.is_sure
    assert machine.clock.problem is None


def test_an_old_word_does_not_outweigh_a_new_one() -> None:
    machine = Machine()
    machine.ask(NWS)
    machine.ask(MET)
    # The whole machine stood still for a day, ticks too, and woke with the right time.
    machine.off = timedelta(days=1)
    machine.wait(200)
    machine.ask(NWS, days=1)
    machine.ask(MET, days=1)
    assert machine.clock.is_sure
