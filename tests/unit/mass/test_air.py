"""Apparent mass matrix of a canopy: change of point, symmetry, scale, thickness."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from parasim.config.design import Design
from parasim.geometry.canopy import build_canopy
from parasim.mass.air import apparent_mass, seen_from, thickness_mass, thin_arc_mass
from tests.strategies import designs
from tests.validation.barrows import arced_wing_apparent_mass

TAPERED = {"span": 1.2, "root_chord": 0.5, "taper": 0.6, "arc_radius": 0.8}


def test_energy_does_not_depend_on_the_point(reference: Design) -> None:
    canopy, point = build_canopy(reference), np.array([0.2, -0.1, 0.75])
    motion = np.array([3.0, 0.4, 1.0, 0.2, -0.3, 0.5])
    there = motion.copy()
    there[:3] += np.cross(motion[3:], point)
    at_confluence = motion @ apparent_mass(canopy, np.zeros(3)) @ motion
    assert there @ apparent_mass(canopy, point) @ there == pytest.approx(at_confluence, rel=1e-12)


def test_momentum_by_hand_of_a_point_of_air() -> None:
    """1 m³ upright at the first point; seen from 0.2 m ahead, pitching up lowers it at 0.2 m/s."""
    mass = np.zeros((6, 6))
    mass[2, 2] = 1.0
    matrix = seen_from(mass, np.array([0.2, 0.0, 0.0]))
    assert matrix[2, 4] == pytest.approx(0.2)
    assert matrix[4, 4] == pytest.approx(0.04)


@settings(max_examples=10, deadline=None)
@given(design=designs())
def test_symmetric_and_never_negative(design: Design) -> None:
    matrix = apparent_mass(build_canopy(design), np.zeros(3))
    np.testing.assert_allclose(matrix, matrix.T, atol=1e-14)
    assert np.linalg.eigvalsh(matrix).min() > -1e-12 * np.trace(matrix)


@settings(max_examples=10, deadline=None)
@given(design=designs())
def test_longitudinal_and_lateral_motion_part_in_the_plane_of_symmetry(design: Design) -> None:
    matrix = apparent_mass(build_canopy(design), np.zeros(3))
    np.testing.assert_allclose(matrix[np.ix_([0, 2, 4], [1, 3, 5])], 0.0, atol=1e-12)


def test_a_thin_arc_slides_along_itself() -> None:
    """Along the chord and about the arc's centre it moves no air."""
    matrix = thin_arc_mass(**TAPERED)
    assert np.all(matrix[[0, 3]] == 0.0)


def test_twice_the_size() -> None:
    """8 times the mass, 16 times the coupling, 32 times the inertia."""
    size = np.array([2.0] * 3 + [4.0] * 3)
    twice = TAPERED | {"span": 2.4, "root_chord": 1.0, "arc_radius": 1.6}
    expected = 2.0 * thin_arc_mass(**TAPERED) * np.outer(size, size)
    np.testing.assert_allclose(thin_arc_mass(**twice), expected, rtol=1e-10, atol=1e-12)


def test_thickness_terms_are_barrows() -> None:
    """m11 at the pitch centre and I33, those of his formulas, and nothing else."""
    wing = arced_wing_apparent_mass(span=1.1, chord=0.5, thickness=0.075, arc_radius=0.75)
    only = replace(wing, m22=0.0, m33=0.0, I11=0.0, I22=0.0)
    ours = thickness_mass(span=1.1, thickness=0.075, arc_radius=0.75)
    np.testing.assert_allclose(ours, only.matrix(np.array([0.0, 0.0, 0.75])), rtol=1e-12, atol=1e-15)
