"""The picture of a nest shows its pieces where they lie."""

import numpy as np
import pytest

from parasim.plotting.cut import KINDS, Shape, nest_figure

SQUARE = np.array([[0.0, 0.0], [0.4, 0.0], [0.4, 0.2], [0.0, 0.2]])
HOLE = np.array([[0.1, 0.05], [0.2, 0.05], [0.2, 0.1], [0.1, 0.1]])
SHAPES = (
    Shape(outline=SQUARE, holes=(HOLE,), kind="rib", text="1", middle=(0.3, 0.1), room=0.1),
    Shape(outline=np.add(SQUARE[::-1], [0.5, 0.1]), kind="patch", text="12m", middle=(0.7, 0.2), room=0.001),
)


def figure(system="metric"):
    return nest_figure(SHAPES, width=0.5, length=1.0, title="two pieces", note="small print", system=system)


def test_outlines_lie_where_they_are_put():
    (ax,) = figure().axes
    boxes = [patch.get_path().get_extents().extents for patch in ax.patches]
    np.testing.assert_allclose(boxes, [[0, 0, 0.4, 0.2], [0.5, 0.1, 0.9, 0.3]])
    assert ax.get_xlim() == (0.0, 1.0)
    assert ax.get_ylim() == (0.0, 0.5)
    assert ax.get_title(loc="left") == "two pieces"


def test_holes_are_empty():
    (ax,) = figure().axes
    rib = ax.patches[0].get_path()
    vertices, codes = rib.vertices, rib.codes
    starts = np.flatnonzero(codes == rib.MOVETO)
    areas = []
    for part in np.split(vertices, starts[1:]):
        (x, y), (x_next, y_next) = part.T, np.roll(part, -1, axis=0).T
        areas.append(float((x * y_next - x_next * y).sum()) / 2)
    assert areas == pytest.approx([0.08, -0.005])


def test_numbers_where_there_is_room():
    (ax,) = figure().axes
    assert [text.get_text() for text in ax.texts] == ["1", "12m"]  # a patch always has its letter


def test_kinds_differ_without_colour():
    assert len({style["hatch"] for style in KINDS.values()}) == len(KINDS)
    (legend,) = figure().legends
    assert [text.get_text() for text in legend.get_texts()] == ["rib", "patch"]
    assert legend.get_title().get_text() == "small print"


def test_imperial():
    (ax,) = figure("imperial").axes
    assert ax.get_xlabel() == "along the cloth (warp) [in]"
    assert ax.get_xlim()[1] == pytest.approx(1 / 0.0254)
