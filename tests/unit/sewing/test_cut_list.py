"""Cut and shopping list: counts, lengths and masses worked apart."""

from __future__ import annotations

import pytest
from shapely import Polygon

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.geometry.lines import build_lines
from parasim.mass.inventory import mass_items
from parasim.sewing.cut_list import CutList, Purchase, cut_list
from parasim.sewing.line_sheet import build_line_sheet
from parasim.sewing.templates import templates
from tests.outlines import perimeter


def cut(design: Design) -> CutList:
    found = templates(design)
    lines = build_lines(design, found.canopy)
    simulated = {item.name: item.properties.mass for item in mass_items(design, found.canopy, lines)}
    return cut_list(found, build_line_sheet(design, found.canopy, lines, tension={}), simulated=simulated)


@pytest.fixture(scope="module")
def found(reference: Design) -> CutList:
    return cut(reference)


def counted(found: CutList, start: str) -> int:
    return sum(piece.count for piece in found.templates.pieces if piece.name.startswith(start))


def test_seven_cells_make_fourteen_half_cells_and_fifteen_ribs(found):
    """Two plain end ribs without cross-ports, 6 loaded and 7 unloaded ones. Common practice, no source."""
    assert counted(found, "top panel") == counted(found, "bottom panel") == 14
    assert sum(p.count for p in found.templates.pieces if p.kind == "rib") == 15
    ends = [piece for piece in found.templates.pieces if piece.name.startswith("end rib")]
    assert [(piece.count, piece.holes) for piece in ends] == [(2, ())]
    assert counted(found, "loaded rib") == 6
    assert counted(found, "unloaded rib") == 7


def test_panels_of_a_whole_cell_are_half_as_many(reference):
    whole = cut(override(reference, {"sewing.panel": "cell"}))
    assert counted(whole, "top panel") == counted(whole, "bottom panel") == 7
    assert sum(p.count for p in whole.templates.pieces if p.kind == "rib") == 15


def test_cloth_masses_are_areas_by_shapely(found):
    """40 g/m²; each outline with its holes by shapely."""
    area = 0.0
    for piece in found.templates.pieces:
        cloth = Polygon(piece.cut_line, piece.holes)
        assert cloth.is_valid
        area += 1e-6 * piece.count * cloth.area
    sewn = sum(line.pieces for line in found.budget if line.part not in {"tape", "thread", "lines"})
    assert sewn == pytest.approx(0.040 * area, rel=1e-9)


def test_efficiency_is_cloth_inside_the_cut_lines(found):
    inside = sum(piece.count * Polygon(piece.cut_line).area for piece in found.templates.pieces)
    assert found.nest.efficiency == pytest.approx(inside / (1500 * found.nest.length))
    assert found.nest.length < 1e3 * found.templates.cloth_length


def test_budget_is_what_is_simulated_within_two_percent(found):
    assert found.mass == pytest.approx(found.simulated_mass, rel=0.02)
    assert "payload" not in {line.part for line in found.budget}


def test_what_is_weighed_when_packed_is_what_flies(configs):
    """Cut list, opening and build sheet say the same, also where lines are cut for their stretch."""
    design = load_design(configs / "kingfisher.yaml")
    found = cut(design)
    flown = {line.part: line.simulated for line in found.budget}
    assert round(1e6 * found.mass) != round(1e6 * found.simulated_mass), "one of them would do"
    assert found.packed.lines == flown["lines"]
    assert found.packed.canopy + found.packed.lines == pytest.approx(found.simulated_mass)


def test_a_part_that_only_flies_is_told(reference, found):
    lines = build_lines(reference, found.templates.canopy)
    sheet = build_line_sheet(reference, found.templates.canopy, lines, tension={})
    odd = cut_list(found.templates, sheet, simulated={"flag": 0.001, "payload": 1.2})
    assert [(line.pieces, line.simulated) for line in odd.budget if line.part == "flag"] == [(0.0, 0.001)]
    assert {line.simulated for line in odd.budget if line.part != "flag"} == {None}


def test_tape_goes_along_loaded_ribs_and_into_tabs(found):
    """8 loaded ribs from the lower lip to the tail, 8 x 4 row tabs and 2 x 3 brake tabs of 60 mm."""
    ribs, tabs = found.tape
    lower = 0.5 * perimeter(found.templates.canopy.outline)[1]
    assert 8 * 0.94 * lower < ribs.length < 8 * lower
    assert tabs.length == pytest.approx(38 * 0.060)
    assert found.tabs == 38


def test_every_seam_once(found):
    """15 ribs all round, and three hems along the span of 1.10 m; the skin is longer above, shorter below."""
    around = 15 * 0.5 * sum(perimeter(found.templates.canopy.outline))
    assert found.seam_length == pytest.approx(around + 3 * 1.10, rel=0.01)
    (thread,) = (bought for bought in found.shopping if bought.item == "thread")
    assert thread.needed == pytest.approx(3 * found.seam_length)


def test_what_is_bought_has_a_tenth_to_spare():
    """1.61 m and a tenth are 1.771 m, 1.937 yd: in steps of 0.1 m, of a quarter yard."""
    cloth = Purchase(item="cloth", needed=1.61, step=0.1, yard_step=0.25)
    assert cloth.metres == pytest.approx(1.8)
    assert cloth.yards == pytest.approx(2.0)
    line = Purchase(item="line", needed=100 / 11)
    assert line.metres == 10.0
    assert line.yards == 11.0


def test_nothing_is_bought_of_what_is_not_used(reference):
    bare = cut(override(reference, {"sewing.tape": 0.0, "sewing.thread": 0.0, "sewing.patch": 0.0}))
    assert [bought.item for bought in bare.shopping] == ["cloth", "line"]
    assert {line.part for line in bare.budget} == {"upper skin", "lower skin", "ribs", "lines"}


def test_what_does_not_fit_is_told(reference):
    tight = cut(override(reference, {"packing": {"tray": ["60 mm", "60 mm"], "length": "40 mm"}}))
    assert tight.packed.filled > 1
    assert tight.caveats[-1].endswith("% of the length of its tray: too long.")
    assert not cut(override(reference, {"packing": {"tube": "0.2 m", "length": "40 mm"}})).caveats
