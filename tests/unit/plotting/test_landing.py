"""The picture of the landings: title, limits, yardsticks, cautions."""

from __future__ import annotations

import io

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import assemble
from parasim.flight.landing import Landing, landing
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
    assert {"limit (x above)", "14.9 J", "33.9 J"} <= {text.get_text() for text in energy.texts}


def test_small_print(table: Landing):
    text = landing_figure(table).get_supxlabel()
    assert "Unopened it would arrive" in text
    assert "can injure people" in text


def test_one_wind_alone_can_be_drawn(heron: Design):
    limited = override(heron, {"landing.max_ground_speed": "9 m/s", "landing.max_energy": None})
    figure = landing_figure(landing(assemble(limited), flared=False, winds=np.array([3.0])))
    assert "of wind ahead" in figure.get_suptitle()
    figure.savefig(io.BytesIO(), format="png")
