"""What was left out or mended while a document was read, in words."""

from dataclasses import dataclass, field

_MOST_SHOWN = 60


@dataclass(slots=True)
class Notes:
    """The lines that stand beside a forecast.

    Attributes
    ----------
    lines : list of str
        All of them, for whoever reads the forecast.
    doubts : list of str
        Those that speak against it, for whoever looks after the service.
    """

    lines: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)

    def note(self, line: str) -> None:
        """Say how the forecast was read."""
        self.lines.append(line)

    def doubt(self, line: str) -> None:
        """Say what is wrong with it."""
        self.lines.append(line)
        self.doubts.append(line)


def shown(value: object) -> str:
    r"""Return something out of a document, fit to stand in a line of ours.

    Examples
    --------
    >>> shown("wmoUnit:furlong\nALL CLEAR")
    'wmoUnit:furlong ALL CLEAR'
    """
    text = value if isinstance(value, str) else repr(value)
    # A huge one is cut before it is looked at sign by sign.
    signs = text[: 4 * _MOST_SHOWN]
    plain = "".join(sign if sign.isprintable() else " " for sign in signs)
    words = " ".join(plain.split())
    return words if len(words) <= _MOST_SHOWN else words[: _MOST_SHOWN - 3] + "..."
