"""Choose what to do where, when not everything can be done: the most crop saved."""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from frostalert.model.equipment import Equipment
from frostalert.model.forecast import FloatArray
from frostalert.model.plan import Option, Resource
from frostalert.model.start import StartKey

PLAN_TIME_S = 16.0
"""Longest that a plan looks for its choices. Our own limit. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What there is of everything that can run short.

    Attributes
    ----------
    amounts : mapping of (Resource, str) to float
        Of each resource of each equipment. [as in `Option.uses`]
    hands : int
        People who can work through the night. [1]
    tending : mapping of str to int
        People whom each equipment needs while it runs, however many blocks it serves.
        [1]
    set_up_min : mapping of str to float
        Work before dark of each equipment, for one person. [min]
    daylight_min : float or None
        Person-minutes left before dark. [min] None where nothing is bound to it.
    ready : set of StartKey
        What stands ready already, so that it takes no daylight any more.
    """

    amounts: Mapping[tuple[Resource, str], float]
    hands: int
    tending: Mapping[str, int]
    set_up_min: Mapping[str, float]
    daylight_min: float | None
    ready: AbstractSet[StartKey] = frozenset()

    def daylight_of(self, item: Option) -> float:
        """Return the daylight that an option still takes, its pieces. [min]"""
        return 0.0 if item.pair in self.ready else _amount(item, Resource.DAYLIGHT, "")

    def set_up_of(self, equipment: str) -> float:
        """Return the daylight that an equipment still takes. [min]"""
        if any(name == equipment for name, _ in self.ready):
            return 0.0
        return self.set_up_min.get(equipment, 0.0)


def time_share_s(before: int) -> float:
    """Return how long a choice may be looked for, by how often the plan chose before.

    Each gets half of what the last one had, so that a plan has one budget of time
    however often it chooses: `PLAN_TIME_S`. [s]

    Examples
    --------
    >>> [time_share_s(before) for before in range(3)]
    [8.0, 4.0, 2.0]
    """
    return PLAN_TIME_S / 2.0 ** (before + 1)


@dataclass(frozen=True, slots=True)
class Bundle:
    """What is done in one block: one option, or two that go together.

    Attributes
    ----------
    options : tuple of Option
        Each as it is by itself.
    worth : float
        What all of it saves; nothing else is done in the block.
    together : tuple of Option
        The same as they are beside one another; empty for one alone.
    """

    options: tuple[Option, ...]
    worth: float
    together: tuple[Option, ...] = ()

    @property
    def done(self) -> tuple[Option, ...]:
        """What is done, as it is then."""
        return self.together or self.options

    @property
    def block(self) -> str:
        """Where it is done."""
        return self.options[0].block

    @property
    def equipment(self) -> frozenset[str]:
        """What it is done with."""
        return frozenset(item.equipment for item in self.options)

    @property
    def pairs(self) -> frozenset[StartKey]:
        """With what, and where: the same with any count of pieces."""
        return frozenset(item.pair for item in self.options)

    def amount(self, resource: Resource, name: str) -> float:
        """Return what it takes of one resource."""
        return sum(_amount(item, resource, name) for item in self.options)


def alone(option: Option) -> Bundle:
    """Return an option as all that is done in its block."""
    return Bundle((option,), option.worth)


def allocate(
    bundles: Sequence[Bundle], limits: Limits, longest_s: float = PLAN_TIME_S / 2.0
) -> tuple[Bundle, ...]:
    """Return the bundles that together save most: at most one a block.

    Parameters
    ----------
    bundles : sequence of Bundle
        What is offered.
    limits : Limits
        What there is.
    longest_s : float
        How long the best choice is looked for. [s]

    Returns
    -------
    tuple of Bundle
        The best choice; what runs already where none is found in time.

    References
    ----------
    .. [1] A mixed-integer linear program, solved by HiGHS through scipy: Huangfu and
       Hall, "Parallelizing the dual revised simplex method," Math. Program. Comput.
       10, 2018, 119-142.
    """
    offered = [item for item in bundles if item.worth > 0.0]
    if not offered:
        return ()
    equipment = sorted({name for item in offered for name in item.equipment})
    kept = _kept(offered)
    rows, tops = _rows(offered, equipment, limits)
    more, least = _keeping(offered, kept, len(equipment))
    rows, tops = np.vstack([rows, *more]), np.concatenate([tops, least])
    runs = np.zeros(len(offered) + len(equipment))
    runs[kept] = 1.0
    used = {name for place in kept for name in offered[place].equipment}
    runs[len(offered) :] = [name in used for name in equipment]
    # What runs goes on, and may take more than there is of something: it must not make
    # impossible what takes nothing of that.
    tops = np.maximum(tops, rows @ runs)
    worths = _worths(offered, limits, len(equipment))
    chosen = _solve(worths, rows, tops, runs, longest_s)
    return tuple(
        item
        for item, taken in zip(offered, chosen, strict=False)
        if taken > 0.5  # noqa: PLR2004 - a binary
    )


def is_allowed(bundles: Sequence[Bundle], limits: Limits) -> bool:
    """Return whether a choice keeps within what there is, with one bundle a block."""
    blocks = [item.block for item in bundles]
    options = [option for item in bundles for option in item.options]
    return len(blocks) == len(set(blocks)) and is_within(options, limits)


def is_within(options: Sequence[Option], limits: Limits) -> bool:
    """Return whether there is enough of everything for some options together."""
    used = {item.equipment for item in options}
    hands = sum(limits.tending.get(name, 0) for name in used)
    spent: dict[tuple[Resource, str], float] = {}
    for item in options:
        for resource, name, amount in item.uses:
            spent[resource, name] = spent.get((resource, name), 0.0) + amount
    daylight = sum(limits.daylight_of(item) for item in options)
    daylight += sum(limits.set_up_of(name) for name in used)
    return (
        hands <= limits.hands
        and (limits.daylight_min is None or daylight <= limits.daylight_min)
        and all(
            amount <= limits.amounts.get(key, np.inf)
            for key, amount in spent.items()
            if key[0] is not Resource.DAYLIGHT
        )
    )


def _worths(offered: list[Bundle], limits: Limits, equipment: int) -> FloatArray:
    """Return what each variable saves, less a trifle for what it takes."""
    scale = max(item.worth for item in offered)
    trifle = [
        1e-6
        * scale
        * sum(
            amount / limits.amounts[resource, name]
            for option in item.options
            for resource, name, amount in option.uses
            if limits.amounts.get((resource, name))
        )
        for item in offered
    ]
    worth = np.array([item.worth for item in offered]) - np.array(trifle)
    return np.concatenate([worth, np.full(equipment, -1e-6 * scale)])


def _rows(
    offered: list[Bundle], equipment: list[str], limits: Limits
) -> tuple[FloatArray, FloatArray]:
    """Return the limits as rows over bundles, then equipment in use."""
    count = len(offered)
    rows: list[FloatArray] = []
    tops: list[float] = []

    def limit(row: FloatArray, top: float) -> None:
        rows.append(row)
        tops.append(top)

    for block in sorted({item.block for item in offered}):
        row = np.zeros(count + len(equipment))
        row[:count] = [item.block == block for item in offered]
        limit(row, 1.0)
    for place, item in enumerate(offered):
        for name in sorted(item.equipment):
            # A bundle needs its equipment to be in use.
            row = np.zeros(count + len(equipment))
            row[place] = 1.0
            row[count + equipment.index(name)] = -1.0
            limit(row, 0.0)
    for key, top in limits.amounts.items():
        row = np.zeros(count + len(equipment))
        row[:count] = [item.amount(*key) for item in offered]
        limit(row, top)
    hands = np.zeros(count + len(equipment))
    hands[count:] = [limits.tending.get(name, 0) for name in equipment]
    limit(hands, limits.hands)
    if limits.daylight_min is not None:
        row = np.zeros(count + len(equipment))
        row[:count] = [sum(map(limits.daylight_of, item.options)) for item in offered]
        row[count:] = [limits.set_up_of(name) for name in equipment]
        limit(row, limits.daylight_min)
    return np.array(rows), np.array(tops)


def _keeping(
    offered: list[Bundle], kept: list[int], equipment: int
) -> tuple[list[FloatArray], list[float]]:
    """Return rows by which what runs goes on, alone or with something beside it.

    With how many pieces, the choice says: nobody tells how many were begun.
    """
    rows = []
    for place in kept:
        row = np.zeros(len(offered) + equipment)
        row[: len(offered)] = [
            -float(offered[place].pairs <= item.pairs) for item in offered
        ]
        rows.append(row)
    return rows, [-1.0] * len(rows)


def _amount(item: Option, resource: Resource, name: str) -> float:
    """Return what an option takes of one resource."""
    return sum(
        amount for kind, whose, amount in item.uses if (kind, whose) == (resource, name)
    )


def _kept(offered: list[Bundle]) -> list[int]:
    """Return what runs: of several in one block the most, and what saves most of it.

    Of several counts of pieces the fewest: more than there is must not be lifted to it.
    """
    running = [
        place
        for place, item in enumerate(offered)
        if all(option.is_running for option in item.options)
    ]
    best: dict[str, Bundle] = {}
    for item in (offered[place] for place in running):
        before = best.get(item.block)
        if before is None or _rank(item) > _rank(before):
            best[item.block] = item
    alike = [
        [place for place in running if offered[place].pairs == item.pairs]
        for item in best.values()
    ]
    return [min(places, key=lambda place: offered[place].worth) for places in alike]


def _rank(item: Bundle) -> tuple[int, float]:
    """Return what is kept first of what runs in a block."""
    return len(item.options), item.worth


def _solve(
    worth: FloatArray,
    rows: FloatArray,
    tops: FloatArray,
    least: FloatArray,
    longest_s: float,
) -> FloatArray:
    """Return the best binary choice; what runs where none is found in time."""
    given = (worth, rows.ravel(), tops, least)
    return np.array(_solved(longest_s, *(tuple(array.tolist()) for array in given)))


# By night a plan is made again and again of what has not changed.
@lru_cache(maxsize=16)
def _solved(
    longest_s: float,
    worth: tuple[float, ...],
    rows: tuple[float, ...],
    tops: tuple[float, ...],
    least: tuple[float, ...],
) -> tuple[float, ...]:
    """Return the same choice for the same numbers; rows come one after the other."""
    # Loaded when a plan is made: a third of a second that other commands do without.
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415

    found = milp(
        -np.array(worth),
        integrality=np.ones(len(worth)),
        bounds=Bounds(0.0, 1.0),
        constraints=LinearConstraint(
            np.array(rows).reshape(-1, len(worth)), -np.inf, tops
        ),
        options={"time_limit": longest_s},
    )
    return least if found.x is None else tuple(found.x.tolist())


def tending_of(equipment: Sequence[Equipment]) -> dict[str, int]:
    """Return how many people each equipment needs while it runs.

    References
    ----------
    .. [1] Common practice, no source.
    """
    return {
        item.name: 0 if item.method.is_before_dark else item.hands for item in equipment
    }
