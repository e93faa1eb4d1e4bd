"""The figures of a season that is over."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from statistics import median

from scipy.stats import binom

from frostalert.model.assessment import Tier
from frostalert.model.notice import Subject
from tests.season.checks import IN_TIME, Judge
from tests.season.faults import SOURCE_FAULTS, Fault
from tests.season.thermometer import Spoilt, spoilt
from tests.season.world import World

SIGNIFICANT = 0.01
"""Chance below which more nights were missed than the chances told allow for."""
MOST_WARMER_C = 1.2
"""Buds may be judged warmer than by the rule of the weather by so much: a degree is
learned at most, and the two rules differ."""
_CALLED = (Tier.PREPARE, Tier.ACT)
_HEARD_WITHIN = timedelta(minutes=30)
_LAST_WORD = timedelta(hours=14)
"""After the noon before a night: its chance then is the one that counts."""


@dataclass
class Score:
    """Figures of one season or of many."""

    nights: int = 0
    risky: int = 0
    in_time: int = 0
    told_blind: int = 0
    missed: list[str] = field(default_factory=list)
    """Harmed, and not called in time: no forecast asked for it in time."""
    failed: list[str] = field(default_factory=list)
    """What no forecast's error excuses: judged to need a call, and nobody was told; or
    buds judged warmer than both sources have them."""
    judged: int = 0
    implied: float = 0.0
    """Nights with a last chance, and how many misses the uncalled ones' chances are."""
    leads_h: list[float] = field(default_factory=list)
    false_alarms: int = 0
    absurd_alarms: int = 0
    """False alarms on nights that no error of this weather's forecasts explains."""
    absurd: list[str] = field(default_factory=list)
    blind_nights: int = 0
    duplicates: int = 0
    deliveries: int = 0
    violations: list[str] = field(default_factory=list)
    faults: Counter[str] = field(default_factory=Counter)
    read: int = 0
    """Messages whose words were read."""
    waived: Counter[str] = field(default_factory=Counter)
    """What did not hold while a fault was on that explains it."""

    def add(self, other: "Score") -> None:
        """Add another season's figures."""
        for name in ("nights", "risky", "in_time", "told_blind", "false_alarms"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for name in ("judged", "implied"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for name in ("absurd_alarms", "blind_nights", "duplicates", "deliveries"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.missed += other.missed
        self.failed += other.failed
        self.absurd += other.absurd
        self.leads_h += other.leads_h
        self.violations += other.violations
        self.faults += other.faults
        self.read += other.read
        self.waived += other.waived

    def waived_rows(self) -> list[tuple[str, str]]:
        """Return what was read, and what was waived, one figure a row."""
        return [
            ("messages read", str(self.read)),
            ("waived while a fault was on", str(self.waived.total())),
            *((f"waived: {kind}", str(n)) for kind, n in sorted(self.waived.items())),
        ]

    @property
    def surprise(self) -> float:
        """The chance of so many misses, or more, if the chances told are right.

        Binomial: as if the misses implied fell evenly on all nights. That widens the
        distribution a little, never narrows it.
        """
        if not (self.judged and self.missed):
            return 1.0
        each = self.implied / self.judged
        return float(binom.sf(len(self.missed) - 1, self.judged, each))

    @property
    def is_missed_too_often(self) -> bool:
        """Return whether significantly more was missed than the policy implies."""
        return self.surprise < SIGNIFICANT

    def rows(self) -> list[tuple[str, str]]:
        """Return one figure a row."""
        leads = self.leads_h or [float("nan")]
        return [
            ("nights", str(self.nights)),
            ("risky nights", str(self.risky)),
            ("warned in time", str(self.in_time)),
            ("told cannot-judge in time", str(self.told_blind)),
            ("missed", str(len(self.missed))),
            ("missed as implied by the chances told", f"{self.implied:.1f}"),
            ("missed of risky nights [%]", f"{self._share(len(self.missed)):.1f}"),
            ("the same, implied [%]", f"{self._share(self.implied):.1f}"),
            ("chance of so many missed", f"{self.surprise:.3f}"),
            ("failed without an error of the forecast", str(len(self.failed))),
            ("lead time median [h]", f"{median(leads):.1f}"),
            ("lead time minimum [h]", f"{min(leads):.1f}"),
            ("false alarms", str(self.false_alarms)),
            ("false alarms beyond any error", str(self.absurd_alarms)),
            ("nights told cannot-judge", str(self.blind_nights)),
            ("messages delivered", str(self.deliveries)),
            ("duplicates", str(self.duplicates)),
            ("invariants broken", str(len(self.violations))),
            *((f"fault: {kind}", str(n)) for kind, n in sorted(self.faults.items())),
        ]

    def _share(self, count: float) -> float:
        return 100.0 * count / self.risky if self.risky else 0.0


def score(judge: Judge, nights: int) -> Score:
    """Return the figures of a season that is over."""
    world = judge.world
    found = Score(
        nights=nights,
        duplicates=judge.duplicates,
        deliveries=len(world.delivered),
        violations=list(judge.violations),
        faults=Counter(fault.kind.value for fault in world.faults),
        read=judge.eyes.read_count,
        waived=Counter(judge.waived),
    )
    hands = _first_told(world, judge.calls)
    blind = _first_told(
        world,
        {
            delivery.message.key: set(delivery.message.nights)
            for delivery in world.delivered
            if delivery.message.subject_kind is Subject.CANNOT_JUDGE
        },
    )
    for index in range(nights):
        night = world.season.night_of(index)
        _count_implied(found, world, index)
        if night in blind:
            found.blind_nights += 1
        if world.season.is_safe(index):
            found.false_alarms += night in hands
        if night in hands and _is_absurd(world, index):
            _count_absurd(found, world, index)
        if not world.season.is_risky(index):
            continue
        found.risky += 1
        danger = world.season.danger_utc(index)
        latest = danger - IN_TIME
        if night in hands and hands[night] <= latest:
            found.in_time += 1
            found.leads_h.append((danger - hands[night]) / timedelta(hours=1))
        elif _is_excused(world, blind.get(night), latest):
            found.told_blind += 1
        else:
            _count_missed(found, world, index, hands.get(night))
    return found


def _count_implied(found: Score, world: World, index: int) -> None:
    """Count the chance at which a night was left uncalled."""
    noon = world.season.high_at(index) - timedelta(hours=3)
    looks = [
        item
        for item in world.chances.get(world.season.night_of(index), ())
        if noon <= item.at_utc <= noon + _LAST_WORD and item.chance is not None
    ]
    if not looks:
        return
    last, night = looks[-1], world.season.night_of(index)
    told_c = world.season.told_bud_c(index, last.at_utc)
    is_new = not _was_blind(world, index)
    if told_c is not None and is_new and last.bud_c > told_c + MOST_WARMER_C:
        found.failed.append(
            f"seed {world.season.seed} night {night}: buds at {last.bud_c:.1f} degC, "
            f"where both sources make {told_c:.1f} of it"
        )
    found.judged += 1
    is_called = any(item.tier in _CALLED for item in looks)
    found.implied += 0.0 if is_called else last.chance or 0.0


def _count_missed(
    found: Score, world: World, index: int, told_utc: datetime | None
) -> None:
    """Count a harmed night of which nobody was told in time."""
    night, danger = world.season.night_of(index), world.season.danger_utc(index)
    told = "never told" if told_utc is None else f"told {danger - told_utc} before"
    line = f"seed {world.season.seed} night {night}: {told}"
    noon = world.season.high_at(index) - timedelta(hours=3)
    latest = danger - IN_TIME - _HEARD_WITHIN
    raised = [
        item.at_utc
        for item in world.chances.get(night, ())
        if noon <= item.at_utc <= latest and item.tier in _CALLED
    ]
    if raised:
        found.failed.append(f"{line}, though judged so {danger - raised[0]} before")
    else:
        found.missed.append(line)


def _is_absurd(world: World, index: int) -> bool:
    """Return whether no forecast error of this weather explains a call for hands."""
    return world.season.is_far_from_risky(index) and not _was_blind(world, index)


def _count_absurd(found: Score, world: World, index: int) -> None:
    """Count a call that no forecast explains, apart if a reading does."""
    if _was_read_wildly(world, index):
        found.waived["called by a reading far too cold"] += 1
        return
    found.absurd_alarms += 1
    found.absurd.append(
        f"seed {world.season.seed} night {world.season.night_of(index)}"
    )


def _was_read_wildly(world: World, index: int) -> bool:
    """Return whether the thermometer told of cold that was not there."""
    is_wild = spoilt(world.season, index) is Spoilt.WILD
    return world.has_thermometer and is_wild


def _was_blind(world: World, index: int) -> bool:
    """Return whether a night was judged by an old forecast, which errs by more."""
    end = world.season.low_at(index)
    start = end - timedelta(hours=48)
    return any(
        fault.kind in SOURCE_FAULTS and fault.start_utc < end and fault.end_utc > start
        for fault in world.faults
    )


def _first_told(world: World, told: dict[str, set[date]]) -> dict[date, datetime]:
    """Return when each night was first told, by what each message tells of."""
    first: dict[date, datetime] = {}
    for delivery in world.delivered:
        for night in told.get(delivery.message.key, ()):
            first.setdefault(night, delivery.at_utc)
    return first


def _is_excused(world: World, told_utc: datetime | None, latest: datetime) -> bool:
    """Return whether a night was told as "cannot judge" in time, and rightly."""
    if told_utc is None or told_utc > latest:
        return False
    window = timedelta(hours=36)
    causes: list[Fault] = [
        fault
        for fault in world.faults
        if fault.kind in SOURCE_FAULTS
        and fault.start_utc <= told_utc <= fault.end_utc + window
    ]
    return bool(causes)
