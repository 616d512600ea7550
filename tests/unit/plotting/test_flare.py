"""The picture of a flare: what its title and axes say, and that it can be saved."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest

from parasim.config.design import Design
from parasim.dynamics.vehicle import assemble
from parasim.flight.flare import flare as module
from parasim.flight.flare.descent import Pull
from parasim.flight.flare.flare import Flare, flare
from parasim.flight.uncertainty import Bands
from parasim.plotting.flare import flare_figure


@pytest.fixture(scope="module")
def best(heron: Design) -> Flare:
    patch = pytest.MonkeyPatch()
    patch.setattr(module, "STRIDES", ())
    patch.setattr(module, "flare_bands", lambda *_: Bands(figures={}, lost=()))
    found = flare(assemble(heron))
    patch.undo()
    return found


@pytest.mark.parametrize(("system", "unit"), [("metric", "m/s"), ("imperial", "ft/s")])
def test_title_tells_the_gain_and_axes_their_units(best: Flare, system, unit):
    figure = flare_figure(best, system)
    assert figure.get_suptitle().startswith("heron flared at")
    assert unit in figure.get_suptitle()
    labels = [ax.get_ylabel() for ax in figure.axes]
    assert f"sink [{unit}]" in labels
    assert "angle of attack [deg]" in labels
    figure.savefig(io.BytesIO(), format="png")


def test_cautions_stand_below(best: Flare):
    assert "can injure people" in flare_figure(best).get_supxlabel()


def test_no_flare_to_be_had(best: Flare):
    idle = replace(best, pull=Pull(), start_height=0.0)
    figure = flare_figure(idle)
    assert "no pull of the brakes lands softer" in figure.get_suptitle()
    figure.savefig(io.BytesIO(), format="png")
