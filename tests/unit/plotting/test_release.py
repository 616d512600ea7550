"""The map of a release: outlines, ring, path and marks; without a release point the reach alone."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.dynamics.vehicle import assemble
from parasim.flight.release.release import ReleasePoint, release
from parasim.plotting.release import release_figure


@pytest.fixture(scope="module")
def point(heron: Design) -> ReleasePoint:
    return release(assemble(heron))


def lines(ax) -> dict[str, np.ndarray]:
    return {line.get_label(): np.array(line.get_data()) for line in ax.get_lines()}


@pytest.mark.parametrize(("system", "unit", "size"), [("metric", "m", 1.0), ("imperial", "ft", 0.3048)])
def test_two_maps(point: ReleasePoint, system, unit, size):
    figure = release_figure(point, system)
    reach, plan, side = figure.axes
    assert figure.get_suptitle().startswith("heron from ")
    assert "let go" in figure.get_suptitle()
    assert reach.get_xlabel() == plan.get_xlabel() == f"east [{unit}]"
    outline = lines(reach)["reach, gliding straight"]
    assert np.ptp(outline[1]) / 2 * size == pytest.approx(point.reach.band("across").value, rel=1e-3)
    east, north = lines(plan)["let go within this ring"]
    assert np.ptp(north) / 2 * size == pytest.approx(point.plan.box, rel=1e-3)
    assert (east.max() + east.min()) / 2 * size == pytest.approx(point.plan.release[1], abs=0.5)
    path = lines(plan)["plan, flown once;\nnumbers: its height"]
    assert np.hypot(*path[:, -1]) * size == pytest.approx(point.miss, abs=1e-6)
    words = [text.get_text() for text in side.get_legend().get_texts()]
    assert len(words) == len(set(words)) == 9
    assert "can injure people" in figure.get_supxlabel()
    figure.savefig(io.BytesIO(), format="png")


def test_without_a_release_point(point: ReleasePoint):
    figure = release_figure(replace(point, limit=1.0, flown=None))
    assert len(figure.axes) == 2
    assert "no release point, the wind is over 1.0 m/s" in figure.get_suptitle()
    assert "target" not in lines(figure.axes[0])
    figure.savefig(io.BytesIO(), format="png")


def test_a_planned_release_is_the_origin(heron: Design):
    planned = release(assemble(heron), target=(30.0, 40.0))
    reach, plan, _ = release_figure(planned).axes
    assert lines(reach)["target"].ravel() == pytest.approx([40.0, 30.0])
    assert lines(reach)["under the release"].ravel() == pytest.approx([0.0, 0.0])
    advised = lines(plan)["point advised"].ravel()
    assert advised == pytest.approx([40.0 + planned.plan.release[1], 30.0 + planned.plan.release[0]])
    assert lines(plan)["plan, flown once;\nnumbers: its height"][:, 0] == pytest.approx([0.0, 0.0], abs=1e-6)
