"""Coordinated turns: R = V^2/(g tan phi), and sink that grows with load factor to the power 3/2.

Textbook mechanics of a banked glide, from memory. The worked value, 6.55 m/s at 20 deg of bank: 12.0 m of
radius and 11.5 s a turn, is arithmetic on it.
"""

from math import cos, pi, radians

import numpy as np
import pytest

from parasim.config.loader import load_design
from parasim.dynamics.vehicle import assemble
from parasim.flight.steady_turn import banked_sink_growth, coordinated_radius, steady_turns
from parasim.flight.turn import rigid_in_still_air


def test_worked_value():
    radius = coordinated_radius(airspeed=6.55, bank=radians(20))
    assert radius == pytest.approx(12.0, abs=0.05)
    assert 2 * pi * radius / 6.55 == pytest.approx(11.5, abs=0.05)


@pytest.mark.parametrize(("bank", "growth"), [(30, 1.24), (60, 2.83)])
def test_sink_growth(bank, growth):
    assert banked_sink_growth(radians(bank)) == pytest.approx(growth, abs=0.005)
    assert banked_sink_growth(radians(bank)) == pytest.approx(cos(radians(bank)) ** -1.5)


def test_steady_turns_are_nearly_coordinated(configs):
    """The side force of the sideslip makes the rest: the canopy need not lean as far as without it."""
    heron = rigid_in_still_air(assemble(load_design(configs / "heron.yaml")))
    turns = steady_turns(heron, left=0.0, right=1.0, brakes=np.linspace(0, 1, 11), growth=False)
    for turn in turns[5:]:
        assert 0.8 < turn.bank / turn.coordinated_bank < 1.0
        assert turn.sideslip < 0
