"""What a maker reads off the pieces: one name, notches that fit one way, ports clear of patches."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from shapely import LineString, Point, Polygon

from parasim.cli.main import main
from parasim.config.loader import load_design, override
from parasim.rotations import FloatArray
from parasim.sewing.allowance import Edge
from parasim.sewing.flatten import arc_length
from parasim.sewing.nesting import nest
from parasim.sewing.pieces import Piece
from parasim.sewing.ribs import HOLE_CLEARANCE
from parasim.sewing.templates import Templates, templates

DEMO = ("heron", "wren", "pelican", "dipper")
MATCH = 0.01  # [mm]


@pytest.fixture(scope="module", params=DEMO)
def made(request, configs: Path) -> Templates:
    return templates(load_design(configs / f"{request.param}.yaml"))


def of_kind(made: Templates, kind: str) -> list[Piece]:
    return [piece for piece in made.pieces if piece.kind == kind]


def on_edge(piece: Piece, edge: Edge) -> FloatArray:
    """Distances from the front end of an edge, of every tick that starts on it and does not reach inwards."""
    found = []
    along = arc_length(edge.points)
    for mark in piece.marks:
        if mark.closed or len(mark.points) != 2:
            continue
        x = np.interp(mark.points[0, 0], *sorted_by_x(edge.points[:, 0], along))
        at = np.array([np.interp(x, along, column) for column in edge.points.T])
        if np.hypot(*(at - mark.points[0])) < 1e-3 and 1.0 < x < edge.length - 1.0:
            found.append(float(x))
    forwards = edge.points[0, 0] > edge.points[-1, 0]
    return np.sort([edge.length - x for x in found] if forwards else found)


def sorted_by_x(x: FloatArray, along: FloatArray) -> tuple[FloatArray, FloatArray]:
    order = np.argsort(x)
    return x[order], along[order]


def sides(made: Templates) -> Iterator[tuple[Piece, Edge]]:
    for piece in of_kind(made, "panel"):
        yield piece, piece.edge("left")
        yield piece, piece.edge("right")


def test_notches_of_mating_edges_meet(made):
    """The edge of a rib, and of the panels at it: equal places from the front end."""
    ribs = {place: piece for piece in of_kind(made, "rib") for place in piece.places}
    for piece in of_kind(made, "panel"):
        skin = piece.name.split()[0]
        for place in piece.places:
            for rib, edge in ((place, "left"), (place + 1, "right")):
                ours = on_edge(piece, piece.edge(edge))
                theirs = on_edge(ribs[rib], ribs[rib].edge(skin))
                assert len(ours) > 1, piece.title
                assert ours == pytest.approx(theirs, abs=MATCH), (piece.title, rib)


def test_no_panel_matches_when_it_is_turned_front_to_rear(made):
    """No notch of the turned edge is within 10 mm of one of the rib's."""
    for piece, edge in sides(made):
        places = on_edge(piece, edge)
        turned = edge.length - places
        assert np.abs(places[:, None] - turned).min() > 10.0, piece.title


def across(u: FloatArray, v: FloatArray) -> float:
    return float(u[0] * v[1] - u[1] * v[0])


def test_no_panel_matches_when_it_is_turned_over(made):
    """The notch in the rear edge, on both skins in the same place, nearer to the canopy's centre."""
    at: dict[tuple[str, int], float] = {}
    for piece in of_kind(made, "panel"):
        rear = piece.edge("rear")
        u = (rear.points[-1] - rear.points[0]) / rear.length
        on_it = [
            float((mark.points[0] - rear.points[0]) @ u)
            for mark in piece.marks
            if len(mark.points) == 2 and abs(across(u, mark.points[0] - rear.points[0])) < 1e-6
        ]
        (place,) = (x for x in on_it if 1.0 < x < rear.length - 1.0)
        assert abs(rear.length - 2 * place) > 10.0, piece.title
        at |= {(piece.name.split()[0], number): place for number in piece.places}
        at |= {(piece.name.split()[0], number): place for number in piece.mirrored_places}  # from the right
    numbers = {number for _, number in at}
    for number in numbers:
        assert at["top", number] == pytest.approx(at["bottom", number], abs=MATCH)


def test_a_rib_matches_one_way_up_only(made):
    """One tick a notch on top, two on the bottom."""
    for rib in of_kind(made, "rib"):
        top = np.diff(on_edge(rib, rib.edge("top")))
        bottom = np.diff(on_edge(rib, rib.edge("bottom")))
        assert top.min() > 10.0
        assert bottom.min() == pytest.approx(3.0, abs=0.01)


def test_stabilisers_have_the_notches_of_their_rib(configs):
    made = templates(load_design(configs / "pelican.yaml"))
    (fin,) = of_kind(made, "stabiliser")
    tip = next(piece for piece in made.pieces if piece.name == "end rib")
    ours, theirs = on_edge(fin, fin.edge("top")), on_edge(tip, tip.edge("bottom"))
    start = np.interp(
        fin.edge("top").points[:, 0].min(),
        tip.edge("bottom").points[:, 0],
        arc_length(tip.edge("bottom").points),
    )
    assert len(ours) > 4
    assert all(np.abs(theirs - start - x).min() < MATCH for x in ours)


def test_a_piece_has_one_number_and_name(made, tmp_path, capsys, configs):
    """In both tables, the templates, the nest, SVG ids, DXF groups, and the build steps."""
    name, design = made.design.name, str(configs / f"{made.design.name}.yaml")
    for command in ("templates", "cut", "build"):
        assert main([command, design, "--out", str(tmp_path)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    svg = (tmp_path / f"{name}_templates.svg").read_text(encoding="utf-8")
    laid = (tmp_path / f"{name}_cut_nest.svg").read_text(encoding="utf-8")
    build = (tmp_path / f"{name}_build.md").read_text(encoding="utf-8")
    groups = {name for name, _ in ezdxf.readfile(tmp_path / f"{name}_templates.dxf").groups}
    parts = json.loads((tmp_path / f"{name}_cut.json").read_text(encoding="utf-8"))["parts"]
    assert [f"{part['number']} {part['piece']}" for part in parts] == [p.called for p in made.pieces]
    assert [piece.number for piece in made.pieces] == list(range(1, len(made.pieces) + 1))
    assert len({piece.name for piece in made.pieces}) == len(made.pieces)
    for piece in made.pieces:
        assert said.count(piece.title) >= 3, piece.title
        assert f'id="piece_{piece.called.replace(" ", "_")}"' in svg
        assert f"{name}: {piece.title}" in svg
        assert f">{piece.called}<" in laid
        assert piece.called in groups
        assert f"| {piece.title} | {piece.count} |" in build
    assert {placement.piece.called for placement in nest(made.pieces, 1500.0).placements} == {
        piece.called for piece in made.pieces
    }


def test_notches_cross_the_middle_line_of_a_whole_cell(heron):
    """An unloaded rib is sewn there: its notches, at the same shares of the line."""
    made = templates(override(heron, {"sewing.panel": "cell"}))
    panel = next(piece for piece in made.pieces if piece.name.startswith("top panel"))
    rib = next(piece for piece in made.pieces if piece.name == "unloaded rib")
    middle = next(mark for mark in panel.marks if mark.kind == "sew")
    ticks = [m.points for m in panel.marks if m.kind == "mark" and len(m.points) == 2]
    on_line = LineString(middle.points)
    crossing = [tick for tick in ticks if on_line.distance(Point(tick.mean(axis=0))) < 0.1]
    share = on_edge(rib, rib.edge("top")) / rib.edge("top").length
    assert len(crossing) == len(share)
    line = Edge(name="middle", points=middle.points, allowance=0.0)
    x = sorted(float(tick[:, 0].mean()) for tick in crossing)
    assert np.interp(x, line.points[:, 0], arc_length(line.points)) / line.length == pytest.approx(
        share, abs=1e-3
    )


def apart(made: Templates) -> float:
    """Least distance of a cross-port from a patch on a loaded rib. [mm]"""
    found = [np.inf]
    for rib in of_kind(made, "rib"):
        patches = [Polygon(mark.points) for mark in rib.marks if mark.closed]
        found += [Polygon(hole).distance(patch) for hole in rib.holes for patch in patches]
    return min(found)


def test_cross_ports_keep_clear_of_the_patches(made):
    """6 mm, as from the sewing lines; a polygon and a circle differ by less than 0.2 mm."""
    assert apart(made) > HOLE_CLEARANCE - 0.2
    assert not any("cross-port" in caveat for caveat in made.caveats)


def test_cross_ports_that_cannot_are_named_by_rib_and_row(heron):
    """Patches of 150 mm leave no room between them."""
    made = templates(override(heron, {"sewing.patch": "150 mm"}))
    assert apart(made) == 0.0
    (found,) = (caveat for caveat in made.caveats if "row A" in caveat)
    assert found.kind == "fails"
    assert "patch of row A on ribs 3, 5, 7, 9, 11, 13" in found
