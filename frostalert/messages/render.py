"""Fill templates in: mail wrapped for plain readers, texts cut to one segment."""

from functools import cache, lru_cache
from textwrap import wrap

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from frostalert.messages.repeat import REPEAT_MARK
from frostalert.messages.sms import ONE_SEGMENT, gsm_length, shorten, to_gsm
from frostalert.messages.wording import tight_hours

_COLUMNS = 76


def fit_sms(template: str, values: dict[str, object], mark: str) -> str:
    """Return a text of one segment, a repeat's mark included.

    Names are cut first, then the further nights go, each of which has a message of its
    own when its time comes; source and hour stay.
    """
    text = ""
    limit = ONE_SEGMENT - gsm_length(REPEAT_MARK)
    brief = {**values, "also": values.get("also_brief", "")}
    alone = {**values, "also": ""}
    bare = {**alone, "is_bare": True}
    for given, places in (
        *((values, places) for places in (30, 22, 16)),
        *((brief, places) for places in (30, 22, 16, 12, 8)),
        *((alone, places) for places in (30, 22, 16, 12, 8)),
        *((bare, places) for places in (16, 12, 8)),
    ):
        filled = {**given, "short": lambda text, n=places: shorten(to_gsm(text), n)}
        text = tight_hours(to_gsm(mark + render(template, filled)))
        if gsm_length(text) <= limit:
            return text
    return _with_tail(text, values, limit)


def _with_tail(text: str, values: dict[str, object], limit: int) -> str:
    """Return a text cut before its source and hour, which must not be lost."""
    tail = tight_hours(to_gsm(str(getattr(values.get("source"), "short", ""))))
    if not tail or not text.endswith(tail):
        return shorten(text, limit)
    room = limit - gsm_length(tail) - 1
    body = shorten(text[: -len(tail)].rstrip(), room)
    end = max(body.rfind(". "), body.rfind(", "))
    if not body.endswith(".") and end > room // 2:
        # Half a statement is worse than none.
        body = f"{body[:end]}."
    return f"{body} {tail}"


def wrap_plain(body: str) -> str:
    """Return a body with its long lines broken, as plain mail wants them."""
    return "\n".join(_wrapped(line) for line in body.split("\n")) + "\n"


# What is said to several people, or every day, is said in the same lines.
@lru_cache(maxsize=1024)
def _wrapped(line: str) -> str:
    """Return a line broken where it is too long."""
    text = line.lstrip(" ")
    indent = " " * (len(line) - len(text))
    hang = indent + ("  " if text.startswith(("- ", "* ")) else "")
    return "\n".join(
        wrap(
            text,
            _COLUMNS,
            initial_indent=indent,
            subsequent_indent=hang,
            break_long_words=False,
            break_on_hyphens=False,
        )
    )


def render(template: str, values: dict[str, object]) -> str:
    """Return a filled template without blank lines at its ends."""
    return _environment().get_template(template).render(**values).strip()


def render_plan(view: object) -> str:
    """Return a plan's view as plain text."""
    module = _environment().get_template("_plan.txt.j2").module
    return str(module.plan_lines(view)).strip()  # type: ignore[attr-defined]


@cache
def _environment() -> Environment:
    """Return the templates; HTML escapes whatever is filled in."""
    return Environment(
        loader=PackageLoader("frostalert.messages"),
        # They change with the program: no look at the disk each time.
        auto_reload=False,
        autoescape=select_autoescape(enabled_extensions=("html.j2",)),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
