"""PDF pages are rendered by an independent library and measured in pixels."""

import re
from itertools import pairwise

import numpy as np
import pypdfium2
import pytest
from shapely import LineString, Polygon

from parasim.config.loader import load_design
from parasim.drawing.drawing import Drawing, Path
from parasim.drawing.pdf import MARGIN, OVERLAP, PAPERS, pdf_bytes, registration, tiling
from parasim.errors import OptionError
from parasim.sewing.templates import listing, page_drawings, sheet_drawings, templates

DPI = 300
PIXEL = 25.4 / DPI


@pytest.fixture(scope="module")
def made(heron):
    return templates(heron)


def pages(content):
    return list(pypdfium2.PdfDocument(content))


def dark(page):
    return np.array(page.render(scale=DPI / 72).to_pil().convert("L")) < 128


def clusters(row):
    """Middles of runs of dark pixels. [mm]"""
    ends = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return (ends[::2] + ends[1::2]) / 2 * PIXEL


def runs(row):
    ends = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return (ends[1::2] - ends[::2]) * PIXEL


def check_bars(page):
    """Lengths of the two bars from tick to tick, upper first. [mm]

    A bar is a row of pixels in the foot of the page dark over 99 to 103 mm; its ticks are seen 1 mm above.
    """
    ink = dark(page)
    foot = ink[-round(35 / PIXEL) :]
    rows = [i for i, row in enumerate(foot) if any(99 < run < 103 for run in runs(row))]
    firsts = [i for i in rows if i - 1 not in rows]
    found = []
    for first in firsts:
        ticks = clusters(foot[first - round(1 / PIXEL), : round(115 / PIXEL)])
        found.append(ticks[-1] - ticks[0])
    return found


@pytest.mark.parametrize("paper", ["a4", "letter", "a3", "sheet"])
def test_bars_measure_true(made, paper):
    drawings = sheet_drawings(made)[:3] if paper == "sheet" else page_drawings(made, paper)[:1]
    for page in pages(pdf_bytes(drawings, title="heron", paper=paper)):
        assert check_bars(page) == pytest.approx([101.6, 100.0], abs=0.3)


@pytest.mark.parametrize("paper", list(PAPERS))
def test_pages_have_the_size_of_the_paper(made, paper):
    for page in pages(pdf_bytes(page_drawings(made, paper)[:4], title="heron", paper=paper)):
        assert sorted(25.4 / 72 * side for side in page.get_size()) == pytest.approx(PAPERS[paper], abs=0.01)


def test_a_drawn_square_measures_true():
    """A square of 150 mm in the middle of a page, from line to line."""
    square = Path(points=np.array([[0, 0], [150, 0], [150, 120], [0, 120]], float), closed=True, kind="cut")
    (page,) = pages(pdf_bytes([Drawing(title="square", paths=(square,))], title="t", paper="a4"))
    ink = dark(page)
    across = clusters(ink[round(70 / PIXEL)])
    down = clusters(ink[: round(170 / PIXEL), round(148.5 / PIXEL)])
    sides = {round(b - a, 1) for a in across for b in across}
    assert min(abs(side - 150) for side in sides) < 0.15
    heights = {round(b - a, 1) for a in down for b in down}
    assert min(abs(side - 120) for side in heights) < 0.15


@pytest.mark.parametrize("paper", list(PAPERS))
def test_tiles_cover_the_drawing_and_overlap(paper):
    edge = Path(points=np.array([[-30, 5], [900, 5], [900, 640], [-30, 640]], float), closed=True, kind="cut")
    box = Drawing(title="large", paths=(edge,)).box
    tiles = tiling(box, paper)
    views = [[tiles.view(row, column) for column in range(tiles.columns)] for row in range(tiles.rows)]
    assert views[0][0].left < box.left
    assert views[0][0].top > box.top
    assert views[-1][-1].right > box.right
    assert views[-1][-1].bottom < box.bottom
    for row in views:
        assert all(a.right - b.left == pytest.approx(OVERLAP) for a, b in pairwise(row))
    assert views[0][0].bottom - views[1][0].top == pytest.approx(-OVERLAP)


def test_a_cross_of_one_name_is_at_one_place():
    """So that pages laid cross on cross fit together."""
    edge = Path(points=np.array([[0, 0], [900, 0], [900, 640]], float), closed=True, kind="cut")
    tiles = tiling(Drawing(title="large", paths=(edge,)).box, "a4")
    places = {}
    for row in range(tiles.rows):
        for column in range(tiles.columns):
            view = tiles.view(row, column)
            for label in registration(tiles, row, column, {}).labels:
                assert view.left < label.at[0] < view.right
                assert view.bottom < label.at[1] < view.top
                places.setdefault(label.text, []).append(label.at)
    assert len(places) == (tiles.rows + 1) * (tiles.columns + 1)
    assert all(np.allclose(found, found[0]) for found in places.values())
    assert max(len(found) for found in places.values()) == 4


def test_every_page_says_what_it_is(made):
    found = pages(pdf_bytes(page_drawings(made, "a4"), title="heron", paper="a4"))
    for number, page in enumerate(found, start=1):
        text = page.get_textpage().get_text_range()
        assert f"sheet {number} of {len(found)}" in text
        for words in ("heron: ", "row 1 of 1", "column ", "100 mm", "4 in", "Untested design"):
            assert words in text
        assert re.search(r"0-\d\s+0-\d\s+1-\d\s+1-\d", text)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", ["heron", "wren", "pelican", "dipper"])
def test_the_index_and_the_edges_agree_with_the_pages(configs, name, paper):
    """Every piece is on the sheets that the index gives; neighbours name each other; no letters."""
    made = templates(load_design(configs / f"{name}.yaml"))
    content = pdf_bytes(page_drawings(made, paper), title=name, paper=paper, index=listing(made))
    said = [page.get_textpage().get_text_range() for page in pages(content)]
    assert "which piece is on which sheet" in said[0]
    assert "100 mm" in said[0]
    joined = {
        number: set(map(int, re.findall(r"joins sheet (\d+)[\r\n]", text + "\n")))
        for number, text in enumerate(said, start=1)
    }
    for piece in made.pieces:
        (row,) = (line for line in said[0].splitlines() if line.startswith(f"{piece.title} "))
        assert f"cut {piece.count}" in row
        first, last = re.search(r"(\d+)(?: to (\d+))?$", row).groups()
        for number in range(int(first), int(last or first) + 1):
            assert piece.kind == "patch" or f"{name}: {piece.title}" in said[number - 1]
            assert joined[number] <= set(range(int(first), int(last or first) + 1)) - {number}
            assert bool(joined[number]) == (last is not None)
            assert all(number in joined[other] for other in joined[number])
    assert not re.search(r"\b[A-D]\d\b", " ".join(said))


def test_a_page_without_lines_is_left_out():
    far = [
        Path(points=np.array([[x, 0], [x + 20, 0]], float), closed=False, kind="cut") for x in (0.0, 900.0)
    ]
    found = pages(pdf_bytes([Drawing(title="two", paths=tuple(far))], title="t", paper="a4"))
    assert len(found) == 2
    assert "column 4 of 4" in found[1].get_textpage().get_text_range()


def test_text_keeps_clear_of_the_glue(made):
    for drawing, piece in zip(page_drawings(made, "a4"), made.pieces, strict=False):
        tiles = tiling(drawing.box, "a4")
        first = next(label for label in drawing.labels if label.text.startswith("heron"))
        holds = [
            (view.left + OVERLAP * (column > 0), view.right - OVERLAP * (column + 1 < tiles.columns))
            for column in range(tiles.columns)
            for view in [tiles.view(0, column)]
        ]
        left, right = first.corners[:, 0].min(), first.corners[:, 0].max()
        assert any(low <= left and right <= high for low, high in holds), piece.name


def test_a_sheet_larger_than_a_pdf_page_is_refused():
    long = Path(points=np.array([[0, 0], [6000, 0], [6000, 10]], float), closed=True, kind="cut")
    with pytest.raises(OptionError, match=r"--paper: sheet, .*6\.0 m.*use a3, a4 or letter"):
        pdf_bytes([Drawing(title="long", paths=(long,))], title="t", paper="sheet")


def test_margins_stay_white(made):
    page = pages(pdf_bytes(page_drawings(made, "a4")[:1], title="heron", paper="a4"))[0]
    ink, edge = dark(page), round((MARGIN - 1) / PIXEL)
    assert not ink[:edge].any()
    assert not ink[-edge:].any()
    assert not ink[:, :edge].any()
    assert not ink[:, -edge:].any()


def test_a_name_the_font_lacks_does_not_stop_it(made):
    assert pdf_bytes(page_drawings(made, "a4")[:1], title="Цапля", paper="a4").startswith(b"%PDF")


@pytest.mark.parametrize("side", ["right", "below"])
def test_the_sheet_that_joins_is_written_clear_of_lines(side):
    """A hole in the middle of the glued strip: the words go beside it, on the same strip."""
    edge = Path(points=np.array([[0, 0], [900, 0], [900, 640]], float), closed=True, kind="cut")
    tiles = tiling(Drawing(title="large", paths=(edge,)).box, "a4")
    (plain,) = [one for one in registration(tiles, 1, 1, {side: 9}).labels if "joins" in one.text]
    corners = np.add(plain.at, [[-20, -20], [20, 20], [0, 9]])
    hole = Path(points=corners, closed=True, kind="cut")
    drawn = Drawing(title="large", paths=(edge, hole))
    (moved,) = [
        one for one in registration(tiles, 1, 1, {side: 9}, clear_of=drawn).labels if "joins" in one.text
    ]
    assert not Polygon(moved.corners).intersects(LineString(hole.loop))
    fixed = 0 if side == "right" else 1
    assert moved.at[fixed] == pytest.approx(plain.at[fixed])
