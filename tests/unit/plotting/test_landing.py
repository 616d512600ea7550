"""The picture of the landings: title, limits, yardsticks, cautions."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import assemble
from parasim.flight.arrival import Touchdown
from parasim.flight.landing import COURSES, Landing, judged, landing
from parasim.plotting.landing import landing_figure


@pytest.fixture(scope="module")
def table(heron: Design) -> Landing:
    return landing(assemble(heron), flared=False)


@pytest.mark.parametrize(("system", "unit"), [("metric", "J"), ("imperial", "ft lbf")])
def test_title_and_axes(table: Landing, system, unit):
    figure = landing_figure(table, system)
    title = figure.get_suptitle()
    assert title.startswith("heron lands with")
    assert f"{unit} brakes released in still air (limit" in title
    assert figure.axes[1].get_ylabel() == f"energy at touchdown [{unit}]"
    figure.savefig(io.BytesIO(), format="png")


def test_limits_and_yardsticks_are_named(table: Landing):
    ground, energy = landing_figure(table).axes
    assert "no limit given (?)" in [text.get_text() for text in ground.texts]
    assert {"limit (x above)", "yardstick 14.9 J", "yardstick 33.9 J"} <= {
        text.get_text() for text in energy.texts
    }


def test_small_print(table: Landing):
    text = landing_figure(table).get_supxlabel()
    assert "Unopened it would arrive" in text
    assert "can injure people" in text


def test_one_wind_alone_can_be_drawn(heron: Design):
    limited = override(heron, {"landing.max_ground_speed": "9 m/s", "landing.max_energy": None})
    figure = landing_figure(landing(assemble(limited), flared=False, winds=np.array([3.0])))
    assert "of wind ahead" in figure.get_suptitle()
    figure.savefig(io.BytesIO(), format="png")


def test_each_way_has_its_own_wind_limit(table: Landing):
    """By hand: a flare that leaves 5 m/s of forward speed has 20 % in hand up to 4 m/s of wind."""
    flared = tuple(
        judged("flared", Touchdown(ground_speed=5.0, sink=1.0, mass=1.2), float(wind), course, table.limits)
        for course in COURSES
        for wind in table.winds
    )
    both = replace(table, arrivals=(*table.arrivals, *flared))
    assert both.way_limit("flared") == pytest.approx(4.0)
    assert both.way_limit("brakes released") == pytest.approx(both.wind_limit)
    ground = landing_figure(both).axes[1]
    (line,) = [one for one in ground.lines if "of way left" in str(one.get_label())]
    assert line.get_xdata()[0] == pytest.approx(4.0)
    assert "going backwards" in [text.get_text() for text in landing_figure(both).axes[0].get_legend().texts]
