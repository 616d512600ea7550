"""The line sheet: lengths, cut lengths, labels, differentials, totals; and the page read back."""

from __future__ import annotations

import io
import re
from collections import Counter

import numpy as np
import pytest
from reportlab.pdfbase.pdfmetrics import stringWidth

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.drawing.printing import line_width, paper_of
from parasim.geometry.canopy import build_canopy
from parasim.geometry.lines import build_lines
from parasim.geometry.seams import TAB_LENGTH
from parasim.report.column import Grid
from parasim.sewing import line_page
from parasim.sewing.line_page import line_sheet_pdf
from parasim.sewing.line_sheet import LineSheet, build_line_sheet
from parasim.units import in_sixteenths


def sheet_of(design: Design, tension: dict[str, float] | None = None, **changes: object) -> LineSheet:
    design = override(design, {key.replace("__", "."): value for key, value in changes.items()})
    canopy = build_canopy(design)
    return build_line_sheet(design, canopy, build_lines(design, canopy), tension=tension or {})


@pytest.fixture(scope="module")
def sheet(reference: Design) -> LineSheet:
    return sheet_of(reference)


def by_label(sheet: LineSheet) -> dict[str, object]:
    return {entry.label: entry for entry in sheet.entries}


def test_labels_are_single_and_in_order(sheet):
    labels = [entry.label for entry in sheet.entries]
    assert max(Counter(labels).values()) == 1
    assert labels[:6] == ["01L-A+B", "01L-A", "01L-B", "01L-C+D", "01L-C", "01L-D"]
    assert labels[-8:-4] == ["L-brake-1+2+3", "L-brake-1", "L-brake-2", "L-brake-3"]
    assert all(label.isascii() for label in labels)


def test_a_centre_rib_has_lines_of_both_sides(reference):
    labels = [entry.label for entry in sheet_of(reference, canopy__cells=6, canopy__half_cells=12).entries]
    assert {"07L-A", "07R-A"} <= set(labels)
    assert max(Counter(labels).values()) == 1


def test_cut_is_finished_and_two_loops(sheet):
    entry = by_label(sheet)["03L-B"]
    assert entry.cut == pytest.approx(entry.finished + 0.120)
    assert entry.finished == pytest.approx(entry.length - 0.020)  # the tab
    assert entry.cut_mm >= 1e3 * entry.cut - 1e-6


def test_brake_trunk_reaches_the_servo(sheet):
    """Loop at the top; below the zero mark riser 150 mm, travel 120 mm and a loop of 60 mm."""
    entry = by_label(sheet)["L-brake-1+2+3"]
    assert entry.cut == pytest.approx(entry.finished + 0.060 + 0.330)
    assert "zero" in entry.remark


def test_a_line_that_runs_through_is_one_piece(reference, sheet):
    through = sheet_of(reference, lines__cascades__0__through="A")
    lower, upper, tied = (by_label(through)[label] for label in ("03L-A+B", "03L-A", "03L-B"))
    assert lower.cut == pytest.approx(lower.finished + upper.finished + 0.120 + 0.015)
    assert upper.cut is None
    assert upper.cut_mm is None
    assert tied.cut == pytest.approx(tied.finished + 0.120)
    assert "03L-A" in lower.remark
    knot, tab = round(1e3 * lower.finished), round(1e3 * (lower.finished + upper.finished))
    assert lower.cut_order("metric") == f"cut {lower.cut_mm}; riser loop; knot for B at {knot}; tab at {tab}"
    knot, tab = (in_sixteenths(x) for x in (lower.finished, lower.finished + upper.finished))
    cut = in_sixteenths(lower.cut, up=True)
    assert lower.cut_order("imperial") == f"cut {cut}; riser loop; knot for B at {knot}; tab at {tab}"
    assert "03L-A+B" in upper.remark
    plain, joined = sum(t.count for t in sheet.totals), sum(t.count for t in through.totals)
    assert plain - joined == 8
    # A piece less has two loops less and a knot more.
    assert sheet.total_cut - through.total_cut == pytest.approx(8 * (0.120 - 0.015))
    assert through.finished == sheet.finished


def test_stretch_and_settling(reference, sheet):
    """Nylon of 1125 N: longer by 7 N/1125 N on the bench, shorter by the 2 N it carries in flight."""
    nylon = sheet_of(reference, {"03L-B": 2.0}, lines__material="nylon")
    entry, plain = by_label(nylon)["03L-B"], by_label(sheet)["03L-B"]
    assert entry.finished == pytest.approx(plain.finished * (1 + 7 / 1125) / (1 + 2 / 1125))
    assert entry.cut == pytest.approx(1.01 * entry.finished + 0.120)
    tight = sheet_of(reference, {"03L-B": 2.0}, lines__material="nylon", lines__measuring_tension="2 N")
    assert by_label(tight)["03L-B"].finished == pytest.approx(plain.finished)


def test_allowances_are_the_designs(reference, sheet):
    wide = sheet_of(reference, lines__loop_allowance="80 mm")
    assert wide.total_cut - sheet.total_cut == pytest.approx(0.020 * 2 * 56)
    knotty = {"lines__cascades__0__through": "B"}
    more = sheet_of(reference, **knotty, lines__tie_allowance="25 mm")
    assert more.total_cut - sheet_of(reference, **knotty).total_cut == pytest.approx(8 * 0.010)


def test_totals_are_the_sum_of_their_lines(sheet):
    assert sheet.total_cut == pytest.approx(sum(entry.cut for entry in sheet.entries))
    assert sum(total.count for total in sheet.totals) == len(sheet.entries) == 56
    assert sum(total.finished for total in sheet.totals) == pytest.approx(sum(sheet.finished.values()))


def test_differentials(sheet):
    """A rows are shorter than D rows at positive rigging, and brakes longest: common practice, no source."""
    assert [(d.rib, d.side) for d in sheet.differentials][::7] == [(1, "L"), (15, "R")]
    for one, other in zip(sheet.differentials, reversed(sheet.differentials), strict=True):
        assert one.front == pytest.approx(other.front)
        assert 0 < one.longer["B"] < one.longer["C"] < one.longer["D"]
        for name, size in one.longer.items():
            assert size == pytest.approx(other.longer[name])
            assert not name.startswith("brake") or size > one.longer["D"]
    assert sum(name.startswith("brake") for d in sheet.differentials for name in d.longer) == 6


def test_ways_are_no_shorter_than_straight_lines(reference, sheet):
    canopy = build_canopy(reference)
    straight = build_lines(reference, canopy).straight
    for i, found in enumerate(sheet.differentials):
        assert found.front + TAB_LENGTH >= straight["A"][i]
        assert found.front + TAB_LENGTH + found.longer["D"] >= straight["D"][i]
    ways = np.array([d.front + TAB_LENGTH + d.longer["D"] for d in sheet.differentials])
    assert np.all(ways - straight["D"] < 0.010)


@pytest.mark.parametrize(
    ("length", "text"),
    [(0.0254, "1"), (0.0254 * 3.25, "3 1/4"), (0.0254 / 16, "1/16"), (0.0, "0"), (-0.0254 * 1.5, "-1 1/2")],
)
def test_sixteenths(length, text):
    assert in_sixteenths(length) == text


def test_sixteenths_are_within_half_of_one(sheet):
    for entry in sheet.entries:
        whole, *part = in_sixteenths(entry.finished).split()
        top, below = part[0].split("/") if part else ("0", "1")
        inches = int(whole) + int(top) / int(below)
        assert abs(inches * 0.0254 - entry.finished) <= 0.0254 / 32 + 1e-9


def test_page_lists_every_line_and_says_its_cautions(sheet):
    pdfium = pytest.importorskip("pypdfium2")
    table = Grid(title="A table", heads=("row", "size"), rows=(("A", "5 mm"),), note="A note.")
    content = line_sheet_pdf(sheet, facts=("A fact.",), tables=(table,), cautions=("Mind the heads below.",))
    document = pdfium.PdfDocument(io.BytesIO(content))
    text = "\n".join(page.get_textpage().get_text_bounded() for page in document)
    assert document[0].get_size() == pytest.approx((595.3, 841.9), abs=0.1)
    assert sheet.entries[0].cut_words("metric") in text
    for entry in sheet.entries:
        assert entry.label in text
        assert str(entry.finished_mm) in text
    assert text.count("[ ]") + text.count("[  ]") == len(sheet.entries)
    for words in ("A fact.", "Mind the heads below.", "A table", "A note."):
        assert words in text
    for number, page in enumerate(document, start=1):
        assert f"page {number} of {len(document)}" in page.get_textpage().get_text_bounded()
    assert content == line_sheet_pdf(
        sheet, facts=("A fact.",), tables=(table,), cautions=("Mind the heads below.",)
    )


def test_lines_of_a_rib_stay_on_one_page(sheet):
    """And those of a brake."""
    pdfium = pytest.importorskip("pypdfium2")
    document = pdfium.PdfDocument(io.BytesIO(line_sheet_pdf(sheet, facts=(), tables=(), cautions=())))
    assert len(document) > 1
    places: dict[str, set[int]] = {}
    for number, page in enumerate(document):
        for label in re.findall(r"\b(?:\d\d[LR]|[LR]-brake)-\S+", page.get_textpage().get_text_bounded()):
            places.setdefault(label.rsplit("-", 1)[0], set()).add(number)
    assert len(places) > 3
    assert all(len(numbers) == 1 for numbers in places.values()), places


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("name", ["heron", "wren", "pelican", "dipper", "kingfisher"])
def test_remarks_stay_in_their_column(configs, name, units):
    """Of the printed sheet, by the widths of its letters; six points of padding on either side."""
    entries = sheet_of(load_design(configs / f"{name}.yaml")).entries
    room = (line_width(paper_of(units)) - sum(line_page.ENTRY_WIDTHS)) * 72 / 25.4 - 12
    for entry in entries:
        remark = entry.cut_order(units)
        assert stringWidth(remark, "Helvetica", line_page.REMARK_SIZE) <= room, remark
