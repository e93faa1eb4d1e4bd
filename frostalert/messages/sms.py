"""Text messages: only characters of the GSM 7-bit alphabet, and a length that fits.

One character outside the alphabet cuts a segment from 160 characters to 70; a degree
sign is such a character. Source: 3GPP TS 23.038, GSM 7 bit default alphabet.
"""

import unicodedata

ONE_SEGMENT = 160
TWO_SEGMENTS = 306
GSM_BASIC = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
GSM_DOUBLE = frozenset("^{}\\[~]|€")
_GSM = GSM_BASIC | GSM_DOUBLE
_SPELLED = {
    "\u00b0": "",  # degree sign
    "\u2013": "-",  # en dash
    "\u2014": "-",  # em dash
    "\u2212": "-",  # minus sign
    "\u2018": "'",
    "\u2019": "'",
    "\u201c": '"',
    "\u201d": '"',
    "\u2026": "...",
    "\u00b1": "+-",
    "\u2264": "<=",
    "\u2265": ">=",
    "\t": " ",
}


def to_gsm(text: str) -> str:
    r"""Return a text with every character spelled in the GSM alphabet.

    Examples
    --------
    >>> to_gsm("27 \u00b0F at \u017dofka\u2019s")
    "27 F at Zofka's"
    """
    if _GSM.issuperset(text):
        return text
    return "".join(_spell(character) for character in text)


def gsm_length(text: str) -> int:
    """Return how many places a text takes; some characters take two.

    Examples
    --------
    >>> gsm_length("a[b]")
    6
    """
    return len(text) + sum(map(text.count, GSM_DOUBLE))


def shorten(text: str, places: int) -> str:
    """Return a text cut to a number of places, at a word where it can be.

    Examples
    --------
    >>> shorten("Apricots by the lower lane", 14)
    'Apricots'
    """
    if gsm_length(text) <= places:
        return text
    kept = text[:places]
    while gsm_length(kept) > places:
        kept = kept[:-1]
    at_word = kept.rpartition(" ")[0]
    if text[len(kept)] != " " and len(at_word) >= places // 3:
        kept = at_word
    return kept.removesuffix(" the").removesuffix(" by").rstrip(" ,.;:-")


def _spell(character: str) -> str:
    """Return a character in the alphabet, its nearest spelling, or a question mark."""
    if character in _GSM:
        return character
    if character in _SPELLED:
        return _SPELLED[character]
    plain = unicodedata.normalize("NFKD", character)
    kept = "".join(part for part in plain if part in GSM_BASIC)
    return kept or ("" if unicodedata.combining(character) else "?")
