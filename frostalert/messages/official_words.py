"""What the weather service itself says, in words, as theirs and not ours."""

from datetime import timedelta

from frostalert.messages.wording import Wording
from frostalert.model.official import OfficialWord

_OLD = timedelta(hours=2)


def in_force(word: OfficialWord | None, wording: Wording) -> tuple[str, ...]:
    """Return the official warnings in force, in few words; none where none is known."""
    return tuple(
        f"In force: {item.event} by {item.sender}, {wording.moment(item.onset_utc)} to "
        f"{wording.moment(item.ends_utc)} (their word)."
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
        f"In force: {item.event} by {item.sender}, from "
        f"{wording.moment(item.onset_utc)} to {wording.moment(item.ends_utc)} (their "
        "word; the chances here are ours)"
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
            f"Nearest official station, {report.name} ({report.station}, {far} off): "
            f"{wording.temperature(report.air_c)} at {wording.moment(report.at_utc)}"
        )
    return tuple(lines)
