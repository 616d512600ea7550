"""Strips, skins and slices of the canopy."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.geometry.airfoil import section_area
from parasim.geometry.canopy import Canopy, build_canopy
from parasim.geometry.surface import cosine_strips, facets, section_slices, skin_points


@pytest.fixture(scope="module")
def canopy(reference: Design) -> Canopy:
    return build_canopy(reference)


def test_strips_cover_the_span(canopy: Canopy) -> None:
    strips = cosine_strips(canopy, 12)
    assert strips.width.sum() == pytest.approx(canopy.span)
    assert (strips.chord * strips.width).sum() == pytest.approx(canopy.flat_area)
    assert strips.width[0] < strips.width[5]


def test_middles_are_mid_angles(canopy: Canopy) -> None:
    """-h cos((i + 1/2) pi/n): the two outer strips of four lie at -cos(22.5 deg) and -cos(67.5 deg)."""
    strips = cosine_strips(canopy, 4)
    expected = -canopy.half_arc * np.cos(np.radians([22.5, 67.5, 112.5, 157.5]))
    np.testing.assert_allclose(strips.arc_angle, expected)
    np.testing.assert_allclose(
        strips.edge_angle, -canopy.half_arc * np.cos(np.radians([0, 45, 90, 135, 180]))
    )


def test_strip_axes(canopy: Canopy) -> None:
    """Chordwise, spanwise and outward are a right-handed triple."""
    strips = cosine_strips(canopy, 6)
    np.testing.assert_allclose(np.cross(strips.chordwise, strips.spanwise), strips.outward, atol=1e-12)
    np.testing.assert_allclose(
        strips.leading_edge, strips.quarter_chord + [0.25 * 0.5, 0, 0] * np.ones((6, 1)), atol=1e-12
    )


def test_edges_are_a_chord_apart(canopy: Canopy) -> None:
    strips = cosine_strips(canopy, 6)
    np.testing.assert_allclose(np.linalg.norm(strips.edge_trail - strips.edge_lead, axis=1), 0.5)


def test_a_facet_by_hand():
    """Unit square in the plane z = 0."""
    points = np.array([[[0.0, 0, 0], [1, 0, 0]], [[0, 1, 0], [1, 1, 0]]])
    found = facets(points)
    assert found.total == pytest.approx(1.0)
    np.testing.assert_allclose(found.center, [[0.5, 0.5, 0.0]])


def test_skin_points_shape(canopy: Canopy) -> None:
    points = skin_points(canopy, per_half_cell=3, upper=True)
    assert points.shape[0] == 3 * 14 + 1
    np.testing.assert_allclose(points[:, 0, 0], points[0, 0, 0])


def test_slices_add_up_to_the_section(canopy: Canopy) -> None:
    """Midpoint rule on 24 slices: within 1 % of the polygon, most of it lost at the blunt nose."""
    slices = section_slices(canopy, np.array([0.0, 0.3]))
    np.testing.assert_allclose(slices.area.sum(axis=1), section_area(canopy.outline) * 0.25, rtol=0.01)
