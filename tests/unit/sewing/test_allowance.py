import numpy as np
import pytest
from shapely import LineString, Polygon

from parasim.sewing.allowance import (
    Edge,
    cut_line,
    notch_count,
    notch_places,
    notches,
    outline_of_edges,
    outward_tick,
)


def rectangle(allowances):
    corners = np.array([[0.0, 0.0], [200.0, 0.0], [200.0, 50.0], [0.0, 50.0], [0.0, 0.0]])
    names = ("left", "rear", "right", "front")
    return tuple(
        Edge(name=name, points=corners[i : i + 2], allowance=allowance)
        for i, (name, allowance) in enumerate(zip(names, allowances, strict=True))
    )


def test_even_allowance_round_a_rectangle():
    assert Polygon(cut_line(rectangle((10, 10, 10, 10)))).area == pytest.approx(220 * 70)


def test_each_edge_has_its_own_allowance():
    cut = Polygon(cut_line(rectangle((10, 15, 10, 15))))
    assert cut.bounds == pytest.approx((-15, -10, 215, 60))
    assert cut.area == pytest.approx(230 * 70)


@pytest.mark.parametrize("lean", [-12.0, 0.0, 8.0, 25.0])
def test_corners_that_are_not_square_are_mitred(lean):
    """A parallelogram: four corners, each where its two outer sides meet; no steps between them."""
    ends = np.array([[0.0, 0.0], [200.0, 0.0], [200.0 + lean, 50.0], [lean, 50.0], [0.0, 0.0]])
    allowances = (15.0, 10.0, 15.0, 15.0)
    edges = [
        Edge(name=str(i), points=ends[i : i + 2], allowance=allowance)
        for i, allowance in enumerate(allowances)
    ]
    cut = cut_line(edges)
    assert Polygon(cut).simplify(1e-3).area == pytest.approx(Polygon(cut).area, abs=1e-6)
    assert 4 <= len(cut) <= 5
    for i, (edge, before) in enumerate(zip(edges, [edges[-1], *edges[:-1]], strict=True)):
        nearest = cut[np.argmin(np.hypot(*(cut - ends[i]).T))]
        for side in (edge, before):
            start, u = side.points[0], np.diff(side.points, axis=0)[0] / side.length
            away = float(u[0] * (nearest - start)[1] - u[1] * (nearest - start)[0])
            assert away == pytest.approx(-side.allowance, abs=1e-3)


def test_an_edge_without_allowance_is_cut_on_the_line():
    assert Polygon(cut_line(rectangle((10, 0, 0, 0)))).bounds == pytest.approx((0, -10, 200, 50))


def test_a_sharp_corner_is_cut_off():
    """An angle of 10 degrees: the mitre would stand out 10 / sin 5 deg = 115 mm; it stops near 2 x 10 mm."""
    height = 400 * np.tan(np.radians(10))
    points = [np.array([[0.0, 0.0], [400.0, 0.0]]), np.array([[400.0, 0.0], [0.0, height]]),
              np.array([[0.0, height], [0.0, 0.0]])]  # fmt: skip
    edges = [Edge(name=str(i), points=part, allowance=10.0) for i, part in enumerate(points)]
    cut = cut_line(edges)
    assert cut[:, 0].max() < 400 + 21
    sewn = Polygon(outline_of_edges(edges))
    assert LineString(np.vstack([cut, cut[:1]])).distance(sewn.exterior) == pytest.approx(10.0, abs=1e-6)


def test_a_tick_stands_square_and_outside():
    bottom = rectangle((10, 15, 10, 15))[0]
    tick = outward_tick(bottom, 80.0, inner=3.0, outer=10.0)
    assert tick.points == pytest.approx(np.array([[80.0, 3.0], [80.0, -10.0]]))
    assert tick.kind == "mark"


def test_notches_are_nearer_to_the_front_by_a_quarter_of_their_spacing():
    bottom, _, top, _ = rectangle((10, 15, 10, 15))
    places = notch_places(bottom.length, 4)
    single = notches(bottom, places, double=False)
    assert [notch.points[0, 0] for notch in single] == pytest.approx([37.5, 87.5, 137.5])
    mating = notches(top, places, double=False)
    assert sorted(notch.points[0, 0] for notch in mating) == pytest.approx([37.5, 87.5, 137.5])
    assert all(notch.points[1, 1] == pytest.approx(-6) for notch in single)
    double = notches(bottom, places, double=True)
    assert len(double) == 6
    assert np.mean([notch.points[0, 0] for notch in double]) == pytest.approx(87.5)


@pytest.mark.parametrize(("length", "spaces"), [(529, 5), (90, 2), (30, 2), (551, 6)])
def test_notches_are_about_their_spacing_apart(length, spaces):
    assert notch_count(length, 100) == spaces
