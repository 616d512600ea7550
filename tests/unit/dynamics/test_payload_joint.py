"""The payload that swings: its angles, where it hangs, and that a stiff joint makes the rigid vehicle.

Pendulums of the textbooks are in `tests/validation/test_pendulum.py`.
"""

from __future__ import annotations

from dataclasses import replace
from math import atan2, radians
from time import perf_counter

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.rigid_body import RigidBody, build_rigid_body
from parasim.dynamics.simulate import simulate
from parasim.dynamics.state import ATTITUDE, MOTION, PAYLOAD_ATTITUDE, PAYLOAD_RATES, POSITION, VELOCITY
from parasim.dynamics.suspension.motion_joint import hook_place, joint_torque
from parasim.dynamics.suspension.payload_joint import (
    Joint,
    JointedBody,
    build_body,
    build_jointed_body,
    relative_angles,
    split_payload,
)
from parasim.dynamics.suspension.swing import PATH_PIECES, Swing
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.wind import Wind
from parasim.flight.trim import find_trims
from parasim.geometry.rigging import Rigging
from parasim.mass.inventory import payload_bottom, payload_center
from parasim.rotations import FloatArray, quaternion_from_euler, rotation_matrix

PULL = BrakeCommand(at_time=0.0, left=0.0, right=0.6, over=0.3)
RIGID_KEYS = slice(0, 13)
MIRROR = np.array([1, -1, 1, 1, -1, 1, -1, 1, -1, 1, -1, 1, -1, 1, -1, 1, -1, -1, 1, -1.0])


@pytest.fixture(scope="module")
def vehicle(reference: Design) -> Vehicle:
    """The reference design with a joint, in still air; rigged flatter, for it would tuck at 6 deg."""
    design = override(reference, {"payload.suspension": {}, "lines.rigging_angle": "2 deg"})
    return in_wind(assemble(design), Wind.calm())


@pytest.fixture(scope="module")
def body(vehicle: Vehicle) -> JointedBody:
    return build_jointed_body(vehicle)


def moving(vehicle: Vehicle, body: JointedBody) -> FloatArray:
    """Brakes released at 60 m, both bodies disturbed."""
    start = body.hanging(find_trims(vehicle, modes=False).chosen.state(height=60.0, heading=0.0))
    start[MOTION] += [0.2, 0.4, -0.3, 0.2, 0.1, -0.2]
    start[PAYLOAD_RATES] += [0.3, -0.6, 0.8]
    return start


def turned(axis: int, angle: float) -> FloatArray:
    """Rotation by an angle about an axis, by hand."""
    i, j = ((1, 2), (2, 0), (0, 1))[axis]
    matrix = np.eye(3)
    matrix[i, i] = matrix[j, j] = np.cos(angle)
    matrix[i, j], matrix[j, i] = -np.sin(angle), np.sin(angle)
    return matrix


@pytest.mark.parametrize("lean", [-0.5, 0.0, 1.0])
@pytest.mark.parametrize("swing", [-1.2, 0.0, 0.3])
def test_swing_and_lean_come_back(swing: float, lean: float) -> None:
    """Canopy axes turned by swing about y, then by lean about x."""
    found = relative_angles((turned(1, swing) @ turned(0, lean)).T)
    assert (found[0], found[2]) == pytest.approx((swing, lean))


@pytest.mark.parametrize("twist", [-3.0, -0.7, 0.4, 2.9])
def test_twist_about_the_lines_comes_back(twist: float) -> None:
    """Twisted about its own upright after a swing, then about an upright in common: no swing, no lean."""
    assert relative_angles(turned(2, twist).T) == pytest.approx((0.0, twist, 0.0), abs=1e-12)
    assert relative_angles((turned(1, 0.3) @ turned(2, twist)).T) == pytest.approx(
        (0.3, twist, 0.0), abs=1e-12
    )


@pytest.mark.parametrize("twist", [80.0, 90.0, 100.0, 170.0])
def test_twist_has_no_pole(body: JointedBody, twist: float) -> None:
    """Torque is W a b / h times the sine of the twist, the bifilar pendulum's, and finite at 90 deg."""
    angle = radians(twist)
    to_payload = tuple(tuple(row) for row in turned(2, angle).T.tolist())
    constants = body.motion.constants
    torque = joint_torque(constants, to_payload, (0.0, 0.0, 0.0), 0.0, (0.0, 1.0, 0.0))
    expected = -body.joint.twist_stiffness * np.sin(angle)
    assert torque == pytest.approx((0.0, 0.0, expected), abs=1e-12)


def test_payload_is_taken_off_the_canopy_once(vehicle: Vehicle, body: JointedBody) -> None:
    rigid = build_rigid_body(vehicle)
    assert body.mass == pytest.approx(rigid.mass)
    assert body.payload_mass == vehicle.design.payload.mass
    rest, drag_area = split_payload(vehicle.bodies)
    assert drag_area == pytest.approx(vehicle.design.payload.drag_area_or_default)
    assert len(rest.name) == len(vehicle.bodies.name) - 1
    assert len(body.canopy.bodies) == len(rigid.bodies) - 1


def test_the_design_decides(vehicle: Vehicle, reference: Design) -> None:
    assert isinstance(build_body(vehicle, vehicle.model.trim_table), JointedBody)
    assert isinstance(build_body(assemble(reference), vehicle.model.trim_table), RigidBody)


def test_what_a_design_gives_is_taken(vehicle: Vehicle) -> None:
    keys = {"roll_stiffness": 3.0, "twist_stiffness": 0.4, "damping": 0.2}
    given = assemble(override(vehicle.design, {"payload.suspension": keys}))
    joint = build_jointed_body(given, vehicle.model.trim_table).joint
    assert (joint.roll_stiffness, joint.twist_stiffness, joint.swing_stiffness) == (3.0, 0.4, 0.0)
    about_z = 1.2 / 12 * (0.22**2 + 0.12**2)
    assert joint.twist_damping == pytest.approx(2 * 0.2 * (0.4 * about_z) ** 0.5)


def test_plumb_at_rest(body: JointedBody) -> None:
    """Without speed the payload hangs straight down, whatever the canopy's pitch."""
    state = np.zeros(13)
    state[2] = -50.0
    state[ATTITUDE] = quaternion_from_euler(0.0, radians(-25), radians(70))
    hanging = body.hanging(state)
    down = rotation_matrix(hanging[PAYLOAD_ATTITUDE])[:, 2]
    np.testing.assert_allclose(down, [0, 0, 1], atol=1e-12)
    np.testing.assert_allclose(hanging[RIGID_KEYS], state)


def test_trails_in_the_wind_of_its_flight(body: JointedBody) -> None:
    """Level flight at 8 m/s: it trails by drag over weight, both by hand."""
    state = np.zeros(13)
    state[ATTITUDE], state[VELOCITY] = [1, 0, 0, 0], [8.0, 0, 0]
    density = body.atmosphere.density(body.canopy.ground_height)
    lean = atan2(0.5 * density * 0.017 * 8.0**2, 1.2 * GRAVITY)
    down = rotation_matrix(body.hanging(state)[PAYLOAD_ATTITUDE])[:, 2]
    assert atan2(-down[0], down[2]) == pytest.approx(lean)


@pytest.mark.parametrize("name", ["heron", "wren", "pelican"])
def test_trims_are_fixed_points(configs, name: str) -> None:
    """Nothing accelerates, neither canopy nor payload. Rigged flat, so that none of them tucks."""
    design = override(load_design(configs / f"{name}.yaml"), {"payload.suspension": {}})
    flat = Rigging(line_length=design.canopy.span * 0.7, rigging_angle=radians(2.0))
    swinging = in_wind(assemble(design, rigging=flat), Wind.calm())
    body = build_body(swinging, swinging.model.released_table)
    trims = find_trims(swinging, height=30.0, modes=False)
    for trim in (trims.chosen, *trims.others):
        change = body.derivative(body.hanging(trim.state(height=30.0, heading=1.0)), 0.0, 0.0)
        np.testing.assert_allclose(change[MOTION], 0.0, atol=1e-5)
        np.testing.assert_allclose(change[13:], 0.0, atol=1e-5)
        assert change[2] == pytest.approx(trim.sink, rel=1e-6)


def test_place_and_speed_of_the_payload(vehicle: Vehicle, body: JointedBody) -> None:
    """Velocity of its middle is the rate of its place, by differences."""
    state, step = moving(vehicle, body), 1e-5
    change = body.derivative(state, 0.0, 0.0)
    ahead, behind = (body.payload(state + sign * step * change, body.payload_center)[0] for sign in (1, -1))
    _, velocity = body.payload(state, body.payload_center)
    np.testing.assert_allclose((ahead - behind) / (2 * step), velocity, atol=1e-6)
    np.testing.assert_allclose(body.payload_center, payload_center(vehicle.design))


def test_mirror_image(vehicle: Vehicle, body: JointedBody) -> None:
    """Left for right, accelerations to rounding."""
    state = moving(vehicle, body)
    state[PAYLOAD_ATTITUDE] = quaternion_from_euler(0.1, 0.2, -0.3)
    one, other = body.derivative(state, 0.4, 0.1), body.derivative(MIRROR * state, 0.1, 0.4)
    np.testing.assert_allclose(one, MIRROR * other, rtol=1e-7, atol=1e-7)


def test_stiff_joint_is_the_rigid_vehicle(reference: Design) -> None:
    """Error against the rigid vehicle 1 s after a step of the brake falls as one over stiffness, within 20 %:
    0.09 m at 20 N m/rad, 0.01 m at 200.
    """
    vehicle = in_wind(assemble(reference), Wind.calm())
    start = find_trims(vehicle, modes=False).chosen.state(height=60.0, heading=0.0)
    jointed = build_jointed_body(vehicle)
    rigid_end = fly(build_rigid_body(vehicle), start, vehicle)
    together = np.concatenate([start, start[ATTITUDE], np.zeros(3)])
    about = np.diag(jointed.payload_inertia)
    errors = []
    for stiffness in (20.0, 60.0, 200.0):
        roll, swing, twist = 2 * np.sqrt(stiffness * about)
        stiff = Joint(
            roll_stiffness=stiffness, twist_stiffness=stiffness, swing_stiffness=stiffness,
            roll_damping=roll, twist_damping=twist, swing_damping=swing,
        )  # fmt: skip
        end = fly(replace(jointed, joint=stiff), together, vehicle)
        errors.append(float(np.linalg.norm(end[POSITION] - rigid_end[POSITION])))
    assert errors[0] / errors[1] == pytest.approx(60 / 20, rel=0.2)
    assert errors[1] / errors[2] == pytest.approx(200 / 60, rel=0.2)
    assert errors[2] < 0.02


KNOTS = np.linspace(-1.0, 1.0, PATH_PIECES + 1)
"""As many as the compiled path has, so that both are the same cubics."""

KINKED = Swing(
    center=np.array([0.01, 0.0, 0.08]),
    pitch=KNOTS,
    place=np.stack([0.004 * KNOTS, 0.02 - 0.03 * np.hypot(KNOTS, 0.05)], axis=-1),
)
"""As on two hooks 60 mm apart: about either of them, whichever is taut, the kink eased over 0.05 rad."""


@pytest.mark.parametrize("pitch", [-1.4, -1.0, -0.31, 0.0, 0.02, 0.77, 0.999, 1.3])
def test_compiled_path_is_the_swings(body: JointedBody, pitch: float) -> None:
    """Place, slope and bend, beyond the ends too, where the path goes on straight."""
    found = hook_place(replace(body, swing=KINKED).motion.constants, pitch)
    for order in range(3):
        expected = KINKED.hook(np.array(pitch), order)
        assert (found[order][0], found[order][2]) == pytest.approx(tuple(expected), abs=1e-10)


@pytest.mark.parametrize("pitch", [-1.4, -0.31, -0.008, 0.02, 0.77, 1.3])
def test_slopes_of_a_path(pitch: float) -> None:
    """Of the hook and of the centre of mass, by differences; between knots, where bends have a slope too."""
    step = 1e-5
    for place in (KINKED.hook, KINKED.arm):
        for order in (0, 1):
            ahead, behind = (place(np.array(pitch + sign * step), order) for sign in (1, -1))
            np.testing.assert_allclose(
                place(np.array(pitch), order + 1), (ahead - behind) / (2 * step), atol=2e-6
            )


def test_a_path_with_more_knots_is_followed_closely(body: JointedBody) -> None:
    """Twice the compiled path's knots, at the kink: the place to a hundredth of a millimetre."""
    fine = np.linspace(-1.0, 1.0, 2 * PATH_PIECES + 1)
    place = np.stack([0.004 * fine, 0.02 - 0.03 * np.hypot(fine, 0.05)], axis=-1)
    swing = Swing(center=KINKED.center, pitch=fine, place=place)
    constants = replace(body, swing=swing).motion.constants
    for pitch in np.linspace(-0.1, 0.1, 41):
        found = hook_place(constants, pitch)[0]
        assert (found[0], found[2]) == pytest.approx(tuple(swing.hook(pitch)), abs=1e-5)


def test_hangs_as_low_as_it_gets() -> None:
    """Against a search by brute force."""
    fine = np.linspace(-0.99, 0.99, 200_001)
    for angle in (-0.6, -0.2, 0.0, 0.05, 0.4):
        pull = np.array([np.sin(angle), np.cos(angle)])
        best = fine[np.argmax(KINKED.arm(fine) @ pull)]
        assert float(KINKED.hanging(pull)) == pytest.approx(best, abs=2e-5)


def in_a_vacuum(body: JointedBody) -> JointedBody:
    """On the kinked path, springs kept, dampers off."""
    joint = replace(body.joint, roll_damping=0.0, twist_damping=0.0, swing_damping=0.0)
    canopy = replace(body.canopy, atmosphere=replace(body.atmosphere, sea_level_pressure=0.0))
    return replace(body, swing=KINKED, joint=joint, canopy=canopy)


def test_a_path_makes_no_energy(vehicle: Vehicle, body: JointedBody) -> None:
    """In a vacuum, both bodies tumbling: the lines of front and rear hooks do no work along their path."""
    flown = in_a_vacuum(body)
    start = flown.with_swing(moving(vehicle, body)[:13], 0.3)
    start[PAYLOAD_RATES] += [0.5, -0.4, 0.4]
    found = solve_ivp(
        lambda _, y: flown.derivative(y, 0.0, 0.0),
        (0.0, 1.5), start, method="DOP853", rtol=1e-11, atol=1e-12, max_step=0.0005,
    )  # fmt: skip
    energy = np.array([flown.energy(state) for state in found.y.T])
    exchanged = np.ptp([flown.canopy.energy(state[:13]) for state in found.y.T])
    swings = [relative_angles(rotation_matrix(y[PAYLOAD_ATTITUDE]).T @ rotation_matrix(y[ATTITUDE]))[0]
              for y in found.y.T]  # fmt: skip
    assert min(swings) < -0.1 < 0.1 < max(swings), "it has to cross the kink"
    assert np.ptp(energy) < 1e-7 * exchanged


def test_mirror_image_on_a_path(vehicle: Vehicle, body: JointedBody) -> None:
    """Left for right, accelerations to rounding, hooks and all."""
    flown, state = replace(body, swing=KINKED), moving(vehicle, body)
    state[PAYLOAD_ATTITUDE] = quaternion_from_euler(0.1, 0.2, -0.3)
    one, other = flown.derivative(state, 0.4, 0.1), flown.derivative(MIRROR * state, 0.1, 0.4)
    np.testing.assert_allclose(one, MIRROR * other, rtol=1e-7, atol=1e-7)


def fly(body: RigidBody | JointedBody, start: FloatArray, vehicle: Vehicle) -> FloatArray:
    bottom = payload_bottom(vehicle.design)
    flown = simulate(body, start, (PULL,), payload_bottom=bottom, longest=1.0, rtol=1e-7, atol=1e-8)
    return flown.state[:, -1]


def test_cost_of_the_joint(vehicle: Vehicle) -> None:
    """One evaluation of the nine degrees of freedom takes less than three times that of six (measured: 1.9),
    and a second of flight with the default joint under twice as many, on the mean of five (measured: 1.5).
    """
    bottom, body = (
        payload_bottom(vehicle.design),
        build_jointed_body(vehicle),
    )  # other tests lend theirs a path
    rigid, state = build_rigid_body(vehicle), moving(vehicle, body)

    def time_of(flown: RigidBody | JointedBody, at: FloatArray) -> float:
        begin = perf_counter()
        for _ in range(100):
            flown.derivative(at, 0.1, 0.2)
        return perf_counter() - begin

    pairs = [(time_of(body, state), time_of(rigid, state[RIGID_KEYS])) for _ in range(7)]
    nine, six = (min(times) for times in zip(*pairs, strict=True))
    assert nine < 3 * six
    flights = np.zeros(2)
    for height in (60.0, 61.0, 62.0, 63.0, 64.0):  # the solver changes its method at other moments
        at = state.copy()
        at[2] = -height
        flights += [
            simulate(flown, start, (PULL,), payload_bottom=bottom, longest=1.0).evaluations
            for flown, start in ((body, at), (rigid, at[RIGID_KEYS]))
        ]
    assert flights[0] < 2 * flights[1]


def test_nothing_stalls_the_clock(vehicle: Vehicle, body: JointedBody) -> None:
    """It flies to the ground, quaternions of unit length, losing energy."""
    start = moving(vehicle, body)
    start[2] = -8.0
    flown = simulate(body, start, (), payload_bottom=payload_bottom(vehicle.design))
    assert flown.landed
    for attitude in (ATTITUDE, PAYLOAD_ATTITUDE):
        np.testing.assert_allclose(np.linalg.norm(flown.state[attitude], axis=0), 1.0, atol=1e-5)
    energy = [body.energy(state) for state in flown.state.T]
    assert energy[-1] < energy[0]
