"""Opening: limits known in closed form, an independent integration of the snatch, momentum and energy."""

from dataclasses import replace
from math import hypot, pi, sqrt

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from parasim.dynamics.inflation import (
    Motion,
    Opener,
    Reefing,
    fall,
    fill,
    nominal_diameter,
    path_angle,
    release_velocity,
    snatch_force,
    stretch,
)

G = 9.80665
AT_STRETCH = np.array([0.0, 0.0, 14.0, 9.0])


@pytest.fixture
def opener() -> Opener:
    return Opener(
        payload_mass=1.2,
        canopy_mass=0.08,
        payload_drag_area=0.017,
        pack_drag_area=0.011,
        open_drag_area=0.67,
        air_mass=0.21,
        filling_distance=5.0,
        growth_exponent=2.0,
        air_density=1.2,
        stretch_distance=0.9,
    )


def pure_drag(opener: Opener, *, ballistic: float, exponent: float) -> Opener:
    """Without payload drag, pack drag or air carried; mass set by Pflanz's parameter."""
    mass = ballistic * opener.air_density * opener.open_drag_area * opener.filling_distance / 2
    return replace(
        opener,
        payload_mass=0.999 * mass,
        canopy_mass=0.001 * mass,
        payload_drag_area=0.0,
        pack_drag_area=0.0,
        air_mass=0.0,
        growth_exponent=exponent,
    )


@pytest.mark.parametrize("exponent", [1.0, 2.0])
@pytest.mark.parametrize("ballistic", [0.05, 0.5, 2.0, 50.0])
def test_pflanz_in_closed_form(opener: Opener, ballistic: float, exponent: float) -> None:
    """Level flight, drag only: v = v0 / (1 + tau^(j+1) / (A (j+1))), worked by hand from dv/dt.

    The peak of tau^j (v/v0)^2 is where tau^(j+1) = A j (j+1) / (j+2), or at full. Very fast, so that
    gravity does not count: weight over drag is 1e-5 and less here.
    """
    A, j, v0 = ballistic, exponent, 4000.0
    light = pure_drag(opener, ballistic=A, exponent=j)
    motion = fill(light, np.array([0.0, 0.0, v0, 0.0]))
    tau = np.linspace(0, 1, 20001)
    drag = tau**j / (1 + tau ** (j + 1) / (A * (j + 1))) ** 2
    top = min((A * j * (j + 1) / (j + 2)) ** (1 / (j + 1)), 1.0)
    assert drag.max() == pytest.approx(top**j / (1 + top ** (j + 1) / (A * (j + 1))) ** 2, rel=1e-6)
    steady = 0.5 * light.air_density * v0**2 * light.open_drag_area
    force = motion.force / steady / (light.payload_mass / light.mass)
    assert force.max() == pytest.approx(drag.max(), rel=2e-3)
    assert motion.forward_speed[-1] == pytest.approx(v0 / (1 + 1 / (A * (j + 1))), rel=1e-4)
    assert light.ballistic_parameter == pytest.approx(A)


def test_heavy_payload_meets_its_constant_speed_limit(opener: Opener) -> None:
    """A payload of a ton keeps its speed: the force ends at drag times C_X, by d(m_a v)/dt at constant v."""
    heavy = replace(opener, payload_mass=1000.0, payload_drag_area=0.0)
    motion = fill(heavy, np.array([0.0, 0.0, 30.0, 0.0]))
    steady = 0.5 * heavy.air_density * motion.speed[-1] ** 2 * heavy.open_drag_area
    C_X = 1 + 3 * 2.0 * heavy.air_mass / (heavy.air_density * heavy.open_drag_area * heavy.filling_distance)
    assert heavy.constant_speed_factor == pytest.approx(C_X)
    assert motion.force.max() == pytest.approx(C_X * steady, rel=0.01)
    assert motion.force.argmax() == len(motion.force) - 1


def test_light_payload_stays_well_under(opener: Opener) -> None:
    light = replace(opener, payload_mass=0.2)
    motion = fill(light, AT_STRETCH)
    bound = 0.5 * light.air_density * motion.speed[0] ** 2 * light.open_drag_area
    assert motion.force.max() < 0.1 * bound * light.constant_speed_factor


@pytest.mark.parametrize("speed", [5.0, 15.0, 40.0])
def test_peak_is_below_the_constant_speed_bound(opener: Opener, speed: float) -> None:
    motion = fill(opener, np.array([0.0, 0.0, 0.6 * speed, 0.8 * speed]))
    drag = 0.5 * opener.air_density * motion.speed.max() ** 2 * opener.open_drag_area
    assert motion.force.max() <= drag * opener.constant_speed_factor


def test_peak_rises_with_the_speed_at_line_stretch(opener: Opener) -> None:
    peaks = [fill(opener, np.array([0.0, 0.0, v, 3.0])).force.max() for v in np.linspace(0, 40, 9)]
    assert (np.diff(peaks) > 0).all()


@pytest.mark.parametrize("speed", [10.0, 30.0])
def test_filling_distance_is_constant(opener: Opener, speed: float) -> None:
    """Speed at line stretch times filling time is n D0."""
    motion = fill(opener, np.array([0.0, 0.0, speed, 0.0]))
    assert speed * motion.time[-1] == pytest.approx(opener.filling_distance)


def balance(opener: Opener, motion: Motion) -> tuple[np.ndarray, np.ndarray]:
    """Momentum gained by everything and impulse of weight and drag: forward and down, one each a step."""
    r, v = motion.filled, np.array([motion.forward_speed, motion.sink])
    air = opener.air_mass * r**1.5
    momentum = (opener.mass + air) * v
    CDS = (
        opener.payload_drag_area + opener.pack_drag_area + r * (opener.open_drag_area - opener.pack_drag_area)
    )
    force = -0.5 * opener.air_density * CDS * motion.speed * v
    force[1] += opener.mass * G
    steps = np.diff(motion.time)
    impulse = np.cumsum((force[:, 1:] + force[:, :-1]) / 2 * steps, axis=1)
    return momentum[:, 1:] - momentum[:, :1], impulse


def test_momentum_is_kept(opener: Opener) -> None:
    """All momentum taken out of the moving bodies is impulse of weight and drag. Trapezia over 121 points."""
    gained, impulse = balance(opener, fill(opener, AT_STRETCH))
    scale = np.abs(gained).max()
    np.testing.assert_allclose(gained, impulse, atol=2e-4 * scale)


def test_energy_is_never_gained(opener: Opener) -> None:
    motion = fill(opener, AT_STRETCH)
    air = opener.air_mass * motion.filled**1.5
    kinetic = 0.5 * (opener.mass + air) * motion.speed**2
    total = kinetic - opener.mass * G * motion.down
    assert (np.diff(total) < 1e-9).all()


def test_the_payload_feels_what_the_canopy_holds(opener: Opener) -> None:
    """Newton's third law: the canopy's own drag, and the air it speeds up, make the force."""
    motion = fill(opener, np.array([0.0, 0.0, 0.0, 18.0]))
    v, r = motion.sink, motion.filled
    air = opener.air_mass * r**1.5
    canopy = opener.canopy_mass + air
    gained = np.gradient(canopy * v, motion.time)
    CDS = opener.pack_drag_area + r * (opener.open_drag_area - opener.pack_drag_area)
    force = gained + 0.5 * opener.air_density * CDS * v**2 - opener.canopy_mass * G
    middle = slice(3, -3)
    np.testing.assert_allclose(motion.force[middle], force[middle], rtol=2e-3, atol=0.05)


def test_reefing_holds_the_area_for_its_time(opener: Opener) -> None:
    reefed = replace(opener, reefing=Reefing(area=0.25, time=1.5))
    motion = fill(reefed, AT_STRETCH)
    held = motion.time[np.isclose(motion.filled, 0.25)]
    assert held[-1] - held[0] == pytest.approx(1.5)
    assert motion.filled[-1] == pytest.approx(1.0)
    assert (np.diff(motion.time) >= 0).all()
    # The rest of the root of growth, 1 - 0.25^(1/2), at the pace of the speed it has come to.
    end_of_hold = np.flatnonzero(np.isclose(motion.filled, 0.25))[-1]
    pace = motion.speed[end_of_hold] / opener.filling_distance
    assert motion.time[-1] - held[-1] == pytest.approx(0.5 / pace, rel=1e-6)


@pytest.mark.parametrize("area", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("speed", [12.0, 20.0, 35.0])
@pytest.mark.parametrize("held", [0.3, 0.7, 3.0])
def test_reefing_lowers_the_peak_unless_it_speeds_up_meanwhile(
    opener: Opener, area: float, speed: float, held: float
) -> None:
    """Where the reefed canopy falls slower than it was released, holding it can only slow it down."""
    start = np.array([0.0, 0.0, speed, 0.5 * speed])
    CDS = opener.payload_drag_area + opener.pack_drag_area
    CDS += area * (opener.open_drag_area - opener.pack_drag_area)
    reefed_fall = sqrt(2 * opener.mass * G / (opener.air_density * CDS))
    plain = fill(opener, start).force.max()
    reefed = fill(replace(opener, reefing=Reefing(area=area, time=held)), start).force.max()
    if reefed_fall < hypot(*start[2:]):
        assert reefed <= plain
    elif held == 3.0:
        assert reefed > plain, "it had time to speed up, so the peak has to be higher"


def test_reefing_of_no_length_changes_little(opener: Opener) -> None:
    """Filling goes on at the pace of the speed it has come to, which has dropped a little."""
    instant = fill(replace(opener, reefing=Reefing(area=0.02, time=0.0)), AT_STRETCH)
    assert instant.force.max() == pytest.approx(fill(opener, AT_STRETCH).force.max(), rel=0.02)


def test_snatch_by_an_independent_integration() -> None:
    """Two masses and a spring, followed in time."""
    m, M, k, v = 1.2, 0.08, 5000.0, 4.0

    def rate(_: float, y: np.ndarray) -> list[float]:
        pull = k * max(y[0] - y[1], 0.0)
        return [y[2], y[3], -pull / m, pull / M]

    found = solve_ivp(rate, (0.0, 0.05), [0.0, 0.0, v, 0.0], rtol=1e-10, atol=1e-12, max_step=1e-4)
    peak = k * (found.y[0] - found.y[1]).max()
    assert snatch_force(relative_speed=v, stiffness=k, mass=m, other_mass=M) == pytest.approx(peak, rel=1e-4)
    assert snatch_force(relative_speed=v, stiffness=k, mass=M, other_mass=m) == pytest.approx(peak, rel=1e-4)


def test_snatch_against_a_wall() -> None:
    """A much heavier partner is a wall: F = v sqrt(k m)."""
    force = snatch_force(relative_speed=3.0, stiffness=400.0, mass=1.0, other_mass=1e9)
    assert force == pytest.approx(3.0 * sqrt(400.0))


def test_fall_in_a_vacuum_and_in_air(opener: Opener) -> None:
    vacuum = fall(replace(opener, payload_drag_area=0.0), velocity=np.array([10.0, 0.0]), delay=2.0)
    assert vacuum.end == pytest.approx([20.0, 0.5 * G * 4, 10.0, 2 * G])
    # Straight down: V^2 = V_t^2 (1 - exp(-2 g h / V_t^2)), as for any falling body.
    terminal = 2 * opener.mass * G / (opener.air_density * opener.payload_drag_area)
    air = fall(opener, velocity=np.zeros(2), delay=3.0)
    assert air.sink[-1] ** 2 == pytest.approx(terminal * (1 - np.exp(-2 * G * air.down[-1] / terminal)))
    assert len(fall(opener, velocity=np.zeros(2), delay=0.0).time) == 1


def test_static_line_stretches_at_the_fall_of_its_length(opener: Opener) -> None:
    """Let go of a carrier in level flight, without drag: v = sqrt(2 g h) relative to it."""
    free = replace(opener, payload_drag_area=0.0)
    found = stretch(free, np.array([0.0, 0.0, 20.0, 0.0]), held=True)
    assert found is not None
    assert found.relative_speed == pytest.approx(sqrt(2 * G * 0.9))
    assert found.time == pytest.approx(sqrt(2 * 0.9 / G))
    share = free.payload_mass / free.mass
    assert found.pair == pytest.approx([20.0, share * sqrt(2 * G * 0.9)])


def test_pack_without_weight_of_its_own_lags(opener: Opener) -> None:
    start = np.array([0.0, 0.0, 0.0, 15.0])
    slow, quick = (stretch(replace(opener, pack_drag_area=area), start, held=False) for area in (0.011, 0.05))
    assert slow is not None
    assert quick is not None
    assert quick.time < slow.time
    assert quick.relative_speed > slow.relative_speed
    assert hypot(*slow.pair) < hypot(*slow.payload)


def test_heavy_pack_never_falls_behind(opener: Opener) -> None:
    heavy = replace(opener, canopy_mass=5.0, pack_drag_area=0.0005)
    assert stretch(heavy, np.array([0.0, 0.0, 0.0, 10.0]), held=False) is None


def test_small_helpers() -> None:
    assert nominal_diameter(pi / 4) == pytest.approx(1.0)
    assert path_angle(release_velocity(12.0, 0.4)) == pytest.approx(0.4)
    assert hypot(*release_velocity(12.0, 0.4)) == pytest.approx(12.0)
