"""The site that real springs are played for, and its archive without a server."""

import json
from datetime import timedelta

from frostalert.forecast.previous_runs import VARIABLES, parse_previous_runs
from frostalert.model.forecast import ForecastRun
from frostalert.model.past import LEAD_DAYS, Archive
from frostalert.model.site import Farm
from frostalert.past.runs import joined
from tests.evaluation.hindcast.documents import _farm
from tests.support.archives import Played
from tests.support.servers import Seen

_PIECE = timedelta(days=14)


def archive_of(played: Played) -> Archive:
    """Return what an archive holds, read as the command reads it."""
    names = [f"{name}_previous_day{n}" for n in LEAD_DAYS for name in VARIABLES]
    wanted = ",".join(["temperature_2m", *names])
    length = max(len(column) for column in played.leads[0].values())
    day, found = played.first.date(), []
    end = (played.first + timedelta(hours=length)).date()
    while day <= end:
        last = day + _PIECE - timedelta(days=1)
        path = f"/v1/forecast?hourly={wanted}&start_date={day}&end_date={last}"
        reply = played.answer(Seen("GET", path, {}, ""))
        assert json.loads(reply.body)
        found.append(parse_previous_runs(reply.body))
        day += _PIECE
    return joined(found)


def bloom_farm(run: ForecastRun) -> Farm:
    """Return the holding of the hindcast: one block in bloom, looked at just then."""
    return _farm(run)
