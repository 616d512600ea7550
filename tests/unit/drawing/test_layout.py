import pytest
from shapely import box, unary_union

from parasim.drawing.layout import columns, sheet
from parasim.sewing.cloth import cloth_length
from parasim.sewing.templates import sheet_drawings, templates


def test_columns_neither_overlap_nor_grow_too_high():
    sizes = [(100 + 7 * i, 30 + 5 * (i % 4)) for i in range(20)]
    spots, length = columns(sizes, 200)
    rooms = [box(s.x, s.y, s.x + w, s.y + h) for s, (w, h) in zip(spots, sizes, strict=True)]
    assert unary_union(rooms).area == pytest.approx(sum(w * h for w, h in sizes))
    assert max(room.bounds[3] for room in rooms) <= 200
    assert max(room.bounds[2] for room in rooms) == pytest.approx(length)


def test_cloth_is_at_least_the_area_of_the_pieces(heron):
    result = templates(heron)
    assert result.cloth_length * heron.sewing.cloth_width > result.cut_area
    assert cloth_length(result.pieces, 750) > cloth_length(result.pieces, 1500)


def test_pieces_on_a_sheet_do_not_overlap(heron):
    result = templates(heron)
    boxes = [drawing.box for drawing in sheet_drawings(result)]
    rooms = [box(b.left, b.bottom, b.right, b.top) for b in boxes]
    assert len(rooms) == len(result.pieces)
    assert unary_union(rooms).area == pytest.approx(sum(room.area for room in rooms))
    assert max(b.top for b in boxes) <= 1500


def test_a_sheet_keeps_sizes(heron):
    drawings = [piece.drawing("heron") for piece in templates(heron).pieces]
    before = sorted(drawing.box.width for drawing in drawings)
    assert sorted(drawing.box.width for drawing in sheet(drawings, 1000)) == pytest.approx(before)
