"""Where hooks and riser ends are, and what hangs on them."""

import re
from math import cos, degrees, radians, sin

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import parse_design
from parasim.errors import DesignError
from parasim.geometry.canopy import build_canopy
from parasim.geometry.hang import pose_of_changed_lines, rigging_slopes
from parasim.geometry.lines import LineSet, build_lines
from parasim.geometry.risers import hook_middle, hooks, riser_ends, riser_of_row
from parasim.mass.inventory import mass_items

HOOKS = "hooks: front and rear, front: 40 mm, rear: -20 mm, height: 60 mm, front_rows: [A, B]"


def with_hooks(text: str, hooks: str = HOOKS, *, cascades: bool = True) -> Design:
    text = re.sub(r"  suspension: .*\n", "", text)  # its pole
    if not cascades:
        text = text.replace("  cascades:\n", "").replace("    - {rows", "    # {rows")
    return parse_design(text.replace("  kind: rigid", f"  suspension: {{{hooks}}}\n  kind: rigid"))


def lines_of(design: Design) -> LineSet:
    return build_lines(design, build_canopy(design))


def test_one_point_meets_at_the_confluence(reference: Design) -> None:
    canopy = build_canopy(reference)
    np.testing.assert_array_equal(hook_middle(reference, canopy), 0.0)
    np.testing.assert_allclose(riser_ends(reference, canopy), [[0, -0.05, 0], [0, 0.05, 0]])
    np.testing.assert_allclose(hooks(reference), [[0, -0.05, 0.15], [0, 0.05, 0.15]])


def test_four_riser_ends_stand_over_their_hooks(reference_text: str) -> None:
    """In payload axes, from H: hooks 60 mm and 100 mm apart, risers of 120 and 180 mm upright over them."""
    design = with_hooks(reference_text, HOOKS + ", front_riser: 120 mm, rear_riser: 180 mm")
    canopy = build_canopy(design)
    s, c = sin(radians(6)), cos(radians(6))
    to_canopy = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
    np.testing.assert_allclose(hook_middle(design, canopy), 0.150 * np.array([s, 0, c]))
    in_payload = (riser_ends(design, canopy) - hook_middle(design, canopy)) @ to_canopy
    wanted = [[0.03, -0.05, -0.12], [0.03, 0.05, -0.12], [-0.03, -0.05, -0.18], [-0.03, 0.05, -0.18]]
    np.testing.assert_allclose(in_payload, wanted, atol=1e-12)
    np.testing.assert_allclose(riser_ends(design, canopy).mean(axis=0), 0.0, atol=1e-12)


@pytest.mark.parametrize("cascades", [True, False])
def test_rows_and_brakes_run_to_their_risers(reference_text: str, cascades: bool) -> None:
    design = with_hooks(reference_text, cascades=cascades)
    line_set = lines_of(design)
    assert riser_of_row(design) == {"A": 0, "B": 0, "C": 1, "D": 1}
    for hold in line_set.holds:
        number = 2 * int(set(hold.lines[0].rows) <= {"C", "D"}) + int(hold.side == "R")
        np.testing.assert_array_equal(hold.start, line_set.riser_ends[number])
    for side in range(2):
        trunk = next(line for line in line_set.brakes if line.side == "LR"[side])
        np.testing.assert_array_equal(trunk.start, line_set.riser_ends[2 + side])
    assert len({line.label for line in line_set.lines}) == len(line_set.lines)
    tab = build_canopy(design).tabs(np.array([0.85]))[0, -1]
    assert line_set.straight["D"][-1] == pytest.approx(np.linalg.norm(tab - line_set.riser_ends[3]))


def test_payload_has_its_nominal_place(reference_text: str) -> None:
    """Centre 10 mm behind the hooks' middle and 60 mm below, 150 mm of riser, all turned by 6 deg."""
    design = with_hooks(reference_text)
    canopy = build_canopy(design)
    payload = next(i for i in mass_items(design, canopy, build_lines(design, canopy)) if i.name == "payload")
    s, c = sin(radians(6)), cos(radians(6))
    wanted = [-0.01 * c + 0.21 * s, 0.0, 0.01 * s + 0.21 * c]
    np.testing.assert_allclose(payload.properties.center, wanted, atol=1e-12)
    x, _, z = wanted
    across = payload.properties.inertia[1, 1] - 1.2 * (x**2 + z**2)
    assert across == pytest.approx(1.2 / 12 * (0.22**2 + 0.12**2))
    longest = (payload.properties.inertia - 1.2 * ((x**2 + z**2) * np.eye(3) - np.outer(wanted, wanted)))[
        0, 2
    ]
    assert longest == pytest.approx(s * c * 1.2 / 12 * (0.22**2 - 0.12**2))


@pytest.mark.parametrize("cascades", [True, False])
def test_longer_front_rows_lift_the_nose(reference_text: str, cascades: bool) -> None:
    design = with_hooks(reference_text, cascades=cascades)
    canopy, line_set = build_canopy(design), lines_of(design)
    change = {
        line.label: 0.003 for hold in line_set.holds for line in hold.uppers if line.rows[0] in ("A", "B")
    }
    pose = pose_of_changed_lines(line_set, canopy, change)
    turned = degrees(pose.rigging_angle - canopy.rigging_angle)
    assert -2.0 < turned < -0.3
    slopes = rigging_slopes(line_set, canopy)
    by_slope = degrees(sum(slopes[label] * size for label, size in change.items()))
    assert turned == pytest.approx(by_slope, rel=0.1)


def test_all_lines_longer_keep_the_rigging(reference_text: str) -> None:
    design = with_hooks(reference_text, cascades=False)
    canopy, line_set = build_canopy(design), lines_of(design)
    grown = {line.label: 0.01 * line.length for hold in line_set.holds for line in hold.lines}
    pose = pose_of_changed_lines(line_set, canopy, grown)
    assert pose.line_length > 1.005 * np.linalg.norm(canopy.quarter_chord)


@pytest.mark.parametrize(
    ("rows", "problem"),
    [
        ("[A, B, X]", "there is no row X"),
        ("[A, C]", "front rows must be the foremost ones"),
        ("[A, A]", "front rows must be the foremost ones"),
        ("[A, B, C, D]", "no row is left for the rear risers"),
        ("[A]", "joins rows of different risers"),
    ],
)
def test_rows_that_no_riser_can_take(reference_text: str, rows: str, problem: str) -> None:
    with pytest.raises(DesignError, match=problem):
        with_hooks(reference_text, HOOKS.replace("[A, B]", rows))
