"""The equations of motion, term by term."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.dynamics.motion import CONSTANTS, bodies_wrench, canopy_wrench, inertial_wrench
from parasim.dynamics.rigid_body import RigidBody, build_rigid_body
from parasim.dynamics.state import ATTITUDE, MOTION, RATES, VELOCITY, state_vector
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.wind import Wind
from parasim.rotations import quaternion_from_euler, rotation_matrix

LEVEL = np.array([1.0, 0.0, 0.0, 0.0])


@pytest.fixture(scope="module")
def vehicle(reference: Design) -> Vehicle:
    return in_wind(assemble(reference), Wind.calm())


@pytest.fixture(scope="module")
def body(vehicle: Vehicle) -> RigidBody:
    return build_rigid_body(vehicle)


def without_air(body: RigidBody) -> RigidBody:
    """Same masses, in a vacuum: no forces, no apparent mass."""
    table = replace(body.table, steady=0 * body.table.steady, rates=0 * body.table.rates)
    zero = np.zeros((6, 6))
    return replace(body, table=table, bodies=body.bodies[:0], enclosed_matrix=zero, air_matrix=zero)


def test_no_lift_without_air(body: RigidBody) -> None:
    """Zero density: no force at any speed, whatever the motion."""
    velocity, rates = (8.0, 1.0, 2.0), (0.5, 0.5, 0.5)
    wrench = canopy_wrench(body.motion.table, (0.0, 0.0, 0.0), velocity, rates, 0.0, 0.3, 0.0)
    np.testing.assert_array_equal(wrench, 0.0)


def test_free_fall_in_a_vacuum(body: RigidBody) -> None:
    """Every point falls at g, without turning."""
    state = state_vector(position=np.array([0.0, 0, -50]), attitude=LEVEL, velocity=np.zeros(3))
    change = without_air(body).derivative(state, 0.0, 0.0)
    np.testing.assert_allclose(change[MOTION], [0, 0, GRAVITY, 0, 0, 0], atol=1e-9)


def test_centre_of_mass_flies_a_parabola_while_tumbling(vehicle: Vehicle, body: RigidBody) -> None:
    """Acceleration of the centre of mass is g however the body turns: checks w x p and its moments."""
    free = without_air(body)
    rng = np.random.default_rng(2)
    omega, velocity = rng.normal(size=3), rng.normal(size=3)
    state = state_vector(
        position=np.array([0.0, 0, -50]),
        attitude=quaternion_from_euler(0.3, -0.2, 1.0),
        velocity=velocity,
        rates=omega,
    )
    change = free.derivative(state, 0.0, 0.0)
    r = vehicle.solid.center
    acceleration = (
        change[VELOCITY]
        + np.cross(omega, velocity)
        + np.cross(change[RATES], r)
        + np.cross(omega, np.cross(omega, r))
    )
    np.testing.assert_allclose(rotation_matrix(state[ATTITUDE]) @ acceleration, [0, 0, GRAVITY], atol=1e-9)


def test_moment_of_momentum_is_kept_in_a_vacuum(vehicle: Vehicle, body: RigidBody) -> None:
    """Euler's equations about the centre of mass: I w' + w x I w = 0."""
    free = without_air(body)
    omega = np.array([0.7, -0.3, 0.5])
    state = state_vector(position=np.array([0.0, 0, -50]), attitude=LEVEL, velocity=np.zeros(3), rates=omega)
    change = free.derivative(state, 0.0, 0.0)
    c, m = vehicle.solid.center, vehicle.mass
    inertia = vehicle.solid.inertia - m * (c @ c * np.eye(3) - np.outer(c, c))
    np.testing.assert_allclose(inertia @ change[RATES] + np.cross(omega, inertia @ omega), 0.0, atol=1e-9)


def test_munks_moment_is_left_out_of_the_canopys_own_motion() -> None:
    """A canopy of apparent mass M at r that turns about the confluence has momentum p = M(v + w x r). About
    its own centre only w x h may be left, so about the confluence w x h + r x (w x p): nothing of (v + w x r)
    x p, which the lattice's moment holds. The flat wing has one centre for all axes, so this is exact there.
    """
    from tests.validation.barrows import flat_wing_apparent_mass

    flat = flat_wing_apparent_mass(span=1.1, chord=0.5, thickness=0.075)
    r = np.array([-0.2, 0.0, -0.75])
    matrix = flat.matrix(-r)
    constants = np.zeros((), CONSTANTS)
    constants["air"], constants["air_mass"] = matrix, np.diag(matrix)[:3]
    rng = np.random.default_rng(5)
    for _ in range(5):
        motion = rng.normal(size=6)
        v, omega = motion[:3], motion[3:]
        p = np.array([flat.m11, flat.m22, flat.m33]) * (v + np.cross(omega, r))
        h = np.array([flat.I11, flat.I22, flat.I33]) * omega
        expected = [*np.cross(omega, p), *(np.cross(omega, h) + np.cross(r, np.cross(omega, p)))]
        velocity, rates = tuple(v), tuple(omega)
        found = inertial_wrench(constants[()], velocity, velocity, rates, 1.0)
        np.testing.assert_allclose(np.ravel(found), expected, atol=1e-12)


def test_the_axes_of_the_apparent_mass_do_not_couple(body: RigidBody) -> None:
    """What the velocity in Munk's moment is counted: the linear block is its diagonal."""
    block = body.air_matrix[:3, :3]
    np.testing.assert_allclose(block, np.diag(np.diag(block)), atol=1e-12)


def test_bodies_drag_at_their_own_place(vehicle: Vehicle, body: RigidBody) -> None:
    """Plain arithmetic against the vector formula, turning included."""
    from parasim.aerodynamics.drag import body_forces

    motion = np.array([7.0, 0.5, 2.0, 0.4, -0.3, 0.8])
    position = vehicle.bodies.position
    force = body_forces(vehicle.bodies, -(motion[:3] + np.cross(motion[3:], position))) / 2
    expected = np.concatenate([force.sum(axis=0), np.cross(position, force).sum(axis=0)])
    found = bodies_wrench(body.bodies, tuple(motion[:3]), tuple(motion[3:]))
    np.testing.assert_allclose(np.ravel(found), expected, rtol=1e-9, atol=1e-12)


def test_energy_by_hand(vehicle: Vehicle, body: RigidBody) -> None:
    """Level, 8 m/s forward, confluence at 10 m: m g (10 - z of the centre) + half of all mass x 64."""
    state = state_vector(position=np.array([0.0, 0, -10.0]), attitude=LEVEL, velocity=np.array([8.0, 0, 0]))
    density = vehicle.atmosphere.density(vehicle.ground_height + 10)
    moving = vehicle.mass + density * (vehicle.enclosed_matrix + vehicle.air_matrix)[0, 0]
    expected = vehicle.mass * GRAVITY * (10 - vehicle.solid.center[2]) + 0.5 * moving * 64
    assert body.energy(state) == pytest.approx(expected)


def test_only_the_motion_through_the_air_counts(body: RigidBody) -> None:
    """Drifting with a uniform wind is like standing still in calm air."""
    windy = replace(body, wind=Wind(speed=5.0, from_direction=radians(200), exponent=0.0))
    attitude = quaternion_from_euler(0.1, 0.2, 0.7)
    blown = rotation_matrix(attitude).T @ np.array([-5 * cos(radians(200)), -5 * sin(radians(200)), 0.0])
    own, rates = np.array([7.0, 0.3, 1.0]), np.array([0.2, -0.1, 0.3])
    position = np.array([0.0, 0, -50.0])
    calm = state_vector(position=position, attitude=attitude, velocity=own, rates=rates)
    drifting = state_vector(position=position, attitude=attitude, velocity=own + blown, rates=rates)
    # In turning axes the drift itself turns round: its rate is -w x drift.
    turned = windy.derivative(drifting, 0.2, 0.0)[VELOCITY] + np.cross(rates, blown)
    np.testing.assert_allclose(turned, body.derivative(calm, 0.2, 0.0)[VELOCITY], atol=1e-9)


def test_standing_still_in_still_air_there_is_only_weight(body: RigidBody) -> None:
    state = state_vector(position=np.array([0.0, 0, -50]), attitude=LEVEL, velocity=np.zeros(3))
    assert np.isfinite(body.derivative(state, 0.0, 0.0)).all()
