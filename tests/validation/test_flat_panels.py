"""Flat panels against solid geometry, and mating edges against each other in the written files.

Sources: lateral area of a frustum of a cone, pi (r1 + r2) s (M. R. Spiegel, Mathematical Handbook of Formulas
and Tables, 1968; from memory, unverified). Everything else is compared with the canopy of our own geometry in
space, or piece with piece: a check of consistency, not of an outside source.
"""

import io
import re
from math import cos, hypot, pi, sin
from xml.etree import ElementTree as Xml

import ezdxf
import numpy as np
import pytest

from parasim.config.loader import load_design, override
from parasim.drawing.dxf import dxf_text
from parasim.drawing.svg import svg_text
from parasim.geometry.canopy import build_canopy
from parasim.geometry.surface import lower_skin, upper_skin
from parasim.sewing.flatten import developed_strip
from parasim.sewing.templates import sheet_drawings, templates

NAMES = ("heron", "wren", "pelican")
SEAM_ERROR = 0.5  # mating edges agree to this, as asked of the templates [mm]
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module", params=NAMES)
def design(request, configs):
    return load_design(configs / f"{request.param}.yaml")


def shoelace(points):
    x, y = points.T
    return 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def length(points):
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


@pytest.mark.parametrize("gores", [6, 12, 24, 48])
def test_gores_of_a_cone_add_up_to_its_mantle(gores):
    """Frustum of radii 200 and 500 mm, 400 mm high, s = 500 mm: area pi (r1 + r2) s.

    A flat gore has the arc widths of the cone's, so its height is s cos e, with sin e half the widening
    over s: the area falls short by the factor cos e, and by nothing else.
    """
    edge = np.column_stack([np.linspace(0, 400, 9), np.linspace(0, 300, 9)])
    turn = 2 * pi / gores
    left, right = developed_strip(left=edge, right=edge, width=(200 + edge[:, 1]) * turn)
    e = np.arcsin(300 * turn / 2 / 500)
    assert gores * shoelace(np.vstack([left, right[::-1]])) == pytest.approx(
        pi * 700 * 500 * cos(e), rel=1e-12
    )


def test_flat_gores_of_a_cone_keep_true_diagonals():
    """With chord widths the gore is the flat facet itself, and every distance in it is that in space."""
    turn = pi / 9
    edge = np.column_stack([np.linspace(0, 400, 9), np.linspace(0, 300, 9)])
    radius = 200 + edge[:, 1]
    left, right = developed_strip(left=edge, right=edge, width=2 * radius * sin(turn / 2))
    space = [
        np.column_stack([edge[:, 0], radius * sin(side * turn / 2), radius * cos(turn / 2)])
        for side in (-1, 1)
    ]
    for i, j in ((0, 8), (8, 0), (2, 5)):
        assert hypot(*(right[j] - left[i])) == pytest.approx(np.linalg.norm(space[1][j] - space[0][i]))


def test_skin_without_billow_is_as_large_as_the_canopy(design):
    """Facets of the skin in space, which cut the arc's corners: 0.1 % of room."""
    plain = templates(override(design, {"sewing.billow": 0.0}))
    for skin, facets in (("top", upper_skin), ("bottom", lower_skin)):
        flat = sum(p.count * p.sewn_area for p in plain.pieces if p.name.startswith(f"{skin} panel"))
        assert 1e-6 * flat == pytest.approx(facets(build_canopy(design)).total, rel=1e-3)


def test_skin_is_larger_by_less_than_the_billow(design):
    result = templates(design)
    for skin, facets in (("top", upper_skin), ("bottom", lower_skin)):
        flat = sum(p.count * p.sewn_area for p in result.pieces if p.name.startswith(f"{skin} panel"))
        extra = 1e-6 * flat / facets(result.canopy).total - 1
        assert 0.5 * result.billow < extra < result.billow


def test_bottom_panels_side_by_side_make_the_span(design):
    """At the trailing edge, which has no bulge and lies on the chord line, where span is measured."""
    result = templates(design)
    flat = sum(p.count * p.edge("rear").length for p in result.pieces if p.name.startswith("bottom panel"))
    assert 1e-3 * flat == pytest.approx(design.canopy.span, rel=2e-3)


def test_top_panels_are_wider_by_the_arc(heron):
    """Width over width as (R + z) / R, at the crest of the section; no billow."""
    result = templates(override(heron, {"sewing.billow": 0.0}))
    top = next(p for p in result.pieces if p.name == "top panel")
    crest = result.canopy.outline[:, 1].max() * 0.50
    widest = np.ptp(top.sewing_line[:, 1])
    assert widest / (1100 / 14) == pytest.approx((0.75 + crest) / 0.75, rel=1e-6)


def read_svg(result):
    """Lengths of the sewing and folding lines of each piece, in the order of its edges. [mm]"""
    root = Xml.fromstring(svg_text(sheet_drawings(result), title="t"))
    found = {}
    for group in root.findall(f"{SVG}g"):
        paths = [p for p in group.findall(f"{SVG}path") if p.get("class") in ("sew", "fold")]
        found[group.findtext(f"{SVG}title")] = [
            length(np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+)", p.get("d")), dtype=float)) for p in paths
        ]
    return found


@pytest.mark.parametrize("panel", ["half cell", "cell"])
def test_mating_edges_agree_in_the_svg(design, panel):
    """Both edges of every panel, left and right half, with the ribs they are sewn to."""
    result = templates(override(design, {"sewing.panel": panel}))
    read = read_svg(result)
    ribs = {}
    for piece in result.pieces:
        if piece.kind == "rib":
            lengths = dict(zip([edge.name for edge in piece.edges], read[piece.title], strict=True))
            ribs |= dict.fromkeys(piece.places, lengths)
    per_cell = result.canopy.n_half_cells // result.canopy.n_cells if panel == "cell" else 1
    seams = 0
    for piece in result.pieces:
        if piece.kind != "panel":
            continue
        side = "top" if piece.name.startswith("top panel") else "bottom"
        left, _, right, _ = read[piece.title][:4]
        for places, edges in ((piece.places, (left, right)), (piece.mirrored_places, (right, left))):
            for place in places:
                inner, outer = 1 + (place - 1) * per_cell, 1 + place * per_cell
                assert edges[0] == pytest.approx(ribs[inner][side], abs=SEAM_ERROR)
                assert edges[1] == pytest.approx(ribs[outer][side], abs=SEAM_ERROR)
                seams += 2
    assert seams == 4 * result.canopy.n_half_cells // per_cell


def test_notches_of_mating_edges_meet(design):
    """Distance of each notch along the sewing line, on the rib and on both panels beside it.

    The rib's tick at the lip stands where the panel's front fold comes: at the end of its edge.
    """
    result = templates(design)
    ribs = {place: piece for piece in result.pieces if piece.kind == "rib" for place in piece.places}
    for piece in result.pieces:
        if piece.kind != "panel":
            continue
        side = "top" if piece.name.startswith("top panel") else "bottom"
        place = piece.places[0]
        for edge, rib in (("left", ribs[place]), ("right", ribs[place + 1])):
            on_panel, on_rib = (notch_places(p, name) for p, name in ((piece, edge), (rib, side)))
            assert len(on_panel) > 1
            with_fold = sorted([*on_panel, piece.edge(edge).length])
            assert with_fold == pytest.approx(sorted(on_rib), abs=SEAM_ERROR)


def notch_places(piece, name):
    """Distances of notches from the rear end of an edge; tab ticks begin inside and are left out. [mm]"""
    points = piece.edge(name).points
    if points[0, 0] < points[-1, 0]:
        points = points[::-1]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    found = []
    for mark in piece.marks:
        if mark.closed or len(mark.points) != 2:
            continue
        start, step = points[:-1], np.diff(points, axis=0)
        share = np.clip(((mark.points[0] - start) * step).sum(1) / (step**2).sum(1), 0, 1)
        off = np.hypot(*(start + share[:, None] * step - mark.points[0]).T)
        if off.min() < 1e-3:
            found.append(along[off.argmin()] + share[off.argmin()] * np.hypot(*step[off.argmin()]))
    return sorted(found)


def test_rib_in_the_dxf_has_the_chord_of_the_design(design):
    """Largest extent of sewing lines in the file against the design file, in millimetres.

    A cambered section reaches a little ahead of its chord line, by the outline 0.02 % on pelican.
    """
    result = templates(design)
    document = ezdxf.read(io.StringIO(dxf_text([p.drawing("t") for p in result.pieces if p.kind == "rib"])))
    lines = document.modelspace().query('LWPOLYLINE[layer=="SEW_LINE"]')
    longest = max(np.ptp(np.array(line.get_points("xy"))[:, 0]) for line in lines)
    upper = result.canopy.outline[: int(np.argmin(result.canopy.outline[:, 0])) + 1]
    inlet = result.canopy.inlet
    front = min(inlet.upper_lip, inlet.lower_lip) if inlet.kind == "open" else upper[:, 0].min()
    assert longest == pytest.approx(1e3 * design.canopy.chord * (upper[:, 0].max() - front), abs=1e-3)
    assert longest == pytest.approx(1e3 * design.canopy.chord * (1.0 - max(front, 0.0)), rel=5e-4)
