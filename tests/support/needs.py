"""What a test needs of the machine; a skip says what is missing and how to get it."""

import functools
import importlib.util
import os
import shutil
import subprocess

import pytest

DEBIAN_PACKAGES = {
    "chromedriver": "chromium-driver",
    "chromium": "chromium",
    "git": "git",
    "ip": "iproute2",
    "setpriv": "util-linux",
    "strace": "strace",
    "systemd-analyze": "systemd",
    "unshare": "util-linux",
}
_FOR_ROOT = "/usr/local/sbin:/usr/sbin:/sbin"


def lacking(*programs: str, as_root: bool = False) -> str:
    """Return what is missing and how to get it; nothing where all is there."""
    is_root = os.geteuid() == 0
    places = os.environ.get("PATH", os.defpath)
    if as_root and not is_root:
        # Root will find what lies there, so it is not missing.
        places = f"{places}:{_FOR_ROOT}"
    missing = [name for name in programs if shutil.which(name, path=places) is None]
    words = []
    if missing:
        packages = " ".join(DEBIAN_PACKAGES[name] for name in missing)
        are = "is" if len(missing) == 1 else "are"
        words.append(f"{' and '.join(missing)} {are} missing: apt install {packages}")
    if as_root and not is_root:
        words.append("only root may do this: run the tests as root")
    if not words and "unshare" in programs and not _may_unshare():
        words.append(
            "no network and mounts of one's own here: "
            "in a container, start it with --privileged"
        )
    return "; ".join(words)


def needs(*programs: str, as_root: bool = False) -> pytest.MarkDecorator:
    """Return a mark that skips a test where a program or root is missing."""
    words = lacking(*programs, as_root=as_root)
    return pytest.mark.skipif(bool(words), reason=words)


def lacking_modules(*names: str) -> str:
    """Return which modules this Python lacks and how to get them; nothing if none."""
    missing = [name for name in names if importlib.util.find_spec(name) is None]
    if not missing:
        return ""
    are = "is" if len(missing) == 1 else "are"
    return f"{' and '.join(missing)} {are} missing: pip install --editable '.[test]'"


def needs_modules(*names: str) -> pytest.MarkDecorator:
    """Return a mark that skips a test where this Python lacks a module."""
    words = lacking_modules(*names)
    return pytest.mark.skipif(bool(words), reason=words)


@functools.cache
def _may_unshare() -> bool:
    command = ["unshare", "-n", "-m", "mount", "-t", "tmpfs", "tmpfs", "/tmp"]  # noqa: S108
    return subprocess.run(command, capture_output=True, check=False).returncode == 0
