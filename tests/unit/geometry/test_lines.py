"""The line set: cascades, sides, brake fans."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.geometry.canopy import build_canopy
from parasim.geometry.lines import LineSet, brake_tabs, build_lines, junction


def line_set(design: Design, **changes: object) -> LineSet:
    design = override(design, {key.replace("__", "."): value for key, value in changes.items()})
    return build_lines(design, build_canopy(design))


@pytest.fixture(scope="module")
def lines(reference: Design) -> LineSet:
    return line_set(reference)


def test_how_many_pieces(lines: LineSet) -> None:
    """8 loaded ribs, two cascades of two rows: 16 trunks, 32 branches; brakes 2 trunks and 2 x 3 branches."""
    assert Counter(line.kind for line in lines.lines) == {"trunk": 16, "branch": 32, "brake": 8}


def test_without_cascades_every_row_is_a_line(reference: Design) -> None:
    plain = line_set(reference, lines__cascades=[])
    rows = [line for line in plain.lines if line.kind == "row"]
    assert len(rows) == 4 * 8
    for line in rows:
        assert line.length == pytest.approx(plain.straight[line.rows[0]][line.rib])


def test_left_is_the_mirror_of_right(lines: LineSet) -> None:
    for straight in lines.straight.values():
        np.testing.assert_allclose(straight, straight[::-1])
    ends = np.array([[line.start, line.end] for line in lines.lines])
    mirrored = ends * [1, -1, 1]

    def in_order(pairs: np.ndarray) -> np.ndarray:
        flat = pairs.reshape(len(pairs), -1).round(9) + 0.0
        return flat[np.lexsort(flat.T)]

    np.testing.assert_allclose(in_order(ends), in_order(mirrored), atol=1e-9)


def test_a_centre_rib_hangs_from_both_riser_ends(reference: Design) -> None:
    """Six cells have seven loaded ribs; the middle one would pull the canopy sideways from one riser end."""
    six = line_set(reference, canopy__cells=6, canopy__half_cells=12)
    middle = [line for line in six.lines if line.rib == 3]
    assert sorted(line.start[1] for line in middle if line.kind == "trunk") == [-0.05, -0.05, 0.05, 0.05]
    assert sum(line.length * (line.start + line.end)[1] for line in six.lines) == pytest.approx(
        0.0, abs=1e-12
    )


def test_cascade_hangs_together(lines: LineSet) -> None:
    """Every branch begins where its trunk ends."""
    trunks = {(line.rib, line.rows): line.end for line in lines.lines if line.kind == "trunk"}
    for line in lines.lines:
        if line.kind == "branch":
            (joint,) = (
                end for (rib, rows), end in trunks.items() if rib == line.rib and line.rows[0] in rows
            )
            np.testing.assert_array_equal(line.start, joint)


def test_total_length(lines: LineSet) -> None:
    assert lines.total_length == pytest.approx(sum(np.linalg.norm(x.end - x.start) for x in lines.lines))


@settings(max_examples=100, derandomize=True, deadline=None)
@given(
    tabs=arrays(float, (3, 3), elements=st.floats(-1, 1)),
    load=arrays(float, 3, elements=st.floats(0.05, 1)),
    height=st.floats(0.05, 0.95),
)
def test_a_cascade_is_never_shorter_than_the_straight_line(tabs, load, height):
    start = np.array([0.0, 0.0, 2.0])
    joint = junction(start=start, tabs=tabs, load=load, height=height)
    by_junction = np.linalg.norm(joint - start) + np.linalg.norm(tabs - joint, axis=1)
    assert np.all(by_junction >= np.linalg.norm(tabs - start, axis=1) - 1e-12)


def test_junction_by_hand():
    """Tabs 1 m up at x = 0 and 0.5 loaded 60 to 40: mean tab (0.2, 1), so a trunk of half hypot(0.2, 1).
    It pulls along the sum of 60 and 40 along the branches (textbook statics).
    """
    tabs = np.array([[0.0, 0, 1.0], [0.5, 0, 1.0]])
    joint = junction(start=np.zeros(3), tabs=tabs, load=np.array([60.0, 40.0]), height=0.5)
    assert np.linalg.norm(joint) == pytest.approx(np.hypot(0.2, 1.0) / 2)
    branch = tabs - joint
    pull = np.array([60.0, 40.0]) @ (branch / np.linalg.norm(branch, axis=1)[:, None])
    np.testing.assert_allclose(np.cross(pull, joint), 0.0, atol=1e-6)


def test_brake_fan(reference: Design) -> None:
    """Three branches to the middles of three equal parts of the outer 40 % of the half span."""
    canopy = build_canopy(reference)
    tabs = brake_tabs(reference, canopy)
    angle = np.arcsin(tabs[:, 1] / canopy.arc_radius) / canopy.half_arc
    np.testing.assert_allclose(angle, 0.6 + 0.4 * np.array([1, 3, 5]) / 6, atol=1e-9)
    np.testing.assert_allclose(tabs[:, 0], canopy.quarter_chord[0] - 0.75 * 0.5)


def test_riser_ends_lie_about_the_confluence(lines: LineSet) -> None:
    np.testing.assert_allclose(lines.riser_ends, [[0, -0.05, 0], [0, 0.05, 0]])
