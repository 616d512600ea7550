"""Strips laid flat, against shapes worked by hand."""

from math import pi

import numpy as np
import pytest

from parasim.geometry.canopy import build_canopy
from parasim.geometry.surface import lower_section, nose_section, upper_section
from parasim.sewing.flatten import arc_length, at_distance, developed_strip
from tests.outlines import perimeter


def area(left, right):
    x, y = np.vstack([left, right[::-1]]).T
    return 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def test_a_flat_rib_and_even_width_make_a_rectangle():
    edge = np.column_stack([np.linspace(0, 500, 11), np.zeros(11)])
    left, right = developed_strip(left=edge, right=edge, width=np.full(11, 80.0))
    assert np.allclose(left, np.column_stack([edge[:, 0], np.full(11, -40.0)]))
    assert np.allclose(right, np.column_stack([edge[:, 0], np.full(11, 40.0)]))


def test_a_curved_rib_of_even_width_is_unrolled_to_its_arc_length():
    angle = np.linspace(0, pi, 400)
    edge = 100 * np.column_stack([1 - np.cos(angle), np.sin(angle)])
    left, right = developed_strip(left=edge, right=edge, width=np.full(400, 50.0))
    assert left[-1] == pytest.approx([100 * pi, -25.0], abs=0.01)
    assert right[-1] == pytest.approx([100 * pi, 25.0], abs=0.01)


def test_widening_makes_an_isosceles_trapezoid():
    """Edge 100 long, 60 wide in front and 180 behind: half of the difference is 60, so it is 80 high."""
    edge = np.array([[0.0, 0.0], [100.0, 0.0]])
    left, right = developed_strip(left=edge, right=edge, width=np.array([60.0, 180.0]))
    assert left == pytest.approx(np.array([[0, -30], [80, -90]]))
    assert right == pytest.approx(np.array([[0, 30], [80, 90]]))


def test_unlike_ribs_of_a_flat_wing_keep_their_true_shape():
    """With no arc and no bulge the panel is flat already: a trapezoid swept at both ends."""
    x = np.linspace(-0.25, 0.75, 21)
    left_rib, right_rib = (np.column_stack([chord * x, np.zeros(21)]) for chord in (500.0, 440.0))
    left, right = developed_strip(left=left_rib, right=right_rib, width=np.full(21, 90.0))
    assert area(left, right) == pytest.approx(90 * (500 + 440) / 2)
    for i, j in ((0, -1), (-1, 0), (5, 12)):
        true = np.hypot(right_rib[j, 0] - left_rib[i, 0], 90.0)
        assert np.hypot(*(right[j] - left[i])) == pytest.approx(true)


@pytest.mark.parametrize("chords", [(500.0, 500.0), (500.0, 470.0), (470.0, 500.0)])
def test_edges_keep_their_length_piece_by_piece(chords, heron):
    section = upper_section(build_canopy(heron))
    ribs = [chord * (section - [0.25, 0]) for chord in chords]
    width = 80 + 0.2 * ribs[0][:, 1]
    left, right = developed_strip(left=ribs[0], right=ribs[1], width=width)
    for flat, rib in ((left, ribs[0]), (right, ribs[1])):
        assert np.allclose(np.diff(arc_length(flat)), np.diff(arc_length(rib)), atol=1e-8)


def test_mirror_image_of_unlike_ribs(heron):
    """Left and right exchanged gives the same panel turned over, to a hundredth of a millimetre."""
    section = upper_section(build_canopy(heron))
    ribs = [chord * (section - [0.25, 0]) for chord in (500.0, 470.0)]
    width = 80 + 0.2 * ribs[0][:, 1]
    one = developed_strip(left=ribs[0], right=ribs[1], width=width)
    other = developed_strip(left=ribs[1], right=ribs[0], width=width)
    assert np.allclose(one[0], other[1] * [1, -1], atol=0.01)
    assert np.allclose(one[1], other[0] * [1, -1], atol=0.01)


def test_at_distance_walks_along_the_line():
    line = np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 10.0]])
    assert at_distance(line, [0.0, 2.5, 8.0]) == pytest.approx(np.array([[0, 0], [1.5, 2.0], [3, 7]]))


def test_sections_add_up_to_the_outline(heron):
    canopy = build_canopy(heron)
    upper, lower = perimeter(canopy.outline)
    along = [arc_length(part(canopy))[-1] for part in (upper_section, lower_section, nose_section)]
    assert along[0] == pytest.approx(upper)
    assert along[1] + along[2] == pytest.approx(lower)


def test_an_open_nose_is_cut_straight(configs):
    from parasim.config.loader import load_design

    canopy = build_canopy(load_design(configs / "pelican.yaml"))
    nose = nose_section(canopy)
    assert nose.shape == (2, 2)
    run, rise = nose[1] - nose[0]
    assert -rise == pytest.approx(0.04, abs=1e-6)  # from ahead
    assert np.degrees(np.arctan2(-rise, run)) == pytest.approx(60, abs=1e-4)
