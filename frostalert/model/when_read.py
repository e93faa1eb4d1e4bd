"""Records that are made when somebody reads them.

A look judges some hundred blocks' nights and few are read: what the others are is told
by the night, and their records need not be made.
"""

from collections.abc import Callable, Sequence
from typing import Any, TypeVar, overload

Record_co = TypeVar("Record_co", covariant=True)


class WhenRead(Sequence[Record_co]):
    """A row of records, all of them made when the first is read.

    Parameters
    ----------
    count : int
        How many there are.
    make : callable
        Makes them, in order.
    """

    __slots__ = ("_count", "_made", "_make")

    def __init__(self, count: int, make: Callable[[], Sequence[Record_co]]) -> None:
        """Note how the records are made."""
        self._count = count
        self._make: Callable[[], Sequence[Record_co]] | None = make
        self._made: tuple[Record_co, ...] = ()

    def _all(self) -> tuple[Record_co, ...]:
        """Return the records, made if need be."""
        make = self._make
        if make is not None:
            self._made = tuple(make())
            # What they were made of is not kept.
            self._make = None
        return self._made

    def __len__(self) -> int:
        """Return how many there are; makes none."""
        return self._count

    @overload
    def __getitem__(self, place: int) -> Record_co: ...
    @overload
    def __getitem__(self, place: slice) -> tuple[Record_co, ...]: ...
    def __getitem__(self, place: int | slice) -> Record_co | tuple[Record_co, ...]:
        """Return one, or some as a tuple."""
        return self._all()[place]

    def __eq__(self, other: object) -> bool:
        """Return whether the records are those of another row, or of a tuple."""
        if isinstance(other, WhenRead | tuple):
            return self._all() == tuple(other)
        return NotImplemented

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        """Return the records as a tuple shows them."""
        return repr(self._all())

    def __reduce__(self) -> tuple[Any, ...]:
        """Return the records alone: what makes them need not be kept or sent."""
        return tuple, (self._all(),)
