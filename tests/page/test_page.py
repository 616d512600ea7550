"""The page in a real browser against the real server; skipped without nicegui, playwright or Chromium.

Without a graphics card Chromium draws by the processor, which takes longer than all else; where times are
measured it draws nothing.
"""

import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import CHROMIUM, CONFIGS

pytest.importorskip("nicegui", reason="the page needs nicegui")
sync_api = pytest.importorskip("playwright.sync_api", reason="the page is tested with playwright")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="the page is tested in Chromium, which is not here"),
    # The browser's driver leaves its pipes to the garbage collector.
    pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"),
]

PATIENCE = 30_000
"""For what needs a second on a quiet machine. [ms]"""

QUICK = 150.0
"""From handle to figures, 95 of 100. [ms]"""

FIRST_PAINT = 2.0
"""From the command to the first paint. [s]"""

MEMORY = 400.0
"""Of the server. [MB]"""

BUSY = 0.5
"""Load for each core over which times say nothing of the page. [-]"""

DRAWN = ("--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")
UNDRAWN = ("--disable-3d-apis",)


class Served:
    """One run of `parasim adjust`."""

    def __init__(self, design: Path, *options: str) -> None:
        self.design, self.started = design, time.perf_counter()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "parasim", "adjust", str(design), "--no-browser", *options],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        )  # fmt: skip
        assert self.process.stdout is not None
        found = re.search(r"http://127\.0\.0\.1:(\d+)/[\w-]{20,}/", self.process.stdout.readline())
        assert found is not None
        self.address, self.port = found[0], int(found[1])

    def interrupt(self) -> tuple[int, str]:
        """Exit code, and what is printed after the address."""
        self.process.send_signal(signal.SIGINT)
        rest, _ = self.process.communicate(timeout=20)
        return self.process.returncode, rest

    def end(self) -> None:
        self.process.kill()
        self.process.communicate()


@pytest.fixture
def design(tmp_path: Path) -> Path:
    """A copy of heron in a folder of its own."""
    copy = tmp_path / "heron.yaml"
    copy.write_bytes((CONFIGS / "heron.yaml").read_bytes())
    return copy


@pytest.fixture
def serve(design: Path) -> Iterator[Callable[..., Served]]:
    running: list[Served] = []

    def start(*options: str) -> Served:
        running.append(Served(design, *options))
        return running[-1]

    yield start
    for each in running:
        each.end()


@pytest.fixture(scope="module")
def play() -> Iterator[Any]:
    with sync_api.sync_playwright() as driver:
        yield driver


def browser_of(play: Any, *options: str) -> Any:
    return play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", *options])


@pytest.fixture(scope="module")
def chromium(play: Any) -> Iterator[Any]:
    found = browser_of(play, *DRAWN)
    yield found
    found.close()


@pytest.fixture
def browser(chromium: Any) -> Iterator[Any]:
    """Windows of one test, closed after it."""
    context = chromium.new_context()
    yield context
    context.close()


def opened(browser: Any, served: Served) -> Any:
    """A window, once its figures are there; nothing outside this machine is let through."""
    page = browser.new_page()
    page.set_viewport_size({"width": 1280, "height": 900})
    page.set_default_timeout(PATIENCE)
    page.outside = []

    def only_here(route: Any) -> None:
        if route.request.url.startswith((f"http://127.0.0.1:{served.port}/", "data:", "blob:")):
            route.continue_()
        else:
            page.outside.append(route.request.url)
            route.abort()

    page.route("**/*", only_here)
    page.goto(served.address)
    page.wait_for_selector(".ruler")
    return page


def handle(page: Any, key: str) -> Any:
    return page.locator(f'.handle[data-key="{key}"]')


def field(page: Any, key: str) -> Any:
    return page.locator(f'input[data-key="{key}"]')


def drag(page: Any, key: str, dx: float, dy: float, *, steps: int = 20, pause: int = 20) -> None:
    handle(page, key).hover()  # once it stands still, and nothing lies over it
    box = handle(page, key).bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for k in range(1, steps + 1):
        page.mouse.move(x + dx * k / steps, y + dy * k / steps)
        page.wait_for_timeout(pause)
    page.mouse.up()


def type_into(page: Any, key: str, text: str) -> None:
    field(page, key).fill(text)
    field(page, key).press("Enter")


def answer(page: Any) -> str:
    return str(page.inner_text(".answer"))


def wait_for_change(page: Any, before: str) -> str:
    page.wait_for_function("before => document.querySelector('.answer').innerText !== before", arg=before)
    return answer(page)


def wait_for_field(page: Any, key: str, text: str) -> None:
    page.wait_for_function(
        "([key, text]) => document.querySelector(`input[data-key='${key}']`).value === text", arg=[key, text]
    )


def wait_for_handle(page: Any, key: str, text: str) -> None:
    """Until the drawing, which follows the figures, says so as well."""
    page.wait_for_function(
        "([key, text]) => document.querySelector(`.handle[data-key='${key}']`).ariaValueText === text",
        arg=[key, text],
    )


def wait_for_agreement(page: Any, key: str, before: str) -> str:
    """Field and handle, once both say the same and another value than before: a drag's last is under way."""
    page.wait_for_function(
        """([key, before]) => {
            const said = document.querySelector(`.handle[data-key='${key}']`).ariaValueText;
            return said !== before && said === document.querySelector(`input[data-key='${key}']`).value;
        }""",
        arg=[key, before],
    )
    return str(field(page, key).input_value())


def glide_line(path: Path, *options: str) -> tuple[str, str]:
    """Glide ratio and sink as `parasim glide` prints them."""
    text = subprocess.run(
        [sys.executable, "-m", "parasim", "glide", str(path), "--quiet", *options],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    found = re.search(r"glides ([\d.]+) to 1 .*? sinks ([\d.]+ \S+) \(", " ".join(text.split()))
    assert found is not None
    return found[1], found[2]


def test_drag_undo_save_and_agree_with_glide(
    browser: Any, serve: Callable[..., Served], design: Path
) -> None:
    page = opened(browser, serve("--out", str(design.parent / "new")))
    before, span = answer(page), field(page, "canopy.span").input_value()
    assert span == "1.100 m"
    drag(page, "canopy.span", -40, 0)
    wait_for_change(page, before)
    assert wait_for_agreement(page, "canopy.span", span) != span
    assert "stale" in page.inner_text(".rulers")
    page.wait_for_function(
        "!document.querySelector('.ruler').innerText.includes('stale')"
    )  # its band follows
    after = answer(page)
    page.get_by_role("button", name="Save as a new design file").click()
    assert page.get_by_label("name").input_value() == "heron_2"
    page.get_by_label("name").fill("wider")
    page.get_by_label("name").press("Enter")
    page.get_by_text("wrote").wait_for()
    page.get_by_text("Begun from heron.yaml, which stays as it is; saved as wider.yaml").wait_for()
    saved = design.parent / "new" / "wider.yaml"
    assert "# along the arc of the bottom skin" in saved.read_text(encoding="utf-8")
    ratio, sink = glide_line(saved)
    assert f"glides {ratio} to 1" in after
    assert f"sinks {sink}" in after
    page.get_by_role("button", name="Save as a new design file").click()
    page.get_by_label("name").fill("wider")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("already there; give another name").wait_for()
    page.get_by_role("button", name="Do not save").click()
    page.get_by_role("button", name="Undo").click()  # the whole drag in one step
    wait_for_field(page, "canopy.span", "1.100 m")
    assert answer(page) == before
    page.get_by_role("button", name="Redo").click()
    assert wait_for_change(page, before) == after
    assert sorted(each.name for each in design.parent.rglob("*")) == ["heron.yaml", "new", "wider.yaml"]


def test_impossible_value_is_refused_beside_its_field(browser: Any, serve: Callable[..., Served]) -> None:
    page = opened(browser, serve())
    before = answer(page)
    type_into(page, "canopy.span", "9 m")
    page.get_by_text('span: given "9 m", too large; use 0.2 to 5 m').wait_for()
    page.get_by_text("(still 1.100 m)").wait_for()
    assert "heron.yaml:" not in page.inner_text(".fields")  # no line that nobody touched
    assert answer(page) == before
    assert handle(page, "canopy.span").get_attribute("aria-valuetext") == "1.100 m"
    type_into(page, "canopy.span", "48 in")
    wait_for_change(page, before)
    wait_for_field(page, "canopy.span", "1.219 m")
    page.get_by_text("too large").wait_for(state="hidden")


def test_keyboard_alone(browser: Any, serve: Callable[..., Served]) -> None:
    """Tab to a handle, turn it, undo and redo, turn the drawing, type, save."""
    served = serve("--units", "imperial")
    page = opened(browser, served)
    assert "ft/s" in answer(page)
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.dataset.key") == "canopy.chord":
            break
    before = handle(page, "canopy.chord").get_attribute("aria-valuetext")
    assert before == "19 11/16 in"
    page.keyboard.press("PageUp")
    wait_for_field(page, "canopy.chord", "20 5/16 in")  # ten sixteenths more
    wait_for_handle(page, "canopy.chord", "20 5/16 in")
    page.keyboard.press("Control+z")
    wait_for_field(page, "canopy.chord", before)
    page.keyboard.press("Control+y")
    wait_for_field(page, "canopy.chord", "20 5/16 in")
    page.locator("canvas").focus()
    place = handle(page, "canopy.span").evaluate("handle => handle.style.cssText")
    page.keyboard.press("ArrowLeft")
    page.wait_for_function(
        "place => document.querySelector('.handle[data-key=\"canopy.span\"]').style.cssText !== place",
        arg=place,
    )
    page.get_by_role("button", name="Save as a new design file").press("Enter")
    page.get_by_label("name").wait_for()
    page.wait_for_function("document.activeElement.getAttribute('aria-label') === 'name'")
    page.keyboard.type("by keys")
    page.wait_for_timeout(500)  # what is typed reaches the server
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Save as a new design file").wait_for(state="hidden")
    assert (served.design.parent / "by keys.yaml").is_file()


def test_two_windows_have_their_own_designs(browser: Any, serve: Callable[..., Served]) -> None:
    served = serve()
    one, other = opened(browser, served), opened(browser, served)
    before = answer(other)
    type_into(one, "payload.mass", "1.6 kg")
    wait_for_change(one, before)
    other.wait_for_timeout(500)
    assert answer(other) == before
    assert field(other, "payload.mass").input_value() == "1.200 kg"


def test_file_changed_on_disk(browser: Any, serve: Callable[..., Served], design: Path) -> None:
    page = opened(browser, serve())
    before, text = answer(page), design.read_text(encoding="utf-8")
    design.write_text(text.replace("span: 1.10 m", "span: 1.3 kg"), encoding="utf-8")
    page.get_by_text("heron.yaml was changed on disk").wait_for()
    page.get_by_role("button", name="Reload").click()
    page.get_by_text("canopy.span").first.wait_for()
    assert answer(page) == before
    design.write_text(text.replace("span: 1.10 m", "span: 1.30 m"), encoding="utf-8")
    page.get_by_role("button", name="Reload").click()
    wait_for_change(page, before)
    wait_for_field(page, "canopy.span", "1.300 m")


def test_server_stopped(browser: Any, serve: Callable[..., Served]) -> None:
    served = serve()
    page = opened(browser, served)
    assert not page.get_by_text("parasim has stopped").is_visible()
    assert served.interrupt() == (0, "page closed\n")
    page.get_by_text("parasim has stopped").wait_for()


def test_only_with_the_token_and_only_on_this_machine(serve: Callable[..., Served]) -> None:
    served = serve()
    root = f"http://127.0.0.1:{served.port}"
    with urllib.request.urlopen(served.address) as response:
        assert response.status == 200
        prefix = served.address.removeprefix(root)
    socket = "_nicegui_ws/socket.io/?EIO=4&transport=polling"
    for path in ("/", "/x" + prefix[2:], "/_nicegui/", f"/{socket}", "/docs", "/openapi.json"):
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(root + path)
        assert refused.value.code in (403, 404)
    assert _handshake(served.port, f"/{socket.replace('polling', 'websocket')}") in (403, 404)
    assert _handshake(served.port, f"{prefix}{socket.replace('polling', 'websocket')}") not in (403, 404)
    listening = Path("/proc/net/tcp").read_text(encoding="ascii").splitlines()[1:]
    bound = {line.split()[1] for line in listening if line.split()[3] == "0A"}
    assert {place for place in bound if place.endswith(f":{served.port:04X}")} == {
        f"0100007F:{served.port:04X}"
    }


def _handshake(port: int, path: str) -> int:
    """Status of an attempt to open a socket."""
    import http.client

    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    headers = {
        "Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13",
        "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",
    }  # fmt: skip
    connection.request("GET", path, headers=headers)
    status = connection.getresponse().status
    connection.close()
    return status


def test_text_of_the_file_is_text(browser: Any, serve: Callable[..., Served], design: Path) -> None:
    """A name takes no angle brackets; a description takes all there is. Caution and words stay in view."""
    script = "<script>window.bad = 1</script></script><img src=x onerror='window.bad = 1'> {{ 7*7 }}"
    text = design.read_text(encoding="utf-8")
    text = re.sub("description: .*", f'description: "{script}"', text)
    design.write_text(text, encoding="utf-8")
    page = opened(browser, serve())
    assert page.inner_text(".what") == script
    assert page.evaluate("window.bad") is None
    type_into(page, "payload.mass", script)
    page.get_by_text("payload mass: given").wait_for()
    assert page.evaluate("window.bad") is None
    design.write_text(text.replace("name: heron", f'name: "{script}"'), encoding="utf-8")
    page.get_by_role("button", name="Reload").click()
    page.get_by_text("name: given").wait_for()
    assert page.evaluate("window.bad") is None
    for width in (390, 1024, 1600):
        page.set_viewport_size({"width": width, "height": 800})
        for share in (0, 1):
            page.evaluate(f"window.scrollTo(0, {share} * document.body.scrollHeight)")
            box = page.get_by_text("A falling payload can injure people").first.bounding_box()
            assert 0 <= box["y"] < box["y"] + box["height"] <= 800
        assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [390, 1024, 1600])
def test_caution_covers_nothing_and_labels_lie_apart(
    browser: Any, serve: Callable[..., Served], width: int
) -> None:
    """Whatever is reached by Tab lies below the caution; every handle has a label, off all other labels."""
    page = opened(browser, serve())
    page.set_viewport_size({"width": width, "height": 800})
    page.wait_for_timeout(500)  # the drawing follows
    boxes = [each.bounding_box() for each in page.locator(".handle span").all()]
    assert len(boxes) == 10
    for i, one in enumerate(boxes):
        assert one["width"] > 20
        for other in boxes[:i]:
            beside = one["x"] >= other["x"] + other["width"] or other["x"] >= one["x"] + one["width"]
            below = one["y"] >= other["y"] + other["height"] or other["y"] >= one["y"] + one["height"]
            assert beside or below
    assert page.locator("header").bounding_box()["y"] >= page.locator(".bar").bounding_box()["height"] - 1
    page.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    for _ in range(40):
        page.keyboard.press("Shift+Tab")
        top, limit = page.evaluate(
            "[document.activeElement.getBoundingClientRect().top,"
            " document.querySelector('.bar').getBoundingClientRect().bottom]"
        )
        assert top >= limit - 1 or page.evaluate("document.activeElement === document.body")


def test_nothing_from_outside_and_every_control_named(browser: Any, serve: Callable[..., Served]) -> None:
    page = opened(browser, serve())
    page.wait_for_timeout(1000)
    assert page.outside == []
    assert not re.findall(r"https?://(?!127\.0\.0\.1)[\w.]+", page.content())
    for slider in page.get_by_role("slider").all():
        assert slider.get_attribute("aria-label")
        assert slider.get_attribute("aria-valuetext")
    for button in page.get_by_role("button").all():
        assert button.inner_text()
    for image in page.locator("svg[role=img]").all():
        assert re.search(r"kept|no limit set", image.get_attribute("aria-label"))


def quiet() -> bool:
    return os.getloadavg()[0] < BUSY * (os.cpu_count() or 1)


def cpu_time(served: Served) -> float:
    """That the server has used. [s]"""
    parts = Path(f"/proc/{served.process.pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


def test_handle_to_figures_in_time(play: Any, serve: Callable[..., Served]) -> None:
    """95 of 100 within `QUICK`, and memory; without WebGL, of which the page says so while handles work."""
    was_quiet = quiet()
    served, browser = serve(), browser_of(play, *UNDRAWN)
    page = opened(browser, served)
    page.get_by_text("No drawing: this browser shows no WebGL").wait_for()
    drag(page, "canopy.span", -30, 0)
    page.evaluate("window.parasimTimes.length = 0")
    worked = cpu_time(served)
    for key in ("canopy.span", "canopy.chord", "lines.rigging_angle", "payload.mass"):
        drag(page, key, 25, 12, steps=40, pause=30)
    page.wait_for_timeout(1000)
    times = sorted(page.evaluate("window.parasimTimes"))
    each = 1e3 * (cpu_time(served) - worked) / len(times)
    status = Path(f"/proc/{served.process.pid}/status").read_text(encoding="ascii")
    browser.close()
    resident = int(re.search(r"VmRSS:\s+(\d+)", status)[1]) / 1e3  # type: ignore[index]
    assert resident < MEMORY
    assert len(times) > 20
    late = times[int(0.95 * len(times))]
    print(f"95 of 100 within {late:.0f} ms of {len(times)}, {each:.0f} ms of work each, {resident:.0f} MB")
    assert each < QUICK  # however busy the machine is
    if not was_quiet and late > QUICK:
        pytest.skip(f"the machine was busy with other work: {late:.0f} ms")
    assert late < QUICK


def test_first_paint_in_time(browser: Any, serve: Callable[..., Served]) -> None:
    """The quickest of three starts: what slows one of them down is the machine."""
    was_quiet, starts = quiet(), []
    for _ in range(3):
        page = browser.new_page()
        page.set_default_timeout(PATIENCE)
        served = serve()
        page.goto(served.address, wait_until="commit")
        page.locator(".name").wait_for()
        starts.append(time.perf_counter() - served.started)
        page.close()
        served.process.kill()
    took = min(starts)
    print(f"first paint {took:.2f} s after the command")
    if not was_quiet and took > FIRST_PAINT:
        pytest.skip(f"the machine was busy with other work: {took:.1f} s")
    assert took < FIRST_PAINT


def test_without_the_extra_it_says_how_to_get_it(design: Path, tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(
        "import importlib.util as u\nfind = u.find_spec\n"
        "u.find_spec = lambda name, *rest: None if name == 'nicegui' else find(name, *rest)\n",
        encoding="utf-8",
    )
    found = subprocess.run(
        [sys.executable, "-m", "parasim", "adjust", str(design)],
        capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": str(tmp_path)},
    )  # fmt: skip
    assert found.returncode == 2
    assert (
        found.stderr
        == 'parasim: the page needs the extra "page"; install it with: pip install "parasim[page]"\n'
    )


def test_a_file_with_a_mistake_is_refused_in_a_line(design: Path) -> None:
    design.write_text(
        design.read_text(encoding="utf-8").replace("span: 1.10 m", "span: 9 m"), encoding="utf-8"
    )
    found = subprocess.run(
        [sys.executable, "-m", "parasim", "adjust", str(design), "--no-browser"],
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert found.returncode == 2
    assert found.stdout == ""
    assert re.fullmatch(r'heron\.yaml:18: canopy\.span: given "9 m", too large; .*\n', found.stderr)
