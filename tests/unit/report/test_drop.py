"""What `parasim drop` says: blocks, document and CSV file of one drop, landed and lost."""

import csv
import re
from dataclasses import replace
from math import sqrt

import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import CAUTIONS, Drop, drop, unopened_drift
from parasim.report.drop import TOUCHDOWN, held_wind, touchdown_rows
from parasim.units import System

OTHER = {"metric": r"\d (ft/s|ft|in)\b", "imperial": r"\d (m/s|mm|m|J|N m)\b"}
"""Units that have no place among the others."""


@pytest.fixture(scope="module")
def dropped(heron: Design) -> Drop:
    return drop(assemble(override(heron, {"drop.height": "15 m", "drop.brakes": []})))


def test_the_answer_comes_first(dropped: Drop) -> None:
    text = dropped.text()
    assert text.startswith("heron lands ")
    assert repr(dropped) == "<Drop of heron>"
    assert all(f"caution: {caution}" in " ".join(text.split()) for caution in CAUTIONS)


def test_a_single_drop_has_no_band_and_keeps_limits(dropped: Drop) -> None:
    assert "; one drop, no band" in dropped.report.first_line("metric")
    assert "Limits kept, canopy open: sink at most 4.00 m/s, energy at most 60.0 J" in dropped.text()


def test_from_above_the_known_wind_the_place_has_a_condition(dropped: Drop) -> None:
    """The law ends at 1000 m: 3 m/s at 10 m is 3 x 100^(1/7) = 5.8 m/s there."""
    high = replace(dropped, release=replace(dropped.release, height=10_000.0))
    assert " IF the wind stays 5.8 m/s from 1000 m to 10000 m" in held_wind(high, "metric")
    assert " IF the wind stays 11.3 kt from 3281 ft to 32808 ft" in held_wind(high, "imperial")
    assert held_wind(dropped, "metric") == ""


def test_units_change_the_text_alone(dropped: Drop) -> None:
    assert " ft/s" in dropped.text("imperial")
    assert " m/s" not in dropped.text("imperial")
    assert dropped.to_dict()["touchdown"]["sink_m_s"] == dropped.touchdown.sink


def test_upwind_the_drift_of_the_air_is_named(heron: Design, dropped: Drop) -> None:
    """3 m/s from the west at every height: east by 3 m/s times the time. Downwind it is not named."""
    even = {"drop.height": "15 m", "drop.brakes": [], "site.wind.exponent": 0}
    into = drop(assemble(override(heron, even)))
    assert into.air_drift.tolist() == pytest.approx([0.0, 3.0 * into.time_aloft], abs=0.01)
    line = " ".join(into.report.first_line("metric").split())
    assert f"(W), upwind while the air drifts {3.0 * into.time_aloft:.0f} m E, after" in line
    away = drop(assemble(override(heron, {**even, "drop.heading": "90 deg"})))
    assert "drifts" not in away.report.first_line("metric")


def test_an_obstacle_is_left_to_landing(dropped: Drop) -> None:
    text = " ".join(dropped.text().split())
    words = "peak load at most 60 times its weight (a hit against an obstacle is judged by parasim landing)."
    assert words in text


def test_limits_that_are_not_kept_are_in_line_one(dropped: Drop) -> None:
    """15 m and released brakes: about 1.9 m/s down, under the 4 m/s of the file; over 1 m/s."""
    assert dropped.report.failures("metric") == []
    sink = dropped.touchdown.sink
    landing = dropped.vehicle.design.landing.model_copy(update={"max_sink": 1.0})
    design = dropped.vehicle.design.model_copy(update={"landing": landing})
    strict = replace(dropped, vehicle=replace(dropped.vehicle, design=design)).report
    assert strict.failures("metric") == [f"sink {sink:.2f} m/s (at most 1.00 m/s)"]
    assert strict.failures("imperial") == [f"sink {sink / 0.3048:.1f} ft/s (at most 3.3 ft/s)"]
    assert "NOT KEPT: sink" in strict.first_line("metric")


def test_brakes_are_no_matter_where_none_move(dropped: Drop) -> None:
    brakes = [caveat for caveat in dropped.caveats if "trailing edge" in caveat]
    assert brakes
    assert not any(map(dropped.report.touches, brakes))


def test_arrivals_have_the_keys_of_the_columns(dropped: Drop) -> None:
    document = dropped.to_dict()
    names = {column.name for column in TOUCHDOWN.values()} | {"mass_kg"}
    assert set(document["touchdown"]) == set(document["unopened"]) == names


def test_a_lost_drop_is_not_known(dropped: Drop) -> None:
    lost = replace(dropped, end=replace(dropped.end, ending="slack lines"))
    assert "how it lands is not known" in " ".join(lost.report.first_line("metric").split())
    assert [row[1] for row in touchdown_rows(lost, "metric")] == ["not known"] * len(TOUCHDOWN)
    assert lost.to_dict()["touchdown"] is None


def test_csv_begins_and_ends_where_the_drop_does(dropped: Drop) -> None:
    texts = dropped.to_csv()
    rows = list(csv.DictReader(texts["drop.csv"].splitlines()))
    assert list(texts) == ["drop.csv", "drop_heights.csv"]
    assert len(texts["drop_heights.csv"].splitlines()) > 5
    assert float(rows[0]["height_m"]) == pytest.approx(15)
    assert float(rows[-1]["time_s"]) == pytest.approx(dropped.time_aloft, abs=1e-4)
    assert all(0 <= float(row["heading_deg"]) <= 360 for row in rows)


def test_html_escapes_names(dropped: Drop) -> None:
    design = dropped.vehicle.design.model_copy(update={"name": "<b>&"})
    html = replace(dropped, vehicle=replace(dropped.vehicle, design=design))._repr_html_()
    assert "&lt;b&gt;&amp;" in html
    assert "<b>" not in html
    assert "<th>canopy open</th>" in html


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_nothing_is_wider_than_100_columns(dropped: Drop, units: System) -> None:
    assert max(map(len, dropped.report.text(units, every=True).splitlines())) <= 100
    said = "\n".join([dropped.report.text(units), *dropped.report.said_caveats(units)])
    assert not re.search(OTHER[units], said)


def test_a_headwind_that_falls_off_is_named_where_it_costs_sink(heron: Design, dropped: Drop) -> None:
    """Power law with 0.143, constant below 0.5 m: by hand, in 8 m/s at 10 m; in 3 m/s too little to name; the
    same wind at every height takes nothing, and the landing is as soft as in still air."""
    changes = {"drop.height": "15 m", "drop.brakes": [], "site.wind.speed": "8 m/s"}
    windy = drop(assemble(override(heron, changes)))
    top, end = windy.end.height + 3.0, max(windy.end.height, 0.5)
    lost = 8 * ((top / 10) ** 0.143 - (end / 10) ** 0.143)
    assert windy.headwind_lost == pytest.approx(lost, rel=1e-3)
    line = " ".join(windy.report.first_line("metric").split())
    assert f" down (faster for a headwind that falls off by {lost:.1f} m/s over the last 3 m) and " in line
    assert "headwind" not in dropped.report.first_line("metric")
    even = drop(assemble(override(heron, {**changes, "site.wind.exponent": 0})))
    assert even.headwind_lost == 0.0
    assert even.touchdown.sink < windy.touchdown.sink - 0.5


def test_where_it_comes_down_unopened_is_said(dropped: Drop) -> None:
    """3 m/s from the west: it goes east, by what a fall of 15 m without air takes and a little more."""
    north, east = unopened_drift(dropped.vehicle, 15.0)
    assert 2.0 * sqrt(2 * 15.0 / 9.81) < east < 1.1 * 3.3 * sqrt(2 * 15.0 / 9.81)
    assert abs(north) < 1e-9
    text = " ".join(dropped.text().split())
    assert f"from rest at 15 m, the wind takes it {east:.0f} m, bearing 090 deg (E), from the point" in text
    assert dropped.to_dict()["unopened_drift_m"] == pytest.approx(east)
