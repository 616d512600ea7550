"""What `parasim learn` says: line one, tables, units, the sheet, and notes that can be filled in."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from parasim.config.design import Design
from parasim.config.notes import load_notes
from parasim.dynamics.vehicle import assemble
from parasim.flight.turn.turn import TURN_CAUTIONS
from parasim.learning.evidence import evidence
from parasim.learning.learn import learn
from parasim.learning.learned import Learned
from parasim.report.learn import compared_row, learn_document
from parasim.report.learn_sheet import notes_template, pages, reading
from parasim.units import System
from tests.texts import flowing

OTHER = {"metric": r"\d (ft/s|ft|in|lb|lbf|kt)\b", "imperial": r"\d (m/s|mm|m|N|kg|kg/m³)\b"}
"""Units that have no place among the others."""
SYSTEMS = ("metric", "imperial")


@pytest.fixture(scope="module")
def unflown(heron: Design) -> Learned:
    return learn(assemble(heron))


@pytest.fixture(scope="module")
def flown(heron: Design) -> Learned:
    return learn(assemble(heron), [Path(__file__).parents[2] / "data/flown.yaml"])


def test_line_one_is_the_answer(flown: Learned) -> None:
    first = flowing(flown.report.first_line("metric"))
    assert first.startswith("heron, fitted to 6 measurements on 2 flights: sinks 2.0")
    assert ", before 1.92 m/s (1.78 to 2.19 m/s); next, " in first
    assert re.search(r" narrows the [a-z ]+ by \d+ %$", first)
    assert "NOT KEPT" not in first


def test_a_flight_outside_its_band_is_in_line_one(flown: Learned) -> None:
    datum = replace(flown.compared[0].datum, value=3.0)
    changed = replace(flown, compared=(replace(flown.compared[0], datum=datum), *flown.compared[1:]))
    first = flowing(changed.report.first_line("metric"))
    assert "NOT KEPT: drop 3 flew outside the design's band: sink 3.00 ± 0.10 m/s, predicted" in first
    assert "lies 10 errors off the fit" in first or "lies 9 errors off the fit" in first
    assert " x" in compared_row(changed.compared[0], "metric")[3]


def test_a_sink_at_the_edge_of_the_tuck_is_known_less_well(heron: Design, tmp_path: Path) -> None:
    """62 m in 20.4 s is half again heron's sink: it nearly tucks, and canopies of the fitted ranges do."""
    notes = tmp_path / "notes.yaml"
    notes.write_text("flights:\n  - {name: first, by_hand: [{height_lost: 62 m, in: 20.4 s}]}\n")
    found = learn(assemble(heron), [notes], design_file="heron.yaml")
    sink = next(each for each in found.wanted if each.key == "sink")
    assert sink.kept > 1
    assert sink.after.lost
    assert not sink.before.lost
    first = flowing(found.report.first_line("metric"))
    assert "known less well than before: sink" in first
    assert "at an end of the fitted ranges it does not fly steadily: sink" in first
    assert "; other commands draw its bands from all ranges at once, wider than these" in flowing(
        found.text()
    )


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("which", ["flown", "unflown"])
def test_units_and_width(request: pytest.FixtureRequest, which: str, units: System) -> None:
    learned = request.getfixturevalue(which)
    text = learned.text(units)
    assert not re.search(OTHER[units], text), re.search(OTHER[units], text)
    assert max(map(len, text.splitlines())) <= 100
    assert all(flowing(f"caution: {caution}") in flowing(text) for caution in TURN_CAUTIONS)
    assert "nan" not in text
    assert "inf" not in text


def test_every_table_is_there(flown: Learned) -> None:
    text = flowing(flown.text())
    for words in (
        "Calibration before and after",
        "what these flights do not show (over 90 % of the spread is left): ",
        "Known better together than alone (correlation): brake drag factor and yaw damping -0.",
        "Flown with one error",
        "What each measurement did",
        "Bands, in still air at the design's mass and site",
        "what to measure next",
        "Best for the sink: a timed descent",
        "your design file stays as it is",
    ):
        assert words in text, words
    assert "roll damping -0.2 -0.84 to 0" in text
    assert "(100 %)" in text  # a number in brackets: nothing was told of it


def test_the_sheet_says_order_tools_and_what_each_tells(unflown: Learned) -> None:
    text = flowing(unflown.text())
    assert text.startswith("heron: 8 things to measure, from the ground upwards; next, ")
    for words in (
        "Clock: the logger's time",
        "Zero height: logger on the ground",
        "as_built",
        "stopwatch",
    ):
        assert words in text
    table = text.partition("expect")[2]
    order = [table.index(each.trial.words) for each in unflown.nexts]
    assert order == sorted(order)
    assert "circles at right 25 %" in text  # slower than the height lasts


def test_a_circle_that_may_turn_either_way_has_an_open_end(unflown: Learned) -> None:
    circle = next(each for each in unflown.nexts if each.trial.key == "circle 50")
    assert " to " in reading(circle, "metric")
    either = replace(circle, expected=replace(circle.expected, low=-0.01))
    assert reading(either, "metric").endswith(" s or more")


@pytest.mark.parametrize("units", SYSTEMS)
def test_the_sheet_to_print_has_a_rung_for_each(unflown: Learned, units: System) -> None:
    sheet = pages(unflown, units)
    assert len(sheet.rungs) == len(unflown.nexts)
    for rung in sheet.rungs:
        assert rung.do
        assert rung.measure
        assert rung.stop
        assert len(rung.figures) == 1
        if rung.key != "kite":
            assert rung.do[0].startswith("Do not start unless nobody is below")
    words = " ".join(line for rung in sheet.rungs for line in (*rung.do, *rung.measure, *rung.stop))
    assert not re.search(OTHER[units], words)


@pytest.mark.parametrize("units", SYSTEMS)
def test_notes_can_be_filled_in(unflown: Learned, tmp_path: Path, units: System) -> None:
    """Every line of the template, its # taken away and its dots filled, is read."""
    text = notes_template(unflown, units)
    path = tmp_path / "notes.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(Exception, match="by_hand"):
        load_notes(path)  # as it is, nothing was measured
    filled = re.sub(r"^    # (clock.*)$", "", text, flags=re.MULTILINE)
    filled = re.sub(r"^    # ", "    ", filled, flags=re.MULTILINE)
    filled = re.sub(r"^#( line.*| {3}| as_built)", r"\1", filled, flags=re.MULTILINE)
    filled = filled.replace("FILE", "lines.csv").replace(" as_built", "as_built", 1)
    filled = filled.replace("finished_mass: {mass: ...", "finished_mass: {mass: 30").replace("...", "20")
    (tmp_path / "lines.csv").write_text("", encoding="utf-8")
    path.write_text(filled, encoding="utf-8")
    notes = load_notes(path)
    found = evidence([("notes.yaml", notes)])
    asked = {each.trial.datum.quantity for each in unflown.nexts}
    assert {datum.quantity for datum in found} >= asked
    assert notes.flights[0].mass == pytest.approx(unflown.vehicle.mass, rel=0.01)
    assert notes.flights[0].air_density == pytest.approx(unflown.vehicle.reference.air_density, rel=0.01)
    assert notes.errors.height == pytest.approx(1.0, rel=0.02)
    assert notes.as_built is not None
    assert notes.as_built.canopy_mass is not None
    assert notes.as_built.canopy_mass.error == pytest.approx(0.001, rel=0.15)  # 0.04 oz, as it is printed
    assert len(notes.as_built.brake_force) == 1


def test_the_document_has_both_sides(flown: Learned) -> None:
    found = learn_document(flown)
    assert found["flights"] == ["drop 3", "drop 4"]
    assert found["calibration"]["lift_factor"]["before"] == {"value": 0.92, "low": 0.8, "high": 1.0}
    assert [each["used"] for each in found["measurements"]] == [True] * 6
    turn = found["measurements"][1]
    assert turn["turn_rate_deg_s"]["flown"] == 12.0
    assert turn["right_brake_fraction"] == 0.5
    assert set(found["bands"]) == {"sink_m_s", "glide_ratio", "landing_speed_m_s", "turn_rate_deg_s"}
    assert found["bands"]["turn_rate_deg_s"]["kept_fraction"] < 0.3
    assert set(found["next"][0]["narrows_fraction"]) == set(found["bands"])
