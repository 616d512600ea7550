"""The field card in a real browser, on a phone's screen, from the file and without a network."""

from __future__ import annotations

import re
from math import atan2, ceil, degrees, hypot
from pathlib import Path
from typing import Any

import pytest

from parasim.caveats import CAUTION
from parasim.cli.main import main
from parasim.config.loader import load_design, override
from parasim.config.notes import load_notes
from parasim.dynamics.vehicle import assemble
from parasim.flight.release.release import ReleasePoint, release
from parasim.learning.evidence import evidence
from parasim.report.release import show_far
from parasim.report.words import show_bearing
from parasim.units import FOOT, KNOT, System, show

pytestmark = pytest.mark.slow

SIZES = {"metric": (1.0, 1.0), "imperial": (KNOT, FOOT)}
"""Of the units typed: wind and height. [m/s], [m] Source: SP811, exact by definition."""


def put(page: Any, **values: float) -> None:
    for name, value in values.items():
        page.fill(f"#{name}", f"{value:.12g}")


def asked(configs: Path, wind: float, source: float, height: float) -> ReleasePoint:
    """A fresh answer of `parasim release`."""
    changes = {"site.wind.speed": wind, "site.wind.from": f"{source} deg", "drop.height": height}
    return release(assemble(override(load_design(configs / "heron.yaml"), changes)))


def number(text: str, pattern: str) -> float:
    found = re.search(pattern, text)
    assert found, (pattern, text)
    return float(found[1])


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize(("wind", "source", "height"), [(3.0, 270.0, 80.0), (1.0, 45.0, 120.0)])
def test_at_a_point_of_the_table_it_says_what_release_says(
    made: Any, opened: Any, configs: Path, units: System, wind: float, source: float, height: float
) -> None:
    page, (speed, length) = opened(made(units).page), SIZES[units]
    put(page, wind=wind / speed, height=height / length, **{"from": source})
    point = asked(configs, wind, source, height)
    north, east = point.plan.release
    said = page.inner_text("#release")
    assert said.startswith(show_far(hypot(north, east), units))
    assert f"bearing {show_bearing(atan2(east, north))} from it" in said
    assert f"within {show_far(point.plan.box, units)} of that point" in said
    assert page.inner_text("#clear").startswith(show_far(point.reach.band("down").high, units))
    figures, time = page.inner_text("#figures"), point.reach.band("time")
    assert f"{time.value:.0f} s ({time.low:.0f} to {time.high:.0f} s) gliding straight" in figures
    assert f"{show(point.limit, 'wind_speed', units)} at " in figures
    assert f"{100 * point.circle.brake:.0f} % of the brake" in figures
    label = page.get_attribute("#map", "aria-label")
    assert f"Wind from {show_bearing(point.wind.comes_from)}" in label
    assert said in label


def test_between_points_it_is_within_what_the_table_bends(made: Any, opened: Any, configs: Path) -> None:
    """Bound: the bend of the table along each axis, a quarter of the second difference about the cell, and
    half a printed metre. A straight line is off by an eighth of the second derivative times the step squared.
    """
    card, page = made("metric"), opened(made("metric").page)
    for wind, height in ((2.5, 95.0), (1.5, 135.0), (3.5, 65.0)):
        put(page, wind=wind, height=height, **{"from": 200.0})
        point = asked(configs, wind, 200.0, height)
        along = float(point.plan.release @ point.wind.upwind)
        sign = -1 if "downwind of" in page.inner_text("#release") else 1
        for shown, fresh, key in (
            (sign * number(page.inner_text("#release"), r"^(\d+) m"), along, "upwind_m"),
            (number(page.inner_text("#clear"), r"^(\d+) m"), point.reach.band("down").high, "radius_m"),
        ):
            assert abs(shown - fresh) <= bend(card.document, key, wind, height) + 0.51, (wind, height, key)


def bend(document: dict[str, Any], key: str, wind: float, height: float) -> float:
    """A quarter of the largest second differences near a cell, of both axes together."""
    whole = [row for row in document["heights"] if float(row["height_m"]).is_integer()]
    i = max(k for k, row in enumerate(whole) if row["height_m"] <= height)
    j = int(wind)

    def value(k: int, m: int) -> float:
        return float(whole[min(max(k, 0), len(whole) - 1)]["cells"][m][key])

    winds = [abs(value(i, m - 1) - 2 * value(i, m) + value(i, m + 1)) for m in (j, j + 1) if m > 0]
    heights = [
        abs(value(k - 1, j) - 2 * value(k, j) + value(k + 1, j)) for k in (i, i + 1) if 0 < k < len(whole) - 1
    ]
    return 0.25 * (max(winds) + max(heights))


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"wind": 9.5}, "Wind outside this card's table"),
        ({"height": 40}, "Height under the least for one circle and the final, 51 m"),
        ({"height": 200}, "Height outside this card's table"),
    ],
)
def test_outside_the_table_it_says_so(made: Any, opened: Any, values: dict[str, float], words: str) -> None:
    page = opened(made("metric").page)
    put(page, **values)
    assert words in page.inner_text("#stops")
    for place in ("#release", "#clear", "#unopened"):
        assert page.inner_text(place) == "Not known: outside this card's table."
    assert not page.is_visible("#map")
    page.fill("#wind", "")
    assert "Wind outside" in page.inner_text("#stops")


def test_stops_begin_with_people_and_follow_the_wind(made: Any, opened: Any) -> None:
    page = opened(made("metric").page)
    for wind, stop in ((0, "may spiral"), (3, "with the wind behind it"), (6, "over its limit of 4.9 m/s")):
        put(page, wind=wind)
        first, *others = page.locator("#stops li").all_inner_texts()
        assert first.startswith(f"People: anybody within {page.inner_text('#clear').partition(' =')[0]}")
        assert "Do not start unless nobody is below" in first
        assert any(stop in other for other in others), others
        assert f"{len(others)} reason" in page.inner_text("#state")
    assert page.inner_text("#release") == "No release point in this wind."
    assert made("metric").document["unknown"] == page.locator("#unknown li").all_text_contents()


@pytest.mark.parametrize(
    ("last", "beyond"),
    [
        ({"wind": 8, "height": 80}, {"wind": 9, "height": 80}),
        ({"wind": 8, "height": 80}, {"wind": 30, "height": 80}),
        ({"wind": 6, "height": 51.2}, {"wind": 6, "height": 40}),
        ({"wind": 6, "height": 160}, {"wind": 6, "height": 400}),
        ({"wind": 8, "height": 160}, {"wind": 9, "height": 400}),
    ],
)
def test_beyond_the_table_there_are_more_reasons_not_fewer(
    made: Any, opened: Any, last: dict[str, float], beyond: dict[str, float]
) -> None:
    """Those of its last row, whatever wind and height they name, and that it is beyond."""
    page, kinds = opened(made("metric").page), ("over its limit", "may spiral", "Landing with", "not kept")
    put(page, **last)
    there = page.locator("#stops li").all_inner_texts()
    put(page, **beyond)
    stops = page.locator("#stops li").all_inner_texts()
    outside = sum(last[name] != value for name, value in beyond.items())
    assert len(stops) == len(there) + outside
    for kind in kinds:
        assert sum(kind in stop for stop in stops) == sum(kind in stop for stop in there), kind
    landing = next(stop for stop in stops if stop.startswith("Landing with"))
    assert ("already in 8.0 m/s" in landing) == (beyond["wind"] > 8)
    page.fill("#wind", "")
    assert "nothing is known." in page.inner_text("#stops")


def test_without_a_stop_it_only_says_that_it_knows_none(
    opened: Any, configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Any energy is taken, the line is known, the circle does not spiral: still never a permission."""
    text = (configs / "heron.yaml").read_text(encoding="utf-8").replace("  max_energy: 60 J\n", "")
    text = text.replace("\nlines:\n", "\nlines:\n  material: polyester\n")
    (tmp_path / "d.yaml").write_text(text, encoding="utf-8")
    options = ["--brake", "60 %", "--out", str(tmp_path / "out")]
    assert main(["card", str(tmp_path / "d.yaml"), *options]) == 0
    capsys.readouterr()
    page = opened(tmp_path / "out" / "heron_card.html")
    put(page, wind=2, height=150)
    said = page.inner_text("#state")
    assert "none of the reasons not to fly that this card knows" in said
    assert said.startswith("People first: is anybody there?")


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_no_permission_and_one_system_of_units(made: Any, opened: Any, units: str) -> None:
    page = opened(made(units).page)
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    words = page.inner_text("body")
    for of_parts in ("both go back to zero", "lines go slack"):
        words = words.replace(of_parts, "")
    assert not re.findall(r"\b(?:go|safe|safely|safety|legal|allowed|cleared|OK)\b", words, re.IGNORECASE)
    other = {"metric": r"\d (?:ft|kt|ft/s|in|lb|lbf|ft lbf|oz)\b", "imperial": r"\d (?:m|mm|m/s|J|N|kg|g)\b"}
    assert re.findall(other[units], words) == []


def test_the_caution_is_always_in_view(made: Any, opened: Any) -> None:
    page = opened(made("metric").page)
    caution = page.locator("header p").first
    assert CAUTION in caution.inner_text()
    for share in (0, 0.5, 1):
        page.evaluate(f"window.scrollTo(0, {share} * document.body.scrollHeight)")
        box = caution.bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= 844


def test_it_says_what_it_was_made_from(made: Any, opened: Any) -> None:
    card = made("metric")
    head = opened(card.page).inner_text("h1 + p")
    for words in ("heron.yaml", card.document["digest"], card.document["made"], "Calibration: default"):
        assert words in head


def test_the_height_to_tick_is_that_of_the_summary(
    made: Any, opened: Any, configs: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["summary", str(configs / "heron.yaml"), "--all"]) == 0
    packed = number(" ".join(capsys.readouterr().out.split()), r"gliding, (\d+) m packed")
    words = f"Release height, packed, to open and fly the plan: {packed:.0f} m at least."
    assert words in opened(made("metric").page).inner_text(".ticks")


def test_lines_are_ticked_by_holding_and_stay_ticked(made: Any, opened: Any) -> None:
    page = opened(made("metric").page)
    first, second = (page.locator("[data-tick]").nth(i) for i in (0, 1))
    first.click()
    assert first.get_attribute("aria-checked") == "false"
    first.click(delay=800)
    assert first.get_attribute("aria-checked") == "true"
    second.focus()
    page.keyboard.press("Space")
    assert second.get_attribute("aria-checked") == "false"
    page.keyboard.press("Space", delay=800)
    assert second.get_attribute("aria-checked") == "true"
    page.reload()
    assert page.locator('[aria-checked="true"]').count() == 2
    page.locator("#anew").click()
    assert page.locator('[aria-checked="true"]').count() == 2
    page.locator("#anew").click(delay=800)
    page.reload()
    assert page.locator('[aria-checked="true"]').count() == 0


def test_a_browser_that_keeps_nothing_is_said(made: Any, opened: Any, browser: Any) -> None:
    page = opened(made("metric").page)
    page.add_init_script(
        "Object.defineProperty(window, 'localStorage', { get() { throw new Error('no'); } })"
    )
    page.reload()
    assert "This browser keeps nothing" in page.inner_text("#kept")
    tick = page.locator("[data-tick]").first
    tick.click(delay=800)
    assert tick.get_attribute("aria-checked") == "true"


def noted(page: Any, kind: str, **values: str) -> None:
    page.select_option("#kind", kind)
    for name, value in values.items():
        page.fill(f"#{name}", value)
    page.click("#add")


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_notes_are_read_by_the_reader_and_by_learn(
    made: Any, opened: Any, configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], units: str
) -> None:
    page = opened(made(units).page)
    speed, length = SIZES[units]
    page.fill("#place", 'meadow "by the weir", 鷺 \\ 🪁')
    page.fill("#video", "12")
    page.click("#now")
    noted(page, "descent", height_lost=f"{62 / length:.3f}", time="31.4")
    noted(page, "circles", circles="1", time="31", right="50")
    page.click("#next")
    noted(
        page, "glide", distance=f"{88 / length:.3f}", start=f"{30 / length:.3f}", headwind=f"{2 / speed:.3f}"
    )
    assert page.locator("#noted li").count() == 3
    with page.expect_download() as waiting:
        page.click("#download")
    file = tmp_path / "notes.yaml"
    waiting.value.save_as(file)
    assert file.read_text(encoding="utf-8") == page.input_value("#yaml")
    notes = load_notes(file)
    assert 'meadow "by the weir", 鷺 \\ 🪁' in notes.flights[0].name
    assert "video 12" in notes.flights[0].by_hand[0].how
    sink, rate, glide = evidence([("notes.yaml", notes)])
    assert (sink.quantity, rate.quantity, glide.quantity) == ("sink", "turn_rate", "ground_glide")
    assert sink.value == pytest.approx(62 / 31.4, rel=1e-3)
    assert degrees(rate.value) == pytest.approx(360 / 31)
    assert glide.value == pytest.approx(88 / 30, rel=1e-3)
    assert glide.wind == pytest.approx(2.0, abs=1e-3)
    assert main(["learn", str(configs / "heron.yaml"), str(file)]) == 0
    assert "2 flights" in capsys.readouterr().out


def test_notes_that_the_reader_would_refuse_are_not_taken(made: Any, opened: Any) -> None:
    page = opened(made("metric").page)
    page.click("#download")
    assert "Nothing was measured yet" in page.inner_text("#said")
    for kind, values, words in (
        ("descent", {"height_lost": "62"}, "in, s: missing"),
        ("descent", {"height_lost": "0.5", "time": "3"}, "height lost, m: 1.00 to 5000"),
        ("circles", {"circles": "1", "time": "30"}, "give left or right brake"),
        ("circles", {"circles": "0.1", "time": "30", "left": "50"}, "count at least a quarter"),
        ("glide", {"distance": "80", "start": "30", "headwind": "30"}, "mean wind, m/s: 0.00 to 20"),
    ):
        page.reload()
        noted(page, kind, **values)
        assert words in page.inner_text("#said")
        assert page.locator("#noted li").count() == 0


def test_a_mass_that_the_reader_would_refuse_is_not_written(made: Any, opened: Any) -> None:
    page = opened(made("metric").page)
    page.fill("#mass", "1.31")
    noted(page, "descent", height_lost="62", time="20.4")
    assert "    mass: 1.31 kg\n" in page.input_value("#yaml")
    page.fill("#mass", "1310")
    noted(page, "descent", height_lost="62", time="20.4")
    assert "weighed, kg: 0.050 kg to 20.000 kg is taken" in page.inner_text("#said")
    assert "mass" not in page.input_value("#yaml")
    assert page.locator("#noted li").count() == 1


def test_notes_outlive_a_reload_and_are_cleared_by_holding(made: Any, opened: Any) -> None:
    page = opened(made("metric").page)
    noted(page, "descent", height_lost="62", time="20.4")
    page.reload()
    assert "height_lost: 62 m, in: 20.4 s" in page.input_value("#yaml")
    page.click("#forget", delay=800)
    assert "Nothing was measured yet" in page.input_value("#yaml")


def test_a_place_is_asked_for_only_when_pressed(made: Any, opened: Any) -> None:
    page = opened(
        made("metric").page, geolocation={"latitude": 47.1, "longitude": 11.2}, permissions=["geolocation"]
    )
    assert page.input_value("#place") == ""
    page.click("#locate")
    page.wait_for_function("document.getElementById('said').textContent !== 'Waiting for a place.'")
    place, said = page.input_value("#place"), page.inner_text("#said")
    assert place.startswith("47.10000, 11.20000") or "type it" in said


def test_it_is_worked_by_keyboard_alone(made: Any, opened: Any) -> None:
    """Every control is reached by the tab key, none is hidden under the caution, and answers follow."""
    page = opened(made("metric").page)
    seen: list[str] = []
    for _ in range(80):
        page.keyboard.press("Tab")
        name, top, limit = page.evaluate(
            "(() => { const e = document.activeElement; return [e.id || e.dataset.of || e.dataset.tick || "
            "e.tagName, e.getBoundingClientRect().bottom, document.querySelector('header')"
            ".getBoundingClientRect().bottom]; })()"
        )
        if name == "BODY":
            break
        assert top > limit, name
        seen.append(name)
    for name in (
        "wind",
        "from",
        "height",
        "pre_drop-0",
        "anew",
        "place",
        "add",
        "download",
        "copy",
        "forget",
    ):
        assert name in seen
    before = page.inner_text("#clear")
    page.focus("#height")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.input_value("#height") == "85"
    assert page.inner_text("#clear") != before


@pytest.mark.parametrize("size", [100, 200])
def test_large_letters_fit_the_screen(made: Any, opened: Any, size: int) -> None:
    """At twice the size nothing runs out at the side, and half of the screen is left below the caution."""
    page = opened(made("metric").page)
    page.evaluate(f"document.documentElement.style.fontSize = '{size} %'.replace(' ', '')")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert page.locator("header").bounding_box()["height"] < 422


def test_controls_are_large_enough_for_a_finger(made: Any, opened: Any) -> None:
    """44 CSS pixels: WCAG 2.1, success criterion 2.5.5, from memory, unverified."""
    page = opened(made("metric").page)
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    for control in page.locator("button, input, select, summary").all():
        if control.is_visible():
            box = control.bounding_box()
            assert ceil(min(box["width"], box["height"])) >= 44, control.get_attribute("id")


def test_what_a_user_wrote_is_escaped(
    opened: Any, configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A name with markup is refused by the file's reader; the name of the file itself is not."""
    text = (configs / "heron.yaml").read_text(encoding="utf-8")
    path = tmp_path / "<script>document.title='x'<_script>.yaml"
    path.write_text(text.replace("name: heron", "name: <script>"), encoding="utf-8")
    assert main(["card", str(path), "--out", str(tmp_path / "out")]) == 2
    printed = capsys.readouterr()
    assert (printed.out, len(printed.err.splitlines())) == ("", 1)
    assert not (tmp_path / "out").exists()
    words = "fitted </script><script>document.title='x'</script> & \\\\u2028"
    text += f'\ncalibration:\n  extra_drag: {{value: 0.003, from: "{words}"}}\n'
    path.write_text(text, encoding="utf-8")
    assert main(["card", str(path), "--out", str(tmp_path / "out")]) == 0
    page = opened(tmp_path / "out" / "heron_card.html")
    assert page.title() == "heron: field card"
    assert "</script><script>document.title='x'</script>" in page.inner_text("h1 + p")
    assert path.name in page.inner_text("h1 + p")
    assert "not to fly" in page.inner_text("#state")


def test_the_arrow_turns_with_the_wind(made: Any, opened: Any) -> None:
    """North is up: let go upwind in a wind from the east lies to the right, from the south below."""
    page = opened(made("metric").page)
    put(page, wind=4, height=120)
    ends = {}
    for source in (90, 180):
        put(page, **{"from": source})
        ends[source] = [float(page.get_attribute("#way", name)) for name in ("x2", "y2")]
        assert "upwind of" in page.inner_text("#release")
        assert page.get_attribute("#wind-arrow", "transform") == f"rotate({source})"
    (right, level), (middle, down) = ends[90], ends[180]
    assert right > 20
    assert down == pytest.approx(right)
    assert (level, middle) == pytest.approx((0.0, 0.0), abs=0.05)
    page.locator('[data-of="from"]').last.click()
    assert page.input_value("#from") == "190"


def test_in_two_columns_a_checklist_stays_below_its_heading(made: Any, opened: Any) -> None:
    page = opened(made("metric").page)
    page.set_viewport_size({"width": 1600, "height": 900})
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    head = page.locator("#lists-title").bounding_box()
    for line in page.locator("[data-tick]").all():
        box = line.bounding_box()
        assert abs(box["x"] - head["x"]) < 2
        assert box["y"] > head["y"]
