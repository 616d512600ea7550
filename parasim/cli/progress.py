"""Signs of life on stderr for what takes longer than two seconds."""

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TypeVar

T = TypeVar("T")


def _is_silent(quiet: bool) -> bool:
    return quiet or not sys.stderr.isatty()


@contextmanager
def working(message: str, *, quiet: bool = False) -> Iterator[Callable[[int, int], None]]:
    """Show a spinner while the block runs.

    Parameters
    ----------
    message : str
        What is being done.
    quiet : bool
        Show nothing, as with ``--json``. Nothing is shown away from a terminal either.

    Yields
    ------
    callable
        Called with how many of how many are done, which is then shown.
    """
    if _is_silent(quiet):
        yield lambda done, of: None
        return
    from rich.console import Console

    with Console(stderr=True).status(message) as status:
        yield lambda done, of: status.update(f"{message}: {done} of {of}")


@contextmanager
def bar(message: str, *, quiet: bool = False) -> Iterator[Callable[[int, int], None]]:
    """Show a progress bar while the block runs.

    Parameters
    ----------
    message : str
        What is being done.
    quiet : bool
        Show nothing, as with ``--json``. Nothing is shown away from a terminal either.

    Yields
    ------
    callable
        Called with how many more are done, and of how many; another number begins another bar.
    """
    if _is_silent(quiet):
        yield lambda more, of: None
        return
    from rich.console import Console
    from rich.progress import Progress, TaskID

    with Progress(console=Console(stderr=True), transient=True) as shown:
        tasks: dict[int, TaskID] = {}

        def done(more: int, of: int) -> None:
            if of not in tasks:
                tasks[of] = shown.add_task(message, total=of)
            shown.update(tasks[of], advance=more)

        yield done


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
