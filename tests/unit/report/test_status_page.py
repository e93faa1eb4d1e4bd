"""The status page where there is nothing to show."""

from datetime import UTC, datetime

from frostalert.decision.blind import cannot_judge_anything
from frostalert.pipeline.health import Health
from frostalert.report.status_page import PAGE, Status, render_status
from tests.support.holdings import make_holding

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)


def test_without_any_forecast_the_page_says_that_nothing_can_be_judged() -> None:
    holding = make_holding()
    problem = "no forecast for this place has been received"
    status = Status(
        assessment=cannot_judge_anything(holding, NOW, problem),
        holding=holding,
        health=Health(findings=()),
        rows=(),
        now_utc=NOW,
    )
    page = render_status(status)[PAGE].decode()
    assert problem in page
    for block in holding.blocks:
        assert block.name in page
    assert "cannot-judge" in page
