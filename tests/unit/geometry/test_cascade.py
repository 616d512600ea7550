"""Joints of cascades against textbook statics: Lami's theorem, equal branches, three forces in one point."""

from __future__ import annotations

from math import cos, degrees, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.geometry.canopy import build_canopy
from parasim.geometry.cascade import balanced_joint, imbalance, junction, trunk_load
from parasim.geometry.lines import build_lines

FOOT = np.zeros(3)


def angle_between(a: np.ndarray, b: np.ndarray) -> float:
    return float(np.arccos(a @ b / np.linalg.norm(a) / np.linalg.norm(b)))


def tabs_ahead(spread: float, height: float = 1.0, lean: float = 0.1) -> np.ndarray:
    return np.array([[lean - spread / 2, 0.0, height], [lean + spread / 2, 0.03, height]])


@pytest.mark.parametrize(
    ("loads", "height", "spread"),
    [((0.6, 0.4), 0.62, 0.125), ((0.8, 0.2), 0.4, 0.3), ((0.5, 0.5), 0.8, 0.25)],
)
def test_lamis_theorem(loads, height, spread):
    """Three forces in balance: each over the sine of the angle between the other two is the same."""
    tabs, load = tabs_ahead(spread), np.array(loads)
    joint = junction(start=FOOT, tabs=tabs, load=load, height=height)
    first, second, down = tabs[0] - joint, tabs[1] - joint, FOOT - joint
    trunk = float(trunk_load(start=FOOT, joint=joint, tabs=tabs, load=load))
    ratios = [
        load[0] / sin(angle_between(second, down)),
        load[1] / sin(angle_between(first, down)),
        trunk / sin(angle_between(first, second)),
    ]
    assert ratios[1:] == pytest.approx([ratios[0], ratios[0]], rel=1e-8)


def test_y_joint_by_hand():
    """Equal branches 30 deg either side of the trunk: the trunk carries 2 cos 30 of one branch."""
    tabs = np.array(
        [[-sin(radians(30)), 0, 1 + cos(radians(30))], [sin(radians(30)), 0, 1 + cos(radians(30))]]
    )
    joint = balanced_joint(start=FOOT, tabs=tabs, load=np.ones(2), trunk=1.0)
    np.testing.assert_allclose(joint, [0, 0, 1], atol=1e-12)
    assert float(trunk_load(start=FOOT, joint=joint, tabs=tabs, load=np.ones(2))) == pytest.approx(
        cos(radians(30))
    )


def test_unequal_loads_turn_towards_the_heavier():
    """At the joint the branches make angles with the trunk whose sines are as the other's load."""
    tabs = tabs_ahead(0.3, lean=0.0) * [1, 0, 1]
    joint = junction(start=FOOT, tabs=tabs, load=np.array([3.0, 1.0]), height=0.6)
    sines = [sin(angle_between(tab - joint, joint)) for tab in tabs]
    assert sines[1] / sines[0] == pytest.approx(3.0, rel=1e-9)
    assert joint[0] < 0


def test_joint_is_the_least_of_load_times_length():
    """Against a general minimiser over the angle of the trunk, in a plane."""
    tabs, load, reach = np.array([[0.1, 0, 1.0], [0.35, 0, 1.0]]), np.array([0.6, 0.4]), 0.63

    def energy(angle: float) -> float:
        joint = reach * np.array([sin(angle), 0, cos(angle)])
        return float(load @ np.linalg.norm(tabs - joint, axis=1))

    best = minimize_scalar(energy, bounds=(0, 0.5), method="bounded", options={"xatol": 1e-10}).x
    joint = balanced_joint(start=FOOT, tabs=tabs, load=load, trunk=reach)
    assert np.arctan2(joint[0], joint[2]) == pytest.approx(best, abs=1e-6)


@settings(max_examples=80, derandomize=True, deadline=None)
@given(
    places=st.lists(st.floats(-0.3, 0.3), min_size=2, max_size=5),
    loads=st.lists(st.floats(0.05, 1), min_size=5, max_size=5),
    height=st.floats(0.1, 0.9),
    lean=st.floats(-0.4, 0.4),
)
def test_any_joint_balances_and_is_no_shorter(places, loads, height, lean):
    tabs = np.array([[x + lean, 0.02 * i, 1 + 0.03 * i] for i, x in enumerate(places)])
    load = np.array(loads[: len(places)])
    joint = junction(start=FOOT, tabs=tabs, load=load, height=height)
    assert float(imbalance(start=FOOT, joint=joint, tabs=tabs, load=load)) < 1e-9
    way = np.linalg.norm(joint) + np.linalg.norm(tabs - joint, axis=1)
    assert np.all(way >= np.linalg.norm(tabs, axis=1) - 1e-12)


def test_many_at_once_are_as_one_by_one():
    tabs = np.array([[[0.1, 0, 1.0], [0.2, 0.1, 0.9]], [[0.3, 0, 1.0], [0.5, 0.1, 0.9]]])
    start, load = np.array([[0.0, 0, 0], [0.05, 0.05, 0]]), np.array([0.7, 0.3])
    both = junction(start=start, tabs=tabs, load=load, height=0.6)
    for i in range(2):
        np.testing.assert_allclose(
            junction(start=start[i], tabs=tabs[:, i], load=load, height=0.6), both[i], atol=1e-12
        )


@pytest.mark.parametrize(("rows", "apart"), [((0, 1), 0.91), ((2, 3), 2.77)])
def test_how_far_balance_is_from_the_straight_way_to_the_mean_tab(rows, apart):
    """Bench example: 0.9 and 2.8 mm sideways, under 0.7 mm of line; our own figures, so a change shows."""
    x = -0.75 * sin(radians(6)) + (0.25 - np.array([0.10, 0.35, 0.60, 0.85])[list(rows)]) * 0.5
    tabs = np.column_stack([x, 0 * x, np.full(2, -0.75 * cos(radians(6)))])
    load = np.array([0.6, 0.4])
    joint, straight = junction(start=FOOT, tabs=tabs, load=load, height=0.62), 0.62 * load @ tabs
    assert np.linalg.norm(joint) == pytest.approx(np.linalg.norm(straight))
    assert 1e3 * np.linalg.norm(joint - straight) == pytest.approx(apart, abs=0.01)
    lengths = [np.linalg.norm(tabs - at, axis=1) for at in (joint, straight)]
    assert 1e3 * np.abs(lengths[0] - lengths[1]).max() < 0.7


def test_every_cascade_of_a_design_balances(reference: Design):
    """Three rows in one cascade, joined high."""
    cascades = [{"rows": ["A", "C", "D"], "height": "80 %", "load": ["50 %", "30 %", "20 %"]}]
    design = override(reference, {"lines.cascades": cascades})
    line_set = build_lines(design, build_canopy(design))
    joined = [hold for hold in line_set.holds if hold.is_cascade]
    assert len(joined) == 8
    for hold in joined:
        assert (
            float(imbalance(start=hold.start, joint=hold.lines[0].end, tabs=hold.tabs, load=hold.share))
            < 1e-12
        )
        spread = angle_between(hold.tabs[0] - hold.lines[0].end, hold.tabs[2] - hold.lines[0].end)
        assert 60 < degrees(spread) < 120
