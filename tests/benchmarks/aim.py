"""An aim of speed or size, and whether a measurement meets it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """One figure beside what it should be at most, or at least.

    Attributes
    ----------
    limit : float or None
        What it should be; None for a figure without an aim.
    is_least : bool
        Whether the limit is the least that will do, not the most.
    """

    name: str
    value: float
    unit: str = ""
    limit: float | None = None
    is_least: bool = False

    @property
    def is_missed(self) -> bool:
        """Whether the figure is beyond its limit."""
        if self.limit is None:
            return False
        return self.value < self.limit if self.is_least else self.value > self.limit

    def row(self) -> str:
        """Return the figure and its aim, in one line."""
        unit = f" {self.unit}" if self.unit else ""
        line = f"{self.name}: {self.value:.3g}{unit}"
        if self.limit is None:
            return line
        bound = "at least" if self.is_least else "at most"
        missed = ", MISSED" if self.is_missed else ""
        return f"{line} (aim {bound} {self.limit:g}{missed})"
