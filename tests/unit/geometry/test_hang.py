"""Pose of changed lines: round trips with rigged canopies, and what single lines do."""

from __future__ import annotations

from math import degrees

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.geometry.airfoil import lower_surface
from parasim.geometry.canopy import Canopy, build_canopy
from parasim.geometry.hang import pose_of_changed_lines, rigging_slopes
from parasim.geometry.lines import LineSet, build_lines
from parasim.geometry.rigging import build_rigging, rigging_from_rows, row_lengths


def hung(design: Design) -> tuple[LineSet, Canopy]:
    canopy = build_canopy(design)
    return build_lines(design, canopy), canopy


def lengths(line_set: LineSet) -> dict[str, float]:
    return {line.label: line.length for line in line_set.lines}


CASCADES = [
    pytest.param(None, id="cascaded"),
    pytest.param([], id="straight"),
    pytest.param([{"rows": ["B", "C", "D"], "height": 0.7, "load": [0.5, 0.3, 0.2]}], id="three joined"),
]


@pytest.mark.parametrize("cascades", CASCADES)
@pytest.mark.parametrize("angle", [2.0, 5.0, 9.0, 14.0])
def test_rig_measure_and_find_the_rigging_again(reference: Design, cascades, angle):
    """Lines of another rigging angle, measured, give that angle to 0.05 deg."""
    changes = {} if cascades is None else {"lines.cascades": cascades}
    line_set, canopy = hung(override(reference, changes))
    other, _ = hung(override(reference, {**changes, "lines.rigging_angle": f"{angle} deg"}))
    change = {label: length - lengths(line_set)[label] for label, length in lengths(other).items()}
    pose = pose_of_changed_lines(line_set, canopy, change)
    assert degrees(pose.rigging_angle) == pytest.approx(angle, abs=0.05)
    assert pose.line_length == pytest.approx(0.75, abs=1e-4)
    assert pose.misfit < 1e-4


def test_measured_to_the_millimetre_is_still_good_to_a_twentieth_of_a_degree(reference: Design):
    line_set, canopy = hung(reference)
    rounded = {label: round(length, 3) - length for label, length in lengths(line_set).items()}
    pose = pose_of_changed_lines(line_set, canopy, rounded)
    assert degrees(pose.rigging_angle) == pytest.approx(6.0, abs=0.05)


def test_two_rows_agree_with_the_closed_triangle(reference: Design):
    """Front and rear row only, riser ends together: all ribs hang alike, as the centre triangle does."""
    changes = {"lines.rows": {"A": 0.10, "D": 0.85}, "lines.cascades": [], "lines.riser.spread": "0 m"}
    design = override(reference, {**changes, "canopy.arc_radius": None})
    line_set, canopy = hung(design)
    change = {line.label: -0.008 for line in line_set.lines if line.rows == ("D",)}
    pose = pose_of_changed_lines(line_set, canopy, change)
    chordwise = np.array([0.10, 0.85])
    height = lower_surface(canopy.outline, chordwise)
    rigging = build_rigging(design, canopy.outline)
    at_center = row_lengths(rigging=rigging, chord=0.5, chordwise=chordwise, height=height)
    triangle = rigging_from_rows(
        lengths=at_center - [0, 0.008], chord=0.5, chordwise=chordwise, height=height
    )
    change = degrees(pose.rigging_angle - rigging.rigging_angle)
    # Ribs away from the centre lean; the mean over them differs from the centre by their cosine, 3 %.
    assert change == pytest.approx(degrees(triangle.rigging_angle - rigging.rigging_angle), rel=0.05)


def test_lines_that_all_grow_alike_hardly_move_the_rigging(reference: Design):
    """By 5 mm each below the junction: an error of one row alone moves it 0.5 to 0.7 deg."""
    line_set, canopy = hung(reference)
    change = {line.label: 0.005 for line in line_set.lines if line.kind == "trunk"}
    pose = pose_of_changed_lines(line_set, canopy, change)
    assert abs(degrees(pose.rigging_angle) - 6.0) < 0.1
    # 5 mm straight up; up to 1/cos 42 deg of that where lines lean, for the canopy keeps its shape.
    assert 0.755 < pose.line_length < 0.755 + 0.0017


def test_a_short_rear_row_is_nose_up_and_a_short_front_row_nose_down(reference: Design):
    line_set, canopy = hung(override(reference, {"lines.cascades": []}))
    for row, sign in (("A", 1), ("B", 1), ("C", -1), ("D", -1)):
        short = {line.label: -0.005 for line in line_set.lines if line.rows == (row,)}
        angle = pose_of_changed_lines(line_set, canopy, short).rigging_angle
        assert np.sign(degrees(angle) - 6.0) == sign, row


def test_single_lines_add_up_to_their_row(reference: Design):
    line_set, canopy = hung(reference)
    slopes = rigging_slopes(line_set, canopy)
    change = {line.label: 0.002 for hold in line_set.holds for line in hold.uppers if line.rows == ("B",)}
    change["03L-C+D"] = -0.001
    summed = sum(slopes[label] * size for label, size in change.items())
    exact = pose_of_changed_lines(line_set, canopy, change).rigging_angle - canopy_angle(canopy)
    assert summed == pytest.approx(exact, rel=0.01)
    assert slopes["L-brake-1"] == 0.0


def canopy_angle(canopy: Canopy) -> float:
    x, _, z = canopy.quarter_chord
    return float(np.arctan2(-x, -z))
