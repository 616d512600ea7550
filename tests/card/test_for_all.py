"""Pages for people who see, hear or move otherwise: what axe-core finds serious or critical.

axe-core is an npm package (MPL-2.0) that is fetched for this test alone and never shipped. `.ci/run` fetches
it; elsewhere PARASIM_AXE names its file axe.min.js.
"""

from __future__ import annotations

import contextlib
import io
import os
from pathlib import Path
from typing import Any

import pytest

from parasim.cli.main import main

AXE = os.environ.get("PARASIM_AXE", "")

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        not AXE, reason="PARASIM_AXE names no axe.min.js here: pages are not checked for accessibility"
    ),
]


def found(page: Any) -> list[str]:
    """Findings that are serious or critical: rule, impact and the first place."""
    page.evaluate(Path(AXE).read_text(encoding="utf-8"))
    violations = page.evaluate("axe.run(document).then((found) => found.violations)")
    return [
        f"{each['id']} ({each['impact']}): {each['nodes'][0]['html'][:120]}"
        for each in violations
        if each["impact"] in ("serious", "critical")
    ]


@pytest.fixture(scope="module")
def summary(configs: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("summary")
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        assert main(["summary", str(configs / "heron.yaml"), "--out", str(out)]) == 0
    return out / "heron_summary.html"


@pytest.mark.parametrize("width", [390, 1024])
def test_the_summary_has_no_serious_finding(summary: Path, opened: Any, width: int) -> None:
    page = opened(summary)
    page.set_viewport_size({"width": width, "height": 844})
    assert found(page) == []


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("wind", ["3", "30"])
def test_the_card_has_no_serious_finding(made: Any, opened: Any, units: str, wind: str) -> None:
    """In the table and outside it, its lists open, a line ticked and a measurement noted."""
    page = opened(made(units).page)
    page.fill("#wind", wind)
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    page.locator("[data-tick]").first.click(delay=800)
    page.fill("#height_lost", "62")
    page.fill("#time", "20.4")
    page.click("#add")
    assert found(page) == []


def test_a_page_that_shuts_people_out_would_be_noticed(opened: Any, tmp_path: Path) -> None:
    (tmp_path / "bad.html").write_text(
        "<html><body><button></button><p style='color:#ccc'>pale words</p>", "utf-8"
    )
    names = {each.partition(" ")[0] for each in found(opened(tmp_path / "bad.html"))}
    assert {"button-name", "color-contrast", "html-has-lang"} <= names
