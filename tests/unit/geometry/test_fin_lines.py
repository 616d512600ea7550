"""Lines to the stabilisers: tabs, risers, and all that has to know of them."""

import json
from dataclasses import replace

import numpy as np
import pytest

from parasim.aerodynamics.drag import line_bodies
from parasim.config.loader import load_design, override
from parasim.dynamics.vehicle import assemble
from parasim.errors import DesignError
from parasim.flight.fin_loads import LEAN, edge_shares, fin_loads
from parasim.flight.line_loads import line_loads
from parasim.flight.lines import remeasured
from parasim.flight.trim import find_trims
from parasim.geometry.airfoil import lower_surface
from parasim.geometry.canopy import build_canopy
from parasim.geometry.fin_lines import fin_places, riser_of_fin_row
from parasim.geometry.lines import build_lines
from parasim.geometry.seams import tab_count
from parasim.mass.inventory import mass_items
from parasim.sewing.line_sheet import build_line_sheet
from parasim.sewing.templates import templates

BARE = {"canopy.stabilisers": {"height": "60 mm", "chord": "60 %"}}


def finned(design, **keys):
    return override(design, {"canopy.stabilisers": {**BARE["canopy.stabilisers"], **keys}})


def line_set(design):
    return build_lines(design, build_canopy(design))


@pytest.fixture(scope="module")
def lined(reference):
    return finned(reference, rows={"S": "50 %"})


def test_tab_by_hand(lined):
    """Front at 10 % of a 0.5 m chord, fin 0.3 m long: middle at 40 %; 60 mm below the lower skin."""
    canopy = build_canopy(lined)
    assert fin_places(lined, canopy) == {"S": pytest.approx(0.4)}
    left, right = line_set(lined).fins
    radius = 0.06 - float(lower_surface(canopy.outline, np.array([0.4]))[0]) * 0.5
    tip = canopy.point(np.array(canopy.half_arc), np.array(0.4), np.array(0.0))
    by_hand = tip - radius * canopy.outward(np.array(canopy.half_arc))
    np.testing.assert_allclose(right.end, by_hand, atol=1e-12)
    np.testing.assert_allclose(left.end, by_hand * [1, -1, 1], atol=1e-12)
    assert (left.label, right.label) == ("01L-S", "15R-S")
    np.testing.assert_array_equal(right.start, line_set(lined).riser_ends[1])
    assert right.length == pytest.approx(np.linalg.norm(by_hand - right.start))


def test_risers_by_the_nearest_row_or_as_named(configs):
    """dipper's rows A and B run to the front risers, C and D to the rear ones, at 60 and 85 %."""
    dipper = load_design(configs / "dipper.yaml")
    rows = {"S": "20 %", "T": "80 %"}  # at 22 and 58 % of the chord
    nearest = finned(dipper, rows=rows)
    assert riser_of_fin_row(nearest, build_canopy(nearest)) == {"S": 0, "T": 1}
    named = finned(dipper, rows=rows, front_rows=["S", "T"])
    assert riser_of_fin_row(named, build_canopy(named)) == {"S": 0, "T": 0}
    starts = [line.start for line in line_set(nearest).fins]
    np.testing.assert_array_equal(starts, line_set(nearest).riser_ends)


REFUSED = [
    ({"rows": {"A": "50 %"}}, "canopy.stabilisers.rows.A: lines.rows has a row A"),
    ({"rows": {"S": "50 %", "T": "40 %"}}, "row T does not lie behind row S"),
    (
        {"rows": {"S": "50 %"}, "front_rows": ["S"]},
        "canopy.stabilisers.front_rows.*a side has only one riser",
    ),
    ({"front_rows": ["S"]}, "there is no row S"),
]


@pytest.mark.parametrize(("keys", "told"), REFUSED, ids=[told for _, told in REFUSED])
def test_refused_in_words(reference, keys, told):
    with pytest.raises(DesignError, match=told):
        finned(reference, **keys)


def test_drag_and_mass_know_them(reference, lined):
    """One more line a side: its drag area, its mass with two loops less a tab of 20 mm, two tabs of tape."""
    plain, found = line_set(override(reference, BARE)), line_set(lined)
    length = sum(line.length for line in found.fins)
    areas = [line_bodies(each, 1.2).drag_area.sum() for each in (plain, found)]
    assert areas[1] - areas[0] == pytest.approx(1.2 * 0.8e-3 * length)
    masses = [
        {item.name: item.properties.mass for item in mass_items(design, build_canopy(design), lines)}
        for design, lines in ((override(reference, BARE), plain), (lined, found))
    ]
    assert masses[1]["lines"] - masses[0]["lines"] == pytest.approx(0.5e-3 * (length + 4 * 0.060 - 2 * 0.020))
    assert masses[1]["tape"] - masses[0]["tape"] == pytest.approx(2 * 0.060 * lined.sewing.tape)
    canopy = build_canopy(lined)
    assert tab_count(lined, canopy) == tab_count(override(reference, BARE), canopy) + 2


def test_sheet_and_template(lined):
    canopy = build_canopy(lined)
    sheet = build_line_sheet(lined, canopy, line_set(lined), tension={})
    entry = next(each for each in sheet.entries if each.label == "15R-S")
    assert (entry.kind, entry.rib, entry.group) == ("fin", 15, "S")
    assert entry.cut == pytest.approx(entry.finished + 0.120)
    assert "just taut" in entry.remark
    assert next(total for total in sheet.totals if total.group == "S").count == 2
    fin = next(piece for piece in templates(lined).pieces if piece.kind == "stabiliser")
    assert "S" in [tag.text for tag in fin.tags]
    lower = fin.edge("lower")
    assert any(
        abs(path.points[:, 0] - 0.4 * 500).max() < 1.0 and path.points[:, 1].min() < lower.points[:, 1].min()
        for path in fin.marks
    )


@pytest.fixture(scope="module")
def flown(lined):
    vehicle = assemble(lined)
    return vehicle, find_trims(vehicle, modes=False).chosen


def test_load_by_hand(flown):
    """Square to the flow 1.2 q A, half of it at the lower edge, over the sine of 10 deg."""
    vehicle, trim = flown
    found = fin_loads(vehicle, trim)
    pressure = 0.5 * trim.air_density * trim.airspeed**2
    assert found.most == pytest.approx(0.5 * 1.2 * pressure * 0.06 * 0.3 / np.sin(np.radians(10)))
    assert 0 < found.tension["15R-S"] < found.most
    assert found.tension["01L-S"] == pytest.approx(found.tension["15R-S"])
    np.testing.assert_allclose(found.pull[0], found.pull[1] * [1, -1, 1], atol=1e-12)
    assert np.degrees(LEAN) == pytest.approx(10)


def test_loads_say_that_they_are_estimates(flown):
    vehicle, trim = flown
    loads = line_loads(vehicle, trim)
    assert loads.opening_of("15R-S") >= loads.fins.bound["15R-S"]
    assert "15R-S" not in loads.slack
    assert any("area and dynamic pressure" in caveat for caveat in loads.caveats)
    weak = replace(loads, stock=replace(loads.stock, strength=0.1))
    assert any("may break in side flow" in caveat for caveat in weak.caveats)


def test_shares_of_three_tabs():
    assert edge_shares({"S": 0.0, "T": 0.5, "U": 1.0}) == pytest.approx({"S": 0.25, "T": 0.5, "U": 0.25})


def test_a_longer_fin_line_does_not_turn_the_canopy(flown):
    vehicle, _ = flown
    change = {line.label: 0.0 for line in vehicle.line_set.lines} | {"15R-S": 0.02}
    found = remeasured(vehicle, change)
    assert found.rigging.rigging_angle == pytest.approx(found.designed_rigging.rigging_angle, abs=1e-9)
    assert set(found.row_change) == {"A", "B", "C", "D", "brake"}


def test_without_lines_it_says_so_once(reference, lined):
    said = [w for w in override(reference, BARE).warnings() if "stabilisers: without lines" in w]
    assert len(said) == 1
    assert said[0].about == "fins"
    assert not any("stabilisers" in w for w in lined.warnings())
    assert not any("stabilisers" in w for w in reference.warnings())


def test_the_lines_document_has_them(reference, lined):
    from parasim.making.lines import lines

    found = json.loads(json.dumps(lines(assemble(lined)).report.document()))
    assert [each["label"] for each in found["loads"]["stabilisers"]] == ["01L-S", "15R-S"]
    assert next(each for each in found["lines"] if each["label"] == "15R-S")["kind"] == "fin"
