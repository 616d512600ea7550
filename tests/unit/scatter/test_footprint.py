"""Landing regions: a bivariate normal has closed forms; other clouds must hold what they say too."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.ndimage import map_coordinates
from shapely import MultiPolygon, Polygon, contains_xy

from parasim.scatter.footprint import FEWEST, LEVELS, Density, Footprint, Region, footprint

MEAN = np.array([50.0, -20.0])
COVARIANCE = np.array([[400.0, 150.0], [150.0, 100.0]])


def cloud(n: int, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).multivariate_normal(MEAN, COVARIANCE, n)


def shape(region: Region) -> MultiPolygon:
    return MultiPolygon([Polygon(rings[0], rings[1:]) for rings in region.polygons])


def held(region: Region, points: np.ndarray) -> float:
    return float(np.mean(contains_xy(shape(region), points[:, 0], points[:, 1])))


@pytest.fixture(scope="module")
def normal() -> Footprint:
    points = cloud(4000, 1)
    found = footprint(points[:, 0], points[:, 1])
    assert found is not None
    return found


def test_regions_of_a_normal_hold_what_they_say(normal: Footprint) -> None:
    """Fresh landings, never seen by the estimate: within three deviations of a sample of 4000, and 1 %."""
    fresh = cloud(50000, 2)
    for region in normal.regions:
        p = region.level
        allowed = 3 * np.sqrt(p * (1 - p) / 4000) + 0.01 * (1 - p)
        assert held(region, fresh) == pytest.approx(p, abs=allowed)
        assert region.held == pytest.approx(p, abs=allowed)
        assert region.cross_checked is not None
        assert region.cross_checked == pytest.approx(p, abs=3 * np.sqrt(p * (1 - p) / 1000))


def test_area_of_a_normal_has_a_closed_form(normal: Footprint) -> None:
    """pi chi2(p, 2) sqrt|C|: the smallest region that holds p. The estimate may be a little wider."""
    for region, ellipse in zip(normal.regions, normal.ellipses, strict=True):
        area = np.pi * stats.chi2(2).ppf(region.level) * np.sqrt(np.linalg.det(COVARIANCE))
        assert ellipse.area == pytest.approx(area, rel=0.05)
        assert region.area == pytest.approx(area, rel=0.10)


def test_ellipse_lies_along_the_cloud(normal: Footprint) -> None:
    variance, axes = np.linalg.eigh(COVARIANCE)
    along = np.degrees(np.arctan2(*axes[:, 1])) % 180
    for ellipse in normal.ellipses:
        assert np.degrees(ellipse.bearing) == pytest.approx(along, abs=2)
        assert ellipse.held == pytest.approx(ellipse.level, abs=0.02)
        off = ellipse.outline() - ellipse.center
        far = off[np.argmax(np.hypot(*off.T))]
        assert np.degrees(np.arctan2(*far)) % 180 == pytest.approx(along, abs=4)
        assert ellipse.semi_axes[0] / ellipse.semi_axes[1] == pytest.approx(
            np.sqrt(variance[1] / variance[0]), rel=0.05
        )
        inside = Polygon(ellipse.outline()).area
        assert inside == pytest.approx(ellipse.area, rel=0.01)


def test_density_is_that_of_a_library() -> None:
    points = cloud(3000, 3)
    ours, theirs = Density.of(points, np.zeros(3000, int)), stats.gaussian_kde(points.T)
    some = points[:300]
    place = (np.linalg.solve(ours.to_map, some.T) - ours.corner[:, None]) / ours.cell
    found = map_coordinates(ours.grid, place, order=1) / abs(np.linalg.det(ours.to_map))
    np.testing.assert_allclose(found, theirs(some.T), rtol=0.05)
    assert np.median(found / theirs(some.T)) == pytest.approx(1.0, abs=0.005)


def bent(n: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """A bent cloud, and one landing in fifty near the release: no ellipse fits it."""
    rng = np.random.default_rng(seed)
    angle = rng.normal(0, 0.5, n)
    points = np.column_stack([200 * np.sin(angle), 200 * np.cos(angle)]) + rng.normal(0, 6, (n, 2))
    apart = rng.random(n) < 0.02
    points[apart] = rng.normal(0, 4, (int(apart.sum()), 2))
    return points, apart.astype(int)


def test_other_clouds_hold_what_they_say_too() -> None:
    points, cluster = bent(4000, 4)
    found = footprint(points[:, 0], points[:, 1], cluster)
    assert found is not None
    fresh, _ = bent(50000, 5)
    for region in found.regions:
        p = region.level
        assert held(region, fresh) == pytest.approx(p, abs=3 * np.sqrt(p * (1 - p) / 4000) + 0.01)
    assert len(found.regions[2].polygons) == 2
    # where no normal cloud is, its ellipse misses: too large for its half, and it says so
    assert found.ellipses[0].held > 0.6
    assert found.regions[1].area < 0.6 * found.ellipses[1].area


def test_rings_are_closed_and_turn_the_right_way() -> None:
    points, cluster = bent(1500, 6)
    found = footprint(points[:, 0], points[:, 1], cluster)
    assert found is not None
    for region in found.regions:
        assert shape(region).is_valid
        for outer, *holes in region.polygons:
            assert (outer[0] == outer[-1]).all()
            assert Polygon(outer).exterior.is_ccw
            assert not any(Polygon(hole).exterior.is_ccw for hole in holes)


def test_a_ring_of_landings_has_a_hole() -> None:
    rng = np.random.default_rng(7)
    angle = rng.uniform(0, 2 * np.pi, 3000)
    points = 100 * np.column_stack([np.sin(angle), np.cos(angle)]) + rng.normal(0, 3, (3000, 2))
    found = footprint(points[:, 0], points[:, 1])
    assert found is not None
    (rings,) = found.regions[2].polygons
    outer, hole = (Polygon(ring) for ring in rings)
    assert outer.contains(hole)
    assert outer.exterior.is_ccw != hole.exterior.is_ccw
    assert hole.contains(Polygon([(-30, -30), (30, -30), (30, 30), (-30, 30)]))


@pytest.mark.parametrize("scale", [(0.0, 0.0), (10.0, 0.0), (0.0, 10.0), (1000.0, 0.01)])
def test_thin_clouds_have_regions_too(scale: tuple[float, float]) -> None:
    rng = np.random.default_rng(8)
    points = 1000.0 + rng.normal(0, 1, (200, 2)) * scale
    found = footprint(points[:, 0], points[:, 1])
    assert found is not None
    assert [region.level for region in found.regions] == list(LEVELS)
    areas = [region.area for region in found.regions]
    assert areas == sorted(areas)
    assert all(region.held >= 0.45 for region in found.regions)


def test_too_few_landings_have_none() -> None:
    points = cloud(FEWEST - 1, 9)
    assert footprint(points[:, 0], points[:, 1]) is None
