"""A secret that does not show itself when printed or logged."""

from dataclasses import dataclass, field

_MASK = "********"


@dataclass(frozen=True, slots=True)
class Secret:
    """A secret text; only `reveal` gives it away.

    Attributes
    ----------
    open_file : str or None
        The file that it came from, if others on the machine can read that.
    """

    _value: str
    open_file: str | None = field(default=None, compare=False)

    def reveal(self) -> str:
        """Return the secret itself."""
        return self._value

    def masked_in(self, text: str) -> str:
        """Return a text without the secret: some servers quote what they refuse."""
        return text.replace(self._value, _MASK) if self._value else text

    def __str__(self) -> str:
        """Return a mask."""
        return _MASK

    def __repr__(self) -> str:
        """Return a mask."""
        return f"Secret({_MASK})"
