"""Whether the service can be relied on, by what it keeps in its state."""

from pathlib import Path

from frostalert.clock import now_beside
from frostalert.cycle.health import Health, judge_health
from frostalert.cycle.pulse import read_pulse
from frostalert.model.settings import Settings
from frostalert.store.lock import is_held
from frostalert.store.open import opened_beside
from frostalert.store.share import share_of


def read_health(settings: Settings, directory: Path) -> Health:
    """Return whether the service on a state folder can be relied on just now.

    Raises
    ------
    StoreError
        If there is no state that can be read.
    """
    with opened_beside(directory) as store:
        now = now_beside(store)
        pulse = read_pulse(
            store,
            settings.farm,
            now,
            is_running=is_held(directory),
            has_watcher=settings.watcher is not None,
            share=share_of(directory),
        )
    return judge_health(pulse, now)
