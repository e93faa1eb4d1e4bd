"""One light for the whole page: in its title, as its icon, and at its head.

Told by its form and its word as well as by its colour.
"""

from enum import Enum

from frostalert.cycle.health import Health, Light
from frostalert.model.assessment import NightAssessment, Tier

_CIRCLE = '<circle cx="16" cy="16" r="13" fill="{colour}"/>'
_DIAMOND = '<path d="M16 1 31 16 16 31 1 16Z" fill="{colour}"/>'
_TRIANGLE = '<path d="M16 2 31 30H1Z" fill="{colour}"/>'
_SQUARE = '<rect x="2" y="2" width="28" height="28" fill="{colour}"/>'
_MARK = (
    '<text x="16" y="25" text-anchor="middle" font-family="sans-serif" '
    'font-weight="bold" font-size="{size}" fill="#fff">{mark}</text>'
)


class PageLight(Enum):
    """What the page comes to: a word, a sign for the title, and how it is drawn."""

    QUIET = ("quiet", "\U0001f7e2", "#1c7a3d", _CIRCLE, "")
    OUTLOOK = ("outlook", "\U0001f7e1", "#8a6a00", _DIAMOND, "")
    LOOK = ("service needs you", "\u26a0\ufe0f", "#a04a00", _DIAMOND, "!")
    PREPARE = ("get ready", "\U0001f7e0", "#b45309", _TRIANGLE, "!")
    ACT = ("act", "\U0001f534", "#b3141d", _SQUARE, "!")
    UNKNOWN = ("cannot judge", "\u2753", "#6b2a86", _SQUARE, "?")

    def __init__(
        self, word: str, sign: str, colour: str, shape: str, mark: str
    ) -> None:
        """Keep what it is told by."""
        self.word, self.sign, self.colour = word, sign, colour
        self._shape, self._mark = shape, mark

    @property
    def svg(self) -> str:
        """The light as a picture."""
        shape = self._shape.format(colour=self.colour)
        mark = _MARK.format(size=24, mark=self._mark) if self._mark else ""
        space = "http://www.w3.org/2000/svg"
        return f'<svg xmlns="{space}" viewBox="0 0 32 32">{shape}{mark}</svg>'


def page_light(
    meant: tuple[NightAssessment, ...],
    coming: tuple[NightAssessment, ...],
    health: Health,
) -> PageLight:
    """Return the light of the most urgent thing on the page.

    A mild night is not quiet where the service cannot be relied on.
    """
    tiers = {night.tier for night in meant}
    if Tier.ACT in tiers:
        return PageLight.ACT
    if Tier.PREPARE in tiers:
        return PageLight.PREPARE
    if Tier.CANNOT_JUDGE in tiers:
        return PageLight.UNKNOWN
    if health.light is Light.BAD:
        return PageLight.LOOK
    if Tier.OUTLOOK in tiers | {night.tier for night in coming}:
        return PageLight.OUTLOOK
    return PageLight.QUIET
