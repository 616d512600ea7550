"""What must hold for the motion of any sane design."""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, sin

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.integrate import cumulative_simpson

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.rigid_body import RigidBody, build_rigid_body
from parasim.dynamics.simulate import Trajectory, simulate
from parasim.dynamics.state import ATTITUDE, MOTION, POSITION, VELOCITY
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.wind import Wind
from parasim.errors import ParasimError, TrimError
from parasim.flight.trim import find_trims
from parasim.mass.properties import MassProperties
from parasim.rotations import FloatArray, quaternion_from_euler, rotation_matrix
from tests.air_wrench import air_wrench
from tests.strategies import designs

FEW = settings(max_examples=6, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
BOTTOM = np.array([0.0, 0.0, 0.27])


@pytest.fixture(scope="module")
def vehicle(reference: Design) -> Vehicle:
    return in_wind(assemble(reference), Wind.calm())


@pytest.fixture(scope="module")
def body(vehicle: Vehicle) -> RigidBody:
    return build_rigid_body(vehicle)


def commands(*texts: str) -> tuple[BrakeCommand, ...]:
    return tuple(BrakeCommand.model_validate(text) for text in texts)


def fly(
    body: RigidBody, start: FloatArray, *texts: str, longest: float = 6.0, rtol: float = 1e-8
) -> Trajectory:
    return simulate(
        body, start, commands(*texts), payload_bottom=BOTTOM, longest=longest, rtol=rtol, atol=rtol * 1e-2
    )


def mirrored(state: FloatArray) -> FloatArray:
    """Left for right: north stays, east turns; pitch stays, roll and heading turn."""
    signs = np.array([1, -1, 1, 1, -1, 1, -1, 1, -1, 1, -1, 1, -1.0])
    return state * (signs if state.ndim == 1 else signs[:, None])


def pushed_start(vehicle: Vehicle) -> FloatArray:
    """Gliding at 80 m, rolled, yawing and slipping."""
    start = find_trims(vehicle, modes=False).chosen.state(height=80.0, heading=0.0)
    start[ATTITUDE] = quaternion_from_euler(0.2, start[ATTITUDE][2] * 2, 0.1)
    start[MOTION] += [0.3, 0.6, -0.4, 0.3, 0.2, -0.3]
    return start


def test_mirror_image(vehicle: Vehicle, body: RigidBody) -> None:
    start = pushed_start(vehicle)
    left = fly(body, start, "1s: L 0.5 R 0 over 0.5s", "3s: L 0.2 R 0.1")
    right = fly(body, mirrored(start), "1s: L 0 R 0.5 over 0.5s", "3s: L 0.1 R 0.2")
    time = np.linspace(0, min(left.duration, right.duration), 40)
    np.testing.assert_allclose(left.at(time), mirrored(right.at(time)), atol=1e-4)


@FEW
@given(design=designs(), brake=st.floats(0.0, 0.5))
def test_derivatives_mirror_for_any_design(design: Design, brake: float) -> None:
    vehicle = assemble(design)
    body = build_rigid_body(vehicle)
    state = np.array([0, 0, -50.0, 1, 0, 0, 0, 8.0, 0.7, 1.5, 0.3, 0.2, -0.4])
    state[ATTITUDE] = quaternion_from_euler(0.3, -0.2, 0.1)
    one = body.derivative(state, brake, 0.1)
    other = body.derivative(mirrored(state), 0.1, brake)
    np.testing.assert_allclose(one, mirrored(other), rtol=1e-6, atol=1e-6)


def test_uniform_wind_only_carries(vehicle: Vehicle, body: RigidBody) -> None:
    """Galileo: path in a uniform wind is that in still air plus wind times time."""
    wind = Wind(speed=6.0, from_direction=np.radians(230), exponent=0.0)
    blown = np.array([*wind.velocity(10.0), 0.0])
    start = pushed_start(vehicle)
    moving = start.copy()
    moving[VELOCITY] += rotation_matrix(start[ATTITUDE]).T @ blown
    texts = ("1s: L 0.4 R 0", "4s: L 0 R 0.2")
    calm = fly(body, start, *texts)
    carried = fly(replace(body, wind=wind), moving, *texts)
    time = np.linspace(0, min(calm.duration, carried.duration), 30)
    still, drifting = calm.at(time), carried.at(time)
    np.testing.assert_allclose(drifting[POSITION], still[POSITION] + blown[:, None] * time, atol=2e-4)
    np.testing.assert_allclose(drifting[ATTITUDE], still[ATTITUDE], atol=1e-4)


def test_energy_balance_in_still_air(vehicle: Vehicle, body: RigidBody) -> None:
    """Change of energy = work of the air's forces, and of Munk's moment, which the equations leave to them;
    plus half v M v for every change of the carried air's density. To 1e-4 of the height's energy.
    """
    flight = fly(body, pushed_start(vehicle), "1s: L 0.5 R 0", "3s: L 0 R 0", rtol=1e-10)
    energy_in, total = [], []
    # Brakes step at 1 and 3 s: integrate between the corners.
    work, lost = 0.0, 0.0
    for begin, end in ((0.0, 1.0), (1.0, 3.0), (3.0, flight.duration)):
        time = np.linspace(begin, end, 1201)
        states = flight.at(time).T
        brake = flight.schedule.position((begin + end) / 2)
        power = np.array([air_power(vehicle, body, state, brake) for state in states])
        work += float(cumulative_simpson(power, x=time)[-1])
        lost += body.energy(states[-1]) - body.energy(states[0])
        energy_in.append(work)
        total.append(lost)
    scale = vehicle.weight * float(flight.state[2, -1] - flight.state[2, 0])
    np.testing.assert_allclose(total, energy_in, atol=1e-4 * scale)
    assert lost < 0


def air_power(vehicle: Vehicle, body: RigidBody, state: FloatArray, brake: tuple[float, float]) -> float:
    motion = state[MOTION]
    to_earth = rotation_matrix(state[ATTITUDE])
    height = vehicle.ground_height - float(state[2])
    density = vehicle.atmosphere.density(height)
    wrench = air_wrench(body, motion, density, *brake)
    momentum = density * body.air_matrix[:3] @ motion
    own_velocity = momentum / (density * np.diag(body.air_matrix)[:3])
    munk = motion[3:] @ np.cross(own_velocity, momentum)
    density_rate = (vehicle.atmosphere.density(height + 1) - vehicle.atmosphere.density(height - 1)) / 2
    density_rate *= -float((to_earth @ motion[:3])[2])
    carried = 0.5 * motion @ (body.enclosed_matrix + body.air_matrix) @ motion
    return float(wrench @ motion + munk + density_rate * carried)


def test_energy_never_grows_in_a_glide(vehicle: Vehicle, body: RigidBody) -> None:
    flight = fly(body, find_trims(vehicle, modes=False).chosen.state(height=60.0, heading=0.0))
    energy = [body.energy(state) for state in flight.state.T]
    assert np.all(np.diff(energy) < 0)


def test_attitude_keeps_its_length(vehicle: Vehicle, body: RigidBody) -> None:
    flight = fly(body, pushed_start(vehicle), "1s: L 0.6 R 0")
    np.testing.assert_allclose(np.linalg.norm(flight.state[ATTITUDE], axis=0), 1.0, atol=1e-7)


def test_landing_does_not_hang_on_the_step_size(vehicle: Vehicle, body: RigidBody) -> None:
    """The tolerances of the program against 1e-10: landing point within 1e-3 of the distance flown."""
    start = pushed_start(vehicle)
    start[2] = -40.0
    texts = ("1s: L 0.4 R 0 over 1s", "15m: L 0 R 0.2")
    usual = simulate(body, start, commands(*texts), payload_bottom=BOTTOM)
    fine = fly(body, start, *texts, longest=100.0, rtol=1e-10)
    assert usual.landed
    assert fine.landed
    away = hypot(*(usual.state[:2, -1] - fine.state[:2, -1]))
    assert away < 1e-3 * hypot(*fine.state[:2, -1])
    assert usual.duration == pytest.approx(fine.duration, rel=1e-4)


def scaled(properties: MassProperties, factor: float) -> MassProperties:
    return MassProperties(
        mass=factor * properties.mass,
        first_moment=factor * properties.first_moment,
        inertia=factor * properties.inertia,
    )


@FEW
@given(factor=st.floats(0.3, 3.0))
def test_airspeed_goes_by_the_root_of_mass(vehicle: Vehicle, factor: float) -> None:
    """All masses by one factor, all else kept: the same angle of attack, airspeed by the root."""
    items = tuple(replace(item, properties=scaled(item.properties, factor)) for item in vehicle.items)
    heavier = replace(vehicle, items=items, solid=scaled(vehicle.solid, factor))
    one, other = (
        find_trims(v, modes=False, table=vehicle.model.trim_table).chosen for v in (vehicle, heavier)
    )
    assert other.alpha == pytest.approx(one.alpha, abs=1e-9)
    assert other.airspeed == pytest.approx(factor**0.5 * one.airspeed, rel=1e-9)


@settings(FEW, max_examples=12)
@given(design=designs())
def test_trims_are_fixed_points(design: Design) -> None:
    """Nothing accelerates or turns in a steady glide; a weird design says that it has none."""
    vehicle = assemble(design)
    try:
        trims = find_trims(vehicle, height=30.0)
    except TrimError:
        return
    body = build_body(vehicle, vehicle.model.released_table)
    for trim in (trims.chosen, *trims.others):
        state = body.hanging(trim.state(height=30.0, heading=1.0))
        change = body.derivative(state, 0.0, 0.0)
        np.testing.assert_allclose(change[MOTION], 0.0, atol=1e-5)
        assert change[2] == pytest.approx(trim.sink, rel=1e-6)
        assert np.isfinite([mode.eigenvalue for mode in trim.modes]).all()
    assert trims.chosen.statically_stable


def test_a_natural_mode_decays_as_its_eigenvalue_says(vehicle: Vehicle, body: RigidBody) -> None:
    """The slow pitch swing, from a small push along its own motion: growth and frequency within 3 %."""
    trim = find_trims(vehicle, height=300.0).chosen
    slow = min(
        (m for m in trim.modes if not m.lateral and m.eigenvalue.imag), key=lambda m: abs(m.eigenvalue)
    )
    start = trim.state(height=300.0, heading=0.0)
    start[7] += 0.05
    # The fast modes die first: look after three of their lives, and at airspeed along x.
    flight = fly(body, start, longest=2 + 1.5 * slow.period, rtol=1e-10)
    steady = fly(body, trim.state(height=300.0, heading=0.0), longest=2 + 1.5 * slow.period, rtol=1e-10)
    time = np.linspace(1.5, flight.duration - 1e-6, 400)
    swing = flight.at(time)[7] - steady.at(time)[7]
    rate, frequency = slow.eigenvalue.real, slow.eigenvalue.imag
    shape = np.exp(rate * time)[:, None] * np.column_stack(
        [np.cos(frequency * time), np.sin(frequency * time)]
    )
    weights, *_ = np.linalg.lstsq(shape, swing, rcond=None)
    left = swing - shape @ weights
    assert np.abs(left).max() < 0.03 * np.abs(swing).max()


@pytest.mark.parametrize(
    "velocity",
    [[0, 0, 0], [0, 0, -20], [0, 20, 0], [-15, 0, 0], [0, 0, 20], [30, 0, 0]],
    ids=["rest", "up", "sideways", "backwards", "down", "fast"],
)
def test_extreme_starts_are_followed_while_lines_pull(
    vehicle: Vehicle, body: RigidBody, velocity: list[float]
) -> None:
    """Without a payload on its lines nothing can go slack, and even these come down."""
    windy = replace(body, wind=Wind(speed=15.0, from_direction=1.0))
    start = find_trims(vehicle, modes=False).chosen.state(height=60.0, heading=0.0)
    start[VELOCITY] = rotation_matrix(start[ATTITUDE]).T @ np.array(velocity, float)
    flight = simulate(replace(windy, payload_mass=0.0), start, payload_bottom=BOTTOM)
    assert flight.ending in {"landed", "overturned"}
    assert np.isfinite(flight.state).all()
    taut = simulate(windy, start, payload_bottom=BOTTOM)
    assert taut.duration <= flight.duration
    assert taut.ending == flight.ending or taut.ending == "slack lines"


@settings(FEW, max_examples=5)
@given(design=designs(calm=False), brake=st.floats(0.0, 1.0))
def test_any_design_comes_down(design: Design, brake: float) -> None:
    vehicle = assemble(design)
    try:
        trim = find_trims(vehicle, modes=False).chosen
    except TrimError:
        return
    flight = simulate(
        build_rigid_body(vehicle),
        trim.state(height=25.0, heading=0.0),
        (BrakeCommand(at_time=1.0, left=brake, right=0.0),),
        payload_bottom=np.array([0.0, 0.0, 0.3]),
    )
    assert flight.ending != "aloft"
    assert np.isfinite(flight.state).all()


def test_from_high_up(reference: Design) -> None:
    """Released 5000 m above ground at 1500 m: thinner air, more speed, by the same table the same angle."""
    vehicle = assemble(override(reference, {"site.ground_height": 1500.0}))
    table = vehicle.model.trim_table
    low, high = (find_trims(vehicle, height=h, modes=False, table=table).chosen for h in (0.0, 5000.0))
    assert high.glide_angle == pytest.approx(low.glide_angle)
    density = [vehicle.atmosphere.density(h) for h in (1500.0, 6500.0)]
    assert high.airspeed / low.airspeed == pytest.approx((density[0] / density[1]) ** 0.5)
    start = high.state(height=5000.0, heading=0.0)
    flight = simulate(build_rigid_body(vehicle), start, payload_bottom=BOTTOM, longest=20.0)
    assert np.isfinite(flight.state).all()


def test_outside_the_atmosphere_is_said_in_words(reference: Design) -> None:
    with pytest.raises(ParasimError, match="height"):
        find_trims(assemble(reference), height=50_000.0, modes=False)


def test_velocity_of_a_trim_in_wind(vehicle: Vehicle) -> None:
    """Heading north into 3 m/s from the north: over the ground 3 m/s less."""
    trim = find_trims(vehicle, modes=False).chosen
    state = trim.state(height=30.0, heading=0.0, wind=np.array([-3.0, 0, 0]))
    over_ground = rotation_matrix(state[ATTITUDE]) @ state[VELOCITY]
    expected = [trim.airspeed * cos(trim.glide_angle) - 3.0, 0.0, trim.airspeed * sin(trim.glide_angle)]
    np.testing.assert_allclose(over_ground, expected, atol=1e-9)
