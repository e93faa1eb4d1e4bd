"""Mark a message that may have arrived before, a rehearsal's own mark kept in front."""

REPEAT_MARK = "(again) "
_REHEARSAL = "TEST "


def marked_repeat(text: str) -> str:
    """Return a text that says that it may be a repeat.

    Examples
    --------
    >>> marked_repeat("FROST tonight"), marked_repeat("TEST FROST tonight")
    ('(again) FROST tonight', 'TEST (again) FROST tonight')
    """
    return marked_in_front(text, REPEAT_MARK)


def marked_in_front(text: str, mark: str) -> str:
    """Return a text with a mark in front, a rehearsal's own mark before it."""
    if text.startswith(_REHEARSAL):
        return _REHEARSAL + mark + text.removeprefix(_REHEARSAL)
    return mark + text
