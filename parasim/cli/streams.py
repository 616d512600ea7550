"""Streams that never stop a command: nobody need read the text for the files to be written."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout, suppress
from typing import IO, Any, cast


class Stream:
    """A stream of text; once it cannot be written, the rest is dropped and the reason kept.

    Parameters
    ----------
    stream : text stream or None
        None when it was closed before the program began.
    number : int
        Its file descriptor then.
    """

    def __init__(self, stream: IO[str] | None, number: int) -> None:
        self._stream = stream or open(number, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
        self.failure: OSError | None = None

    def __getattr__(self, name: str) -> Any:
        """All else is the stream's own."""
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        """Write or drop."""
        self._try(self._stream.write, text)
        return len(text)

    def flush(self) -> None:
        """Hand on what is written so far, or drop it."""
        self._try(self._stream.flush)

    def _try(self, action: Callable[..., object], *arguments: str) -> None:
        try:
            action(*arguments)
        except OSError as error:
            self.failure = self.failure or error
            with suppress(OSError, ValueError):
                # What is still in its buffer goes the same way, when the interpreter ends too.
                os.dup2(os.open(os.devnull, os.O_WRONLY), self._stream.fileno())


@contextmanager
def lasting_streams() -> Iterator[Stream]:
    """Put a `Stream` in place of stdout and stderr; the first of them is given."""
    _open_closed()
    out, err = Stream(sys.stdout, 1), Stream(sys.stderr, 2)
    with suppress(AttributeError, ValueError):
        out.reconfigure(errors="replace")  # a terminal without ² shows a ? in its place
    with redirect_stdout(cast(IO[str], out)), redirect_stderr(cast(IO[str], err)):
        try:
            yield out
        finally:
            out.flush()
            err.flush()


def _open_closed() -> None:
    """Open what was closed, lest a file of results take the number of stdout or stderr."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.set_inheritable(os.open(os.devnull, os.O_RDWR), True)
