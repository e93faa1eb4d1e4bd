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
    if text.startswith(_REHEARSAL):
        return _REHEARSAL + REPEAT_MARK + text.removeprefix(_REHEARSAL)
    return REPEAT_MARK + text
