"""The figures of a season that is over."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from statistics import median

from frostalert.model.notice import Subject
from tests.season.checks import IN_TIME, Judge
from tests.season.faults import SOURCE_FAULTS, Fault
from tests.season.world import World


@dataclass
class Score:
    """Figures of one season or of many."""

    nights: int = 0
    risky: int = 0
    in_time: int = 0
    told_blind: int = 0
    missed: list[str] = field(default_factory=list)
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
        for name in ("absurd_alarms", "blind_nights", "duplicates", "deliveries"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.missed += other.missed
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

    def rows(self) -> list[tuple[str, str]]:
        """Return one figure a row."""
        leads = self.leads_h or [float("nan")]
        return [
            ("nights", str(self.nights)),
            ("risky nights", str(self.risky)),
            ("warned in time", str(self.in_time)),
            ("told cannot-judge in time", str(self.told_blind)),
            ("missed", str(len(self.missed))),
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
        if night in blind:
            found.blind_nights += 1
        if world.season.is_safe(index):
            found.false_alarms += night in hands
        if night in hands and _is_absurd(world, index):
            found.absurd_alarms += 1
            found.absurd.append(f"seed {world.season.seed} night {night}")
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
            when = hands.get(night)
            told = "never told" if when is None else f"told {when - danger} late"
            found.missed.append(f"seed {world.season.seed} night {night}: {told}")
    return found


def _is_absurd(world: World, index: int) -> bool:
    """Return whether no forecast error of this weather explains a call for hands."""
    return world.season.is_far_from_risky(index) and not _was_blind(world, index)


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
