"""Pieces of the demonstration designs: counts, areas, places, lettering."""

import numpy as np
import pytest
from shapely import LineString, Point, Polygon

from parasim.config.loader import load_design, override
from parasim.errors import DesignError
from parasim.geometry.airfoil import lower_surface
from parasim.sewing.ribs import HOLE_CLEARANCE
from parasim.sewing.templates import templates
from tests.outlines import perimeter

NAMES = ("heron", "wren", "pelican")


@pytest.fixture(scope="module")
def made(configs):
    return {name: templates(load_design(configs / f"{name}.yaml")) for name in NAMES}


def of_kind(made, kind):
    return [piece for piece in made.pieces if piece.kind == kind]


def shoelace(points):
    x, y = points.T
    return 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def test_seven_cells_make_fifteen_ribs(made):
    """7 cells are 14 half cells between 15 ribs: 8 loaded, two of them plain end ribs, and 7 unloaded.

    Common practice, no source.
    """
    count = {piece.name: piece.count for piece in made["heron"].pieces}
    assert count["end rib"] + count["loaded rib"] == 8
    assert count["end rib"] == 2
    assert count["unloaded rib"] == 7
    for skin in ("top", "bottom"):
        assert sum(n for name, n in count.items() if name.startswith(f"{skin} panel")) == 14
    assert count["patch A"] == 8


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("kind", ["rib", "panel"])
def test_every_place_has_just_one_piece(made, name, kind):
    result = made[name]
    groups = [of_kind(result, "rib")] if kind == "rib" else [
        [piece for piece in of_kind(result, "panel") if piece.name.startswith(f"{skin} panel")]
        for skin in ("top", "bottom")
    ]  # fmt: skip
    n = result.canopy.n_ribs if kind == "rib" else result.canopy.n_half_cells
    for pieces in groups:
        places = [place for piece in pieces for place in (*piece.places, *piece.mirrored_places)]
        assert sorted(places) == list(range(1, n + 1))
        assert sum(piece.count for piece in pieces) == n


@pytest.mark.parametrize("name", NAMES)
def test_rib_areas_and_edges_are_those_of_the_geometry(made, name):
    result = made[name]
    canopy = result.canopy
    upper, lower = perimeter(canopy.outline)
    for piece in of_kind(result, "rib"):
        i = piece.places[0] - 1
        chord = 1e3 * float(canopy.chord_at(canopy.rib_angle)[i])
        nose = piece.edge("inlet").length
        if canopy.inlet.kind == "flush":
            assert piece.edge("top").length == pytest.approx(upper * chord, abs=0.01)
            assert piece.edge("bottom").length + nose == pytest.approx(lower * chord, abs=0.01)
            assert piece.sewn_area == pytest.approx(1e6 * canopy.rib_area[i], rel=1e-6)
        else:
            assert piece.edge("top").length < upper * chord
            assert nose == pytest.approx(canopy.inlet.height * chord / np.sin(np.radians(60)), abs=0.01)
            assert 0.975 < piece.sewn_area / (1e6 * canopy.rib_area[i]) < 1.0


@pytest.mark.parametrize("name", NAMES)
def test_areas_by_the_shoelace_formula(made, name):
    for piece in made[name].pieces:
        holes = sum(shoelace(hole) for hole in piece.holes)
        assert piece.sewn_area == pytest.approx(shoelace(piece.sewing_line) - holes)
        assert piece.cut_area == pytest.approx(shoelace(piece.cut_line) - holes)
        assert piece.sewn_perimeter == pytest.approx(sum(edge.length for edge in piece.edges), rel=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_cut_line_keeps_each_allowance(made, name):
    for piece in made[name].pieces:
        cut = LineString(np.vstack([piece.cut_line, piece.cut_line[:1]]))
        assert Polygon(piece.cut_line).buffer(1e-6).contains(Polygon(piece.sewing_line))
        for edge in piece.edges:
            middle = Point(
                edge.points[len(edge.points) // 2] if len(edge.points) > 2 else edge.points.mean(axis=0)
            )
            assert middle.distance(cut) == pytest.approx(edge.allowance, abs=0.05)


@pytest.mark.parametrize("name", NAMES)
def test_crossports_are_clear_of_edges_and_of_each_other(made, name):
    spec = made[name].design.canopy.crossports
    for piece in of_kind(made[name], "rib"):
        if piece.name.startswith("end rib"):
            assert not piece.holes
            continue
        assert len(piece.holes) == spec.count
        edge = Polygon(piece.sewing_line).exterior
        holes = [Polygon(hole) for hole in piece.holes]
        assert min(hole.distance(edge) for hole in holes) > 0.9 * HOLE_CLEARANCE
        gaps = [a.distance(b) for i, a in enumerate(holes) for b in holes[:i]]
        assert min(gaps) > 0.9 * HOLE_CLEARANCE
        chord = np.ptp(piece.sewing_line[:, 0])
        assert np.ptp(piece.holes[0][:, 0]) == pytest.approx(spec.diameter * chord, rel=0.01)


@pytest.mark.parametrize("name", NAMES)
def test_tabs_are_at_their_rows_on_loaded_ribs_only(made, name):
    result = made[name]
    rows = result.design.lines.rows
    for piece in of_kind(result, "rib"):
        letters = {tag.text: tag for tag in piece.tags}
        if piece.name.startswith("unloaded rib"):
            assert not letters
            continue
        assert list(letters) == list(rows)
        canopy = result.canopy
        out = abs(canopy.rib_angle[piece.places[0] - 1]) / canopy.half_arc
        chord = 1e3 * canopy.root_chord * (1 - (1 - canopy.taper) * out)
        ticks = [mark.points for mark in piece.marks if not mark.closed and len(mark.points) == 2]
        for x in rows.values():
            tab = chord * np.array([x, float(lower_surface(result.canopy.outline, x))])
            nearest = min(LineString(tick).distance(Point(tab)) for tick in ticks)
            assert nearest < 0.1


def test_too_many_crossports_are_refused(heron):
    with pytest.raises(DesignError, match=r"canopy\.crossports.*fewer or smaller"):
        templates(override(heron, {"canopy.crossports": {"count": 12, "diameter": "9 %"}}))


def test_cloth_too_narrow_is_refused(heron):
    with pytest.raises(DesignError, match=r"sewing\.cloth_width: given 300 mm.*wider cloth"):
        templates(override(heron, {"canopy.cells": 3, "canopy.half_cells": 3, "sewing.cloth_width": "0.3 m"}))


def test_left_panels_are_the_right_ones_turned_over(made):
    for piece in of_kind(made["pelican"], "panel"):
        assert piece.count == 2
        assert piece.mirrored == 1
        assert piece.mirrored_places == (19 - piece.places[0],)
        assert "1 mirrored" in piece.cutting_words


def test_panels_of_an_even_chord_are_symmetric(made):
    top = next(piece for piece in made["heron"].pieces if piece.name == "top panel")
    assert top.mirrored == 7  # only its notch in the rear edge is not
    assert Polygon(top.cut_line).symmetric_difference(Polygon(top.cut_line * [1, -1])).area < 1.0


@pytest.mark.parametrize("name", NAMES)
def test_stabiliser_fits_the_tip_rib(made, name):
    result = made[name]
    found = of_kind(result, "stabiliser")
    if result.canopy.stabiliser is None:
        assert not found
        return
    assert found[0].count == 2
    assert found[0].sewn_area == pytest.approx(1e6 * result.canopy.stabiliser.area, rel=1e-6)
    tip = next(piece for piece in result.pieces if piece.name == "end rib").edge("bottom")
    assert LineString(tip.points).buffer(0.01).contains(LineString(found[0].edge("top").points))


@pytest.mark.parametrize("name", NAMES)
def test_brake_tabs_are_where_the_lines_end(made, name):
    """Each brake line's upper end, on the trailing edge, measured along the arc from the panel's left rib."""
    from parasim.geometry.lines import brake_tabs

    result = made[name]
    canopy = result.canopy
    step = canopy.span / canopy.n_half_cells
    y, z = (brake_tabs(result.design, canopy) - canopy.quarter_chord)[:, 1:].T
    along = canopy.arc_radius * np.arctan2(y, canopy.arc_radius - z) + canopy.span / 2
    marked = {}
    for piece in of_kind(result, "panel"):
        for tag in piece.tags:
            if tag.text.startswith("brake tab"):
                rear = piece.edge("rear").points
                share = LineString(rear).project(Point(tag.at)) / LineString(rear).length
                marked[int(tag.text.split()[-1])] = (piece.places[0] - 1 + share) * step
    assert len(marked) == result.design.brakes.branches
    for number, place in marked.items():
        assert place == pytest.approx(along[number - 1], abs=0.003)


@pytest.mark.parametrize("name", NAMES)
def test_lettering_is_readable_and_crosses_no_scissors(made, name):
    for piece in made[name].pieces:
        drawing = piece.drawing(name)
        cuts = [LineString(path.loop) for path in drawing.paths if path.kind == "cut"]
        rooms = [Polygon(label.corners) for label in drawing.labels]
        assert min(label.height for label in drawing.labels) >= 2.5
        assert not any(room.intersects(cut) for room in rooms for cut in cuts)
        assert not any(a.intersection(b).area > 0.01 for i, a in enumerate(rooms) for b in rooms[:i])
        assert any(f"{name}: {piece.title}" == label.text for label in drawing.labels)
        assert any("cut" in label.text for label in drawing.labels)


def test_an_unloaded_rib_that_does_not_fit_its_line_is_told(configs):
    """On a tapered canopy the rib in the middle of the centre cell is the longest."""
    pelican = override(load_design(configs / "pelican.yaml"), {"sewing.panel": "cell"})
    result = templates(pelican)
    assert sum(piece.count for piece in of_kind(result, "panel")) == 18
    assert max(piece.ease for piece in result.pieces) > 0.5
    assert "ease it in" in result.caveats[0]


KEYS = {
    "seam_allowance": "12 mm",
    "hem": "20 mm",
    "panel": "cell",
    "billow": "3 %",
    "notch_spacing": "60 mm",
    "patch": "30 mm",
    "cloth_width": "1.2 m",
}


def numbers(design):
    result = templates(design)
    marks = [mark.points for piece in result.pieces for mark in piece.marks]
    return np.concatenate(
        [[result.cloth_length], *(piece.cut_line.ravel() for piece in result.pieces), *map(np.ravel, marks)]
    )


@pytest.mark.parametrize("key", KEYS)
def test_every_sewing_key_moves_a_piece(key, heron):
    before, after = numbers(heron), numbers(override(heron, {f"sewing.{key}": KEYS[key]}))
    assert before.shape != after.shape or np.abs(before - after).max() > 1e-3


def test_the_keys_above_are_all_there_are():
    from parasim.config.sewing import SewingSpec

    assert {*KEYS, "tape", "thread"} == set(SewingSpec.model_fields)


@pytest.mark.parametrize("name", NAMES)
def test_cut_lines_have_no_steps(made, name):
    """No two turns the opposite way within a few millimetres: scissors cannot follow them."""
    for piece in made[name].pieces:
        cut = piece.cut_line if Polygon(piece.cut_line).exterior.is_ccw else piece.cut_line[::-1]
        sides = np.diff(np.vstack([cut, cut[:2]]), axis=0)
        after = np.roll(sides, -1, axis=0)[:-1]
        sides = sides[:-1]
        turn = np.arctan2(sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0], (sides * after).sum(axis=1))
        assert turn.min() > np.radians(-10), piece.title


@pytest.mark.parametrize("name", NAMES)
def test_ribs_show_where_the_inlet_ends(made, name):
    """A tick across the allowance at either lip, where the fold of a panel's front edge comes."""
    for piece in of_kind(made[name], "rib"):
        ticks = [mark.points[0] for mark in piece.marks if not mark.closed and len(mark.points) == 2]
        for lip in piece.edge("inlet").points[[0, -1]]:
            assert min(np.hypot(*(np.array(ticks) - lip).T)) < 1e-6, piece.title


def test_every_second_rib_is_not_told_as_a_run(made):
    """Ribs 3, 5 to 13 would read as 3, 5, 6, 7 and so on."""
    titles = [piece.title for piece in of_kind(made["heron"], "rib")]
    assert titles == [
        "1 end rib (ribs 1, 15)",
        "2 loaded rib (ribs 3, 5, ..., 13)",
        "3 unloaded rib (ribs 2, 4, ..., 14)",
    ]
