"""Apparent mass matrix: kinetic energy worked by hand, change of reference point, symmetry."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.mass.air import ApparentMass, arced_wing_apparent_mass

WING = ApparentMass(
    m11=0.01, m22=0.05, m33=0.4, I11=0.006, I22=0.005, I33=0.002, roll_centre=0.7, pitch_centre=0.07
)
POINTS = [[0.0, 0.0, 0.0], [0.2, 0.0, 0.75], [-0.1, 0.3, -0.4]]


@pytest.mark.parametrize("point", POINTS)
def test_matrix_carries_the_kinetic_energy_of_the_centres(point):
    """T of a random motion, from the velocities of the two centres by the vector product."""
    rng = np.random.default_rng(3)
    for _ in range(5):
        velocity, omega = rng.normal(size=(2, 3))
        at_pitch = velocity + np.cross(omega, np.array([0.0, 0.0, 0.07]) - point)
        at_roll = velocity + np.cross(omega, np.array([0.0, 0.0, 0.7]) - point)
        energy = 0.5 * (
            0.01 * at_pitch[0] ** 2 + 0.05 * at_roll[1] ** 2 + 0.4 * at_pitch[2] ** 2
            + 0.006 * omega[0] ** 2 + 0.005 * omega[1] ** 2 + 0.002 * omega[2] ** 2
        )  # fmt: skip
        motion = np.concatenate([velocity, omega])
        assert 0.5 * motion @ WING.matrix(point) @ motion == pytest.approx(energy, rel=1e-12)


@pytest.mark.parametrize("point", POINTS)
def test_matrix_is_symmetric_and_positive(point):
    matrix = WING.matrix(point)
    np.testing.assert_allclose(matrix, matrix.T, atol=1e-16)
    assert np.linalg.eigvalsh(matrix).min() > 0.0


def test_no_coupling_where_the_centres_are():
    """Sideways motion and roll part at the roll centre, fore-and-aft motion and pitch at the pitch centre."""
    at_roll, at_pitch = WING.matrix([0.0, 0.0, 0.7]), WING.matrix([0.0, 0.0, 0.07])
    assert at_roll[1, 3] == 0.0
    assert at_roll[3, 3] == pytest.approx(0.006)
    assert at_pitch[0, 4] == 0.0
    assert at_pitch[4, 4] == pytest.approx(0.005)


def test_signs_of_the_coupling_seen_from_the_confluence():
    """Canopy above and half a chord behind: by hand, x = -0.2, z = 0.07 - 0.75 and 0.7 - 0.75."""
    matrix = WING.matrix([0.2, 0.0, 0.75])
    assert matrix[0, 4] == pytest.approx(0.01 * -0.68)
    assert matrix[2, 4] == pytest.approx(-0.4 * -0.2)
    assert matrix[1, 3] == pytest.approx(-0.05 * -0.05)
    assert matrix[1, 5] == pytest.approx(0.05 * -0.2)
    assert matrix[4, 4] == pytest.approx(0.005 + 0.01 * 0.68**2 + 0.4 * 0.2**2)


def test_longitudinal_and_lateral_motion_part_in_the_plane_of_symmetry():
    matrix = WING.matrix([0.2, 0.0, 0.75])
    assert np.all(matrix[np.ix_([0, 2, 4], [1, 3, 5])] == 0.0)


def test_energy_does_not_depend_on_the_reference_point():
    motion_at_origin = np.array([3.0, 0.4, 1.0, 0.2, -0.3, 0.5])
    point = np.array([0.2, -0.1, 0.75])
    motion = motion_at_origin.copy()
    motion[:3] += np.cross(motion_at_origin[3:], point)
    assert motion @ WING.matrix(point) @ motion == pytest.approx(
        motion_at_origin @ WING.matrix([0.0, 0.0, 0.0]) @ motion_at_origin, rel=1e-12
    )


def test_apparent_mass_scales_with_size():
    """Twice the size: 8 times the mass, 32 times the inertia, centres twice as far down."""
    one = arced_wing_apparent_mass(span=1.1, chord=0.5, thickness=0.075, arc_radius=0.75)
    two = arced_wing_apparent_mass(span=2.2, chord=1.0, thickness=0.15, arc_radius=1.5)
    for entry, power in [("m11", 3), ("m22", 3), ("m33", 3), ("I11", 5), ("I22", 5), ("I33", 5)]:
        assert getattr(two, entry) == pytest.approx(2**power * getattr(one, entry), rel=1e-12)
    assert two.roll_centre == pytest.approx(2 * one.roll_centre)
    assert two.pitch_centre == pytest.approx(2 * one.pitch_centre)
