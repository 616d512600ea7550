"""Landing energy against worked examples, a regulator's printed figures and a stop followed in time.

Bench story: 1.2 kg, 0.55 m2, resultant coefficient 0.5, glide ratio 2.5, sea level (ISO 2533: 1.225 kg/m3,
9.80665 m/s2). Source of the story: private working notes; tolerance is half the last printed digit, or 1 %.
Impact energies of a 1 lb object: 10.5 ft lb at 26 ft/s, 24.8 ft lb at 40 ft/s (FAA, rules on small drones
over people; second-hand, the document itself was not seen).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from parasim.flight.arrival import Touchdown, mean_load, peak_load
from parasim.flight.landing import (
    FOOT_POUND,
    YARDSTICKS,
    arrive,
    forward_and_sink,
    glide_speed,
    terminal_speed,
)
from parasim.units import FOOT, POUND

MASS, AREA, RHO, GRAVITY = 1.2, 0.55, 1.225, 9.80665
SPEED = glide_speed(weight=MASS * GRAVITY, area=AREA, air_density=RHO, resultant_coefficient=0.5)
FORWARD, SINK = forward_and_sink(SPEED, 2.5)


def test_speeds_of_the_story():
    assert pytest.approx(8.4, abs=0.05) == SPEED
    assert pytest.approx(3.1, abs=0.05) == SINK


@pytest.mark.parametrize(
    ("wind", "course", "energy"), [(0.0, "into", 42.0), (4.0, "into", 14.0), (4.0, "with", 89.0)]
)
def test_energies_of_the_story(wind, course, energy):
    landing = arrive(forward_speed=FORWARD, sink=SINK, mass=MASS, wind=wind, course=course)
    assert landing.energy == pytest.approx(energy, abs=0.5)
    assert landing.vertical_energy == pytest.approx(6.0, abs=0.5)
    assert landing.equivalent_height == pytest.approx(0.49, rel=0.01)


def test_unopened_of_the_story():
    speed = terminal_speed(weight=MASS * GRAVITY, drag_area=0.05, air_density=RHO)
    fall = Touchdown(ground_speed=0.0, sink=speed, mass=MASS)
    assert speed == pytest.approx(19.6, abs=0.05)
    assert fall.energy == pytest.approx(230.0, rel=0.01)


@pytest.mark.parametrize(("speed", "energy"), [(26.0, 10.5), (40.0, 24.8)])
def test_one_pound_at_the_speeds_printed(speed, energy):
    """Printed to a tenth of a foot-pound; 40 ft/s works out at 24.86, so the source cut the digit off."""
    object_ = Touchdown(ground_speed=0.0, sink=speed * FOOT, mass=POUND)
    assert object_.energy / FOOT_POUND == pytest.approx(energy, abs=0.1)


def test_energy_yardsticks_are_what_they_are_called():
    for stick in YARDSTICKS:
        if stick.quantity == "energy":
            assert f"{stick.value / 1.3558179483:.0f} ft lbf" == stick.name  # ft lbf in joules, NIST SP 811
            assert "from memory" in stick.words


@pytest.mark.parametrize(("speed", "distance"), [(3.1, 0.02), (1.0, 0.1), (0.3, 0.05)])
def test_stop_on_a_spring_followed_in_time(speed, distance):
    """A force growing evenly with distance, sized by `peak_load`, stops the mass just there."""
    stiffness = peak_load(speed, distance) * GRAVITY / distance  # for 1 kg

    def motion(_: float, y: np.ndarray) -> list[float]:
        return [y[1], GRAVITY - stiffness * y[0]]

    def at_rest(_: float, y: np.ndarray) -> float:
        return float(y[1])

    at_rest.terminal, at_rest.direction = True, -1  # type: ignore[attr-defined]
    found = solve_ivp(motion, (0, 10), [0.0, speed], events=at_rest, rtol=1e-9, atol=1e-12)
    assert found.y[0, -1] == pytest.approx(distance, rel=1e-6)
    assert stiffness * found.y[0, -1] / GRAVITY == pytest.approx(2 * mean_load(speed, distance), rel=1e-6)
