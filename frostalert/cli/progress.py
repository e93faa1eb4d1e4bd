"""A line that shows how far a long command has come, on a terminal alone."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

_WIDTH = 30


@contextmanager
def waiting_line(what: str) -> Iterator[None]:
    """Say on the error stream of a terminal what is waited for, as long as it is."""
    if not sys.stderr.isatty():
        yield
        return
    sys.stderr.write(f"{what} ...")
    sys.stderr.flush()
    try:
        yield
    finally:
        sys.stderr.write("\r" + " " * (len(what) + 4) + "\r")
        sys.stderr.flush()


@contextmanager
def progress_line(what: str) -> Iterator[Callable[[float], None]]:
    """Give a function that shows a share of the work done, on the error stream."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    last = -1

    def show(share: float) -> None:
        nonlocal last
        done = round(_WIDTH * share)
        if done != last:
            last = done
            bar = "=" * done + " " * (_WIDTH - done)
            sys.stderr.write(f"\r{what} [{bar}] {100 * share:3.0f} %")
            sys.stderr.flush()

    yield show
    sys.stderr.write("\r" + " " * (_WIDTH + len(what) + 12) + "\r")
