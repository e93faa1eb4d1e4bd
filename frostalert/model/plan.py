"""What to do on one night with what is there: facts, in the order of a plan."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from frostalert.model.assessment import NightKind
from frostalert.model.heat_side import HeatPlacement
from frostalert.model.method import HouseholdMeans, Method, RefusalReason
from frostalert.model.start import StartKey


class Verdict(StrEnum):
    """What a method is worth in a block tonight."""

    HOLDS = "holds"
    ENOUGH = "enough"
    PARTLY = "helps in part"
    LITTLE_USE = "little use, only with hands to spare"
    TOO_LITTLE = "too little"
    WILL_NOT_HOLD = "will not hold"
    NOT_TONIGHT = "not tonight"
    NOT_ESTIMATED = "not worked out"


REFUSED = frozenset({Verdict.TOO_LITTLE, Verdict.WILL_NOT_HOLD, Verdict.NOT_TONIGHT})
"""Verdicts that keep a method out of the plan."""


class UnprotectedReason(StrEnum):
    """Why a block at risk gets nothing."""

    NO_METHOD = "no method is listed for it"
    NOTHING_WORKS = "nothing you have can work tonight"
    JUDGED_AGAIN = "its water may not hold; it is judged again before its start"
    OTHERS_FIRST = "what you have saves more elsewhere"
    NOT_ENOUGH = "what you have is not enough for it"
    KEPT_BACK = "its water is saved for the next night"


class Resource(StrEnum):
    """What can run short."""

    WATER = "water"
    FUEL = "fuel"
    UNITS = "pieces"
    AREA = "cover"
    DAYLIGHT = "work before dark"


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterFacts:
    """Water over plants in one block.

    Attributes
    ----------
    rate_mm_per_h : float
        What reaches the ground. [mm/h]
    needed_mm_per_h : float
        What the heat balance asks for, at the hour that takes most. [mm/h]
    table_mm_per_h : float or None
        What published tables ask for; None where they say not to. [mm/h]
    table_source : str
        Which table.
    holds_to_air_c : float or None
        Coldest air at which the rate is above both. [degC] None if it never is.
    hold_chance : float
        Chance that tonight stays above that, 0 to 1.
    film_life, longest_round, round_time : timedelta or None
        Hand wetting: until a film is frozen, the longest allowed time between two
        wettings, and what the crew needs.
    latest_start_utc : datetime or None
        Last hour at which dry buds may still be wetted.
    start_air_c : float or None
        What the thermometer reads when it must start. [degC]
    ice_kg : float or None
        Most ice on one plant. [kg]
    is_brittle : bool
        Whether its limbs break under ice.
    flow_l_per_h : float
        What the block takes. [L/h]
    low_air_c : float
        Lowest air expected while it runs. [degC]
    pressure_hpa : float
        Pressure at the site, by which a thermometer tells the start. [hPa]
    reached : float
        Share of the block's ground that the water reaches, 0 to 1.
    """

    rate_mm_per_h: float
    needed_mm_per_h: float
    table_mm_per_h: float | None
    table_source: str
    holds_to_air_c: float | None
    hold_chance: float
    low_air_c: float
    pressure_hpa: float
    longest_round: timedelta | None = None
    round_time: timedelta | None = None
    latest_start_utc: datetime | None = None
    start_air_c: float | None = None
    ice_kg: float | None = None
    is_brittle: bool = False
    flow_l_per_h: float = 0.0
    reached: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class GainFacts:
    """A method that warms.

    Attributes
    ----------
    low_delta_c, high_delta_c : float
        Range of its gain. [degC]
    gained_wpm2, lost_wpm2 : float or None
        Heat that stays, and the night's loss. [W/m2]
    source : str
        Where the range comes from.
    reached : float
        Share of the block that it serves, 0 to 1.
    """

    low_delta_c: float
    high_delta_c: float
    source: str
    gained_wpm2: float | None = None
    lost_wpm2: float | None = None
    reached: float = 1.0

    @property
    def middle_delta_c(self) -> float:
        """Middle of the range. [degC]"""
        return (self.low_delta_c + self.high_delta_c) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """What an option is worth beside another in the same block.

    Attributes
    ----------
    partner : str
        The other equipment.
    verdict : Verdict
        What both are worth.
    loss_alone : float
        Expected loss with the better of the two alone, 0 to 1.
    low_delta_c, high_delta_c : float or None
        Range of what both gain. [degC] None where water holds.
    caution, source : str
        What can hurt where they run together, and who says that they may.
    """

    partner: str
    verdict: Verdict
    loss_alone: float
    low_delta_c: float | None
    high_delta_c: float | None
    caution: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One method with one equipment in one block tonight.

    Attributes
    ----------
    loss_before, loss_after : float
        Expected share of the block's crop lost without and with it, 0 to 1; where no
        curve is published, the chance that damage begins.
    buds_lost : float
        Expected share of its living buds lost with it, 0 to 1; a crop may lose many
        before it loses any fruit.
    worth : float
        What it saves, weighed by value and priority.
    uses : tuple of (Resource, str, float)
        What it takes, of which equipment; water of the one supply. Litres, the fuel's
        own unit, pieces, m2, person-minutes.
    start_utc, end_utc : datetime or None
        From when to when it must run.
    cold_start_utc, cold_end_utc : datetime or None
        The same in the night colder than nine in ten: supplies are sized for it.
    is_running : bool
        Whether it is counted as running: people were called to start it, somebody
        answered, and its time has come.
    may_run : bool
        Whether its water or heat may run although nobody is told to start it now.
    is_kept_ready : bool
        Whether it is set up by day though it is refused, and judged again at its start.
    wind_mps : float or None
        The wind that forbids it. [m/s]
    start_air_c : float or None
        Air among the buds at which it is started, unless `facts` tells it. [degC]
    not_dry_after_utc : datetime or None
        The last hour at which dry buds may be wetted by what is only listed.
    out_by_utc : datetime or None
        When heat must be out, before wind comes up; None where none does.
    together : Together or None
        What it does beside another in its block; then `loss_after` is that of both, and
        `worth` what it adds.
    """

    equipment: str
    method: Method
    block: str
    verdict: Verdict
    grounds: tuple[RefusalReason, ...] = ()
    facts: WaterFacts | GainFacts | None = None
    loss_before: float = 0.0
    loss_after: float = 0.0
    buds_lost: float = 0.0
    worth: float = 0.0
    uses: tuple[tuple[Resource, str, float], ...] = ()
    units: int = 0
    start_utc: datetime | None = None
    end_utc: datetime | None = None
    cold_start_utc: datetime | None = None
    cold_end_utc: datetime | None = None
    is_running: bool = False
    may_run: bool = False
    is_kept_ready: bool = False
    wind_mps: float | None = None
    start_air_c: float | None = None
    not_dry_after_utc: datetime | None = None
    out_by_utc: datetime | None = None
    together: Together | None = None

    @property
    def pair(self) -> StartKey:
        """Its equipment and block."""
        return self.equipment, self.block

    @property
    def is_by_chance_alone(self) -> bool:
        """Whether it is water that nothing but its chance to hold refuses."""
        return self.grounds == (RefusalReason.MAY_NOT_HOLD,)

    @property
    def last_dry_start_utc(self) -> datetime | None:
        """The last hour at which it may wet dry buds; None where there is none."""
        if isinstance(self.facts, WaterFacts):
            return self.facts.latest_start_utc
        return self.not_dry_after_utc

    @property
    def can_be_chosen(self) -> bool:
        """Whether it is offered."""
        return self.verdict not in REFUSED and self.verdict is not Verdict.NOT_ESTIMATED


@dataclass(frozen=True, slots=True, kw_only=True)
class UnprotectedBlock:
    """A block at risk that gets nothing.

    Attributes
    ----------
    short : tuple of str
        What would run short if it were done too.
    budgets : tuple of Budget
        How far that would last.
    """

    block: str
    why: UnprotectedReason
    short: tuple[str, ...] = ()
    budgets: tuple["Budget", ...] = ()


class PassedReason(StrEnum):
    """Why something that could be done in a block is not."""

    SAVES_LESS = "what is chosen there saves more, and both do not go together"
    ADDS_LITTLE = "beside what is chosen it saves less than a twentieth of the crop"
    SHORT = "what you have is not enough for it"
    OTHERS_FIRST = "what it takes saves more elsewhere"


@dataclass(frozen=True, slots=True, kw_only=True)
class PassedOver:
    """What could be done in a block and is not, and why.

    Attributes
    ----------
    beside : tuple of str
        The equipment that is chosen in the block.
    short : tuple of str
        What would run short if it were done too.
    """

    option: Option
    why: PassedReason
    beside: tuple[str, ...] = ()
    short: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """Whether a supply lasts.

    Attributes
    ----------
    needed, at_hand : float
        For what was chosen, to the end; and what there is, inflow included; None where
        nobody has said. [unit]
    lasts_until_utc : datetime or None
        When it runs out; None if it lasts.
    reserve : float
        What the next night will ask for on top. [unit]
    is_drawn_on : bool
        Whether people were called on the night before to start what takes of it: what
        that used is not taken off.
    """

    what: str
    unit: str
    needed: float
    at_hand: float | None
    needed_until_utc: datetime
    lasts_until_utc: datetime | None
    reserve: float = 0.0
    is_drawn_on: bool = False

    @property
    def short(self) -> float:
        """How much is missing. [unit]"""
        return 0.0 if self.at_hand is None else max(0.0, self.needed - self.at_hand)

    @property
    def short_for_next(self) -> float:
        """How much is missing when the next night's is counted too. [unit]"""
        if self.at_hand is None or not self.reserve:
            return 0.0
        return max(0.0, self.needed + self.reserve - self.at_hand)


@dataclass(frozen=True, slots=True, kw_only=True)
class TankShare:
    """One tank that two nights in a row ask for.

    Attributes
    ----------
    next_night : date
        The second of them.
    used_l, left_l : float
        What the first takes, and what it leaves for the second. [L]
    needed_l : float
        What the second needs to stand in the tank. [L]
    gets : date
        The night that gets the tank where it does not last for both.
    """

    next_night: date
    used_l: float
    left_l: float
    needed_l: float
    gets: date

    @property
    def is_kept_back(self) -> bool:
        """Whether the second night gets it."""
        return self.gets == self.next_night

    @property
    def lasts(self) -> bool:
        """Whether it lasts for both as it is shared."""
        return not self.is_kept_back and self.left_l >= self.needed_l


@dataclass(frozen=True, slots=True, kw_only=True)
class Household:
    """What a house has for low plants that nothing else is done for.

    Attributes
    ----------
    blocks : tuple of str
        Where.
    means : tuple of HouseholdMeans
        With what.
    is_laid : bool
        Whether it is dark and people were told of it by day.
    """

    blocks: tuple[str, ...]
    means: tuple[HouseholdMeans, ...]
    is_laid: bool


class TaskKind(StrEnum):
    """What a task is."""

    SET_UP = "set up"
    THERMOMETERS = "thermometers"
    READ = "read"
    START = "start"
    ROUND = "round"
    LOOK = "look"
    STOP = "stop"
    HEAT_OUT = "heat out"
    COVERS_OFF = "covers off"
    DRAIN = "drain"
    COUNT = "count"


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing to do.

    Attributes
    ----------
    start_utc : datetime
        When it must begin at the latest.
    duration : timedelta
        How long it takes with the people named.
    deadline_utc : datetime
        When it must be done.
    who : tuple of str
        Who does it; empty for everybody.
    worth : float
        What is lost without it: the least goes first when time is short.
    can_be_late : bool
        Whether it may be done after dark if daylight is short.
    is_if_begun : bool
        Whether it is only for who began before the plan refused it.
    is_kept_ready : bool
        Whether it readies what may not be started by this forecast.
    is_before_wind : bool
        Whether heat must be out then, whatever the cold, because wind comes up.
    is_if_called : bool
        Whether it is a start that the night's chance does not call hands to yet.
    is_before_starts : bool
        Whether something is still to be started after it: sooner, where it is colder.
    expected_air_c : float or None
        What the forecast has for the coldest block then. [degC]
    units : int
        How many pieces of its equipment it is about; 0 where they are not counted.
    """

    kind: TaskKind
    start_utc: datetime
    duration: timedelta
    deadline_utc: datetime
    hands: int = 1
    who: tuple[str, ...] = ()
    equipment: str = ""
    blocks: tuple[str, ...] = ()
    worth: float = 0.0
    every: timedelta | None = None
    is_by_day: bool = False
    can_be_late: bool = False
    is_about_water: bool = False
    is_about_flame: bool = False
    is_if_begun: bool = False
    is_kept_ready: bool = False
    is_before_wind: bool = False
    is_if_called: bool = False
    is_before_starts: bool = False
    expected_air_c: float | None = None
    units: int = 0

    @property
    def pair(self) -> StartKey:
        """Its equipment and, of its blocks, the first: a start has one alone."""
        return self.equipment, self.blocks[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What to do on one night.

    Attributes
    ----------
    chosen, left_out : tuple
        By block, what matters most first.
    listed : tuple of Option
        What is listed for a block at risk and cannot be reckoned.
    refused : tuple of Option
        What is there and is not to be used tonight.
    passed_over : tuple of PassedOver
        What could be done in a block at risk and is not.
    beyond : tuple of (str, str)
        Equipment and block of what people were called to start in blocks that are at
        risk no longer.
    begun : tuple of Option
        Water that is not chosen and may run: it must not be stopped early.
    dropped : tuple of Task
        What no longer fits before its deadline.
    taken_as_done : tuple of Task
        Work by day that is taken as done, since it is dark.
    is_by_value : bool
        Whether blocks are weighed by their crop's value; else by priority alone.
    hands : int
        How many people it counts with.
    unready : tuple of str
        What was not tried this season.
    measures_ahead : tuple of str
        What can be done days ahead, by name.
    tank : TankShare or None
        How one tank is shared with the next night; None where only one asks for it.
    first_harm_utc : datetime or None
        When the first block at risk must be protected; None where none is.
    snowed_blossom : tuple of str
        The blocks in blossom, on a night that snows.
    household : Household or None
        What a house has, where there is no equipment and low plants are at risk.
    """

    night: date
    made_utc: datetime
    kind: NightKind | None
    chosen: tuple[Option, ...]
    listed: tuple[Option, ...]
    refused: tuple[Option, ...]
    passed_over: tuple[PassedOver, ...]
    beyond: tuple[tuple[str, str], ...]
    begun: tuple[Option, ...]
    left_out: tuple[UnprotectedBlock, ...]
    budgets: tuple[Budget, ...]
    tasks: tuple[Task, ...]
    dropped: tuple[Task, ...]
    taken_as_done: tuple[Task, ...]
    where: HeatPlacement | None
    is_by_value: bool
    hands: int
    are_hands_assumed: bool
    unready: tuple[str, ...]
    measures_ahead: tuple[str, ...]
    stop_not_before_utc: datetime | None
    sunset_utc: datetime | None
    sunrise_utc: datetime | None
    tank: TankShare | None = None
    household: Household | None = None
    first_harm_utc: datetime | None = None
    snowed_blossom: tuple[str, ...] = ()

    @property
    def is_harm_by_day(self) -> bool:
        """Whether the freeze begins before the sun sets."""
        harm, sunset = self.first_harm_utc, self.sunset_utc
        return harm is not None and sunset is not None and harm < sunset

    def begin_utc(self, start: Task) -> datetime:
        """Return when people must begin for a start, with what is set up in the dark.

        By day its setting up has an hour of its own.
        """
        if not self.is_dark:
            return start.start_utc
        work = (
            task.duration
            for task in self.tasks
            if task.kind is TaskKind.SET_UP and task.equipment == start.equipment
        )
        return start.start_utc - sum(work, timedelta())

    @property
    def kept_ready(self) -> tuple[Option, ...]:
        """Water that is refused by day and set up all the same."""
        return tuple(item for item in self.refused if item.is_kept_ready)

    @property
    def starts(self) -> tuple[Task, ...]:
        """What is left to start in the night."""
        return tuple(task for task in self.tasks if task.kind is TaskKind.START)

    @property
    def is_after_sunrise(self) -> bool:
        """Whether it was made in the morning, when it is light again."""
        return self.sunrise_utc is not None and self.sunrise_utc <= self.made_utc

    @property
    def is_dark(self) -> bool:
        """Whether the sun had set when it was made."""
        return self.sunset_utc is not None and self.sunset_utc <= self.made_utc
