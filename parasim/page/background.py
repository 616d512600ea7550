"""Slow figures worked out in a process of its own, so that a handle never waits for them.

What is outdated is not waited for: its process is ended, and the next one begins once the handles rest.
"""

import asyncio
import multiprocessing
import signal
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import TYPE_CHECKING

from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.page.figures import Followed

QUIET = 0.4
"""After the last change, before slow figures are begun. Our choice. [s]"""

LOOK = 0.05
"""Between looks for an answer. [s]"""


def serve(pipe: Connection) -> None:
    """Work of the process: designs come in, stages go out; None ends it."""
    from parasim.page.figures import follow

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the page's own process ends this one
    with suppress(EOFError, OSError):
        while (design := pipe.recv()) is not None:
            for found in follow(design):
                pipe.send(found)
            pipe.send(None)


class Background:
    """One process for all windows, started when it is first needed; the window that asks last is served."""

    def __init__(self) -> None:
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._busy = False
        self._turn = asyncio.Lock()

    async def follow(
        self, design: Design, current: Callable[[], bool], take: "Callable[[Followed], None]"
    ) -> None:
        """Work out the slow figures of a design.

        Parameters
        ----------
        design : Design
            Valid.
        current : callable
            Whether anybody still waits for them; once not, the work is ended.
        take : callable
            Called with each stage.
        """
        await asyncio.sleep(QUIET)
        async with self._turn:
            if not current():
                return
            pipe = self._ready()
            pipe.send(design)
            self._busy = True
            while self._busy:
                if not current():
                    self.stop()
                    return
                await self._take(pipe, take)

    async def _take(self, pipe: Connection, take: "Callable[[Followed], None]") -> None:
        if not pipe.poll():
            if self._process is None or not self._process.is_alive():
                self.stop()
            await asyncio.sleep(LOOK)
            return
        try:
            found = pipe.recv()
        except (EOFError, OSError):
            self.stop()
            return
        if found is None:
            self._busy = False
        else:
            take(found)

    def _ready(self) -> Connection:
        if self._process is None or self._pipe is None or not self._process.is_alive():
            self.stop()
            context = multiprocessing.get_context("spawn")
            self._pipe, theirs = context.Pipe()
            self._process = context.Process(target=serve, args=(theirs,), daemon=True)
            self._process.start()
            theirs.close()
        return self._pipe

    def stop(self) -> None:
        """End the process, whatever it is at."""
        self._busy = False
        if self._process is not None:
            self._process.terminate()  # not waited for: the page goes on at once
        if self._pipe is not None:
            self._pipe.close()
        self._process = self._pipe = None
