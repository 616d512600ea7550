"""Turns against the closed forms of a coordinated turn and of a banked glide.

R = V²/(g tan bank) and n = 1/cos(bank) are elementary mechanics, in any textbook of flight mechanics. Worked
values (6.55 m/s at 20 deg: 12.0 m and 11.5 s a turn; sink x1.24 at 30 deg, x2.8 at 60 deg) come from private
working notes and are worked by hand again here. The model's own turns are checked by Newton's second law,
every piece of mass on its own circle.
"""

from __future__ import annotations

from math import cos, degrees, hypot, pi, radians, sin, sqrt, tan

import numpy as np
import pytest

from parasim.config.loader import load_design
from parasim.dynamics.suspension.payload_joint import build_jointed_body
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.wind import Wind
from parasim.flight.turn.steady import SteadyTurn, banked_sink_growth, coordinated_radius, steady_turns
from parasim.rotations import FloatArray, quaternion_from_euler, rotation_matrix
from tests.air_wrench import air_wrench

BRAKES = np.linspace(0, 1, 11)


@pytest.fixture(scope="module", params=["heron", "wren", "pelican"])
def vehicle(request: pytest.FixtureRequest, configs) -> Vehicle:
    return in_wind(assemble(load_design(configs / f"{request.param}.yaml")), Wind.calm())


@pytest.fixture(scope="module")
def turns(vehicle: Vehicle) -> tuple[SteadyTurn, ...]:
    return steady_turns(vehicle, left=0.0, right=1.0, brakes=BRAKES, growth=False)


def test_worked_turn() -> None:
    """6.55 m/s at 20 deg: 6.55^2 / (9.80665 x 0.36397) = 12.02 m; 2 pi 12.02 / 6.55 = 11.53 s."""
    radius = coordinated_radius(airspeed=6.55, bank=radians(20))
    assert radius == pytest.approx(12.0, abs=0.05)
    assert 2 * pi * radius / 6.55 == pytest.approx(11.5, abs=0.05)
    assert coordinated_radius(airspeed=6.55, bank=radians(-20)) == radius


@pytest.mark.parametrize(("bank", "growth", "digit"), [(30, 1.24, 0.005), (60, 2.8, 0.05)])
def test_sink_of_a_banked_glide(bank: float, growth: float, digit: float) -> None:
    assert banked_sink_growth(radians(bank)) == pytest.approx(growth, abs=digit)
    assert banked_sink_growth(-radians(bank)) == banked_sink_growth(radians(bank))


@pytest.mark.parametrize("bank", [0.0, 20.0, 45.0, 60.0])
def test_sink_growth_from_balance(bank: float) -> None:
    """Lift and drag solved for at constant coefficients: L cos(bank) = W, and D V = W times sink, shallow."""
    weight, area, density, lift, drag = 15.0, 0.55, 1.2, 0.5, 0.15

    def sink(angle: float) -> float:
        airspeed = sqrt(2 * weight / (density * area * lift * cos(angle)))
        return 0.5 * density * airspeed**3 * area * drag / weight

    assert banked_sink_growth(radians(bank)) == pytest.approx(sink(radians(bank)) / sink(0.0))


def axes(turn: SteadyTurn) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rotation to earth, velocity of the confluence and rates in body axes, of the turn's own figures."""
    to_earth = rotation_matrix(quaternion_from_euler(turn.bank, turn.pitch, 0.0))
    ahead = turn.airspeed * cos(turn.sideslip)
    side = turn.airspeed * sin(turn.sideslip)
    velocity = np.array([ahead * cos(turn.alpha), side, ahead * sin(turn.alpha)])
    return to_earth, velocity, turn.rate * to_earth[2]


def centripetal_force(vehicle: Vehicle, turn: SteadyTurn) -> FloatArray:
    """That every item of mass needs on its own circle, and the air that is moved along, earth axes. [N]"""
    to_earth, velocity, rates = axes(turn)
    upright = np.array([0.0, 0.0, turn.rate])
    needed = np.zeros(3)
    body = build_jointed_body(vehicle)
    _, at_payload = body.payload(turn.state(), body.payload_center)
    needed += body.payload_mass * np.cross(upright, at_payload)
    for item in vehicle.items:
        if item.name == "payload":
            continue
        at_item = to_earth @ (velocity + np.cross(rates, item.properties.center))
        needed += item.properties.mass * np.cross(upright, at_item)
    density = vehicle.atmosphere.density(vehicle.ground_height)
    carried = density * (vehicle.enclosed_matrix + vehicle.air_matrix)[:3] @ np.concatenate([velocity, rates])
    return needed + np.cross(upright, to_earth @ carried)


def aerodynamic_force(vehicle: Vehicle, turn: SteadyTurn) -> FloatArray:
    """On canopy, lines and payload, body axes. [N]"""
    to_earth, velocity, rates = axes(turn)
    density = vehicle.atmosphere.density(vehicle.ground_height)
    motion = np.concatenate([velocity, rates])
    body = build_jointed_body(vehicle)
    _, at_payload = body.payload(turn.state(), body.payload_center)
    through_air = to_earth.T @ at_payload
    drag = -0.5 * density * body.payload_drag_area * np.linalg.norm(through_air) * through_air
    return air_wrench(body.canopy, motion, density, turn.left, turn.right)[:3] + drag


def test_forces_balance(vehicle: Vehicle, turns: tuple[SteadyTurn, ...]) -> None:
    """Air's force and weight make the centripetal force, to 1e-6 of the weight."""
    weight = np.array([0.0, 0.0, vehicle.weight])
    for turn in turns:
        force = axes(turn)[0] @ aerodynamic_force(vehicle, turn) + weight
        needed = centripetal_force(vehicle, turn)
        np.testing.assert_allclose(force, needed, atol=1e-6 * vehicle.weight)


def test_bank_is_coordinated_but_for_side_force(vehicle: Vehicle, turns: tuple[SteadyTurn, ...]) -> None:
    """It banks inwards, less than a coordinated turn of its speed and rate. The rest is the side force's:
    taking that from the tilt of the whole force gives the bank within 0.05 deg.

    Seen along the path the air's force leans by `tilt` from upright; bank is that less the angle by which the
    side force turns it out of the plane of symmetry.
    """
    for turn in turns[5:]:
        force = aerodynamic_force(vehicle, turn)
        to_earth = axes(turn)[0]
        # Across the nose, level: the direction in which a turn needs force.
        level = np.array([0.0, 1.0, 0.0])
        in_earth = to_earth @ force
        level_nose = rotation_matrix(quaternion_from_euler(0.0, turn.pitch, 0.0))
        tilt = np.arctan2(in_earth @ level, -(level_nose.T @ in_earth)[2])
        side = np.arctan2(force[1], -force[2])
        assert degrees(tilt - side) == pytest.approx(degrees(turn.bank), abs=0.05)
        assert 0 < turn.bank < turn.coordinated_bank
        assert turn.sideslip < 0


def test_kinematics_of_the_circle(turns: tuple[SteadyTurn, ...]) -> None:
    """Radius, time and height of a turn from its speeds; the bank that R = V²/(g tan bank) asks for."""
    for turn in turns[1:]:
        forward = hypot(turn.forward_speed, turn.sink)
        assert forward == pytest.approx(turn.airspeed)
        assert turn.radius * abs(turn.rate) == pytest.approx(turn.forward_speed)
        assert turn.turn_time == pytest.approx(2 * pi * turn.radius / turn.forward_speed)
        assert turn.height_per_turn == pytest.approx(turn.sink * turn.turn_time)
        radius = turn.forward_speed**2 / (GRAVITY * tan(abs(turn.coordinated_bank)))
        assert turn.radius == pytest.approx(radius)
        assert coordinated_radius(airspeed=turn.forward_speed, bank=turn.coordinated_bank) == pytest.approx(
            turn.radius
        )
