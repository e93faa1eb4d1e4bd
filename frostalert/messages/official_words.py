"""What the weather service itself says, in words, as theirs and not ours."""

from datetime import timedelta

from frostalert.messages.wording import Wording
from frostalert.model.official import OfficialWord

_OLD = timedelta(hours=2)
_LONGEST = 80


def quoted(words: str) -> str:
    r"""Return others' words on one line, cut: they must not pass for ours.

    Examples
    --------
    >>> quoted("Freeze Warning\n\nALL CLEAR")
    'Freeze Warning ALL CLEAR'
    >>> len(quoted("x" * 200))
    80
    """
    line = " ".join("".join(c if c.isprintable() else " " for c in words).split())
    return line if len(line) <= _LONGEST else line[: _LONGEST - 4].rstrip() + " ..."


def in_force(word: OfficialWord | None, wording: Wording) -> tuple[str, ...]:
    """Return the official warnings in force, in few words; none where none is known."""
    return tuple(
        f"In force: {quoted(item.event)} from {quoted(item.sender)}, "
        f"{wording.moment(item.onset_utc)} to {wording.moment(item.ends_utc)} (their "
        "words)."
        for item in (() if word is None else word.alerts)
        if item.ends_utc > wording.now_utc
    )


def official_lines(word: OfficialWord | None, wording: Wording) -> tuple[str, ...]:
    """Return the warnings in force and the station's reading."""
    if word is None:
        return ()
    if word.asked_utc is None or wording.now_utc - word.asked_utc > _OLD:
        since = "never" if word.asked_utc is None else wording.age(word.asked_utc)
        return (f"Official warnings: not known (last had: {since})",)
    lines = [
        f"In force: {quoted(item.event)} by {quoted(item.sender)}, from "
        f"{wording.moment(item.onset_utc)} to {wording.moment(item.ends_utc)} (their "
        "words; the chances here are ours)"
        for item in word.alerts
        if item.ends_utc > wording.now_utc
    ]
    if not lines:
        lines.append(
            "No official frost or freeze warning is in force, which does not mean that "
            "none is needed: they are issued for regions, and in part of the year"
        )
    report = word.report
    if report is not None:
        far = wording.distance(report.distance_km)
        lines.append(
            f"Nearest official station, {quoted(report.name)} ({report.station}, {far} "
            "off): "
            f"{wording.temperature(report.air_c)} at {wording.moment(report.at_utc)}"
        )
    return tuple(lines)
