"""Report of a scatter: blocks, shares and spreads of the document, CSV, maps, HTML."""

from __future__ import annotations

import csv
import re
from dataclasses import replace

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.flight.drop import CAUTIONS
from parasim.manual.json_keys import documented_keys
from parasim.report.scatter import (
    MEMBER_FIGURES,
    SHARE_COLUMNS,
    SPREAD_NUMBERS,
    ScatterReport,
    input_key,
    spread_document,
)
from parasim.scatter.inputs import Input
from parasim.scatter.members import TOO_LATE, UNOPENED
from parasim.scatter.scatter import Scatter
from tests.texts import flowing
from tests.unit.scatter.test_scatter import scattered


@pytest.fixture(scope="module")
def found(heron: Design) -> Scatter:
    changes = {
        "scatter.target": {"north": "10 m", "east": "-140 m"},
        "landing.max_sink": "2 m/s",
        "landing.max_load": 30,
    }
    return scattered(override(heron, changes), drops=300)


def test_line_one_gives_the_ground_to_keep_clear(found: Scatter) -> None:
    """The radius about the point under the release that holds all landings, by the landings themselves."""
    distance = np.hypot(found.landed.north, found.landed.east)
    line = flowing(found.report.first_line("metric"))
    clear = f"all of these lie within {distance.max():.0f} m of the point under the release"
    assert line.startswith(f"heron, 300 drops: {clear}")
    assert f"(99 % within {found.reach.quantiles[-1]:.0f} m; brakes as in the file, how far one can " in line
    assert "(assumed: 1 % never open)" in line
    unopened = int(np.isin(found.members.outcome, (TOO_LATE, UNOPENED)).sum())
    assert found.unopened.count == unopened
    assert f"{100 * unopened / 300:.1f} % (" in line
    assert f"within {distance.max() / 0.3048:.0f} ft of" in flowing(found.report.first_line("imperial"))


def test_line_one_gives_the_limits_that_are_passed(found: Scatter) -> None:
    over = {each.name: each for each in found.limits}
    assert over["sink"].count > 0
    line = flowing(found.report.first_line("metric"))
    assert f"NOT KEPT: {100 * over['any'].value:.1f} % (" in line
    assert f"sink over 2.00 m/s in {over['sink'].count}" in line
    assert "sink over 6.6 ft/s in" in flowing(found.report.first_line("imperial"))
    none = replace(found, limits=())
    assert "the file gives no limits" in flowing(none.report.first_line("metric"))


def test_the_chances_say_whose_numbers_they_are(found: Scatter, heron: Design) -> None:
    assert re.search(r"never opens +1 % +our choice, no source", found.text())
    own = override(heron, {"scatter.unopened": "2 %", "scatter.late.probability": "5 %"})
    told = replace(found, vehicle=replace(found.vehicle, design=own)).text()
    assert re.search(r"never opens +2 % +the design file", told)
    assert re.search(r"opens late +5 % +the design file", told)
    assert re.search(r"late by, on average +1.0 s +our choice", told)


def test_cautions_end_the_text_and_nothing_is_wide(found: Scatter) -> None:
    for units in ("metric", "imperial"):
        text = found.text(units)
        assert flowing(text).endswith(" ".join(f"caution: {caution}" for caution in CAUTIONS))
        assert max(map(len, text.splitlines())) <= 100
    assert "come down within" in flowing(found.text())
    assert replace(found, drops=400).text().startswith("PARTIAL: heron, 300 drops")
    assert repr(found) == "<Scatter of heron>"


def test_without_a_target_nothing_is_said_of_one(found: Scatter) -> None:
    text = flowing(replace(found, advice=None).text())
    assert "target" not in text
    assert "target" in flowing(found.text())


def test_shares_of_the_document_are_the_columns(found: Scatter) -> None:
    document = found.to_dict()
    names = [column.name for column in SHARE_COLUMNS]
    for row, share in zip(document["outcomes"], found.outcomes, strict=True):
        assert list(row) == ["outcome", *names]
        assert row["share_percent"] == 100 * share.value
    assert list(document["advice"]["within"]) == names


def test_limits_are_numbers_with_their_unit(found: Scatter) -> None:
    limits = {row["figure"]: row for row in found.to_dict()["over_limits"]}
    assert limits["sink"]["limit_m_s"] == 2.0
    assert limits["load"]["limit_g"] == 30
    assert not any(key.startswith("limit") for key in limits["any"])
    assert "2.00 m/s" in found.text()
    assert "30 weights" in found.text()


SPREADS = [
    ("heading", {"normal": "10 deg", "mean": "-2 deg"}, {"mean_offset": -2.0, "deviation": 10.0}),
    ("payload_mass", {"normal": "2 %"}, {"mean_offset_fraction": 0.0, "deviation_fraction": 0.02}),
    ("release_height", {"uniform": ["-3 m", "5 m"]}, {"low_offset": -3.0, "high_offset": 5.0}),
    (
        "left_trim",
        {"triangular": ["-2 %", "1 %", "4 %"]},
        {"low_offset": -0.02, "likely_offset": 0.01, "high_offset": 0.04},
    ),
    ("wind_speed", {"lognormal": "20 %"}, {"log_deviation": 0.2}),
]


@pytest.mark.parametrize(("name", "given", "wanted"), SPREADS, ids=[name for name, *_ in SPREADS])
def test_spreads_are_numbers_in_the_unit_of_their_key(heron: Design, name, given, wanted) -> None:
    spread = getattr(override(heron, {f"scatter.{name}": given}).scatter, name)
    nominal = np.radians(270.0) if name == "heading" else 1.5
    document = spread_document(Input(name=name, nominal=float(nominal), spread=spread))
    assert document.pop("nominal") == pytest.approx(270.0 if name == "heading" else 1.5)
    assert document.pop("distribution") in given
    assert document == pytest.approx(wanted)


def test_spreads_bear_the_heads_of_the_landings(heron: Design) -> None:
    varied = override(
        heron, {"scatter.release_height": {"normal": "3 m"}, "scatter.heading": {"normal": "9 deg"}}
    )
    scatter = scattered(varied, drops=100)
    document = scatter.to_dict()["spreads"]
    assert list(document) == [input_key(each.name) for each in scatter.inputs]
    assert document["heading_deg"]["deviation"] == pytest.approx(9.0)
    rows = list(csv.DictReader(scatter.to_csv()["landings.csv"].splitlines()))
    assert list(rows[0]) == ["number", "outcome", "status", *MEMBER_FIGURES, *document]


def test_the_manual_tells_every_key_of_a_spread() -> None:
    told = documented_keys("scatter")
    keys = {"nominal", "distribution", "low", "high", "_fraction"}.union(*SPREAD_NUMBERS.values())
    assert {key for key in keys if f"`{key}`" not in told} == set()


def test_landings_hold_what_the_members_hold(found: Scatter) -> None:
    rows = list(csv.DictReader(found.to_csv()["landings.csv"].splitlines()))
    landed = found.landed
    assert len(rows) == len(landed)
    for i in (0, len(rows) - 1):
        assert float(rows[i]["north_m"]) == pytest.approx(landed.north[i], abs=5.1e-5)
        assert float(rows[i]["energy_j"]) == pytest.approx(landed.energy[i], abs=5.1e-5)


def test_maps_need_a_position_and_say_so(found: Scatter) -> None:
    report = ScatterReport(found)
    assert list(report.others("metric")) == []
    (sentence,) = report.unwritten()
    assert sentence.startswith("No GeoJSON and no KML: the site has no position")
    design = override(found.vehicle.design, {"site.position": [47.1, 11.2]})
    placed = ScatterReport(replace(found, vehicle=replace(found.vehicle, design=design)))
    assert [name for name, _ in placed.others("metric")] == ["footprint.geojson", "footprint.kml"]
    assert placed.unwritten() == ()


def test_html_escapes_the_name(found: Scatter) -> None:
    design = found.vehicle.design.model_copy(update={"name": "<u>x"})
    page = replace(found, vehicle=replace(found.vehicle, design=design))._repr_html_()
    assert "&lt;u&gt;x, 300 drops" in page
    assert "<u>" not in page


def test_the_check_on_unseen_landings_is_explained_below_its_column(found: Scatter) -> None:
    text = flowing(found.text())
    assert "Check on unseen landings: the region drawn from half of the landings" in text
