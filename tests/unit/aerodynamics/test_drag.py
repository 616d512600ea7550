"""Drag items: skins and bodies."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.aerodynamics.drag import (
    SKIN_ITEMS,
    Bodies,
    SkinCondition,
    body_forces,
    join,
    leakage_drag,
    line_bodies,
    payload_body,
)
from parasim.aerodynamics.factors import Factors
from parasim.config.design import Design
from parasim.config.loader import override
from parasim.geometry.canopy import build_canopy
from parasim.geometry.lines import build_lines

CONDITION = SkinCondition(airspeed=8.0, air_density=1.225, permeability=0.00254)


def test_inlet_drag_by_hand(reference: Design) -> None:
    """0.1 x 4 % of chord = 0.004."""
    factors = Factors(inlet_drag_factor=0.1)
    assert SKIN_ITEMS["inlet"](build_canopy(reference), factors, CONDITION) == pytest.approx(0.004)


def test_leakage_by_hand(reference: Design) -> None:
    """q = 39.2 Pa: seepage 0.00254 x 39.2/125 = 0.797 mm/s out of two skins, 2 x 2 x v/V = 0.000398."""
    found = leakage_drag(build_canopy(reference), Factors(), CONDITION)
    assert found == pytest.approx(4 * 0.00254 * 39.2 / 125 / 8, rel=1e-9)
    assert found == pytest.approx(0.000398, abs=1e-6)


def test_every_skin_item_answers_to_something(reference: Design) -> None:
    factors = Factors(inlet_drag_factor=0.1, roughness_drag=0.004, extra_drag=0.003)
    canopy = build_canopy(reference)
    assert all(item(canopy, factors, CONDITION) > 0 for item in SKIN_ITEMS.values())


def test_payload_drags_alike_from_every_side():
    payload = payload_body(np.array([0.0, 0.0, 0.2]), 0.017)
    for wind in np.eye(3):
        np.testing.assert_allclose(body_forces(payload, 8 * wind[None])[0], 0.017 * 64 * wind)


def test_lines_keep_their_length_and_middle(reference: Design) -> None:
    line_set = build_lines(reference, build_canopy(reference))
    bodies = line_bodies(line_set, 1.2)
    assert bodies.drag_area.sum() == pytest.approx(1.2 * 0.0008 * line_set.total_length)
    length = np.array([line.length for line in line_set.lines])
    middle = np.array([(line.start + line.end) / 2 for line in line_set.lines])
    np.testing.assert_allclose(
        np.average(bodies.position, axis=0, weights=bodies.drag_area),
        np.average(middle, axis=0, weights=length),
        atol=1e-12,
    )
    np.testing.assert_allclose(np.linalg.norm(bodies.direction, axis=1), 1.0)


def test_lines_mirror(reference: Design) -> None:
    line_set = build_lines(reference, build_canopy(reference))
    bodies = line_bodies(line_set, 1.2)
    wind = np.tile([-1.0, 0.0, -0.1], (len(bodies.name), 1))
    force = body_forces(bodies, wind)
    assert force[:, 1].sum() == pytest.approx(0.0, abs=1e-15)
    roll_and_yaw = np.cross(bodies.position, force).sum(axis=0)[[0, 2]]
    np.testing.assert_allclose(roll_and_yaw, 0.0, atol=1e-15)


def test_join_keeps_the_order():
    a, b = payload_body(np.zeros(3), 0.1), payload_body(np.ones(3), 0.2)
    both = join(a, b)
    assert isinstance(both, Bodies)
    np.testing.assert_allclose(both.drag_area, [0.1, 0.2])
    np.testing.assert_allclose(both.position, [[0, 0, 0], [1, 1, 1]])


@pytest.mark.parametrize("cells", [6, 7])
def test_lines_drag_alike_on_both_sides(reference: Design, cells: int) -> None:
    """Also with a rib, and its lines, in the middle: no side force, roll or yaw in straight flow."""
    changes = {"canopy.cells": cells, "canopy.half_cells": 2 * cells, "lines.riser.spread": "0 mm"}
    design = override(reference, changes)
    bodies = line_bodies(build_lines(design, build_canopy(design)), 1.2)
    force = body_forces(bodies, np.broadcast_to([-8.0, 0.0, -2.0], bodies.position.shape))
    moment = np.cross(bodies.position, force).sum(axis=0)
    sideways = [force[:, 1].sum(), moment[0], moment[2]]
    np.testing.assert_allclose(sideways, 0.0, atol=1e-12)
