"""Our values as text for the database and back; NaN as null."""

import json
import zlib
from base64 import b64decode, b64encode
from dataclasses import asdict, fields, replace
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Any

from frostalert.model.assessment import Tier
from frostalert.model.channel import ChannelKind
from frostalert.model.forecast import BoolArray, FloatArray, ForecastRun, Hours, Period
from frostalert.model.notice import Attachment, Fallback, NightHistory
from frostalert.model.start import Start, StartState
from frostalert.ports import SourceMemory

_FLOATS = (
    "air_c",
    "dewpoint_c",
    "wind_mps",
    "wind_from_deg",
    "spread_c",
    "aloft_delta_c",
    "cloud_pct",
    "shutting_cloud_pct",
    "precipitation_probability_pct",
)
_SETS_OF_STARTS = ("told_starts", "taken_back", "called_again", "called_starts")
"""What was kept of starts before each had a record of its own."""
_FLAGS = ("is_frost", "is_wet_weather")


@lru_cache(maxsize=256)
def moment_text(moment: datetime) -> str:
    """Return a moment as text that sorts by time; a look names the same few often."""
    # Not strftime, which takes ten times as long: every query has a moment or two.
    text = moment.astimezone(UTC).isoformat(timespec="microseconds")
    return text.removesuffix("+00:00") + "Z"


# The hours of one run are those of all others, which share them.
@lru_cache(maxsize=2048)
def read_moment(text: str) -> datetime:
    """Return a moment from its text."""
    return datetime.fromisoformat(text)


def read_optional(text: str | None) -> datetime | None:
    """Return a moment from its text, if there is one."""
    return None if text is None else read_moment(text)


def fallback_text(fallback: Fallback | None) -> str | None:
    """Return the same message for another channel as text."""
    if fallback is None:
        return None
    plain = asdict(replace(fallback, attachments=()))
    return json.dumps({**plain, "attachments": attachments_text(fallback.attachments)})


def read_fallback(text: str | None) -> Fallback | None:
    """Return the same message for another channel; older ones had no files."""
    if text is None:
        return None
    content = json.loads(text)
    files = read_attachments(content.pop("attachments", None))
    channel = ChannelKind(content.pop("channel"))
    return Fallback(**content, channel=channel, attachments=files)


def attachments_text(attachments: tuple[Attachment, ...]) -> str | None:
    """Return the files of a mail as text."""
    if not attachments:
        return None
    rows = [
        {**asdict(item), "content": b64encode(item.content).decode("ascii")}
        for item in attachments
    ]
    return json.dumps(rows)


def read_attachments(text: str | None) -> tuple[Attachment, ...]:
    """Return the files of a mail from their text."""
    if text is None:
        return ()
    return tuple(
        Attachment(**{**row, "content": b64decode(row["content"])})
        for row in json.loads(text)
    )


def run_text(run: ForecastRun) -> str:
    """Return a forecast run as text, packed: a season of them fills a small card."""
    hours = run.hours
    content = {
        "source_title": run.source_title,
        "elevation_m": run.elevation_m,
        "latitude": run.latitude,
        "longitude": run.longitude,
        "gives_minimums": run.gives_minimums,
        "first_utc": moment_text(hours.first_utc),
        "hours": {name: _numbers(getattr(hours, name)) for name in _FLOATS}
        | {name: getattr(hours, name).astype(int).tolist() for name in _FLAGS},
        "night_minimums": [_period(item) for item in run.night_minimums],
        "precipitation_mm": [_period(item) for item in run.precipitation_mm],
        "notes": list(run.notes),
        "doubts": list(run.doubts),
    }
    text = json.dumps(content, allow_nan=False, separators=(",", ":"))
    return b64encode(zlib.compress(text.encode())).decode("ascii")


def read_run(row: Any) -> ForecastRun:
    """Return a forecast run from its row."""
    return _read_run(
        row["content"],
        row["source"],
        row["place"],
        row["updated_utc"],
        row["fetched_utc"],
    )


# All that a look and a morning's learning ask for must fit, or none is still there at
# the next one, and what was worked out of each is lost with it: three sources, hourly,
# over a day and a half, and the runs of some days for the night before.
@lru_cache(maxsize=192)
def _read_run(
    text: str, source: str, place: str, updated_utc: str, fetched_utc: str
) -> ForecastRun:
    """Return a run; the same ones are asked for at every look."""
    # Runs that were kept before they were packed are plain.
    plain = text if text.startswith("{") else zlib.decompress(b64decode(text))
    content = json.loads(plain)
    hours = content["hours"]
    return ForecastRun(
        source=source,
        source_title=content["source_title"],
        place=place,
        updated_utc=read_moment(updated_utc),
        fetched_utc=read_moment(fetched_utc),
        elevation_m=content["elevation_m"],
        latitude=content["latitude"],
        longitude=content["longitude"],
        hours=Hours(
            first_utc=read_moment(content["first_utc"]),
            air_c=_array(hours["air_c"]),
            dewpoint_c=_array(hours["dewpoint_c"]),
            wind_mps=_array(hours["wind_mps"]),
            # Runs that were kept before directions were read have none.
            wind_from_deg=_array(hours.get("wind_from_deg", [])),
            spread_c=_array(hours.get("spread_c", [])),
            aloft_delta_c=_array(hours.get("aloft_delta_c", [])),
            cloud_pct=_array(hours["cloud_pct"]),
            shutting_cloud_pct=_array(hours["shutting_cloud_pct"]),
            precipitation_probability_pct=_array(
                hours["precipitation_probability_pct"]
            ),
            is_frost=_flags(hours["is_frost"]),
            is_wet_weather=_flags(hours["is_wet_weather"]),
        ),
        night_minimums=tuple(map(_read_period, content["night_minimums"])),
        precipitation_mm=tuple(map(_read_period, content["precipitation_mm"])),
        notes=tuple(content["notes"]),
        doubts=tuple(content.get("doubts", ())),
        gives_minimums=content.get("gives_minimums", False),
    )


def memory_text(memory: SourceMemory) -> str:
    """Return what a source remembers as text."""
    content = asdict(memory)
    for name in ("resolved_utc", "not_before_utc"):
        if content[name] is not None:
            content[name] = moment_text(content[name])
    return json.dumps(content)


def read_memory(text: str) -> SourceMemory:
    """Return what a source remembers from its text."""
    content = json.loads(text)
    for name in ("resolved_utc", "not_before_utc"):
        if content.get(name) is not None:
            content[name] = read_moment(content[name])
    return SourceMemory(**content)


@lru_cache(maxsize=64)
def history_text(history: NightHistory) -> str:
    """Return what was said about a night as text."""
    content: dict[str, Any] = {}
    # Not `asdict`, which copies every value.
    for field in fields(history):
        value = getattr(history, field.name)
        if field.name == "starts":
            content["starts"] = [_start_row(start) for start in value]
        elif field.name != "night":
            content[field.name] = (
                moment_text(value) if isinstance(value, datetime) else value
            )
    return json.dumps(content)


def _start_row(start: Start) -> dict[str, Any]:
    """Return a start as plain values."""
    values = {field.name: getattr(start, field.name) for field in fields(start)}
    return {
        name: moment_text(value) if isinstance(value, datetime) else value
        for name, value in values.items()
    }


def _read_start(row: dict[str, Any]) -> Start:
    """Return a start from its plain values."""
    moments = {
        name: read_optional(value)
        for name, value in row.items()
        if name.endswith("_utc")
    }
    key, state = tuple(row["key"]), StartState(row["state"])
    return Start(**{**row, **moments, "key": key, "state": state})


def _starts_of_sets(content: dict[str, Any]) -> tuple[Start, ...]:
    """Return the starts of a night that was kept as four sets of pairs.

    An answer counted for every start then: one to the last warning goes on counting.
    """
    told, back, again, called = (
        frozenset(map(tuple, content.pop(name, ()))) for name in _SETS_OF_STARTS
    )
    return tuple(
        Start(
            key=key,
            state=StartState.REVOKED if key in back else StartState.CALLED,
            planned_utc=content["hands_since_utc"],
            called_utc=content["start_since_utc"] if key in called else None,
            revision=content.get("said_revision", 0),
            was_reinstated=key in again,
        )
        for key in sorted(told | called)
    )


@lru_cache(maxsize=256)
def read_history(night: str, text: str) -> NightHistory:
    """Return what was said about a night from its text."""
    content = json.loads(text)
    for name, value in content.items():
        if name.endswith("_utc") and value is not None:
            content[name] = read_moment(value)
    content["told"] = Tier(content["told"])
    content["said"] = Tier(content["said"])
    content["told_blocks"] = tuple(content["told_blocks"])
    if "starts" in content:
        content["starts"] = tuple(map(_read_start, content["starts"]))
    else:
        content["starts"] = _starts_of_sets(content)
    return NightHistory(night=date.fromisoformat(night), **content)


def _numbers(values: FloatArray) -> list[float | None]:
    """Return numbers short enough to keep for two seasons, NaN as null."""
    plain = values.tolist()
    # Only NaN differs from itself.
    return [None if value != value else round(value, 3) for value in plain]  # noqa: PLR0124


def _array(values: list[float | None]) -> FloatArray:
    """Return numbers as an array that nobody may change, null as NaN."""
    # Commands that read no forecast must not wait for it.
    import numpy as np  # noqa: PLC0415

    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def _flags(values: list[int]) -> BoolArray:
    """Return flags as an array."""
    import numpy as np  # noqa: PLC0415 - as above

    return np.array(values, dtype=np.bool_)


def _period(item: Period) -> list[str | float]:
    """Return a period as start, end and value."""
    return [moment_text(item.start_utc), moment_text(item.end_utc), item.value]


def _read_period(item: list[Any]) -> Period:
    """Return a period from start, end and value."""
    start, end, value = item
    return Period(
        start_utc=read_moment(start), end_utc=read_moment(end), value=float(value)
    )
