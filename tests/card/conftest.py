"""The field card made once, and a browser of the size of a phone that no network is there for."""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from parasim.cli.main import main
from tests.conftest import CHROMIUM

PHONE = {"width": 390, "height": 844}


class MadeCard:
    """Directory, page and document of a card."""

    def __init__(self, directory: Path) -> None:
        (self.page,) = directory.glob("*_card.html")
        (document,) = directory.glob("*_card.json")
        self.document: dict[str, Any] = json.loads(document.read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def made(configs: Path, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], MadeCard]:
    """Card of heron, in units; each made once."""
    kept: dict[str, MadeCard] = {}

    def make(units: str) -> MadeCard:
        if units not in kept:
            out = tmp_path_factory.mktemp(f"card_{units}")
            with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
                assert main(["card", str(configs / "heron.yaml"), "--out", str(out), "--units", units]) == 0
            kept[units] = MadeCard(out)
        return kept[units]

    return make


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Chromium, or the test is left out and says why; closed after a module: its driver keeps a loop."""
    if CHROMIUM is None:
        pytest.skip("no Chromium here: pages are not tried in a browser")
    sync_api = pytest.importorskip("playwright.sync_api", reason="no playwright here: pages are not tried")
    with sync_api.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def opened(browser: Any) -> Iterator[Callable[..., Any]]:
    """Open a page from its file with the network off; afterwards nothing was asked for and nothing failed."""
    contexts, asked, wrong = [], [], []

    def open_page(path: Path, **options: Any) -> Any:
        context = browser.new_context(viewport=PHONE, offline=True, accept_downloads=True, **options)
        contexts.append(context)
        page = context.new_page()
        page.on("request", lambda request: asked.append(request.url))
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.goto(path.as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert [url for url in asked if not url.startswith(("file:", "blob:"))] == []
    assert wrong == []
