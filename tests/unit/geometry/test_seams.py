"""Seams and the width the skin is cut, against lengths worked out apart."""

from math import pi, sin

import numpy as np
import pytest

from parasim.config.loader import load_design, override
from parasim.geometry.canopy import build_canopy
from parasim.geometry.seams import (
    along,
    build_seams,
    bulge_share,
    default_billow,
    panel_edges,
    patch_heights,
    tab_count,
)
from tests.outlines import perimeter


def test_a_seam_is_as_long_as_its_pieces():
    seams = along(np.array([[[0.0, 0, 0], [3, 4, 0], [3, 4, 12]], [[0, 0, 0], [1, 0, 0], [1, 0, 2]]]))
    assert seams.length == pytest.approx([17.0, 3.0])
    assert seams.total == pytest.approx(20.0)
    assert seams.middle[0, 0] == pytest.approx([1.5, 2.0, 0.0])


def test_seams_go_once_round_every_rib(reference):
    """Fifteen ribs of half a metre: round the whole section each."""
    canopy = build_canopy(reference)
    seams = build_seams(canopy)
    assert seams.top.length.shape == (15,)
    round_a_rib = seams.top.length + seams.bottom.length + seams.nose.length
    assert round_a_rib == pytest.approx(np.full(15, 0.5 * sum(perimeter(canopy.outline))), rel=1e-3)


def test_trailing_edge_is_the_span(reference):
    """The trailing edge lies on the chord line's arc, 1.10 m long; a polygon of 28 sides, 1 in 5000 short."""
    seams = build_seams(build_canopy(reference))
    assert seams.trailing_edge.total == pytest.approx(1.10, rel=3e-4)


def test_an_open_nose_is_cut_straight(configs):
    canopy = build_canopy(load_design(configs / "pelican.yaml"))
    nose = build_seams(canopy).nose
    assert nose.piece.shape == (19, 1)
    # The cut is 4 % high from ahead, and leans back by 60 degrees.
    assert nose.length[9] == pytest.approx(0.04 * canopy.root_chord / np.sin(np.radians(60)), rel=1e-4)


def test_panels_of_a_whole_cell_meet_at_loaded_ribs(heron):
    canopy = build_canopy(heron)
    assert panel_edges(heron, canopy).tolist() == [1, *[2] * 13, 1]
    whole = override(heron, {"sewing.panel": "cell"})
    assert panel_edges(whole, canopy).tolist() == [1, *[0, 2] * 6, 0, 1]


def test_bulge_is_whole_at_mid_chord_and_gone_at_the_ends():
    x = np.array([0.0, 0.25, 0.5, 1.0])
    assert bulge_share(x) == pytest.approx([0.0, 0.75, 1.0, 0.0])


def test_default_billow_is_that_of_a_circular_arc(heron):
    canopy = build_canopy(heron)
    angle = 1.10 / 0.75 / 7
    assert default_billow(canopy) == pytest.approx(angle / sin(angle) - 1)
    assert angle < pi / 2


def test_patches_fit_the_rib(reference):
    """40 mm where the rib is 73 mm thick or more, else 55 % of the thickness."""
    heights = patch_heights(reference, build_canopy(reference))
    assert max(heights.values()) == 0.040
    assert heights["D"] < 0.020


def test_tabs_are_counted(heron):
    """8 loaded ribs with 4 rows, 3 brake branches a side."""
    assert tab_count(heron, build_canopy(heron)) == 8 * 4 + 6
