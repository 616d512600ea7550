"""The SVG is read back with a general XML parser and measured."""

import re
from xml.etree import ElementTree as Xml

import numpy as np
import pytest

from parasim.drawing.style import STYLES
from parasim.drawing.svg import svg_text
from parasim.sewing.templates import sheet_drawings, sheet_key, templates

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def made(heron):
    return templates(heron)


@pytest.fixture(scope="module")
def root(made):
    drawings = sheet_drawings(made)
    return Xml.fromstring(
        svg_text((*drawings, sheet_key(made, drawings)), title="heron: templates, true size")
    )


def points(path):
    return np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d")), dtype=float)


def group(root, title):
    return next(g for g in root.findall(f"{SVG}g") if g.findtext(f"{SVG}title") == title)


def test_one_user_unit_is_one_millimetre(root):
    width, height = (re.fullmatch(r"([\d.]+)mm", root.get(side)).group(1) for side in ("width", "height"))
    assert root.get("viewBox") == f"0 0 {width} {height}"


def test_everything_is_inside(root):
    every = np.vstack([points(path) for path in root.iter(f"{SVG}path")])
    assert every.min() >= 0
    assert (every.max(axis=0) <= [float(root.get(side)[:-2]) for side in ("width", "height")]).all()


def test_pieces_are_as_large_as_they_are(made, root):
    for piece in made.pieces:
        paths = [
            path for path in group(root, piece.title).findall(f"{SVG}path") if path.get("class") == "cut"
        ]
        assert np.ptp(points(paths[0]), axis=0) == pytest.approx(piece.size, abs=0.005)
        assert len(paths) == 1 + len(piece.holes)


def test_upright_is_up(made, root):
    """The tab ticks of a rib are at its lower edge, larger y in SVG."""
    rib = group(root, next(piece.title for piece in made.pieces if piece.name == "end rib"))
    outline = points(next(path for path in rib.findall(f"{SVG}path") if path.get("class") == "cut"))
    letter = next(text for text in rib.findall(f"{SVG}text") if text.text == "A")
    assert float(letter.get("y")) > outline[:, 1].mean()


def test_check_bars(root):
    spans = [np.ptp(points(path)[:, 0]) for path in group(root, "key").findall(f"{SVG}path")]
    assert 100.0 in np.round(spans, 3)
    assert 101.6 in np.round(spans, 3)


def test_kinds_differ_by_dash_and_nothing_has_a_colour(root):
    dashes = {path.get("class"): path.get("stroke-dasharray") for path in root.iter(f"{SVG}path")}
    assert set(dashes) == set(STYLES)
    assert len(set(dashes.values())) == len(dashes)
    assert {element.get("stroke") for element in root.iter()} <= {None, "black", "none"}
