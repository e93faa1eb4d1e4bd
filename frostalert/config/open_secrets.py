"""Secrets that others can read: in open files, or in the configuration itself."""

import re
from urllib.parse import parse_qsl, urlsplit

from frostalert.model.channel import ChannelKind
from frostalert.model.settings import Settings

_KEY = re.compile(r"(^|[_-])(api[_-]?key|key|token|secret|passw(or)?d|pwd|auth)$", re.I)


def open_files(settings: Settings) -> list[str]:
    """Return which files with secrets everybody on the machine can read."""
    set_up = (settings.of_channel(kind) for kind in ChannelKind)
    logins = [login for login in set_up if login is not None]
    secrets = [login.password for login in logins] + [settings.sources.open_meteo_key]
    files = {secret.open_file for secret in secrets if secret is not None}
    return [
        f"{file} can be read by everybody on this machine: chmod 600 {file}"
        for file in sorted(file for file in files if file is not None)
    ]


def written_secrets(settings: Settings) -> list[str]:
    """Return where an address or a field seems to hold a key; the key is not shown."""
    sms, sources, watcher = settings.sms, settings.sources, settings.watcher
    urls = {
        "[sms] url": sms.url if sms else None,
        "[sms] status_url": sms.status_url if sms else None,
        "[forecast] nws_url": sources.nws_url,
        "[forecast] met_norway_url": sources.met_norway_url,
        "[forecast] open_meteo_url": sources.open_meteo_url,
        "[forecast] open_meteo_ensemble_url": sources.open_meteo_ensemble_url,
        "[watcher] url": watcher.url if watcher else None,
        "[watcher] fail_url": watcher.fail_url if watcher else None,
    }
    found = {key: _key_in(url) for key, url in urls.items() if url is not None}
    for name, value in (sms.fields if sms else {}).items():
        if _KEY.search(name) and "{" not in value:
            found["[sms] fields"] = name
    return [
        f"{place} holds a secret ({key}) that whoever reads this file can use: "
        f"{_remedy(place)}"
        for place, key in found.items()
        if key is not None
    ]


def _key_in(url: str) -> str | None:
    """Return what in an address looks like a secret."""
    try:
        parts = urlsplit(url)
        if parts.password:
            return "a password before the @"
        names = [name for name, _ in parse_qsl(parts.query)]
    except ValueError:
        return None
    return next((f"{name}=" for name in names if _KEY.search(name)), None)


def _remedy(place: str) -> str:
    """Return what to do about a secret."""
    if place.startswith("[sms]"):
        return (
            "use username and password_file if the service takes a log-in; else "
            "chmod 600 the file"
        )
    if "open_meteo" in place:
        return "move it into the file that open_meteo_key_file names"
    return "chmod 600 the file"
