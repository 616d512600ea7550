"""Friction of a line over a bend: a handbook's figures, and Coulomb's law at every corner.

T2 = T1 exp(mu beta), by Euler and Eytelwein, as Den Hartog, Mechanics (1948), has it. The figures for whole
turns are those that handbooks of rope work print, to one decimal (from memory, unverified). The polygon
below does
not know the formula: over a corner that turns by d, the ring's reaction leans by the angle of friction off
the
corner's bisector, so that T2 cos(d/2 + phi) = T1 cos(d/2 - phi) with tan phi = mu. Source: [DenHartog1948]
"""

from math import atan, cos, pi

import numpy as np
import pytest

from parasim.flight.servo.ring import capstan_ratio, left_in

TURNS = [(0.1, 1, 1.9), (0.2, 1, 3.5), (0.3, 1, 6.6), (0.1, 2, 3.5), (0.2, 2, 12.3)]


@pytest.mark.parametrize(("friction", "turns", "printed"), TURNS)
def test_handbook_turns(friction, turns, printed):
    """To the printed digit."""
    assert capstan_ratio(friction, 2 * pi * turns) == pytest.approx(printed, abs=0.05)


@pytest.mark.parametrize("friction", [0.05, 0.2, 0.6])
@pytest.mark.parametrize("bend", [0.2, 1.0, pi])
def test_polygon_of_many_corners(friction, bend):
    """500 corners; what a corner leaves out falls with its angle squared."""
    corner, phi = bend / 500, atan(friction)
    polygon = (cos(corner / 2 - phi) / cos(corner / 2 + phi)) ** 500
    assert capstan_ratio(friction, bend) == pytest.approx(polygon, rel=1e-4)


def test_line_that_returns_until_its_drag():
    """Force falling evenly to zero with pull: by proportion."""
    pull = np.linspace(0.0, 0.1, 26)
    assert left_in(pull, 10.0 * pull, 0.3) == pytest.approx(0.03, abs=2e-4)
    assert left_in(pull, 10.0 * pull, 2.0) == pytest.approx(0.1)
    assert left_in(pull, 1.0 + pull, 0.5) == 0.0
