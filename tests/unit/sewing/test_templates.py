"""Templates of any sane design: nothing crosses itself, edges mate, counts add up."""

import pytest
from hypothesis import HealthCheck, given, settings
from shapely import Polygon

from parasim.drawing.pdf import tiling
from parasim.sewing.templates import page_drawings, sheet_drawings, sheet_key, templates
from tests.strategies import designs


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(designs())
def test_any_sane_design_can_be_cut(design):
    result = templates(design)
    canopy = result.canopy
    ribs = {place: piece for piece in result.pieces if piece.kind == "rib" for place in piece.places}
    assert sorted(ribs) == list(range(1, canopy.n_ribs + 1))
    for piece in result.pieces:
        for line in (piece.sewing_line, piece.cut_line):
            assert Polygon(line).is_valid
        assert piece.cut_area > piece.sewn_area > 0
        if piece.kind == "panel":
            side = "top" if piece.name.startswith("top panel") else "bottom"
            for place in piece.places:
                for edge, rib in (("left", ribs[place]), ("right", ribs[place + 1])):
                    assert piece.edge(edge).length == pytest.approx(rib.edge(side).length, abs=0.01)
    loaded = 1 + canopy.n_cells
    assert sum(p.count for p in result.pieces if p.kind == "rib" and "unloaded" not in p.name) == loaded


def test_a_key_stands_below_the_sheet(heron):
    result = templates(heron)
    drawings = sheet_drawings(result)
    assert sheet_key(result, drawings).box.top < min(drawing.box.bottom for drawing in drawings)


def test_patches_share_a_page(heron):
    result = templates(heron)
    drawings = page_drawings(result, "a4")
    assert len(drawings) == len(result.pieces) - 3
    assert drawings[-1].title == "patches at tabs"
    tiles = tiling(drawings[-1].box, "a4")
    assert (tiles.rows, tiles.columns) == (1, 1)
