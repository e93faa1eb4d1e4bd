"""A warning's mail as people read it: the short part, and the page beside it."""

import re
from html import unescape

from frostalert.model.notice import Message

_LINE = re.compile(r"<(h1|h2|p)([^>]*)>(.*?)</\1>", re.DOTALL)


def all_numbers(message: Message) -> str:
    """Return the page with all numbers as lines: "* " before a head, "- " below it."""
    pages = [
        item.content.decode()
        for item in message.attachments
        if item.name == "all-numbers.html"
    ]
    return "\n".join(_plain(*found) for page in pages for found in _LINE.findall(page))


def _plain(tag: str, style: str, words: str) -> str:
    """Return one element of the page as a line."""
    text = unescape(re.sub(r"<[^>]+>", "", words)).strip()
    if tag == "h2":
        return f"\n{text.upper()}"
    if "font-weight:bold" in style and "20px" not in style:
        return f"* {text}"
    return f"- {text}" if "14px" in style else text


def everything(message: Message) -> str:
    """Return all that a mail says, on one line."""
    return " ".join(f"{message.text} {all_numbers(message)}".split())


WARNS = ("Frost possible", "Get ready", "Start now", "Be ready", "Nothing you have")
"""How a warning's subject begins, whatever the hour at which a test is run."""
