"""Rings on the risers: where they are, how far the brake line bends, and what of it is cut."""

import numpy as np
import pytest

from parasim.config.loader import load_design, override
from parasim.geometry.brake_ring import brake_onward
from parasim.geometry.canopy import build_canopy
from parasim.geometry.lines import build_lines
from parasim.sewing.line_sheet import build_line_sheet


def ringed(design, **ring):
    return override(design, {"brakes.ring": {"below": "40 mm", **ring}})


def line_set(design):
    return build_lines(design, build_canopy(design))


def test_ring_lies_down_the_riser_and_the_trunk_ends_there(reference):
    found, plain = line_set(ringed(reference)), line_set(reference)
    np.testing.assert_allclose(found.rings.place, plain.riser_ends + np.array([0.0, 0.0, 0.04]), atol=1e-12)
    np.testing.assert_allclose(found.rings.guide, plain.riser_ends + np.array([0.0, 0.0, 0.15]), atol=1e-12)
    np.testing.assert_array_equal(found.brake_trunk.start, found.rings.place[1])
    assert found.rings.onward == pytest.approx(0.11)
    assert plain.brake_bend is None


def test_bend_by_hand(reference):
    """The way down the riser is straight down, so the bend is the trunk's angle off the upright."""
    found = line_set(ringed(reference))
    trunk = found.brake_trunk
    upright = (trunk.start - trunk.end)[2] / trunk.length
    assert found.brake_bend == pytest.approx(np.arccos(upright))
    knot = trunk.end - trunk.start
    back = line_set(ringed(reference, guide=[0.0, 0.0, -0.15]))  # led up again past the ring
    assert back.brake_bend > np.pi / 2
    assert np.degrees(back.brake_bend) == pytest.approx(180 - np.degrees(found.brake_bend), abs=1e-6)
    assert knot[2] < 0


def test_a_guide_in_line_with_the_knot_bends_nothing(reference):
    trunk = line_set(ringed(reference)).brake_trunk
    on = trunk.start - 0.1 * (trunk.end - trunk.start) / trunk.length
    hook = np.array([0.0, 0.05, 0.15])
    guide = [float(on[0] - hook[0]), float(on[1] - hook[1]), float(on[2] - hook[2])]
    assert line_set(ringed(reference, guide=guide)).brake_bend == pytest.approx(0.0, abs=1e-6)


def test_front_and_rear_risers(configs):
    dipper = load_design(configs / "dipper.yaml")
    rear, front = (line_set(ringed(dipper, below="20 mm", riser=riser)) for riser in ("rear", "front"))
    ends = line_set(dipper).riser_ends
    for found, nearest in ((front, ends[:2]), (rear, ends[2:])):
        np.testing.assert_allclose(np.linalg.norm(found.rings.place - nearest, axis=-1), 0.02)
    assert line_set(ringed(dipper, below="20 mm")).brake_trunk.length == rear.brake_trunk.length


def test_the_sheet_measures_along_the_path(reference):
    """To the mark at the ring; below it the way on to the guide, the travel and a loop."""
    design = ringed(reference, guide=["30 mm", "0 mm", "40 mm"])
    canopy = build_canopy(design)
    lines = build_lines(design, canopy)
    sheet = build_line_sheet(design, canopy, lines, tension={})
    entry = next(each for each in sheet.entries if each.label == "R-brake-1+2+3")
    onward = np.hypot(0.03, 0.15)
    assert brake_onward(design) == pytest.approx(onward)
    assert entry.finished == pytest.approx(np.linalg.norm(lines.brake_trunk.end - lines.rings.place[1]))
    assert entry.cut == pytest.approx(entry.finished + 2 * 0.060 + onward + 0.12)
    assert "zero at the ring" in entry.remark
