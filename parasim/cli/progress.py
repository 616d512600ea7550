"""Signs of life on stderr for what takes longer than two seconds."""

import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TypeVar

T = TypeVar("T")


def _is_silent(quiet: bool) -> bool:
    return quiet or not sys.stderr.isatty()


@contextmanager
def working(message: str, *, quiet: bool = False) -> Iterator[None]:
    """Show a spinner while the block runs.

    Parameters
    ----------
    message : str
        What is being done.
    quiet : bool
        Show nothing, as with ``--json``. Nothing is shown away from a terminal either.
    """
    if _is_silent(quiet):
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(message):
        yield


def counted(items: Sequence[T], message: str, *, quiet: bool = False) -> Iterable[T]:
    """Show a progress bar while going through items.

    Parameters
    ----------
    items : sequence
        What is gone through.
    message : str
        What is being done.
    quiet : bool
        Show nothing, as with ``--json``. Nothing is shown away from a terminal either.

    Returns
    -------
    iterable
        The same items.
    """
    if _is_silent(quiet):
        return items
    from rich.console import Console
    from rich.progress import track

    return track(items, description=message, console=Console(stderr=True), transient=True)
