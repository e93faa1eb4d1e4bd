"""Fill templates in."""

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape


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
