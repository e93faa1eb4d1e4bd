"""What holds in the morning for a night whose work is not over yet."""

from dataclasses import dataclass
from datetime import date, datetime

from frostalert.messages.lead_words import MayRun, what_may_run
from frostalert.messages.water_words import (
    brief_keep_on,
    heat_out_line,
    keep_on_line,
    stop_hour,
)
from frostalert.messages.wording import Wording, capital
from frostalert.model.alarm import Alarm
from frostalert.model.site import Farm


@dataclass(frozen=True, slots=True, kw_only=True)
class LastingNight:
    """A night that people were called to act in, before they are told how to stop.

    Attributes
    ----------
    may_run : MayRun
        What may run, or lie on the plants.
    is_called : bool
        Whether people were called by name to start what may run.
    stop_utc : datetime or None
        Hour before which water must not stop; None where no thaw is forecast.
    """

    night: date
    may_run: MayRun
    is_called: bool
    stop_utc: datetime | None

    @property
    def is_water_called(self) -> bool:
        """Whether people were called to start water."""
        return self.is_called and self.may_run.water

    def subject(self, wording: Wording) -> str:
        """Return that it is not over, and that water stays on where it was called."""
        if not self.is_water_called:
            return self.title(wording)
        hour, name = stop_hour(self.stop_utc, wording), wording.of_night(self.night)
        return f"KEEP WATER ON until {hour} at least: {name} is not over"

    def title(self, wording: Wording) -> str:
        """Return that it is not over."""
        return f"{capital(wording.of_night(self.night))} is not over yet"

    def lines(self, wording: Wording) -> tuple[str, ...]:
        """Return by what each of it ends."""
        lines = []
        if self.may_run.water:
            lines.append(("If water runs", keep_on_line(self.stop_utc, wording)))
        if self.may_run.heat:
            lines.append(("If heat burns", heat_out_line(wording)))
        if self.is_called:
            return tuple(line for _, line in lines)
        return tuple(f"{begun}: {line[0].lower()}{line[1:]}" for begun, line in lines)

    def brief(self, wording: Wording) -> str:
        """Return the same for a text message."""
        if self.is_water_called:
            return brief_keep_on(self.stop_utc, wording)
        return f"{self.subject(wording)}."


def lasting_nights(
    alarms: tuple[Alarm, ...], farm: Farm, wording: Wording
) -> tuple[LastingNight, ...]:
    """Return the nights before today that are not over, the oldest first."""
    lasting = []
    for alarm in alarms:
        if not alarm.lasts or alarm.night >= wording.today:
            continue
        may_run = what_may_run(alarm.called, alarm.told_blocks, farm)
        lasting.append(
            LastingNight(
                night=alarm.night,
                may_run=may_run,
                is_called=bool(alarm.called),
                stop_utc=alarm.stop_utc,
            )
        )
    return tuple(lasting)
