"""Work that another process does meanwhile, for a command that is slow without.

It is started before the command has read what it is about, so that the two import at the same time. Whatever
goes wrong in it, nothing comes of it: who asked does the work itself, and so meets what was wrong.
"""

import gc
import os
import pickle
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from importlib import import_module
from queue import SimpleQueue
from threading import Thread
from typing import IO, Any

from parasim.workers import WORKER_MEMORY, default_count, free_memory

SOURCE = (
    "import pickle, sys; sys.path[:] = pickle.load(sys.stdin.buffer); "
    "from parasim.beside import serve; serve()"
)
"""What it runs: whatever module the main process was started from is not run again."""

APART: dict[str, Any] = (
    {"start_new_session": True}
    if os.name == "posix"
    else {"creationflags": getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)}
)
"""Ctrl-C does not reach it; the main process ends it."""


class Helper:
    """Another process, where there are a core and memory for it.

    Parameters
    ----------
    module : str
        What it imports until it is asked.
    """

    def __init__(self, module: str) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        if default_count() > 1 and free_memory() > 2 * WORKER_MEMORY:
            with suppress(OSError):
                self._process = subprocess.Popen(
                    [sys.executable, "-P", "-c", SOURCE],
                    stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, **APART,
                )  # fmt: skip
        self._send(sys.path)
        self._send(module)

    @property
    def there(self) -> bool:
        """Whether it was started."""
        return self._process is not None

    def ask(self, work: Callable[..., Iterator[Any]], *arguments: Any) -> None:
        """Have it work, once.

        Parameters
        ----------
        work : callable
            Gives results one after the other; a function of a module, so that it can be sent.
        *arguments
            Of it; few, for who asks waits until they are sent.
        """
        self._send((work, arguments))

    def results(self) -> Iterator[Any]:
        """What it was asked for, as far as it gets; waits for it."""
        while self._process is not None and self._process.stdout is not None:
            try:
                result = pickle.load(self._process.stdout)
            except Exception:  # it ended, and left a piece of one
                return
            yield result

    def close(self) -> None:
        """End it, whatever it is at."""
        if self._process is None:
            return
        self._process.kill()
        with suppress(OSError):
            self._process.communicate()
        self._process = None

    def _send(self, message: object) -> None:
        if self._process is None or self._process.stdin is None:
            return
        with suppress(OSError):  # it ended
            self._process.stdin.write(pickle.dumps(message))
            self._process.stdin.flush()


def serve() -> None:
    """Be the other process: import, work, and hand over results, until all is done or the main one ends."""
    gc.disable()  # it ends soon
    given, output = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # for what prints
    import_module(pickle.load(given))
    work, arguments = pickle.load(given)
    Thread(target=_end_after, args=(given,), daemon=True).start()
    waiting: SimpleQueue[bytes] = SimpleQueue()
    Thread(target=_hand_over, args=(waiting, output)).start()
    try:
        for result in work(*arguments):
            waiting.put(pickle.dumps(result))
    finally:
        waiting.put(b"")


def _hand_over(waiting: "SimpleQueue[bytes]", output: IO[bytes]) -> None:
    """Write while the work goes on: a pipe holds little, and it is read late."""
    while result := waiting.get():
        output.write(result)
        output.flush()
    output.close()


def _end_after(given: IO[bytes]) -> None:
    """End at once when the main process has."""
    given.read()
    os._exit(1)
