"""A secret that does not show itself when printed or logged."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Secret:
    """A secret text; only `reveal` gives it away."""

    _value: str = field(repr=False)

    def reveal(self) -> str:
        """Return the secret itself."""
        return self._value

    def __str__(self) -> str:
        """Return a mask."""
        return "********"

    def __repr__(self) -> str:
        """Return a mask."""
        return "Secret(********)"
