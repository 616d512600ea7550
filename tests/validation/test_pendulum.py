"""A payload that swings below its canopy, against pendulums of the textbooks.

Closed forms of elementary mechanics, found in any textbook of dynamics and derived beside each check: the
compound pendulum, its period at large swings (complete elliptic integral of the first kind, from scipy), a
pendulum on a free carriage, the bifilar pendulum. All in a vacuum, so that the air takes no part: what is
checked is the equations of motion of the joint.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi, radians, sin, sqrt

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import ellipk

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.state import ATTITUDE, PAYLOAD_ATTITUDE, PAYLOAD_RATES, RATES
from parasim.dynamics.suspension.payload_joint import Joint, JointedBody, build_joint, build_jointed_body
from parasim.dynamics.suspension.swing import Swing
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.atmosphere import GRAVITY, Atmosphere
from parasim.environment.wind import Wind
from parasim.mass.properties import MassProperties
from parasim.rotations import FloatArray, quaternion_from_euler, rotation_matrix

FREE = Joint(roll_stiffness=0, twist_stiffness=0, roll_damping=0, twist_damping=0, swing_damping=0)
SMALL = 1e-4
LENGTH, PAYLOAD, CANOPY = 0.6, 1.2, 0.3
UPRIGHT = np.array([1.0, 0, 0, 0])


VACUUM = Atmosphere(sea_level_pressure=0.0)


@pytest.fixture(scope="module")
def vehicle(reference: Design) -> Vehicle:
    return in_wind(assemble(override(reference, {"payload.suspension": {}})), Wind.calm())


@pytest.fixture(scope="module")
def jointed(vehicle: Vehicle) -> JointedBody:
    """The reference design in a vacuum, its joint free."""
    body = build_jointed_body(vehicle, vehicle.model.released_table)
    return replace(body, joint=FREE, canopy=replace(body.canopy, atmosphere=VACUUM))


def with_canopy(body: JointedBody, *, mass: float, inertia: float, lift: float) -> JointedBody:
    """A point canopy at the confluence, with some inertia; a constant upward force beyond its weight."""
    zero = np.zeros((6, 6))
    solid = MassProperties(mass=mass, first_moment=np.zeros(3), inertia=inertia * np.eye(3))
    canopy = replace(
        body.canopy, solid=solid, enclosed_matrix=zero, air_matrix=zero, bodies=body.canopy.bodies[:0]
    )
    constants = np.array(canopy.motion.constants)
    constants["mass"] = -lift / GRAVITY  # here only the weight is made of it
    canopy.__dict__["motion"] = canopy.motion._replace(constants=constants[()])
    return replace(body, canopy=canopy)


def held(body: JointedBody) -> JointedBody:
    """A canopy so heavy, and weightless, that nothing moves it."""
    return with_canopy(body, mass=1e7, inertia=1e7, lift=0.0)


def point_payload(body: JointedBody) -> JointedBody:
    inertia = PAYLOAD * LENGTH**2 * 1e-9 * np.eye(3)
    swing = Swing(center=np.array([0.0, 0, LENGTH]))
    return replace(body, payload_mass=PAYLOAD, swing=swing, payload_inertia=inertia)


def at_rest(roll: float = 0.0, pitch: float = 0.0, yaw: float = 0.0) -> FloatArray:
    """Canopy level, payload turned from it, nothing moving."""
    state = np.zeros(20)
    state[ATTITUDE] = UPRIGHT
    state[PAYLOAD_ATTITUDE] = quaternion_from_euler(roll, pitch, yaw)
    return state


def angular_acceleration(body: JointedBody, axis: int) -> float:
    """Of a payload released at `SMALL` about one of its axes. [rad/s²]"""
    angles = [0.0, 0.0, 0.0]
    angles[axis] = SMALL
    return float(body.derivative(at_rest(*angles), 0.0, 0.0)[PAYLOAD_RATES][axis])


def half_swing(body: JointedBody, amplitude: float, expected: float) -> float:
    """Time from release at a pitch angle to the plumb line and on to the turning point: half a period. [s]"""

    def pitch_rate(_: float, state: FloatArray) -> float:
        return float(state[PAYLOAD_RATES][1] - state[RATES][1])

    pitch_rate.direction = 1  # type: ignore[attr-defined]
    found = solve_ivp(
        lambda _, y: body.derivative(y, 0.0, 0.0),
        (0.0, 0.8 * expected),
        at_rest(pitch=amplitude),
        method="DOP853", rtol=1e-9, atol=1e-10, events=pitch_rate,
    )  # fmt: skip
    return float(found.t_events[0][-1])


@pytest.mark.parametrize("axis", [0, 1], ids=["sideways", "fore and aft"])
def test_compound_pendulum(jointed: JointedBody, axis: int) -> None:
    """Below a held canopy: frequency squared is m g l / I, that of a plain pendulum of length I/(m l).

    The box and its inertia by hand: l = riser + half height; I = m l^2 + m (a^2 + b^2)/12.
    """
    mass, (x, y, z), riser = 1.2, (0.22, 0.12, 0.12), 0.15
    arm = riser + z / 2
    other = y if axis == 0 else x
    length = (arm**2 + (other**2 + z**2) / 12) / arm
    squared = -angular_acceleration(held(jointed), axis) / SMALL
    assert jointed.payload_mass == mass
    assert squared == pytest.approx(GRAVITY / length, rel=1e-6)


@pytest.mark.parametrize("amplitude", [2.0, 60.0], ids=["small", "60 deg"])
def test_period_at_large_swings(jointed: JointedBody, amplitude: float) -> None:
    """T = 4 K(sin^2(amplitude/2)) sqrt(L/g), K the complete elliptic integral: 7.3 % longer at 60 deg."""
    body = point_payload(held(jointed))
    start = radians(amplitude)
    period = 4 * float(ellipk(sin(start / 2) ** 2)) * sqrt(LENGTH / GRAVITY)
    assert 2 * half_swing(body, start, period) == pytest.approx(period, rel=1e-6)
    if amplitude == 60:
        assert period / (2 * pi * sqrt(LENGTH / GRAVITY)) == pytest.approx(1.0732, abs=5e-5)


@pytest.mark.parametrize("axis", [0, 1], ids=["sideways", "fore and aft"])
@pytest.mark.parametrize("canopy", [0.1, CANOPY, 30.0])
def test_free_canopy(jointed: JointedBody, axis: int, canopy: float) -> None:
    """A canopy held up by a constant force, free to move: sqrt((g/L)(1 + payload/canopy)).

    From (mc + mp) x" + mp L a" = 0 and L a" + x" = -g a.
    """
    body = point_payload(with_canopy(jointed, mass=canopy, inertia=0.01, lift=PAYLOAD * GRAVITY))
    squared = -angular_acceleration(body, axis) / SMALL
    assert squared == pytest.approx(GRAVITY / LENGTH * (1 + PAYLOAD / canopy), rel=1e-6)


def test_free_canopy_swings_at_that_frequency(jointed: JointedBody) -> None:
    """The same by simulation, 2 deg: the swing's own size slows it by 1 part in 13000 at most."""
    body = point_payload(with_canopy(jointed, mass=CANOPY, inertia=0.01, lift=PAYLOAD * GRAVITY))
    period = 2 * pi / sqrt(GRAVITY / LENGTH * (1 + PAYLOAD / CANOPY))
    assert 2 * half_swing(body, radians(2.0), period) == pytest.approx(period, rel=1e-3)


def test_free_canopy_keeps_its_momentum(jointed: JointedBody) -> None:
    """Nothing pushes sideways: the common centre of mass stays where it is, horizontally."""
    body = point_payload(with_canopy(jointed, mass=CANOPY, inertia=0.01, lift=PAYLOAD * GRAVITY))
    body = replace(body, payload_inertia=body.payload_inertia + np.diag([0.0, 0.0, 0.01]))
    start = at_rest(roll=0.4, pitch=0.7, yaw=0.3)
    found = solve_ivp(
        lambda _, y: body.derivative(y, 0.0, 0.0), (0.0, 1.5), start, method="DOP853", rtol=1e-9, atol=1e-10
    )

    def center(state: FloatArray) -> FloatArray:
        place, _ = body.payload(state, body.payload_center)
        return ((CANOPY * state[:3] + PAYLOAD * place) / (CANOPY + PAYLOAD))[:2]

    np.testing.assert_allclose(
        [center(state) for state in found.y.T], [center(start)] * len(found.t), atol=1e-7
    )


def test_twist_on_two_lines(jointed: JointedBody) -> None:
    """Below a held canopy the payload twists at sqrt(k/Izz), whatever the swing does."""
    stiffness = 0.23
    body = replace(held(jointed), joint=replace(FREE, twist_stiffness=stiffness))
    squared = -angular_acceleration(body, 2) / SMALL
    about_z = jointed.payload_inertia[2, 2]
    assert about_z == pytest.approx(1.2 / 12 * (0.22**2 + 0.12**2))
    assert squared == pytest.approx(stiffness / about_z, rel=1e-6)


def bifilar_stiffness(weight: float, below: float, above: float, length: float) -> float:
    """Second derivative of a load's potential energy by twist, two stiff lines, by differences. [N m/rad]

    Half distances below and above; a twist by t leaves a height of sqrt(L^2 - a^2 - b^2 + 2 a b cos t).
    """

    def height(twist: float) -> float:
        return sqrt(length**2 - below**2 - above**2 + 2 * below * above * np.cos(twist))

    step = 1e-3
    return weight * -(height(step) - 2 * height(0.0) + height(-step)) / step**2


def test_bifilar_pendulum() -> None:
    """Parallel lines: k = W a^2 / L, the textbook's. Lines that converge: W a b over height, not length."""
    assert bifilar_stiffness(12.0, 0.05, 0.05, 0.8) == pytest.approx(12.0 * 0.05**2 / 0.8, rel=1e-5)
    upright = sqrt(0.8**2 - 0.25**2)
    assert bifilar_stiffness(12.0, 0.05, 0.30, 0.8) == pytest.approx(12.0 * 0.05 * 0.30 / upright, rel=1e-5)


def test_default_twist_stiffness(vehicle: Vehicle) -> None:
    """Left out in the design: a load on two lines from its riser ends to its mean tabs.

    Tabs of the reference design lie on an arc of 0.75 m about the confluence, with 0.75 m of line under it.
    """
    angle = vehicle.canopy.rib_angle[vehicle.canopy.loaded_ribs]
    above = float(np.abs(0.75 * np.sin(angle)).mean())
    height = float(0.75 * np.cos(angle).mean())
    exact = bifilar_stiffness(1.2 * GRAVITY, 0.05, above, hypot(height, above - 0.05))
    assert built(vehicle).twist_stiffness == pytest.approx(exact, rel=1e-5)


def test_default_roll_stiffness(vehicle: Vehicle) -> None:
    """At the lean that the default is made for, one riser end of two carries all: torque is weight times half
    the spread.
    """
    joint = built(vehicle)
    lean = brentq(lambda angle: joint.roll_stiffness * angle - 1.2 * GRAVITY * 0.05, 0.0, 1.0)
    assert lean == pytest.approx(0.1)


def built(vehicle: Vehicle) -> Joint:
    return build_joint(vehicle, vehicle.swing)


def energy_over_time(body: JointedBody, start: FloatArray, time: float) -> FloatArray:
    found = solve_ivp(
        lambda _, y: body.derivative(y, 0.0, 0.0), (0.0, time), start, method="DOP853", rtol=1e-11, atol=1e-12
    )
    return np.array([body.energy(state) for state in found.y.T])


def tumbling() -> FloatArray:
    """Both bodies turned, moving and turning."""
    start = at_rest(0.3, 0.5, -0.4)
    start[:3] = [0, 0, -50]
    start[ATTITUDE] = quaternion_from_euler(0.2, -0.3, 0.1)
    start[7:13] = [6.0, 0.7, 1.5, 0.8, -0.5, 0.6]
    start[PAYLOAD_RATES] = [-0.7, 1.1, 2.0]
    return start


def test_springs_keep_the_energy(jointed: JointedBody) -> None:
    """Motion, height and springs together, to 1e-8 of what moves between them, at large relative angles."""
    springs = replace(FREE, roll_stiffness=6.0, twist_stiffness=0.3, swing_stiffness=2.0)
    body = replace(jointed, joint=springs)
    energy = energy_over_time(body, tumbling(), 1.5)
    scale = body.mass * GRAVITY * 50
    assert np.abs(energy - energy[0]).max() < 1e-8 * scale
    assert energy_over_time(replace(body, joint=FREE), tumbling(), 0.5)[0] != pytest.approx(
        energy[0], rel=1e-4
    )


def test_dampers_take_energy(jointed: JointedBody) -> None:
    damped = Joint(
        roll_stiffness=6.0, twist_stiffness=0.3, roll_damping=0.07, twist_damping=0.01, swing_damping=0.04
    )
    energy = energy_over_time(replace(jointed, joint=damped), tumbling(), 1.5)
    assert np.all(np.diff(energy) < 0)
    assert energy[0] - energy[-1] > 0.1


def test_a_free_fall_leaves_the_joint_alone(jointed: JointedBody) -> None:
    """Released without air, canopy and payload fall together: no relative motion begins."""
    change = jointed.derivative(at_rest(), 0.0, 0.0)
    np.testing.assert_allclose(change[[*range(10, 13), *range(17, 20)]], 0.0, atol=1e-9)
    assert change[9] == pytest.approx(GRAVITY)
    assert rotation_matrix(UPRIGHT) == pytest.approx(np.eye(3))
