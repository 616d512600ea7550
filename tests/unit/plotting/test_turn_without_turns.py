"""A design whose steady turns cannot be followed still gets its picture."""

from dataclasses import replace

from parasim.config.loader import load_design
from parasim.dynamics.vehicle import assemble
from parasim.flight.turn.turn import turn
from parasim.plotting.turn import turn_figure


def test_only_the_straight_flight_is_drawn(configs):
    found = turn(assemble(load_design(configs / "heron.yaml")))
    figure = turn_figure(replace(found, right=found.right[:1], left=found.left[:1]))
    assert all(low < high for low, high in (ax.get_ylim() for ax in figure.axes))
