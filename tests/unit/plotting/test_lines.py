"""The line plan can be measured, and names every length it shows as the sheet does."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.caveats import CAUTION
from parasim.dynamics.vehicle import Vehicle
from parasim.plotting.lines import inner_rib, plan_figure
from parasim.units import in_sixteenths


@pytest.fixture(scope="module")
def finished(vehicle: Vehicle) -> dict[str, float]:
    return {line.label: line.length for line in vehicle.line_set.lines}


def plan(vehicle: Vehicle, finished: dict[str, float], **options: object):
    return plan_figure(vehicle.canopy, vehicle.line_set, vehicle.rigging, finished, name="heron", **options)


def texts(ax) -> set[str]:
    return {text.get_text() for text in ax.texts}


def test_side_view_is_to_scale_and_names_its_lines(vehicle, finished):
    side, _ = plan(vehicle, finished).axes
    drawn = [np.array(line.get_data()) for line in side.lines]
    rib = inner_rib(vehicle.canopy)
    held = [hold for hold in vehicle.line_set.holds if hold.rib == rib and hold.side == "R"]
    assert held
    for line in (line for hold in held for line in hold.lines):
        ends = np.array([line.start, line.end])
        expected = np.array([-ends[:, 0], -ends[:, 2]])
        assert any(data.shape == (2, 2) and np.allclose(data, expected) for data in drawn)
        assert f"{'+'.join(line.rows)} {1e3 * line.length:.0f} mm" in texts(side)
    assert {"A\n50", "B\n175", "C\n300", "D\n425"} <= texts(side)
    assert "chord 500 mm" in side.get_title(loc="left")


def test_front_view_shows_front_rows_brakes_and_ribs(vehicle, finished):
    _, front = plan(vehicle, finished).axes
    shown = texts(front)
    for label, length in finished.items():
        if label[2:] in ("R-A", "R-A+B") or label.startswith("L-brake"):
            assert f"{1e3 * length:.0f} mm" in shown
    assert {str(number) for number in range(1, 16, 2)} <= shown
    assert "riser ends 100 mm apart" in shown


def test_inches(vehicle, finished):
    side, front = plan(vehicle, finished, system="imperial").axes
    assert "[in]" in side.get_xlabel()
    assert f"{in_sixteenths(finished['L-brake-1'])} in" in texts(front), "not as on the line sheet"


def test_without_cascades_and_with_a_centre_rib(heron):
    from parasim.config.loader import override
    from parasim.dynamics.vehicle import assemble

    changes = {"lines.cascades": [], "canopy.cells": 6, "canopy.half_cells": 12}
    other = assemble(override(heron, changes))
    figure = plan(other, {line.label: line.length for line in other.line_set.lines})
    assert inner_rib(other.canopy) == 3
    assert len(figure.axes) == 2


def test_the_caution_is_below_the_plan(vehicle, finished):
    assert CAUTION in plan(vehicle, finished).get_supxlabel()


def test_marks_at_the_lower_ends_are_explained(vehicle, finished, configs):
    from parasim.config.loader import load_design
    from parasim.dynamics.vehicle import assemble

    assert "squares" not in plan(vehicle, finished).get_supxlabel()
    four = assemble(load_design(configs / "kingfisher.yaml"))
    words = plan(four, {line.label: line.length for line in four.line_set.lines}).get_supxlabel()
    for mark in (
        "cross, the confluence",
        "squares, ends of the front and the rear riser",
        "circle, the brake",
    ):
        assert mark in words


@pytest.mark.parametrize("long_side", [297.0, 279.4])
def test_it_can_be_read_on_a4_and_letter(vehicle, finished, long_side):
    """Type of 2 mm at least when the plan is printed across a sheet with 10 mm free: our choice."""
    figure = plan(vehicle, finished)
    smaller = (long_side - 20.0) / (25.4 * figure.get_size_inches()[0])
    sizes = [text.get_fontsize() for ax in figure.axes for text in ax.texts]
    assert min(sizes) * smaller * 25.4 / 72 > 2.0
