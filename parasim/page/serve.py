"""The page's server: for this machine only, at an address that nobody can guess, until it is stopped.

Everything, the socket too, lies below a path of random letters; any other is answered with 404, or refused.
"""

import asyncio
import logging
import socket
import threading
import webbrowser
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from secrets import token_urlsafe

import uvicorn
from fastapi import FastAPI
from nicegui import ui

from parasim.errors import DesignError, first_line
from parasim.page.background import Background
from parasim.page.trial import Trial
from parasim.page.window import Desk, Window
from parasim.units import System

HOST = "127.0.0.1"
AWAY = 60.0
"""How long a window that went to sleep keeps its design. Our choice. [s]"""

STYLE = Path(__file__).with_name("page.css")


def serve(path: Path, *, directory: Path, units: System, browser: bool, say: Callable[[str], None]) -> None:
    """Serve the page of a design until it is interrupted.

    Parameters
    ----------
    path : Path
        Of the design file, which holds a valid design.
    directory : Path
        For new design files.
    units : {"metric", "imperial"}
        Of what is shown.
    browser : bool
        Whether to open the page.
    say : callable
        Told the address.

    Raises
    ------
    DesignError
        When the file holds no valid design.
    """
    pool = ThreadPoolExecutor(max_workers=1)
    desk = Desk(path=path, directory=directory, units=units, background=Background(), pool=pool)
    first = Trial(path)
    door = socket.socket()
    door.bind((HOST, 0))
    token = token_urlsafe(24)
    address = f"http://{HOST}:{door.getsockname()[1]}/{token}/"
    app = _app(desk, token, [first])

    def opened() -> None:
        say(address)
        pool.submit(_warm, first)
        if browser:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    try:
        _run(app, door, opened)
    finally:
        desk.background.stop()
        pool.shutdown(wait=False, cancel_futures=True)


def _app(desk: Desk, token: str, ready: list[Trial]) -> FastAPI:
    """The page below its token; `ready` holds a trial for the first window."""

    @ui.page("/", title="parasim", reconnect_timeout=AWAY)
    def page() -> None:
        ui.add_css(STYLE.read_text(encoding="utf-8"))
        try:
            trial = ready.pop() if ready else Trial(desk.path)
        except DesignError as error:
            ui.label(first_line(error)).props("role=alert")
            return
        Window(desk, trial).build()

    app = FastAPI(openapi_url=None)
    ui.run_with(app, mount_path=f"/{token}", tailwind=False, show_welcome_message=False, title="parasim")
    return app


def _run(app: FastAPI, door: socket.socket, opened: Callable[[], None]) -> None:
    logging.getLogger("uvicorn").setLevel(logging.CRITICAL)
    config = uvicorn.Config(app, log_config=None, access_log=False, timeout_graceful_shutdown=1)
    server = uvicorn.Server(config)

    async def run() -> None:
        serving = asyncio.create_task(server.serve(sockets=[door]))
        while not server.started and not serving.done():
            await asyncio.sleep(0.01)
        if server.started:
            opened()
        await serving

    with suppress(KeyboardInterrupt):
        asyncio.run(run())


def _warm(trial: Trial) -> None:
    """Bring what quick figures need, compiled, while the browser opens."""
    from parasim.errors import ParasimError
    from parasim.page.figures import quick

    with suppress(ParasimError):
        quick(trial.built.design)
