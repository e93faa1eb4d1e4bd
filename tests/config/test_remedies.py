"""What each slip in a configuration is told: the line, and what to write instead."""

import re
import tomllib
from datetime import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.config.example import example_text
from frostalert.config.lines import Lines, Location
from frostalert.config.load import parse_settings
from frostalert.config.remedies import remedy_for
from frostalert.errors import ConfigError
from frostalert.model.settings import Settings
from tests.support.configs import config_text

HERE = Path("orchard.toml")


def parse(text: str) -> Settings:
    return parse_settings(text, HERE, needs_secrets=False)


def line_of(text: str, written: str) -> int:
    [found] = [n for n, line in enumerate(text.splitlines(), 1) if written in line]
    return found


def told(text: str) -> str | None:
    try:
        parse(text)
    except ConfigError as error:
        return str(error)
    return None


def said(text: str) -> str:
    with pytest.raises(ConfigError) as caught:
        parse(text)
    return str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "remedy"),
    [
        ("46.2205", "46,2205", "latitude = 46.2205"),
        ("46.2205", "46.2205N", "write the number alone: latitude = 46.2205"),
        ("46.2205", "46.2205 S", "latitude = -46.2205"),
        ("plants = 36", "plants = 3,600", "write plants = 3600, or plants = 3.600"),
        ("plants = 36", "plants = $36", "write the number alone: plants = 36"),
        ("latitude = 46.2205", "latitud = 46,2205", "latitud = 46.2205"),
        ('["email"]', "email", 'write a list: channels = ["email"]'),
        ('"410 ft"', "410 ft", 'needs quotes: elevation = "410 ft"'),
        ('"410 ft"', "1,410 ft", 'write elevation = "1410 ft"'),
        ('"410 ft"', "125,5 m", 'write elevation = "125.5 m"'),
        ('"127.0.0.1"', "127.0.0.1", 'needs quotes: host = "127.0.0.1"'),
        ("plants = 36", "plants =", "the value after the = is missing"),
        ("plants = 36", "?? = 36", "a line is KEY = VALUE or a [table]"),
        ('"127.0.0.1"', '"127.0.0.1" ours', "only a comment that begins with #"),
        ("[[people]]", "[[people]", "closes with as many brackets"),
        ('"{text}" }', '"{text}"', "the closing brace } is missing"),
        ("2026-04-10", "April 10", "write a date like 2026-04-10, without quotes"),
        ("2026-04-10", "10 April 2026", "write a date like 2026-04-10, without"),
        ('stage = "full bloom"', 'stage: "full bloom"', 'stage = "full bloom"'),
        ("plants = 36", "plants 36", "the equals sign is missing: plants = 36"),
        ("cold_spot =", "cold spot =", 'a key has no spaces: cold_spot = "-2 degF"'),
        ("[email]", "[email", "the closing bracket is missing: [email]"),
        ('["email"]', '["email"', 'is missing: channels = ["email"]'),
        ('host = "127.0.0.1"', 'host = "C:\\Users"', "host = 'C:\\Users'"),
    ],
)
def test_a_line_that_cannot_be_read_says_what_to_write(
    old: str, new: str, remedy: str
) -> None:
    text = config_text().replace(old, new, 1)
    assert text != config_text()
    words = said(text)
    number = next(n for n, line in enumerate(text.splitlines(), 1) if new in line)
    assert f"at line {number}: " in words
    assert remedy in words


@pytest.mark.parametrize("written", ["7am", "7:00", "07:00", "7 am # early"])
def test_a_time_of_day_is_written_out(written: str) -> None:
    words = said(config_text(more=f"\n[schedule]\ndaily_line = {written}\n"))
    assert "without quotes: daily_line = 07:00:00" in words
    late = said(config_text(more="\n[schedule]\ndaily_line = 12:30 am\n"))
    assert "daily_line = 00:30:00" in late
    assert "like 07:00:00" in said(config_text(more="\n[schedule]\ndaily_line = 7h\n"))


def test_what_stands_twice_names_both_lines() -> None:
    text = config_text().replace("units", "latitude = 46.3\nunits")
    first, second = (n for n, x in enumerate(text.splitlines(), 1) if "latitude" in x)
    assert f"at line {second}: latitude" in said(text)
    assert f"latitude stands twice, here and at line {first}" in said(text)
    text = config_text() + "\n[email]\n"
    first = text.splitlines().index("[email]") + 1
    assert f"[email] stands twice, here and at line {first}" in said(text)
    at_the_end = config_text() + "a = 1\na = 2"
    assert "a stands twice" in said(at_the_end)


@pytest.mark.parametrize(
    ("old", "new", "key", "remedy"),
    [
        ("46.2205", '"46,2205"', "site.latitude", "latitude = 46.2205"),
        ("46.2205", '"46.2205 N"', "site.latitude", "latitude = 46.2205"),
        ('["micro-sprinklers"]', '["row covers"]', "].methods", 'write "row cover"'),
        ('["email"]', '"email"', '1 "Ines"].channels', 'such as ["email"]'),
        ("plants = 36", 'plants = 36\nphone = "x"', "].phone", "under [[people]]"),
        ('"+15095550142"', "+15095550142", "].phone", 'phone = "+15095550142"'),
        ('"+15095550142"', '"+1 (509) 555-0142"', "].phone", 'write "+15095550142"'),
        (
            "America/Los_Angeles",
            "america/los angeles",
            "site.time_zone",
            'such as "America/Los_Angeles"',
        ),
        (
            "[sms]",
            'password = "hunter2"\n[sms]',
            "email.password",
            'write password_file = "THAT-FILE", and delete it here',
        ),
        (
            "[forecast]",
            '[forecast]\napi_key = "hunter2"',
            "forecast.api_key",
            'write open_meteo_key_file = "THAT-FILE"',
        ),
        (
            "[forecast]",
            "[judgement]\nchance_near = 15\n[forecast]",
            "judgement.chance_near",
            "chance_near = 0.15",
        ),
        (
            "[forecast]",
            '[judgement]\nchance_near = "15 %"\n[forecast]',
            "judgement.chance_near",
            "chance_near = 0.15",
        ),
    ],
)
def test_what_the_schema_refuses_has_its_line_its_key_and_a_remedy(
    old: str, new: str, key: str, remedy: str
) -> None:
    text = config_text().replace(old, new, 1)
    number = line_of(text, new.strip("[]").splitlines()[-2 if "\n[" in new else -1])
    [problem] = [line for line in said(text).splitlines() if "line " in line]
    assert f"line {number}, " in problem
    assert f"{key}: " in problem
    assert remedy in problem
    assert "hunter2" not in problem


def test_problems_follow_the_file_and_a_missing_key_names_its_table() -> None:
    text = (
        config_text()
        .replace('elevation = "410 ft"\n', "")
        .replace('crop = "apricot"', 'crop = "aprikot"')
        .replace('name = "Tobias"', 'name = "ines"')
    )
    lines = said(text).splitlines()[1:]
    numbers = [int(line.partition("line ")[2].partition(",")[0]) for line in lines]
    assert numbers == sorted(numbers)
    table = text.splitlines().index("[site]") + 1
    assert (
        lines[0].strip() == f"line {table}, site.elevation: missing; it must be given"
    )


def test_an_empty_file_is_told_what_makes_one() -> None:
    assert "is empty; frostalert init" in said("# nothing\n")


def test_names_are_alike_in_any_case_wherever_one_table_speaks_of_another() -> None:
    text = example_text().replace('blocks = ["Apricots', 'blocks = ["APRICOTS')
    text = text.replace('block = "Apricots', 'block = "apricots')
    text = text.replace(
        '[[people]]\nname = "Tobias"',
        '[[sensors]]\nname = "Under"\nkind = "sheltered"\nblock = "strawberry BEDS"\n'
        'equipment = "bed covers"\n\n[[people]]\nname = "Tobias"',
    )
    farm = parse(text).farm
    assert farm.equipment[0].blocks == ("Apricots by the lane",)
    crew = text.replace('crew = ["Ines", "Tobias"]', 'crew = ["ines", " TOBIAS"]')
    assert parse(crew).farm.supplies.crew == ("Ines", "Tobias")
    places = {sensor.name: (sensor.block, sensor.equipment) for sensor in farm.sensors}
    assert places["Low end of the lane"] == ("Apricots by the lane", None)
    assert places["Under"] == ("Strawberry beds", "Bed covers")


def test_a_block_that_is_not_there_comes_with_the_nearest() -> None:
    text = example_text().replace('blocks = ["Apricots by', 'blocks = ["Apricot by')
    number = line_of(text, 'blocks = ["Apricot by')
    assert f'line {number}, equipment[1 "Lane line"].blocks[1]: ' in said(text)
    assert 'write "Apricots by the lane"' in said(text)


def test_lines_are_found_over_lists_texts_and_tables_in_tables() -> None:
    lines = Lines(
        'a = [\n1,\n2]\nb.c = 3\n[x]\ny = """\n[z]\n"""\n'
        "[[q]]\nn = 1\n[[q]]\nn = { o = 2 }\n[q.r]\ns = 3\n"
    )
    wanted: dict[Location, int | None] = {
        ("a", 1): 1,
        ("b", "c"): 4,
        ("x", "y"): 6,
        ("z",): None,
        ("q", 0, "n"): 10,
        ("q", 1, "m"): 11,
        ("q", 1, "n", "o"): 12,
        ("q", 1, "r", "s"): 14,
    }
    assert {place: lines.of(place) for place in wanted} == wanted


def test_every_line_of_the_example_is_found() -> None:
    text = example_text()
    lines = Lines(text)
    found = set(lines._numbers.values())
    plain = {
        n
        for n, line in enumerate(text.splitlines(), 1)
        if line.strip() and not line.startswith("#")
    }
    assert found == plain


@given(
    place=st.integers(0, len(config_text())),
    taken=st.integers(0, 12),
    put=st.text(
        st.sampled_from(
            "[]{}=\"'#,.:-+ \n\\\t\r\x0b0123456789TZadefx\u2028\u201c\u2212%$"
        ),
        max_size=8,
    ),
)
def test_whatever_is_typed_is_told_in_words_or_taken(
    place: int, taken: int, put: str
) -> None:
    text = config_text()
    typed = text[:place] + put + text[place + taken :]
    words = told(typed)
    assert words is None or words.startswith("orchard.toml: ")
    assert "None" not in str(words or "")


@given(
    key=st.sampled_from(["latitude", "plants", "elevation", "daily_line", "methods"]),
    written=st.text(st.sampled_from("0123456789.,:apmNSW%$ -[]\"'\u2212"), max_size=9),
)
def test_a_number_that_is_offered_can_be_read(key: str, written: str) -> None:
    samples = {
        "latitude": 46.2,
        "plants": 36,
        "elevation": "410 ft",
        "daily_line": time(7),
        "methods": ["row cover"],
    }
    remedy = remedy_for(key, samples[key], written)
    for offered in re.findall(rf"{key} = ([^ ,]+)", remedy or ""):
        if key in ("latitude", "plants", "daily_line"):
            tomllib.loads(f"x = {offered}")
