"""Every error of the package, in one tree.

::

    FrostalertError
      ConfigError                  exit 78: nothing starts
        ConfigFileError            missing or unparsable file
        ConfigValueError           all problems at once, each "key: message"
        SecretError                missing, or named in two ways
        QuantityError              a quantity without a unit, or with a wrong one
      ForecastError
        ForecastUnavailableError   network, 5xx, 429; worth another try
        ForecastRejectedError      other 4xx; another try will not help
        ForecastFormatError        the answer is not what the service documents
      PhysicsDomainError           input outside what a formula holds for
      AgronomyError
        CropFileError              a crop file that cannot be read as one
        UnknownCropError
        UnknownStageError
      StoreError
        NoStateError               the service has not made one yet
        StoreBusyError             another process holds the state; retryable
        StoreVersionError          database newer than the program
      TransportError               no answer over HTTP; says whether it may have arrived
      DeliveryError                a message was not taken; carries a `Refusal`
      TicketError                  a link to answer by that is forged or too old
      UsageError                   a command was given something it cannot use
"""

from enum import StrEnum


class FrostalertError(Exception):
    """Base of all errors that this package raises on purpose."""

    retryable = False


class ConfigError(FrostalertError):
    """The configuration cannot be used."""


class ConfigFileError(ConfigError):
    """The configuration file is missing or is not TOML."""

    def __init__(self, path: str, problem: str) -> None:
        self.path = path
        self.problem = problem
        super().__init__(f"{path}: {problem}")


class ConfigValueError(ConfigError):
    """One or more values cannot be used; all of them are listed.

    `reasons` are the same problems without the places at which they stand.
    """

    def __init__(
        self, path: str, problems: list[str], reasons: list[str] | None = None
    ) -> None:
        self.path = path
        self.problems = problems
        self.reasons = problems if reasons is None else reasons
        count = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
        lines = "\n".join(f"  {problem}" for problem in problems)
        super().__init__(f"{path}: {count}\n{lines}")


class SecretError(ConfigError):
    """A secret is missing, unreadable, or named in two ways."""


class QuantityError(ConfigError, ValueError):
    """A quantity has no unit, a wrong unit, or no number."""


class ForecastError(FrostalertError):
    """A forecast could not be had."""

    def __init__(self, source: str, problem: str) -> None:
        self.source = source
        self.problem = problem
        super().__init__(f"{source}: {problem}")


class ForecastUnavailableError(ForecastError):
    """The service did not answer, or said that it cannot just now."""

    retryable = True


class ForecastRejectedError(ForecastError):
    """The service refused the request for good."""


class ForecastFormatError(ForecastError):
    """The answer is not what the service documents."""


class PhysicsDomainError(FrostalertError, ValueError):
    """An input lies outside what a formula holds for."""


class AgronomyError(FrostalertError):
    """Something about crops or stages."""


class CropFileError(AgronomyError):
    """A crop file cannot be read as one."""

    def __init__(self, path: str, problem: str) -> None:
        self.path = path
        self.problem = problem
        super().__init__(f"{path}: {problem}")


class UnknownNameError(AgronomyError):
    """A name that is not in a closed set; carries the nearest valid ones."""

    kind = "name"

    def __init__(self, name: str, nearest: list[str], valid: list[str]) -> None:
        self.name = name
        self.nearest = nearest
        self.valid = valid
        remedy = self.remedy(nearest, valid)
        super().__init__(f'unknown {self.kind} "{name}"; {remedy}')

    @classmethod
    def remedy(cls, nearest: list[str], valid: list[str]) -> str:
        """Return what to write instead."""
        if nearest:
            return "write " + " or ".join(f'"{item}"' for item in nearest)
        return "write one of " + ", ".join(f'"{item}"' for item in valid)


class UnknownCropError(UnknownNameError):
    """No crop of that name, in the package or in the user's folder.

    The nearest names are other spellings of the same plant; no other plant is offered.
    """

    kind = "crop"

    @classmethod
    def remedy(cls, nearest: list[str], valid: list[str]) -> str:
        """Return the nearest names, or how to make a table of one's own."""
        del valid
        if nearest:
            names = " and ".join(f'"{item}"' for item in nearest)
            verb = "name is" if len(nearest) == 1 else "names are"
            return f"the nearest {verb} {names} (all: frostalert crops)"
        return (
            "no published table is known for it here. With a value that you trust, "
            "make a crop file of your own: name, title and a [[stages]] table with "
            "stage, damage_begins and source, in the folder that [storage] crops "
            'names; config/README.md shows one under "Your own crops"'
        )


class UnknownStageError(UnknownNameError):
    """The crop's table has no such stage."""

    kind = "stage"


class StoreError(FrostalertError):
    """The state could not be read or written."""


class NoStateError(StoreError):
    """There is no state yet."""


class StoreBusyError(StoreError):
    """Another process holds the state."""

    retryable = True


class StoreVersionError(StoreError):
    """The database was written by a newer version of the program."""


class TransportError(FrostalertError):
    """No usable answer came over HTTP."""

    retryable = True

    def __init__(self, problem: str, *, may_have_arrived: bool) -> None:
        self.problem = problem
        self.may_have_arrived = may_have_arrived
        super().__init__(problem)


class Refusal(StrEnum):
    """Why a message was not taken, in the order of what can be done about it."""

    TRY_AGAIN = "try again"
    UNKNOWN_OUTCOME = "unknown outcome"
    MISCONFIGURED = "misconfigured"
    BAD_RECIPIENT = "bad recipient"
    BAD_MESSAGE = "bad message"


class DeliveryError(FrostalertError):
    """A channel did not take a message."""

    def __init__(self, channel: str, refusal: Refusal, detail: str) -> None:
        self.channel = channel
        self.refusal = refusal
        self.detail = detail
        self.retryable = refusal not in (Refusal.BAD_RECIPIENT, Refusal.BAD_MESSAGE)
        super().__init__(f"{channel}: {refusal.value}: {detail}")


class TicketError(FrostalertError):
    """A link to answer by is forged, mangled or too old."""


class UsageError(FrostalertError):
    """A command was given something that it cannot use."""


def reason_of(error: Exception) -> str:
    """Return why something could not be done, without the numbers of the system.

    Parameters
    ----------
    error : Exception
        What was raised; where the system refused, its words alone are for people.

    Returns
    -------
    str
        The reason, and what to do where this user may not.
    """
    if not isinstance(error, OSError) or error.strerror is None:
        return str(error)
    if isinstance(error, PermissionError):
        return f"{error.strerror}; call it as a user who may, for instance with sudo"
    return error.strerror
