"""Section outlines: worked by hand, edges, the text of errors."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from parasim.config.canopy import AirfoilSpec
from parasim.errors import DesignError
from parasim.geometry import airfoil
from parasim.geometry.airfoil import FAMILIES, build_outline, deflected_outline
from parasim.geometry.coordinates import read_coordinates
from parasim.geometry.rigging import build_section

CASES = [(family, t) for family in FAMILIES for t in (0.09, 0.15, 0.21) if family != "naca23015" or t == 0.15]


@pytest.mark.parametrize(("family", "thickness"), CASES)
def test_outline_runs_from_the_trailing_edge_over_the_top_and_back(family, thickness):
    outline = build_outline(family, thickness)
    nose = int(np.argmin(outline[:, 0]))
    assert_allclose(outline[[0, -1], 0], 1.0, atol=1e-3)
    assert abs(outline[nose, 0]) < 3e-3
    assert np.mean(outline[:nose, 1]) > np.mean(outline[nose:, 1])
    assert np.all(np.diff(outline[: nose + 1, 0]) < 0)
    assert np.all(np.diff(outline[nose:, 0]) > 0)


@pytest.mark.parametrize(("family", "thickness"), CASES)
def test_thickness_is_what_was_asked_for(family, thickness):
    """Within 0.3 %: the NACA forms measure thickness across the camber line, we across the x axis."""
    assert airfoil.thickness_ratio(build_outline(family, thickness)) == pytest.approx(thickness, rel=3e-3)


@pytest.mark.parametrize(("family", "thickness"), CASES)
def test_surfaces_do_not_cross(family, thickness):
    x = np.linspace(0, 0.99, 200)
    outline = build_outline(family, thickness)
    assert np.all(airfoil.upper_surface(outline, x) > airfoil.lower_surface(outline, x) - 1e-9)


@pytest.mark.parametrize("thickness", [0.09, 0.15, 0.21])
def test_flat_bottom_is_flat_and_on_the_chord_line(thickness):
    outline = build_outline("flat-bottomed", thickness)
    x = np.linspace(airfoil.FLAT_START, 1.0, 50)
    assert_allclose(airfoil.lower_surface(outline, x), 0.0, atol=2e-5)
    stations = np.linspace(0, 1, 1001)
    crest = stations[np.argmax(airfoil.upper_surface(outline, stations))]
    assert crest == pytest.approx(airfoil.FLAT_CREST, abs=0.005)


def test_flat_bottom_curves_one_way_over_the_top():
    """No dent: the upper surface is convex behind the nose."""
    x = np.linspace(0.05, 0.999, 100)
    heights = airfoil.upper_surface(build_outline("flat-bottomed", 0.15), x)
    assert np.all(np.diff(heights, 2) < 1e-6)


def test_area_of_a_box():
    """A rectangle 1 x 0.1: area 0.1; from its lower front corner 1.1 over the top, 1.0 below."""
    box = np.array([[1, 0.1], [1e-9, 0.1], [0, 0], [1, 0]], dtype=float)
    assert airfoil.section_area(box) == pytest.approx(0.1)


def test_area_of_the_naca_thickness_form():
    """Integral of the 4-digit polynomial: 2 x 5 t (2/3 .2969 - .126/2 - .3516/3 + .2843/4 - .1015/5)."""
    t = 0.12
    by_hand = 10 * t * (2 / 3 * 0.2969 - 0.1260 / 2 - 0.3516 / 3 + 0.2843 / 4 - 0.1015 / 5)
    assert airfoil.section_area(build_outline("symmetric", t)) == pytest.approx(by_hand, rel=1e-3)


@pytest.mark.parametrize("slope", np.radians([5.0, 20.0, 40.0, 90.0, 120.0]))
def test_trailing_edge_of_the_bend_moves_along_a_circle(slope):
    """The bent chord line ends where drop and advance say, and at the slope asked for."""
    x = np.linspace(0.7, 1.0, 301)
    line = deflected_outline(np.column_stack([x, np.zeros_like(x)]), slope)
    assert line[-1, 0] == pytest.approx(1 - float(airfoil.trailing_edge_advance(slope)), abs=1e-12)
    assert line[-1, 1] == pytest.approx(-float(airfoil.trailing_edge_drop(slope)), abs=1e-12)
    end = line[-1] - line[-2]
    assert np.arctan2(-end[1], end[0]) == pytest.approx(slope, abs=0.01)
    assert np.sum(np.hypot(*np.diff(line, axis=0).T)) == pytest.approx(0.3, rel=1e-4)


def test_drop_and_advance_by_hand():
    """At 90 degrees a quarter circle of length 0.3: radius 0.19099; drop r, advance 0.3 - r."""
    r = 0.3 / (np.pi / 2)
    assert float(airfoil.trailing_edge_drop(np.pi / 2)) == pytest.approx(r)
    assert float(airfoil.trailing_edge_advance(np.pi / 2)) == pytest.approx(0.3 - r)
    assert float(airfoil.trailing_edge_drop(0.0)) == 0.0
    assert float(airfoil.trailing_edge_advance(0.0)) == 0.0


def test_bend_leaves_the_front_alone_and_keeps_thickness():
    outline = build_outline("symmetric", 0.15)
    bent = deflected_outline(outline, np.radians(30))
    front = outline[:, 0] <= 0.7
    assert_allclose(bent[front], outline[front])
    upper, lower = outline[:121], outline[120:][::-1]
    bent_upper, bent_lower = bent[:121], bent[120:][::-1]
    assert_allclose(
        np.hypot(*(bent_upper - bent_lower).T), np.hypot(*(upper - lower).T), atol=1e-12
    )  # distance of facing points


def test_no_brake_is_no_change_and_up_mirrors_down():
    outline = build_outline("symmetric", 0.12)
    assert_allclose(deflected_outline(outline, 0.0), outline)
    down, up = deflected_outline(outline, 0.2), deflected_outline(outline, -0.2)
    assert_allclose(up[::-1] * [1, -1], down, atol=1e-12)


@pytest.mark.parametrize(
    ("family", "thickness", "words"),
    [
        ("round", 0.15, "'round'.*use one of flat-bottomed, reflexed, symmetric, naca23015"),
        ("symmetric", 0.3, "0.3.*use 0.09 to 0.21"),
        ("symmetric", 0.05, "0.05.*use 0.09 to 0.21"),
        ("naca23015", 0.12, "0.12.*naca23015 is 0.15 thick"),
    ],
)
def test_what_is_not_in_the_families_is_refused(family, thickness, words):
    with pytest.raises(DesignError, match=words):
        build_outline(family, thickness)


def test_outline_of_a_spec(tmp_path):
    spec = AirfoilSpec(family="reflexed", thickness=0.15)
    assert_allclose(build_section(spec), build_outline("reflexed", 0.15))
    path = write(tmp_path, build_outline("symmetric", 0.12))
    assert_allclose(build_section(AirfoilSpec(coordinates=path)), build_outline("symmetric", 0.12), atol=2e-3)


def write(directory, points, title="own section"):
    path = directory / "own.dat"
    rows = "\n".join(f" {x:.6f}  {z:.6f}" for x, z in points)
    path.write_text(f"{title}\n{rows}\n" if title else rows + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("every", [1, 4, 8])
@pytest.mark.parametrize("family", ["flat-bottomed", "naca23015"])
def test_coordinates_come_back(tmp_path, family, every):
    """An outline written out and read is the same; with 31 points left to within 0.2 % of the chord."""
    outline = build_outline(family, 0.15)
    read = read_coordinates(write(tmp_path, outline[::every]))
    x = np.linspace(0.01, 0.99, 99)
    for surface in (airfoil.upper_surface, airfoil.lower_surface):
        assert_allclose(surface(read, x), surface(outline, x), atol=2e-3)


def test_coordinates_in_percent_upside_down_or_without_title(tmp_path):
    outline = build_outline("reflexed", 0.15)
    plain = read_coordinates(write(tmp_path, outline, title=""))
    assert_allclose(read_coordinates(write(tmp_path, 100 * outline)), plain, atol=1e-5)
    assert_allclose(read_coordinates(write(tmp_path, outline[::-1])), plain, atol=1e-5)


def test_coordinates_surface_by_surface(tmp_path):
    outline = build_outline("symmetric", 0.12)[::4]
    upper, lower = outline[30::-1], outline[30:]
    rows = [[len(upper), len(lower)], *upper, *lower]
    assert_allclose(read_coordinates(write(tmp_path, rows)), build_outline("symmetric", 0.12), atol=2e-3)


def spoiled(change):
    points = build_outline("symmetric", 0.12)[::8].tolist()
    change(points)
    return points


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("title\n1 0\n0.5 x\n0 0\n", r"own.dat:3: .*given '0.5 x', not two finite numbers"),
        ("title\n1 0\n0.5 nan\n0 0\n", r"own.dat:3: .*not two finite numbers"),
        ("title\n1 0 4\n0.5 1\n0 0\n", r"own.dat:2|own.dat:3|only"),
        ("title\n1 0\n0.5 0.1\n0 0\n", "only 3 points found; give at least 15"),
        ("", "only 0 points found"),
        ("title\n" + "1 0\n" * 20, "all points have the same x"),
        ("title\n" + "".join(f"{i / 20} 0.1\n" for i in range(20)), "do not go from the trailing edge"),
    ],
)
def test_coordinate_mistakes_are_one_line(tmp_path, content, words):
    path = tmp_path / "own.dat"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(DesignError, match=words) as caught:
        read_coordinates(path)
    assert "\n" not in str(caught.value)
    assert "canopy.airfoil.coordinates" in str(caught.value)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda p: p.__setitem__(slice(3, 5), p[4:2:-1]), "x goes back and forth along the upper surface"),
        (lambda p: p.__setitem__(10, [p[10][0], -0.2]), "upper and lower surface cross"),
        (lambda p: p.__setitem__(slice(None), [[x, 5 * z] for x, z in p]), "thickness is 59.* %"),
        (lambda p: p.__setitem__(slice(None), [[x, z / 5] for x, z in p]), "thickness is 2.4 %"),
    ],
)
def test_coordinates_of_no_section_are_refused(tmp_path, change, words):
    with pytest.raises(DesignError, match=words):
        read_coordinates(write(tmp_path, spoiled(change)))


def test_unreadable_coordinates(tmp_path):
    with pytest.raises(DesignError, match=r"none.dat: .*cannot be read"):
        read_coordinates(tmp_path / "none.dat")
    with pytest.raises(DesignError, match="cannot be read"):
        read_coordinates(tmp_path)
    picture = tmp_path / "own.dat"
    picture.write_bytes(b"\x89PNG\xff\xfe\x00")
    with pytest.raises(DesignError, match="is not a text file"):
        read_coordinates(picture)
