"""Where landings fall: smallest regions that hold a part of them, and the ellipse of a normal cloud beside.

A region of highest density is right for clouds of any shape, also in several pieces. The density is a kernel
estimate: every landing is spread out as a normal patch. The level of the region that holds 90 % is the
density that 90 % of the landings exceed, each judged by the others alone. Source: [Hyndman1996] for regions
so defined, [Scott2015] for the width of the patches.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from parasim.rotations import FloatArray

LEVELS = (0.5, 0.9, 0.99)
"""Parts of the landings that the regions hold."""

FEWEST = 20
"""Landings below which no region is drawn. Our choice."""

FEWEST_OF_TAIL = 500
"""Landings below which the 99 % region rests on a handful. Our choice."""

SMALLEST_SPREAD = 0.05
"""Minimum standard deviation of a cloud in any direction, so that a line of landings has a region too. [m]"""

CELLS = 5
"""Cells of the grid to one kernel width: it then adds 1/600 to the variance of the patches."""

MARGIN = 5
"""Kernel widths of grid around the outermost landings."""

MOST_CELLS = 1500
"""Along one side of the grid; a wider cloud gets coarser cells."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Region:
    """Region that holds a part of the landings.

    Attributes
    ----------
    level : float
        Part that it should hold. [-]
    polygons : tuple of tuple of ndarray, each of shape (n, 2)
        East and north of closed rings: the outer one first, anticlockwise, then holes, clockwise. [m]
    area : float
        [m²]
    held : float
        Part of the landings in it. [-]
    cross_checked : float or None
        Part of every other landing in the region drawn from the rest alone; None for too few. [-]
    """

    level: float
    polygons: tuple[tuple[FloatArray, ...], ...]
    area: float
    held: float
    cross_checked: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ellipse:
    """Region of a bivariate normal with the mean and covariance of the landings.

    Attributes
    ----------
    level : float
        Part that it would hold if the cloud were normal. [-]
    center : ndarray, shape (2,)
        East, north. [m]
    semi_axes : ndarray, shape (2,)
        Longer, shorter. [m]
    bearing : float
        Of the longer axis, 0 to pi. [rad]
    held : float
        Part of the landings in it. [-]
    """

    level: float
    center: FloatArray
    semi_axes: FloatArray
    bearing: float
    held: float

    @property
    def area(self) -> float:
        """[m²]"""
        return float(np.pi * self.semi_axes.prod())

    def outline(self, points: int = 91) -> FloatArray:
        """East and north around it, shape (points, 2). [m]"""
        angle = np.linspace(0, 2 * np.pi, points)
        along = np.array([np.sin(self.bearing), np.cos(self.bearing)])
        across = np.array([np.cos(self.bearing), -np.sin(self.bearing)])
        a, b = self.semi_axes
        return self.center + a * np.outer(np.cos(angle), along) + b * np.outer(np.sin(angle), across)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Footprint:
    """Cloud of landings.

    Attributes
    ----------
    center : ndarray, shape (2,)
        Mean east and north. [m]
    covariance : ndarray, shape (2, 2)
        Of east and north. [m²]
    regions : tuple of Region
        At `LEVELS`.
    ellipses : tuple of Ellipse
        At the same.
    """

    center: FloatArray
    covariance: FloatArray
    regions: tuple[Region, ...]
    ellipses: tuple[Ellipse, ...]


def footprint(east: FloatArray, north: FloatArray, cluster: np.ndarray | None = None) -> Footprint | None:
    """Regions that hold parts of a cloud; None for fewer than `FEWEST` landings.

    Parameters
    ----------
    east, north : ndarray, shape (n,)
        [m]
    cluster : ndarray of int, shape (n,), optional
        Which of several clouds each belongs to; the patches take their width from within the clouds.
    """
    points = np.column_stack([east, north])
    if len(points) < FEWEST:
        return None
    cluster = np.zeros(len(points), np.int64) if cluster is None else cluster
    covariance = np.cov(points.T)
    density = Density.of(points, cluster)
    halves = (slice(0, None, 2), slice(1, None, 2))
    half = Density.of(points[halves[0]], cluster[halves[0]]) if len(points) >= 2 * FEWEST else None
    return Footprint(
        center=points.mean(axis=0),
        covariance=covariance,
        regions=tuple(_region(density, points, level, half, points[halves[1]]) for level in LEVELS),
        ellipses=tuple(_ellipse(points, covariance, level) for level in LEVELS),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Density:
    """Kernel estimate of a density on a grid, in coordinates in which the kernel is round.

    Attributes
    ----------
    to_map : ndarray, shape (2, 2)
        From kernel widths to east and north. [m]
    corner : ndarray, shape (2,)
        Centre of the first cell. [kernel widths]
    cell : float
        [kernel widths]
    grid : ndarray, shape (n, m)
        Density over the first and the second coordinate. [1/kernel width²]
    others : ndarray, shape (points,)
        Density at each point by all others. [1/kernel width²]
    """

    to_map: FloatArray
    corner: FloatArray
    cell: float
    grid: FloatArray
    others: FloatArray

    @classmethod
    def of(cls, points: FloatArray, cluster: np.ndarray) -> "Density":
        """Estimate of points, shape (n, 2)."""
        from scipy.ndimage import gaussian_filter, map_coordinates

        n = len(points)
        to_map = kernel(points, cluster)
        own = np.linalg.solve(to_map, points.T)
        low, high = own.min(axis=1) - MARGIN, own.max(axis=1) + MARGIN
        cell = max(1 / CELLS, float((high - low).max()) / MOST_CELLS)
        shape = np.ceil((high - low) / cell).astype(int) + 1
        place = (own - low[:, None]) / cell
        nearest = np.rint(place).astype(int)
        counts = np.bincount(np.ravel_multi_index(tuple(nearest), tuple(shape)), minlength=int(shape.prod()))
        smooth = gaussian_filter(counts.reshape(shape).astype(float), 1 / cell, mode="constant", truncate=5)
        grid = smooth / (n * cell**2)
        off = ((place - nearest) ** 2).sum(axis=0) * cell**2
        itself = np.exp(-0.5 * off) / (2 * np.pi * n)
        others = np.maximum(map_coordinates(grid, place, order=1) - itself, 0.0)
        return cls(to_map=to_map, corner=low, cell=cell, grid=grid, others=others)

    def level(self, part: float) -> float:
        """Density that so large a part of the points exceeds. [1/kernel width²]"""
        return float(np.quantile(self.others, 1 - part))

    def region(self, part: float) -> Any:
        """Region of that density as a (multi)polygon of east and north. [m]"""
        from contourpy import FillType, contour_generator
        from shapely import MultiPolygon, Polygon
        from shapely.ops import orient, unary_union

        x = self.corner[0] + self.cell * np.arange(self.grid.shape[0])
        y = self.corner[1] + self.cell * np.arange(self.grid.shape[1])
        level = max(self.level(part), 1e-9 * float(self.grid.max()))
        found = contour_generator(x, y, self.grid.T, fill_type=FillType.OuterOffset).filled(level, np.inf)
        polygons = []
        for vertices, offset in zip(*found, strict=True):
            rings = [vertices[a:b] @ self.to_map.T for a, b in pairwise(offset)]
            polygons.append(Polygon(rings[0], rings[1:]).buffer(0))
        merged = unary_union(polygons)
        parts = [merged] if isinstance(merged, Polygon) else list(merged.geoms)
        return MultiPolygon([orient(part) for part in parts if part.area > 0])


def kernel(points: FloatArray, cluster: np.ndarray) -> FloatArray:
    """Matrix whose product with its transpose is the covariance of one patch, shape (2, 2). [m]

    The covariance within the clouds times n^(-1/3). Source: [Scott2015], the rule for a normal in two
    dimensions, which is too smooth for others; that widens a region a little, and leaves what it holds.
    """
    centers = {each: points[cluster == each].mean(axis=0) for each in np.unique(cluster)}
    within = points - np.array([centers[each] for each in cluster])
    variance, axes = np.linalg.eigh(within.T @ within / len(points))
    widths = np.sqrt(np.maximum(variance, SMALLEST_SPREAD**2)) * len(points) ** (-1 / 6)
    return axes * widths


def _region(
    density: Density, points: FloatArray, level: float, half: Density | None, unseen: FloatArray
) -> Region:
    shape = density.region(level)
    return Region(
        level=level,
        polygons=tuple(
            tuple(np.array(ring.coords) for ring in (part.exterior, *part.interiors)) for part in shape.geoms
        ),
        area=float(shape.area),
        held=_part_in(shape, points),
        cross_checked=None if half is None else _part_in(half.region(level), unseen),
    )


def _part_in(shape: Any, points: FloatArray) -> float:
    from shapely import contains_xy, prepare

    prepare(shape)
    return float(np.mean(contains_xy(shape, points[:, 0], points[:, 1])))


def _ellipse(points: FloatArray, covariance: FloatArray, level: float) -> Ellipse:
    """Ellipse of a normal: the squared distance by its covariance is chi-squared with two freedoms."""
    variance, axes = np.linalg.eigh(covariance)
    radius = np.sqrt(-2 * np.log1p(-level))
    semi_axes = radius * np.sqrt(np.maximum(variance[::-1], 0.0))
    long = axes[:, 1]
    off = (points - points.mean(axis=0)) @ axes[:, ::-1]
    scaled = off / np.maximum(semi_axes, 1e-9)
    return Ellipse(
        level=level,
        center=points.mean(axis=0),
        semi_axes=semi_axes,
        bearing=float(np.arctan2(long[0], long[1]) % np.pi),
        held=float(np.mean((scaled**2).sum(axis=1) <= 1.0)),
    )
