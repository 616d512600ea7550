"""Nest of simple pieces, by hand. tests/property/test_cut.py holds what is true of any."""

import numpy as np
import pytest

from parasim.sewing.allowance import Edge
from parasim.sewing.nesting import laid, nest
from parasim.sewing.pieces import Piece


def block(name: str, corners: list[tuple[float, float]], count: int, mirrored: int = 0) -> Piece:
    """A piece without allowance."""
    points = np.array([*corners, corners[0]], dtype=float)
    return Piece(
        name=name,
        where="",
        kind="panel",
        places=tuple(range(1, count - mirrored + 1)),
        mirrored_places=tuple(range(1, mirrored + 1)),
        count=count,
        edges=tuple(Edge(name=f"{i}", points=points[i : i + 2], allowance=0.0) for i in range(len(corners))),
    )


def test_rectangles_fill_the_cloth():
    """Six of 99 x 49, with a gap of 1, on cloth 149 wide: three by two."""
    found = nest([block("r", [(0, 0), (99, 0), (99, 49), (0, 49)], 6)], 149.0, cell=1.0)
    assert found.length == pytest.approx(199.0)
    assert found.efficiency == pytest.approx(6 * 99 * 49 / (199 * 149))


def test_wedges_lie_head_to_tail():
    """Two right triangles 100 x 50 make up a rectangle when one is turned."""
    found = nest([block("w", [(0, 0), (100, 0), (0, 50)], 2)], 60.0, cell=1.0)
    assert sorted(placement.turned for placement in found.placements) == [False, True]
    assert found.length < 112


def test_small_pieces_go_into_gaps():
    big = block("big", [(0, 0), (80, 0), (80, 60), (0, 60)], 1)
    small = block("small", [(0, 0), (20, 0), (20, 20), (0, 20)], 2)
    assert nest([small, big], 82.0, cell=1.0).length == pytest.approx(80.0)


def test_mirrored_ones_are_turned_over():
    corner = [(0, 0), (100, 0), (0, 50)]
    found = nest([block("w", corner, 3, mirrored=1)], 200.0, cell=1.0)
    assert [placement.mirrored for placement in found.placements].count(True) == 1
    points = laid(np.array(corner, dtype=float), mirrored=True, turned=False)
    assert points.tolist() == [[0, 50], [100, 50], [0, 0]]


def test_turning_keeps_the_warp():
    points = laid(np.array([[0.0, 0], [100, 0], [0, 50]]), mirrored=False, turned=True)
    assert np.ptp(points, axis=0).tolist() == [100, 50]


def test_drawing_is_true_size_with_names_and_holes(heron):
    from parasim.sewing.templates import templates

    found = nest(templates(heron).pieces, 1500.0)
    cloth, key = found.drawings("heron")
    assert cloth.box.width == pytest.approx(found.length)
    assert cloth.box.height == pytest.approx(1500.0)
    assert key.box.top < 0
    assert len(cloth.labels) == 75
    assert len(cloth.paths) == 1 + 75 + 3 * 13


def test_heart_is_clear_of_holes(heron):
    from shapely import Point, Polygon

    from parasim.sewing.templates import templates

    found = nest(templates(heron).pieces, 1500.0)
    rib = next(placement for placement in found.placements if placement.holes)
    middle, room = rib.heart
    assert Polygon(rib.outline, rib.holes).contains(Point(middle).buffer(0.98 * room))
