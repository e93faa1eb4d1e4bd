"""`frostalert web`: the page on which people answer, in a process of its own."""

import logging
from collections.abc import Callable
from typing import Annotated, Any

import typer

from frostalert.app import build_desk
from frostalert.cli.options import ConfigOption, find_config
from frostalert.config.followed import FollowedConfig
from frostalert.config.state_folder import state_directory, state_directory_of
from frostalert.errors import UsageError
from frostalert.model.settings import WebSettings
from frostalert.store.key import read_key
from frostalert.web.reading import readings_key as key_of


def web(
    *,
    config: ConfigOption = None,
    readings_key: Annotated[
        bool,
        typer.Option(
            "--readings-key",
            help="Print the key under which thermometers send their readings, and end.",
        ),
    ] = False,
) -> None:
    """Serve the page on which people answer warnings (needs the extra "web").

    It runs beside the service: whatever happens to it, warnings go on.
    """
    path = find_config(config)
    followed = FollowedConfig(path, state_directory_of(path))
    settings = followed.settings()
    if settings.web is None:
        message = "there is no [web] section; add one with public_url"
        raise UsageError(message)
    try:
        from frostalert.web.page import build_page  # noqa: PLC0415 - needs the extra "web"
        from frostalert.web.serving import make_server  # noqa: PLC0415 - and so does this
    except ImportError as error:
        message = (
            'the page needs further libraries: pip install "frostalert[web]" (or '
            '".[web]" in a clone)'
        )
        raise UsageError(message) from error
    if readings_key:
        directory = state_directory(settings.state_directory)
        typer.echo(key_of(read_key(directory)))
        return
    logging.basicConfig(level=logging.INFO)
    desk = build_desk(followed.settings, state_directory(settings.state_directory))
    web = settings.web
    _serve(lambda: make_server(build_page(desk), web), web)


def _serve(make: Callable[[], Any], web: WebSettings) -> None:
    """Listen, and answer until the process is stopped."""
    try:
        server = make()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        message = (
            f"the page cannot listen on {web.host}, port {web.port}: {reason}. If "
            'another "frostalert web" runs, stop that; else change host or port under '
            "[web]: host is an address of this machine, such as 127.0.0.1"
        )
        raise UsageError(message) from error
    server.run()
