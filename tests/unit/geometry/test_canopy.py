"""The arced canopy by hand: areas, ribs, places, volume."""

from __future__ import annotations

from dataclasses import replace
from math import cos, degrees, pi, sin

import numpy as np
import pytest
from shapely import Polygon

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.geometry.canopy import Canopy, Stabiliser, build_canopy
from parasim.geometry.surface import lower_skin, skin_points, upper_skin


@pytest.fixture(scope="module")
def canopy(reference: Design) -> Canopy:
    return build_canopy(reference)


@pytest.fixture(scope="module")
def tapered(canopy: Canopy) -> Canopy:
    return replace(canopy, taper=0.5)


def test_flat_area_and_aspect_ratio(canopy: Canopy, tapered: Canopy) -> None:
    """1.10 x 0.50 = 0.55 m2, A 2.2; half the chord at the tips makes 0.4125 m2."""
    assert canopy.flat_area == pytest.approx(0.55)
    assert canopy.aspect_ratio == pytest.approx(2.2)
    assert tapered.flat_area == pytest.approx(0.4125)
    assert tapered.mean_square_chord == pytest.approx(0.25 * 1.75 / 3)


def test_arc(canopy: Canopy) -> None:
    """0.55/0.75 rad = 42 deg down at the tips; 2 R sin = 1.004 m across."""
    assert degrees(canopy.half_arc) == pytest.approx(42.017, abs=0.001)
    assert canopy.projected_span == pytest.approx(2 * 0.75 * sin(0.55 / 0.75))
    assert canopy.projected_area == pytest.approx(0.5 * canopy.projected_span, rel=1e-5)


def test_projected_area_of_a_tapered_wing(tapered: Canopy) -> None:
    """Integral of c0 (1 - (1 - t) a/h) cos(a) R over -h..h: 2 R c0 [sin h - (1-t)(sin h + (cos h - 1)/h)]."""
    h = tapered.half_arc
    expected = 2 * 0.75 * 0.5 * (sin(h) - 0.5 * (sin(h) + (cos(h) - 1) / h))
    assert tapered.projected_area == pytest.approx(expected, rel=1e-5)


def test_ribs(canopy: Canopy) -> None:
    assert canopy.n_ribs == 15
    assert len(canopy.rib_angle[canopy.loaded_ribs]) == 8
    np.testing.assert_allclose(canopy.rib_angle, -canopy.rib_angle[::-1])


def test_quarter_chord_is_where_the_lines_hold_it(canopy: Canopy) -> None:
    """0.75 m of line at 6 deg nose-down: (-0.0784, 0, -0.7459)."""
    np.testing.assert_allclose(canopy.quarter_chord, [-0.0784, 0.0, -0.7459], atol=5e-5)
    centre = canopy.point(np.array(0.0), np.array(0.25), np.array(0.0))
    np.testing.assert_allclose(centre, canopy.quarter_chord)


def test_tip_hangs_down_and_out(canopy: Canopy) -> None:
    tip = canopy.point(np.array(canopy.half_arc), np.array(0.25), np.array(0.0)) - canopy.quarter_chord
    h = canopy.half_arc
    np.testing.assert_allclose(tip, [0.0, 0.75 * sin(h), 0.75 * (1 - cos(h))])


def test_unit_vectors_are_square_to_each_other(canopy: Canopy) -> None:
    angle = canopy.rib_angle
    outward, spanwise = canopy.outward(angle), canopy.spanwise(angle)
    np.testing.assert_allclose(np.sum(outward * spanwise, axis=-1), 0.0, atol=1e-15)
    np.testing.assert_allclose(np.cross(spanwise, [1.0, 0, 0]), outward, atol=1e-15)


def test_quarter_chord_line_is_straight_under_taper(tapered: Canopy) -> None:
    points = tapered.point(tapered.rib_angle, np.array(0.25), np.array(0.0))
    np.testing.assert_allclose(points[:, 0], tapered.quarter_chord[0])


def test_tabs_lie_on_the_lower_skin_of_loaded_ribs(canopy: Canopy) -> None:
    tabs = canopy.tabs(np.array([0.1, 0.85]))
    assert tabs.shape == (2, 8, 3)
    np.testing.assert_allclose(tabs[:, :, 1], -tabs[:, ::-1, 1], atol=1e-12)
    np.testing.assert_allclose(tabs[0, :, 0] - tabs[1, :, 0], 0.75 * 0.5)


def test_volume_by_pappus(canopy: Canopy) -> None:
    """Section area times the path of its centroid (Pappus), with a polygon library's area and centroid."""
    section = Polygon(canopy.outline)
    path = 2 * canopy.half_arc * (0.75 + section.centroid.y * 0.5)
    assert canopy.volume == pytest.approx(section.area * 0.25 * path, rel=1e-9)


def test_volume_of_a_tapered_wing(tapered: Canopy) -> None:
    """Slice by slice along the arc."""
    section = Polygon(tapered.outline)
    angle = np.linspace(-tapered.half_arc, tapered.half_arc, 20001)
    chord = tapered.chord_at(angle)
    slices = section.area * chord**2 * (0.75 + section.centroid.y * chord)
    assert tapered.volume == pytest.approx(float(np.trapezoid(slices, angle)), rel=1e-6)


def test_rib_area_less_crossports(canopy: Canopy) -> None:
    """Three holes of 6 % chord: 3 pi 0.06^2/4 = 0.00848 of the chord squared, on inner ribs only."""
    whole = Polygon(canopy.outline).area * 0.25
    assert canopy.rib_area[0] == pytest.approx(whole)
    assert canopy.rib_area[7] == pytest.approx(whole - 3 * pi * 0.06**2 / 4 * 0.25)


def test_skins_against_perimeter_times_arc(canopy: Canopy) -> None:
    """Every piece of skin sweeps an arc of its own radius: sum of length x (R + z) x angle."""
    outline = canopy.outline
    nose = int(np.argmin(outline[:, 0]))
    upper = outline[: nose + 1] * 0.5
    length = np.hypot(*np.diff(upper, axis=0).T)
    radius = 0.75 + (upper[1:, 1] + upper[:-1, 1]) / 2
    assert upper_skin(canopy).total == pytest.approx(float(length @ radius) * 2 * canopy.half_arc, rel=1e-3)


def test_lower_skin_begins_at_the_lip(canopy: Canopy) -> None:
    points = skin_points(canopy, upper=False)
    lip = canopy.quarter_chord[0] + (0.25 - canopy.inlet.lower_lip) * 0.5
    np.testing.assert_allclose(points[:, 0, 0], lip)
    assert lower_skin(canopy).total < upper_skin(canopy).total


def test_stabiliser_area_and_its_chord_on_the_tip(reference: Design) -> None:
    assert Stabiliser(height=0.06, chord=0.3).area == pytest.approx(0.018)
    changes = {"canopy.taper": 0.6, "canopy.stabilisers": {"height": 0.06, "chord": 0.6}}
    canopy = build_canopy(override(reference, changes))
    assert canopy.stabiliser is not None
    assert canopy.stabiliser.chord == pytest.approx(0.6 * 0.6 * 0.5)


def test_arc_radius_left_out_is_the_line_length(reference: Design) -> None:
    changes = {"canopy.arc_radius": None, "lines.length": 0.9}
    assert build_canopy(override(reference, changes)).arc_radius == pytest.approx(0.9)
