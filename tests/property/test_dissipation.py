"""The air never feeds a canopy: the inequality of `parasim.dynamics.dissipation` over the whole table."""

from functools import lru_cache

import numpy as np
import pytest

from parasim.compiled import compiled
from parasim.config.loader import load_design
from parasim.dynamics.dissipation import MOST_SPIN, dissipative, held_spin
from parasim.dynamics.motion import Motion, canopy_wrench, withheld_power
from parasim.dynamics.rigid_body import build_rigid_body
from parasim.dynamics.vehicle import assemble
from parasim.rotations import FloatArray
from tests.conftest import CONFIGS

STATES = 100_000
DENSITY = 1.2


@compiled
def powers(motion: Motion, states: FloatArray, raw: FloatArray, kept: FloatArray) -> None:
    """Power of the air and of what the motion withholds, before and after, over q S V and its counterpart."""
    origin = (0.0, 0.0, 0.0)
    for i in range(len(states)):
        s = states[i]
        velocity, rates = (s[0], s[1], s[2]), (s[3], s[4], s[5])
        force, moment = canopy_wrench(motion.table, origin, velocity, rates, DENSITY, s[6], s[7])
        withheld = withheld_power(motion.constants, velocity, rates, DENSITY)
        raw[i] = withheld + sum_of(force, velocity) + sum_of(moment, rates)
        force, moment = dissipative(force, moment, velocity, rates, withheld, motion.table.span)
        kept[i] = withheld + sum_of(force, velocity) + sum_of(moment, rates)


@compiled
def sum_of(a: tuple[float, float, float], b: tuple[float, float, float]) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@lru_cache
def motion_of(name: str) -> Motion:
    return build_rigid_body(assemble(load_design(CONFIGS / f"{name}.yaml"))).motion


def random_states(
    motion: Motion, ratio: tuple[float, float], alpha: tuple[float, float], beta: float
) -> FloatArray:
    """Velocity, rates and brakes: spin over airspeed even by its logarithm, all else even."""
    rng, table = np.random.default_rng(7), motion.table
    speed = 10 ** rng.uniform(-1, 2, STATES)
    a, b = np.radians(rng.uniform(*alpha, STATES)), np.radians(rng.uniform(-beta, beta, STATES))
    velocity = speed * np.array([np.cos(a) * np.cos(b), np.sin(b), np.sin(a) * np.cos(b)])
    axis = rng.normal(size=(3, STATES))
    axis /= np.linalg.norm(axis, axis=0)
    size = 10 ** rng.uniform(*np.log10(ratio), STATES) * speed
    rates = axis * size / (np.array([[table.span], [table.chord], [table.span]]) / 2)
    return np.ascontiguousarray(np.vstack([velocity, rates, rng.uniform(0, 1, (2, STATES))]).T)


def measured(name: str, **states: object) -> tuple[FloatArray, FloatArray, FloatArray]:
    motion = motion_of(name)
    drawn = random_states(motion, **states)  # type: ignore[arg-type]
    raw, kept = np.empty(STATES), np.empty(STATES)
    powers(motion, drawn, raw, kept)
    speed = np.linalg.norm(drawn[:, :3], axis=1)
    spin = np.linalg.norm(drawn[:, 3:6], axis=1) * motion.table.span
    return raw, kept, DENSITY * motion.table.area * (speed**3 + speed**2 * spin)


@pytest.mark.parametrize("name", ["heron", "wren", "pelican"])
def test_air_feeds_no_rotation_anywhere_in_the_table(name: str) -> None:
    raw, kept, scale = measured(name, ratio=(1e-3, 1e2), alpha=(-180.0, 180.0), beta=90.0)
    assert (raw / scale).max() > 0.01, "the coefficients alone would keep it: nothing is tested"
    assert (kept / scale).max() < 1e-9  # rounding, over the size of the terms that cancel


@pytest.mark.parametrize("name", ["heron", "wren", "pelican"])
def test_normal_flight_is_left_alone(name: str) -> None:
    raw, kept, scale = measured(name, ratio=(1e-3, 0.1), alpha=(-10.0, 20.0), beta=10.0)
    assert (raw / scale).max() < 0.0
    np.testing.assert_array_equal(raw, kept)


def test_spin_is_held_to_a_part_of_the_airspeed_and_keeps_its_direction() -> None:
    assert held_spin((0.1, -0.2, 0.1), 1.0) == (0.1, -0.2, 0.1)
    held = np.array(held_spin((3.0, -6.0, 2.0), 5.0))
    np.testing.assert_allclose(held, np.array([3.0, -6.0, 2.0]) * MOST_SPIN * 5 / 7)
