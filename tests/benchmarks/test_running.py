"""The benchmark of running costs in the short form: it measures what it says."""

from tests.benchmarks.running import run_cycles, time_to_last_mail_s
from tests.benchmarks.services import SOURCES


def test_the_daemon_is_measured_against_every_service() -> None:
    cost = run_cycles(30)
    assert cost.days > 1.0
    assert set(cost.requests_a_day) == set(SOURCES.values())
    # Each forecast once an hour, and both questions of the official word four times.
    assert 20 <= cost.requests_a_day["MET Norway"] <= 25
    assert 180 <= cost.requests_a_day["NWS warnings and station"] <= 210
    assert min(cost.kilobytes_a_day.values()) > 1.0
    assert cost.late_mb > cost.bare_mb * 0.5
    assert cost.processor_s_a_day > 0.0
    assert cost.state_mb_a_season > 0.0
    assert cost.mails > 0
    assert len(cost.rows()) == 6 + len(set(SOURCES.values()))


def test_the_real_daemon_writes_to_everybody() -> None:
    assert 0.0 < time_to_last_mail_s(blocks=3, people=3) < 120.0
