"""What stops a file from being read at all: the line, and a likely remedy."""

import re
from difflib import get_close_matches

from frostalert.config.remedies import keys_beside, remedy_for, sample_at

_AT_LINE = re.compile(r"at line (\d+)")
_SLASHED_DATE = re.compile(r"^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}")
_HEADER = re.compile(r"^\s*\[+\s*([^\]\s#]+)")
_COLON = re.compile(r"^([\w-]+)\s*:\s*(.+)$")
_NO_EQUALS = re.compile(r"^([\w-]+)\s+([^=\s].*)$")
_SPACED_KEY = re.compile(r"^([A-Za-z][\w-]*(?: +[\w-]+)+)\s*=")
_OPEN_LIST = re.compile(r"=\s*\[[^\]]*$")
_WORDS_FOR_BOOL = frozenset({"true", "false", "yes", "no", "on", "off"})
_SEVERAL = ("blocks", "people", "equipment", "sensors")
_A_LINE = "a line is KEY = VALUE or a [table]; a remark begins with #"
_IN_GENERAL = (
    ("Expected '='", _A_LINE),
    ("Invalid statement", _A_LINE),
    ("Invalid initial character", _A_LINE),
    ("Expected newline", "only a comment that begins with # may follow here"),
    ("at the end of a", "a [table] or a [[table]] closes with as many brackets"),
    ("Invalid value", "the value after the = is missing, or is none"),
    ("character '\\n'", "a quote is not closed on its line"),
    ("character '\\r'", "its line endings are mixed; save it again in your editor"),
    ("Unclosed inline table", "the closing brace } is missing"),
)
"""What the reader of the file says when nothing better is known, in plain words."""
_KEY = re.compile(r"^[A-Za-z0-9_.\"'-]+$")
_CURLY = "\u201c\u201d\u2018\u2019"


def toml_problem(text: str, error: Exception) -> str:
    """Return what stops a file from being read, with the line and a likely remedy."""
    lines = text.split("\n")
    found = _AT_LINE.search(str(error))
    number = int(found[1]) if found else len(lines)
    if not found or number > len(lines):
        # The reader came to the end: the last line that says something is meant.
        number = max((n for n, line in enumerate(lines, 1) if line.strip()), default=0)
    if not number:
        return f"not valid TOML: {error}"
    if "Unclosed array" in str(error):
        number = _opened_at(lines, number)
    line = lines[number - 1].strip()
    return (
        f"not valid TOML at line {number}: {line[:60]}\n  "
        f"{_remedy(line, str(error), lines, number)}"
    )


def _opened_at(lines: list[str], number: int) -> int:
    """Return the line at which a list begins that is never closed."""
    upwards = range(number, 0, -1)
    return next((n for n in upwards if _OPEN_LIST.search(lines[n - 1])), number)


def _remedy(line: str, error: str, lines: list[str], number: int) -> str:
    """Return what is most likely wrong with a line."""
    key, _, value = (part.strip() for part in line.partition("="))
    name = line.partition("#")[0].strip().strip("[]")
    stripped = [other.strip() for other in lines]
    if any(mark in line for mark in _CURLY):
        return 'use straight quotes: "..."'
    if name in _SEVERAL and f"[{name}]" in stripped:
        first = stripped.index(f"[{name}]") + 1
        return f"write [[{name}]] with two brackets at line {first} too"
    if "Cannot overwrite" in error or "Cannot declare" in error:
        return _twice(line, key, name, lines, number)
    return (
        _unclosed(line, error)
        or _without_equals(line)
        or _backslash(key, value)
        or _by_example(lines, number, key, value)
        or _by_look(key, value)
        or next((words for sign, words in _IN_GENERAL if sign in error), error)
    )


def _unclosed(line: str, error: str) -> str | None:
    """Return the bracket that is missing."""
    bare = line.partition("#")[0].strip()
    if line.startswith("[") and "]" not in line:
        closing = "]]" if line.startswith("[[") else "]"
        return f"the closing bracket is missing: {bare}{closing}"
    if "Unclosed array" in error:
        return f"the closing bracket is missing: {bare}]"
    return None


def _backslash(key: str, value: str) -> str | None:
    """Return how a path with backslashes is written."""
    if "\\" not in value or not value.startswith('"'):
        return None
    plain = value.strip('"')
    return f"a backslash needs single quotes round it: {key} = '{plain}'"


def _twice(line: str, key: str, name: str, lines: list[str], number: int) -> str:
    """Return what stands there twice, and where first."""
    is_table = line.startswith("[")
    wanted = re.compile(
        rf"^\s*\[+\s*{re.escape(name)}\s*\]"
        if is_table
        else rf"^\s*{re.escape(key)}\s*="
    )
    shown = f"[{name}]" if is_table else key
    for before in range(number - 1, 0, -1):
        if wanted.match(lines[before - 1]):
            what = "put its keys under one" if is_table else "delete one of the two"
            return f"{shown} stands twice, here and at line {before}; {what}"
    return f"{shown} stands twice; keep one"


def _without_equals(line: str) -> str | None:
    """Return what to write in place of a line without an equals sign after its key."""
    colon, bare = _COLON.match(line), _NO_EQUALS.match(line)
    spaced = _SPACED_KEY.match(line)
    if colon is not None:
        return f"write = in place of the colon: {colon[1]} = {colon[2]}"
    if spaced is not None:
        joined = "_".join(spaced[1].split())
        return f"a key has no spaces: {joined} ={line[spaced.end() :]}"
    if bare is not None:
        return f"the equals sign is missing: {bare[1]} = {bare[2]}"
    return None


def _by_example(lines: list[str], number: int, key: str, value: str) -> str | None:
    """Return what to write by the example of the key, if the program knows it."""
    header = next(
        (
            found[1]
            for n in range(number, 0, -1)
            if (found := _HEADER.match(lines[n - 1]))
        ),
        None,
    )
    location = (header, key) if header else (key,)
    known = keys_beside(location)
    # A slip in the key itself is told once the value can be read.
    meant = next(iter(get_close_matches(key, known, n=1)), None)
    if meant is None:
        return None
    bare = value if value.startswith(('"', "'")) else value.partition("#")[0]
    sample = sample_at((*location[:-1], meant))
    remedy = remedy_for(key, sample, bare)
    return _quoted(key, value) if remedy is None and isinstance(sample, str) else remedy


def _by_look(key: str, value: str) -> str | None:
    """Return what is most likely wrong with a value, by its look alone."""
    if not _KEY.match(key):
        return None
    if _SLASHED_DATE.match(value):
        return "write a date like 2026-04-10, without quotes"
    if value.lower() in _WORDS_FOR_BOOL:
        return f"write {key} = true or {key} = false, in small letters"
    return _quoted(key, value)


def _quoted(key: str, value: str) -> str | None:
    """Return a text with the quotes that it lacks."""
    if value.startswith('"') and value.count('"') == 1:
        return f'the closing quote is missing: {key} = {value}"'
    if value and not value.startswith(('"', "'", "[", "{")):
        return f'text needs quotes: {key} = "{value}"'
    return None
