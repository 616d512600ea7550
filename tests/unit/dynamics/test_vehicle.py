"""Where the parts meet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import assemble, reference_condition, with_factors
from parasim.environment.atmosphere import GRAVITY
from parasim.geometry.rigging import Rigging
from parasim.mass.properties import total


def test_mass_is_the_budget(reference: Design) -> None:
    vehicle = assemble(reference)
    assert vehicle.mass == pytest.approx(total(item.properties for item in vehicle.items).mass)
    assert vehicle.weight == pytest.approx(vehicle.mass * GRAVITY)
    assert vehicle.wing_loading == pytest.approx(vehicle.weight / 0.55)
    assert 1.2 < vehicle.mass < 1.35


def test_added_air_is_a_fifth_of_the_payload(reference: Design) -> None:
    """Apparent and enclosed air across the wing against 1.2 kg at 0.55 m2: 15 to 25 %, never left out."""
    vehicle = assemble(reference)
    added = 1.225 * (vehicle.air_matrix + vehicle.enclosed_matrix)[2, 2] / 1.2
    assert 0.15 < added < 0.25


def test_matrices_are_symmetric_and_the_solid_one_positive(reference: Design) -> None:
    vehicle = assemble(reference)
    for matrix in (vehicle.solid.matrix, vehicle.air_matrix, vehicle.enclosed_matrix):
        np.testing.assert_allclose(matrix, matrix.T, atol=1e-12)
        assert np.linalg.eigvalsh(matrix).min() > -1e-12


def test_reference_airspeed_by_hand(reference: Design) -> None:
    """V = sqrt(2 W/(rho S 0.55))."""
    vehicle = assemble(reference)
    found = reference_condition(reference, vehicle.mass, vehicle.canopy, vehicle.atmosphere)
    expected = np.sqrt(2 * vehicle.weight / (found.air_density * 0.55 * 0.55))
    assert found.airspeed == pytest.approx(float(expected))


def test_new_factors_are_a_new_assembly(reference: Design) -> None:
    vehicle = assemble(reference)
    factors = replace(vehicle.model.factors, extra_drag=0.02, line_drag_coefficient=1.4)
    quick, slow = with_factors(vehicle, factors), assemble(reference, factors=factors)
    np.testing.assert_allclose(quick.model.polar.cd, slow.model.polar.cd)
    np.testing.assert_allclose(quick.bodies.drag_area, slow.bodies.drag_area)


def test_another_pose(reference: Design) -> None:
    vehicle = assemble(reference, rigging=Rigging(line_length=0.8, rigging_angle=0.0))
    np.testing.assert_allclose(vehicle.canopy.quarter_chord, [0, 0, -0.8], atol=1e-12)


def test_contradicting_rows_are_a_caveat(reference: Design) -> None:
    rows = {"A": "746 mm", "B": "765 mm", "D": "836 mm"}
    changes = {"lines.length": None, "lines.rigging_angle": None, "lines.row_lengths": rows}
    assert any("contradict" in text for text in assemble(override(reference, changes)).caveats)
