"""Tonight's jobs and limits, as the page shows them that people open by phone."""

from dataclasses import dataclass, replace
from datetime import date, datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One thing to do tonight.

    Attributes
    ----------
    key : str
        Names it within its night, also after the plan was made anew.
    who : tuple of str
        Who does it; empty for everybody.
    words : str
        What is to be done, hours included, names left out.
    """

    night: date
    key: str
    who: tuple[str, ...]
    words: str

    def is_for(self, person: str) -> bool:
        """Whether a person does it."""
        return not self.who or person in self.who


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockLimit:
    """What a block bears on a night.

    Attributes
    ----------
    stage : str
        The stage that counts.
    limit_c : float or None
        Temperature that warnings are measured against. [degC] None where the block is
        not watched.
    """

    block: str
    stage: str
    limit_c: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class JobSheet:
    """What the service decided last, as far as people need it by phone.

    Attributes
    ----------
    night : date
        The night of the limits.
    made_utc : datetime
        When it was decided.
    """

    night: date
    made_utc: datetime
    jobs: tuple[Job, ...]
    limits: tuple[BlockLimit, ...]

    def says_as(self, other: "JobSheet") -> bool:
        """Whether it says the same as another one, whenever that was made."""
        return replace(self, made_utc=other.made_utc) == other

    def limit_of(self, block: str, night: date) -> BlockLimit | None:
        """Return a block's limit, if it is of that night."""
        if night != self.night:
            return None
        return next((item for item in self.limits if item.block == block), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A job that somebody has done."""

    night: date
    job: str
    person: str
    done_utc: datetime
