"""Fill templates in, and break long lines for plain readers."""

from functools import cache, lru_cache
from textwrap import wrap

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

_COLUMNS = 76


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
