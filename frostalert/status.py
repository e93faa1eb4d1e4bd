"""Put together and write what the status page shows, after each decision."""

import logging
from datetime import datetime
from pathlib import Path

from frostalert.cycle.cycle import CycleResult, picture_of
from frostalert.cycle.health import judge_health
from frostalert.cycle.pulse import read_pulse
from frostalert.model.settings import Settings
from frostalert.ports import Plotter
from frostalert.report.files import save_files
from frostalert.report.status_page import Status, render_status
from frostalert.store.share import share_of
from frostalert.store.state import StateStore

_LOG = logging.getLogger(__name__)
_SHOWN_MESSAGES = 20


def write_status(
    settings: Settings,
    store: StateStore,
    result: CycleResult,
    now_utc: datetime,
    plotter: Plotter | None,
) -> dict[str, str]:
    """Write the status page; return what went wrong with that, by key."""
    if settings.status_directory is None:
        return {}
    try:
        content = render_status(_status(settings, store, result, now_utc, plotter))
        save_files(Path(settings.status_directory), content)
    except Exception as error:  # noqa: BLE001 - no page must stop a warning
        _LOG.exception("the status page could not be written")
        return {"status-page": f"the status page could not be written: {error}"}
    return {}


def _status(
    settings: Settings,
    store: StateStore,
    result: CycleResult,
    now_utc: datetime,
    plotter: Plotter | None,
) -> Status:
    """Return everything that the status page shows."""
    farm, meant = result.nights.farm, result.decided.meant
    night = meant[-1]
    pulse = read_pulse(
        store,
        farm,
        now_utc,
        is_running=True,
        has_watcher=settings.watcher is not None,
        share=share_of(store.database.path.parent),
    )
    return Status(
        nights=result.nights,
        meant=tuple(record.night for record in meant),
        health=judge_health(pulse, now_utc),
        rows=store.last_messages(_SHOWN_MESSAGES),
        now_utc=now_utc,
        plan=result.decided.plans.of(night.night),
        told=result.decided.told,
        answers=store.recent_answers(now_utc),
        ticks=store.ticks(night.night),
        picture=picture_of(
            night, result.nights, plotter, result.decided.plans.of(night.night)
        ),
        past=store.past_record(),
    )
