"""Whether the service can be relied on just now, with reasons. Pure.

The ping, the command and the page all ask here, so that they cannot disagree.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from frostalert.cycle.doubted import DOUBT, STOPPED
from frostalert.ports import Fault
from frostalert.risk.forecast_age import age_word

ALIVE_EVERY = timedelta(minutes=5)
_ALIVE_LIMIT = timedelta(minutes=15)
_CYCLE_LIMIT = timedelta(hours=3)
_QUEUE_LIMIT = timedelta(minutes=15)
_PATIENT = ("source-",)
_ALL_WELL = "forecasts, decisions and messages are up to date"
_MOST_WORDS = 160


class Light(StrEnum):
    """How bad a finding is."""

    GOOD = "good"
    LOOK = "look"
    BAD = "bad"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that is not as it should be."""

    light: Light
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceState:
    """What is known of the service.

    Attributes
    ----------
    is_running : bool
        Whether a process holds the state's lock.
    alive_utc : datetime or None
        When it last wrote that it lives.
    cycle_utc : datetime or None
        When it last decided on a forecast.
    forecast_utc : datetime or None
        When the newest forecast was made.
    oldest_due_utc : datetime or None
        Since when the oldest message waits that should have been tried.
    is_in_season : bool
        Whether any block is watched.
    share : str or None
        Kind of network share that the state lies on; None on a disk.
    """

    is_running: bool
    alive_utc: datetime | None
    cycle_utc: datetime | None
    forecast_utc: datetime | None
    oldest_due_utc: datetime | None
    faults: tuple[Fault, ...]
    unanswered: tuple[str, ...]
    has_watcher: bool
    is_in_season: bool
    share: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """The verdict: the worst of the findings."""

    findings: tuple[Finding, ...]

    @property
    def light(self) -> Light:
        """The worst light."""
        lights = {finding.light for finding in self.findings}
        for light in (Light.BAD, Light.LOOK):
            if light in lights:
                return light
        return Light.GOOD

    @property
    def lines(self) -> tuple[str, ...]:
        """The verdict, and each finding in a line of its own, the worst first."""
        first, *others = self._ordered or [_ALL_WELL]
        return (f"{self.light}: {first}", *others)

    @property
    def _ordered(self) -> list[str]:
        """What was found in words, the worst first."""
        ordered = sorted(self.findings, key=lambda item: item.light is not Light.BAD)
        return [item.words for item in ordered]

    @property
    def line(self) -> str:
        """Everything in one line, the worst first."""
        if not self.findings:
            return f"good: {_ALL_WELL}"
        return f"{self.light}: " + "; ".join(self._ordered)


def judge_health(pulse: ServiceState, now_utc: datetime) -> Health:
    """Return whether the service can be relied on."""
    findings = [
        *_process(pulse, now_utc),
        *_work(pulse, now_utc),
        *_forecast(pulse, now_utc),
        *(_fault(fault) for fault in pulse.faults),
        *(
            Finding(light=Light.LOOK, words=f"nobody has answered about {night}")
            for night in pulse.unanswered
        ),
    ]
    if pulse.is_in_season and not pulse.has_watcher:
        words = "nobody outside would notice if this service died: set [watcher]"
        findings.append(Finding(light=Light.BAD, words=words))
    if pulse.share is not None:
        findings.append(Finding(light=Light.LOOK, words=share_words(pulse.share)))
    return Health(findings=tuple(findings))


def share_words(kind: str) -> str:
    """Return what a state on a network share risks, and what to do."""
    return (
        f"the state lies on a network share ({kind}), where a power cut may "
        "damage it: set [storage] directory to a disk of this machine"
    )


def _process(pulse: ServiceState, now_utc: datetime) -> list[Finding]:
    """Return what is wrong with the process."""
    if not pulse.is_running:
        return [Finding(light=Light.BAD, words="frostalert run is not running")]
    if pulse.alive_utc is None or now_utc - pulse.alive_utc > _ALIVE_LIMIT:
        words = f"no sign of life for {_since(pulse.alive_utc, now_utc)}"
        return [Finding(light=Light.BAD, words=words)]
    return []


def _work(pulse: ServiceState, now_utc: datetime) -> list[Finding]:
    """Return what is wrong with deciding and sending."""
    findings = []
    if pulse.cycle_utc is None or now_utc - pulse.cycle_utc > _CYCLE_LIMIT:
        words = f"nothing was decided for {_since(pulse.cycle_utc, now_utc)}"
        if pulse.cycle_utc is None:
            words = "the service has not finished a first look yet"
        findings.append(Finding(light=Light.BAD, words=words))
    oldest = pulse.oldest_due_utc
    if oldest is not None and now_utc - oldest > _QUEUE_LIMIT:
        words = f"a message has waited {_since(oldest, now_utc)} and is not being sent"
        findings.append(Finding(light=Light.BAD, words=words))
    return findings


def _forecast(pulse: ServiceState, now_utc: datetime) -> list[Finding]:
    """Return what is wrong with the forecast."""
    made = pulse.forecast_utc
    if made is None:
        return [Finding(light=Light.BAD, words="no forecast has ever been received")]
    age = age_word(max(timedelta(0), now_utc - made))
    if age == "fresh":
        return []
    words = f"the newest forecast is {_since(made, now_utc)} old ({age})"
    light = Light.LOOK if age == "ageing" else Light.BAD
    return [Finding(light=light, words=words)]


def _fault(fault: Fault) -> Finding:
    """Return a fault as a finding; one that people were not told of yet may pass.

    A doubtful source is looked at: how bad it is the forecast's age and the nights say.
    """
    is_young = fault.told_utc is None and fault.key.startswith(_PATIENT)
    is_odd = fault.key.startswith((DOUBT, STOPPED))
    light = Light.LOOK if is_young or is_odd else Light.BAD
    words = " ".join(fault.detail.split())
    if len(words) > _MOST_WORDS:
        words = words[:_MOST_WORDS].rpartition(" ")[0].rstrip(",;.") + " ..."
    return Finding(light=light, words=f"{fault.key}: {words}")


def _since(moment_utc: datetime | None, now_utc: datetime) -> str:
    """Return how long ago something was, in words."""
    if moment_utc is None:
        return "as long as anything is known"
    minutes = max(0, int((now_utc - moment_utc) / timedelta(minutes=1)))
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h"  # noqa: PLR2004
