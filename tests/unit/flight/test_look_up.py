"""Release points over a grid of winds and heights: those of `release`, one by one."""

from __future__ import annotations

from dataclasses import replace
from math import acosh, exp, hypot, sqrt

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.wind import Wind
from parasim.errors import DesignError
from parasim.flight.drop import unopened, unopened_drift
from parasim.flight.release.look_up import AT_A_CHANGE, LookUp, look_up
from parasim.flight.release.reach import clear_ground
from parasim.flight.release.release import release, touch_height
from parasim.flight.trim import find_trims


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


@pytest.fixture(scope="module")
def table(vehicle: Vehicle) -> LookUp:
    return look_up(vehicle, highest=120.0, gust=1.0)


def test_unopened_it_drifts_by_the_time_of_the_fall(vehicle: Vehicle) -> None:
    """In the same wind at every height: speed times V_t / g arcosh(exp(g h / V_t²)); V_t is that of a fall of
    10 km, to nine digits."""
    terminal = unopened(in_wind(vehicle, Wind.calm()), 1e4).sink
    even = in_wind(vehicle, Wind(speed=4.0, from_direction=1.0, exponent=0.0))
    time = terminal / GRAVITY * acosh(exp(GRAVITY * 80.0 / terminal**2))
    assert hypot(*unopened_drift(even, 80.0)) == pytest.approx(4.0 * time, rel=1e-3)
    assert time > sqrt(2 * 80.0 / GRAVITY)
    assert hypot(*unopened_drift(in_wind(vehicle, Wind.calm()), 80.0)) == 0.0


def test_unopened_it_goes_with_the_wind_of_every_height(vehicle: Vehicle) -> None:
    """Against the fall integrated by scipy, drag growing with the square of speed, in heron's own wind."""
    terminal = unopened(in_wind(vehicle, Wind.calm()), 1e4).sink

    def moved(_: float, state: np.ndarray) -> list[float]:
        height, sink = state[:2]
        north, east = vehicle.wind.velocity(max(height, 0.0))
        return [-sink, GRAVITY * (1 - (sink / terminal) ** 2), north, east]

    def ground(_: float, state: np.ndarray) -> float:
        return float(state[0])

    ground.terminal = True  # type: ignore[attr-defined]
    end = solve_ivp(moved, (0.0, 60.0), [80.0, 0.0, 0.0, 0.0], events=ground, rtol=1e-9, atol=1e-9).y[:, -1]
    assert hypot(*unopened_drift(vehicle, 80.0)) == pytest.approx(hypot(end[2], end[3]), rel=2e-3)


@pytest.mark.slow
@pytest.mark.parametrize(("wind", "height"), [(0.0, 80.0), (2.0, 60.0), (4.0, 110.0), (6.0, 120.0)])
def test_each_cell_is_what_release_answers(heron: Design, table: LookUp, wind: float, height: float) -> None:
    """To a hundredth of what is printed: only the heights at which the glide is looked for differ."""
    i, j = table.heights.tolist().index(height), table.winds.tolist().index(wind)
    cell = table.cells[i][j]
    asked = override(heron, {"site.wind.speed": wind, "drop.height": height, "drop.heading": "270 deg"})
    point = release(assemble(asked), gust=1.0)
    assert table.circles[i].brake == point.circle.brake
    assert cell.upwind == pytest.approx(float(point.plan.release @ point.wind.upwind), abs=0.01)
    assert cell.right == pytest.approx(0.0, abs=0.01)
    assert cell.box == pytest.approx(point.plan.box, abs=0.01)
    assert cell.limit == pytest.approx(point.limit, abs=1e-3)
    assert cell.radius.high == pytest.approx(point.reach.band("down").high, abs=0.01)
    for end in ("low", "value", "high"):
        assert getattr(cell.time, end) == pytest.approx(getattr(point.reach.band("time"), end), abs=1e-3)
    assert cell.plan_time == pytest.approx(point.plan.time[-1], abs=1e-3)
    assert table.spiral.low == point.rate_bands.figures["reach"].low
    assert table.leasts[i] == pytest.approx(point.plan.least_height + point.plan.descent.heights[0], abs=0.01)


@pytest.mark.slow
def test_a_wind_that_veers_has_its_release_to_one_side(heron: Design) -> None:
    asked = override(heron, {"site.wind.turn": "40 deg"})
    table, point = look_up(assemble(asked), highest=80.0), release(assemble(asked))
    j = table.winds.tolist().index(3.0)
    cell, upwind = table.cells[-1][j], point.wind.upwind
    right = float(point.plan.release @ np.array([-upwind[1], upwind[0]]))
    assert abs(right) > 20.0
    assert cell.right == pytest.approx(right, abs=0.01)
    assert cell.upwind == pytest.approx(float(point.plan.release @ upwind), abs=0.01)
    assert cell.radius.value >= point.reach.band("down").value - 0.01


@pytest.mark.slow
def test_where_the_brake_changes_there_is_a_row_on_either_side(table: LookUp) -> None:
    brakes = [circle.brake for circle in table.circles]
    steps = np.diff(table.heights)
    changes = [k for k in range(len(steps)) if brakes[k] != brakes[k + 1]]
    assert changes
    assert all(steps[k] <= 2 * AT_A_CHANGE + 1e-9 for k in changes)
    assert table.heights[0] == pytest.approx(table.least_height)
    assert table.winds[0] == 0.0
    assert table.winds[-1] > max(cell.limit for row in table.cells for cell in row)


@pytest.mark.slow
def test_refusals(vehicle: Vehicle) -> None:
    with pytest.raises(
        DesignError, match=r"too low for one circle and the final; make the card for up to 5\d m"
    ):
        look_up(vehicle, highest=40.0)
    shallow = replace(vehicle.wind, table=((2.0, 1.0, 0.0), (10.0, 2.0, 0.0)))
    with pytest.raises(DesignError, match="it ends 1090 m lower than the release"):
        look_up(in_wind(vehicle, shallow), highest=1100.0)


def test_ground_to_keep_clear_by_hand(vehicle: Vehicle) -> None:
    """In the same wind at every height: glide ratio times height, and the drift for as long as it lasts."""
    even = in_wind(vehicle, Wind(speed=4.0, from_direction=1.0, exponent=0.0))
    touch = touch_height(even, 80.0)
    calm, windy = clear_ground(even, touch=touch, height=80.0, winds=(0.0, 4.0))
    trim = find_trims(even, height=40.0, modes=False).chosen
    height = 80.0 - touch
    assert calm.value == pytest.approx(height * trim.glide_ratio, rel=1e-3)
    assert windy.value == pytest.approx(height * (trim.glide_ratio + 4.0 / trim.sink), rel=2e-3)


def test_ground_to_keep_clear_is_one_figure(vehicle: Vehicle, table: LookUp) -> None:
    """On the card, on the summary and, downwind, as the reach of a release."""
    touch = touch_height(vehicle, 80.0)
    bands = clear_ground(vehicle, touch=touch, height=80.0, winds=(0.0, 3.0))
    row = int(np.argmin(abs(table.heights - 80.0)))
    columns = [int(np.argmin(abs(table.winds - wind))) for wind in (0.0, 3.0)]
    assert table.heights[row] == 80.0
    for band, column in zip(bands, columns, strict=True):
        assert table.cells[row][column].radius.high == pytest.approx(band.high, rel=1e-3)
    assert release(vehicle).reach.band("down").high == pytest.approx(bands[1].high, rel=1e-6)
