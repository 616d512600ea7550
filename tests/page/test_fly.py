"""A drop flown on the page: by its parts, and in a browser, by keys and by sticks, to touchdown."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from math import hypot
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from parasim.caveats import CAUTION
from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import assemble
from parasim.flight.live import LiveFlight
from parasim.logs.read import read_fixes
from tests.conftest import CHROMIUM

pytest.importorskip("nicegui", reason='the page needs the extra "page"')
sync_api = pytest.importorskip("playwright.sync_api", reason="no browser driver")

from parasim.page import fly  # noqa: E402  after it is known that there is a page

if TYPE_CHECKING:
    from playwright.sync_api import Page

DRAWN = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
"""A browser without a screen or a graphics card that draws WebGL all the same."""

READY = 120_000
"""How long a page may take until it can be flown, its equations compiled. [ms]"""

browser_only = pytest.mark.skipif(CHROMIUM is None, reason="no chromium")


class Served:
    """A page of heron, let go at 14 m, and the process that serves it."""

    def __init__(self, directory: Path, text: str) -> None:
        self.out, design = directory / "out", directory / "heron.yaml"
        design.write_text(text, encoding="utf-8")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "parasim", "adjust", str(design), "--no-browser", "--out", str(self.out)],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self.process.stdout is not None
        found = re.search(r"http://\S+", self.process.stdout.readline())
        assert found is not None
        self.address = found[0]

    def stop(self) -> None:
        """End it, as Ctrl-C does or harder."""
        self.process.terminate()
        self.process.communicate(timeout=20)


@pytest.fixture
def served(configs: Path, tmp_path: Path) -> Iterator[Served]:
    text = (configs / "heron.yaml").read_text(encoding="utf-8")
    serving = Served(tmp_path, text.replace("  height: 80 m", "  height: 14 m"))
    yield serving
    serving.stop()


@pytest.fixture
def page(served: Served) -> Iterator[Page]:
    """The dialog, open, the design held at its release."""
    with sync_api.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=DRAWN)
        shown = browser.new_page(viewport={"width": 1280, "height": 900})
        mistakes: list[str] = []
        shown.on("pageerror", lambda error: mistakes.append(str(error)))
        shown.add_init_script("navigator.getGamepads = () => (window.pads || []);")
        shown.goto(served.address)
        shown.get_by_role("button", name="Fly this design").click()
        shown.get_by_text("Held at its release").wait_for(timeout=READY)
        yield shown
        browser.close()
        assert not mistakes


def figure(page: Page, name: str) -> str:
    return page.locator(f'dd[data-figure="{name}"]').inner_text()


def number(page: Page, name: str) -> float:
    return float(figure(page, name).split()[0])


def brakes(page: Page) -> list[int]:
    return [int(found) for found in re.findall(r"(\d+) %", figure(page, "brakes"))]


@pytest.mark.slow
@browser_only
def test_a_drop_is_flown_by_keys_to_touchdown(page: Page, served: Served) -> None:
    page.wait_for_timeout(600)
    assert number(page, "time") == 0.0  # it waits to be let go
    page.keyboard.press("r")
    page.get_by_text("Flying.").wait_for()
    page.keyboard.down("f")
    page.wait_for_timeout(900)
    left, right = brakes(page)
    assert left > 20
    assert right == 0
    page.keyboard.up("f")
    page.keyboard.press("p")
    page.get_by_text("Paused.").wait_for()
    page.wait_for_timeout(300)
    held = number(page, "time")
    page.wait_for_timeout(800)
    assert number(page, "time") == held
    assert number(page, "height") < 14.0
    page.keyboard.press("p")
    page.keyboard.press("s")
    page.get_by_text("Flying at half speed.").wait_for()
    page.keyboard.press("s")
    page.keyboard.press("s")
    page.keyboard.press("v")
    page.get_by_text("Seen from behind.").wait_for()
    page.keyboard.down("b")
    page.get_by_text("Ended: landed.").wait_for(timeout=60_000)
    assert brakes(page)[1] > 20
    score = page.locator(".score").inner_text()
    assert re.search(r"heron is down after [\d.]+ s: ", score)
    assert re.search(r"Energy [\d.]+ J: (within|over) the limit of 60\.0 J", score)
    assert "No target is set; the file can hold one under scatter: target:" in score
    assert re.search(r"It came down (into|across|with) the wind: heading", score)
    assert number(page, "height") == 0.0  # the payload's underside lies on the ground
    assert f"wind {figure(page, 'wind')}" in page.locator(".map").inner_text()
    assert not re.search(r"\b(go|safe|legal|success)\b", score.lower())
    assert page.locator(".cautions").inner_text() == CAUTION
    assert page.locator(".cautions").is_visible()

    assert not served.out.exists()  # nothing is written unasked
    page.get_by_role("button", name="Save as a log").click()
    page.get_by_text("wrote ").wait_for()
    page.get_by_role("button", name="Save as a log").click()
    page.get_by_text("flight_2.csv").wait_for()
    names = {path.name for path in served.out.iterdir()}
    assert names == {"heron_simulated_flight.csv", "heron_simulated_flight_2.csv"}
    fixes = read_fixes(served.out / "heron_simulated_flight.csv")
    assert fixes.columns["left"].max() > 0.2
    assert fixes.columns["pressure_height"][0] == pytest.approx(14.0)


@pytest.mark.slow
@browser_only
def test_a_server_that_stops_in_mid_flight_is_said(page: Page, served: Served) -> None:
    page.keyboard.press("r")
    page.get_by_text("Flying.").wait_for()
    served.process.kill()
    page.get_by_text("parasim has stopped: this flight").wait_for(timeout=20_000)
    frozen = number(page, "time")
    page.wait_for_timeout(700)
    assert number(page, "time") == frozen


@pytest.mark.slow
@browser_only
def test_sticks_pull_the_brakes(page: Page) -> None:
    """The right stick pulled halfway, the first button pressed: it is let go, and turns."""
    page.evaluate("window.pads = [{connected: true, axes: [0, 0, 0, 0.54], buttons: [{pressed: true}]}]")
    page.get_by_text("Flying.").wait_for()
    page.wait_for_timeout(1500)
    # 0.54 of its way, 0.08 of which are dead: (0.54 - 0.08) / 0.92 = 0.5
    assert brakes(page) == [0, 50]


@pytest.fixture(scope="module")
def flight(heron: Design) -> LiveFlight:
    return LiveFlight(assemble(heron))


def test_sticks_come_before_keys(flight: LiveFlight) -> None:
    flight.pull(0.0, 0.0)
    assert fly._command(flight, {"sticks": [0.2, 0.7], "left": True}, 0.1) == (0.2, 0.7)
    assert fly._command(flight, {"left": True, "sticks": None}, 0.1) == pytest.approx((0.1, 0.0))
    assert fly._command(flight, {"left": "x", "sticks": ["a", None]}, 0.1) == (0.0, 0.0)


def test_both_brakes_flare_as_in_the_file(flight: LiveFlight) -> None:
    """heron's flare: 94 % over 1.6 s, so 9.4 % in 0.16 s; what is pulled further stays."""
    flight.pull(0.0, 0.99)
    assert fly._command(flight, {"both": True}, 0.16) == pytest.approx((0.094, 0.99))
    flight.pull(0.0, 0.0)


def test_the_pilot_stands_at_the_target_or_beside_the_way(flight: LiveFlight, heron: Design) -> None:
    """heron heads west from 80 m: 80 m ahead is west, 40 m to the right is north."""
    ground = fly._ground(flight, "metric")
    np.testing.assert_allclose(ground["pilot"], [40.0, -80.0, 0.0], atol=1e-9)
    assert ground["target"] is None
    assert hypot(*ground["wind"][:2]) == pytest.approx(3.0 * (1.7 / 10) ** 0.143, rel=1e-3)  # power law
    aimed = LiveFlight(assemble(override(heron, {"scatter.target": {"north": "30 m", "radius": "9 m"}})))
    ground = fly._ground(aimed, "metric")
    assert ground["pilot"] == ground["target"] == [30.0, 0.0, 0.0]
    assert ground["near"] == 9.0
