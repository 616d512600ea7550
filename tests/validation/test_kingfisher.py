"""kingfisher by hand: line lengths, the nose, mating edges, and three sizes on pages printed at 100 %.

Sources: plane trigonometry, and balance of three forces at a joint (textbook statics), both written out here
from the numbers of the design file and not by the program's own functions; only the height of the section at
a row is read from the rib as it is cut. Pages are rendered by pypdfium2, a test dependency, and measured in
pixels.
"""

from __future__ import annotations

import io
from itertools import pairwise
from math import cos, hypot, radians, sin, tan

import numpy as np
import pypdfium2
import pytest
from scipy.optimize import minimize

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.drawing.pdf import pdf_bytes
from parasim.dynamics.vehicle import assemble
from parasim.flight.trim import find_trims
from parasim.making.lines import line_sheet
from parasim.sewing.line_page import line_sheet_pdf
from parasim.sewing.templates import Templates, page_drawings, sheet_drawings, templates

CHORD, SPAN, RADIUS, LENGTH, THICKNESS = 0.49, 1.12, 0.80, 0.80, 0.14
RIGGING = radians(2.15)
ROWS = {"A": 0.10, "B": 0.35, "C": 0.60, "D": 0.85}
JOINED = {"A": ("A", "B"), "B": ("A", "B"), "C": ("C", "D"), "D": ("C", "D")}
LOAD = {"A": 0.55, "B": 0.45, "C": 0.65, "D": 0.35}
JOINT = 0.60
HOOKS_APART, SPREAD = 0.060, 0.10
DPI = 200


@pytest.fixture(scope="module")
def design(configs) -> Design:
    return load_design(configs / "kingfisher.yaml")


@pytest.fixture(scope="module")
def pieces(design) -> Templates:
    return templates(design)


def lower_height(pieces: Templates, x: float) -> float:
    """Lower surface over the chord line at x of the chord, from the rib's sewing line. [m]"""
    bottom = rib(pieces).edge("bottom").points
    order = np.argsort(bottom[:, 0])
    return 1e-3 * float(np.interp(1e3 * CHORD * x, bottom[order, 0], bottom[order, 1]))


def rib(pieces: Templates):
    return next(piece for piece in pieces.pieces if piece.name == "loaded rib")


def tab(pieces: Templates, number: int, row: str) -> np.ndarray:
    """Rib counted from 1 of 15: the bottom skin's arc begins at half the span and has 14 equal parts. [m]"""
    angle = (SPAN / RADIUS) * ((number - 1) / 14 - 0.5)
    r = RADIUS + lower_height(pieces, ROWS[row])
    quarter = np.array([-LENGTH * sin(RIGGING), 0.0, -LENGTH * cos(RIGGING)])
    aft = (0.25 - ROWS[row]) * CHORD
    return quarter + np.array([aft, r * sin(angle), RADIUS - r * cos(angle)])


def riser_end(side: str, row: str) -> np.ndarray:
    """Hooks 15 mm ahead and 45 mm behind: 30 mm to either side of their middle, turned with it. [m]"""
    ahead = HOOKS_APART / 2 * (1 if row in "AB" else -1)
    across = SPREAD / 2 * (1 if side == "R" else -1)
    return np.array([ahead * cos(RIGGING), across, -ahead * sin(RIGGING)])


def joint(start: np.ndarray, tabs: list[np.ndarray], load: list[float]) -> np.ndarray:
    """End of the lower line: on a sphere round its foot, where the loads' energy is least (they balance)."""
    mean = sum(share * place for share, place in zip(load, tabs, strict=True))
    reach = JOINT * np.linalg.norm(mean - start)
    up = (mean - start) / np.linalg.norm(mean - start)
    first = np.cross(up, [0.0, 1.0, 0.0])
    first /= np.linalg.norm(first)
    second = np.cross(up, first)

    def place(tilt: np.ndarray) -> np.ndarray:
        way = up + tilt[0] * first + tilt[1] * second
        return start + reach * way / np.linalg.norm(way)

    def energy(tilt: np.ndarray) -> float:
        there = place(tilt)
        return sum(share * np.linalg.norm(end - there) for share, end in zip(load, tabs, strict=True))

    found = minimize(energy, np.zeros(2), method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-14})
    return place(found.x)


@pytest.mark.parametrize("row", ROWS)
def test_straight_lines(design, pieces, row):
    """Pythagoras from the riser end to the tab, without the joints: within 1 mm, as asked of a line sheet."""
    ours = {
        line.label: line.length
        for line in assemble(override(design, {"lines.cascades": []})).line_set.lines
        if line.kind == "row"
    }
    for number in range(1, 16, 2):
        side = "L" if number < 8 else "R"
        by_hand = np.linalg.norm(tab(pieces, number, row) - riser_end(side, row))
        assert ours[f"{number:02d}{side}-{row}"] == pytest.approx(by_hand, abs=1e-3)


@pytest.mark.parametrize("row", ROWS)
def test_joined_lines(design, pieces, row):
    """Lower line 60 % of the way to the tabs' mean by load; upper ones from their balance: within 1 mm."""
    ours = {line.label: line.length for line in assemble(design).line_set.lines}
    rows = JOINED[row]
    for number in range(1, 16, 2):
        side = "L" if number < 8 else "R"
        start, tabs = riser_end(side, row), [tab(pieces, number, each) for each in rows]
        there = joint(start, tabs, [LOAD[each] for each in rows])
        label = f"{number:02d}{side}-"
        assert ours[label + "+".join(rows)] == pytest.approx(np.linalg.norm(there - start), abs=1e-3)
        upper = np.linalg.norm(tabs[rows.index(row)] - there)
        assert ours[label + row] == pytest.approx(upper, abs=1e-3)


def test_one_row_of_a_pair_runs_through(design):
    """Cut in one piece with its lower line, at front and rear hooks; the other is tied in."""
    vehicle = assemble(design)
    sheet = line_sheet(vehicle, find_trims(vehicle, modes=False).chosen)
    entries = {entry.label: entry for entry in sheet.entries}
    for through, tied in (("A", "B"), ("C", "D")):
        lower, upper = entries[f"03L-{through}+{tied}"], entries[f"03L-{through}"]
        # 0.5 % for the polyester's settling, a loop at either end, a knot.
        whole = 1.005 * (lower.finished + upper.finished) + 2 * 0.060 + 0.015
        assert lower.cut == pytest.approx(whole, abs=1e-6)
        assert upper.cut is None
        assert entries[f"03L-{tied}"].cut is not None


def test_the_nose_is_as_high_from_ahead_as_the_file_says(pieces):
    """6 % of 490 mm across the chord line, cut at 80 deg; the upper skin reaches 2 % ahead of the lip."""
    upper, lower = rib(pieces).edge("inlet").points[[0, -1]]
    assert upper[1] - lower[1] == pytest.approx(0.06 * 490, abs=0.01)
    assert lower[0] - upper[0] == pytest.approx(0.06 * 490 / tan(radians(80)), abs=0.01)
    panel = next(piece for piece in pieces.pieces if piece.name == "top panel")
    overhang = panel.edge("left overhang").points
    # Along the skin, which is longer than the 9.8 mm it reaches ahead, and rises by under the lip's height.
    along = np.hypot(*np.diff(overhang, axis=0).T).sum()
    assert 0.02 * 490 < along < hypot(0.02 * 490, upper[1])


def polyline(points: np.ndarray) -> float:
    return float(sum(hypot(*(b - a)) for a, b in pairwise(points)))


def test_mating_edges_are_equal(pieces):
    """Each panel's sides against the rib's edge that they are sewn to, to 0.01 mm."""
    by_name = {piece.name: piece for piece in pieces.pieces}
    edges = {
        skin: {polyline(piece.edge(skin).points) for name, piece in by_name.items() if name.endswith(" rib")}
        for skin in ("top", "bottom")
    }
    panels = [piece for name, piece in by_name.items() if " panel" in name]
    assert len(panels) > 3
    for piece in panels:
        skin = piece.name.split()[0]
        for side in ("left", "right"):
            for rib_edge in edges[skin]:
                assert polyline(piece.edge(side).points) == pytest.approx(rib_edge, abs=0.01)


def dark(page: pypdfium2.PdfPage) -> np.ndarray:
    return np.array(page.render(scale=DPI / 72).to_pil().convert("L")) < 128


def runs(row: np.ndarray) -> np.ndarray:
    """Lengths of runs of dark pixels. [mm]"""
    ends = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return (ends[1::2] - ends[::2]) * 25.4 / DPI


def test_a_rib_measures_true_on_a_printed_page(design, pieces):
    """Its cut line is as high as the section is thick, with 10 mm of seam above and below: 88.6 mm.

    Cut lines are the thick ones; between 115 and 185 mm of the page lies the crest of the section.
    """
    (drawing,) = (
        d for d in sheet_drawings(pieces) if "loaded rib (ribs 3" in d.title and "un" not in d.title
    )
    (page,) = pypdfium2.PdfDocument(pdf_bytes([drawing], title="kingfisher", paper="sheet"))
    ink, mm = dark(page), 25.4 / DPI
    heights = []
    for column in ink[: round(110 / mm), round(115 / mm) : round(185 / mm)].T:
        ends = np.flatnonzero(np.diff(np.concatenate([[0], column.astype(int), [0]]))) * mm
        thick = [(a + b) / 2 for a, b in zip(ends[::2], ends[1::2], strict=True) if b - a > 0.35]
        heights.append(thick[-1] - thick[0])
    # The crest is flat: the highest tenth of the columns agree, but for those with a letter above it.
    assert np.percentile(heights, 90) == pytest.approx(1e3 * THICKNESS * CHORD + 2 * 10.0, abs=0.3)


def test_a_scale_bar_measures_true_on_a_printed_page(pieces):
    """100 mm, and four inches of 25.4 mm, on A4; to a pixel and a line's width either side."""
    (page, *_) = pypdfium2.PdfDocument(pdf_bytes(page_drawings(pieces, "a4")[:1], title="k", paper="a4"))
    foot = dark(page)[-round(35 * DPI / 25.4) :]
    long = {round(float(run), 1) for row in foot for run in runs(row) if 95 < run < 106}
    assert any(abs(run - 100.0) < 0.6 for run in long), long
    assert any(abs(run - 101.6) < 0.6 for run in long), long


def test_a_line_tag_measures_true_on_the_line_sheet(design):
    """The rule below a line's label, on A4: 210 mm less 14 mm to either side; the label stands in it."""
    vehicle = assemble(design)
    sheet = line_sheet(vehicle, find_trims(vehicle, modes=False).chosen)
    (page, *_) = pypdfium2.PdfDocument(io.BytesIO(line_sheet_pdf(sheet, facts=(), tables=(), cautions=())))
    text = page.get_textpage()
    place = text.search("03L-A+B").get_next()
    assert place is not None
    left, bottom, right, top = text.get_charbox(place[0])
    mm = 25.4 / DPI
    ink = np.array(page.render(scale=DPI / 72).to_pil().convert("L")) < 250  # the rule is a hairline
    below = round((25.4 / 72 * (page.get_height() - bottom)) / mm)
    rules = [float(runs(row).max(initial=0)) for row in ink[below : below + round(6 / mm)]]
    assert max(rules) == pytest.approx(210 - 2 * 14, abs=0.3)
    assert 14 + 7 < left * 25.4 / 72 < 14 + 7 + 31
    assert 0 < top - bottom < 12
    assert right > left
