"""What a turn says of itself, by hand: reversal, spiral, open bands, step responses read off made-up curves.

What must hold for the turns of the demonstration designs is in `tests/property/test_turn.py`.
"""

from __future__ import annotations

from dataclasses import replace
from math import degrees, inf, nan, pi, radians

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind, with_factors
from parasim.environment.wind import Wind
from parasim.flight.drop import CAUTIONS
from parasim.flight.track import Track
from parasim.flight.trim import find_trims
from parasim.flight.turn.steady import SteadyTurn, steady_turns
from parasim.flight.turn.step import _read_step, step_response
from parasim.flight.turn.turn import SPIRAL_CAUTION, Turn, band_figures
from parasim.flight.uncertainty import Band, Bands


@pytest.fixture(scope="module")
def heron_still(heron: Design) -> Vehicle:
    return in_wind(assemble(heron), Wind.calm())


def steady(brake: float, rate: float, bank: float = 0.0, growth: float = -1.0) -> SteadyTurn:
    """Turn under the right brake at 5 m/s, 3 down and 4 forward; rate [deg/s], bank [deg]."""
    return SteadyTurn(
        left=0.0, right=brake, rate=radians(rate), bank=radians(bank), pitch=0.0, sideslip=0.0, alpha=0.1,
        airspeed=5.0, sink=3.0, growth=growth, pull=0.12 * brake,
    )  # fmt: skip


def band(value: float, low: float, high: float) -> Band:
    return Band(value=value, low=low, high=high, causes=(("yaw_damping", 0.7), ("lift_factor", 0.3)))


def made_up(vehicle: Vehicle, *right: SteadyTurn, reach: tuple[float, float] = (1.0, 1.0)) -> Turn:
    figures = {f"rate_{brake}": band(0.2, 0.1, 0.4) for brake in (25, 50, 75, 100)}
    figures["reach"] = band(reach[0], reach[1], 1.0)
    return Turn(
        vehicle=vehicle,
        straight=find_trims(vehicle, modes=False).chosen,
        right=right,
        left=right,
        steps=(),
        bands=Bands(figures=figures, lost=()),
    )


def test_figures_of_a_circle() -> None:
    """36 deg/s: 10 s a turn, 30 m down; 4 m/s round 40 m: radius 40/(2 pi)."""
    turn = steady(0.5, 36.0)
    assert turn.turn_time == pytest.approx(10.0)
    assert turn.height_per_turn == pytest.approx(30.0)
    assert turn.radius == pytest.approx(40 / (2 * pi))
    assert turn.brake == 0.5
    straight = steady(0.0, 0.0)
    assert (straight.radius, straight.turn_time, straight.height_per_turn) == (inf, inf, inf)


def test_reversal_is_told(heron_still: Vehicle) -> None:
    """From -1 deg/s at 20 % to +3 at 30 %: zero at 22.5 %."""
    turn = made_up(
        heron_still, *(steady(b, r) for b, r in ((0, 0), (0.1, -0.5), (0.2, -1), (0.3, 3), (1, 9)))
    )
    assert turn.reversal == pytest.approx(0.225)
    assert degrees(turn.wrong_way) == pytest.approx(1.0)
    assert any(
        "Below 22 % of travel a brake turns it the wrong way, by up to 1.0 deg/s" in c for c in turn.caveats
    )


def test_no_reversal(heron_still: Vehicle) -> None:
    turn = made_up(heron_still, *(steady(b, r) for b, r in ((0, 0), (0.5, 1), (1, 3))))
    assert turn.reversal is None
    assert turn.wrong_way == 0.0
    assert not any("wrong way" in caveat for caveat in turn.caveats)


def test_never_towards_the_brake(heron_still: Vehicle) -> None:
    turn = made_up(heron_still, *(steady(b, r) for b, r in ((0, 0), (0.5, -1), (1, -3))))
    assert turn.reversal == 1.0


def test_spiral_by_bank_and_by_end(heron_still: Vehicle) -> None:
    steep = made_up(heron_still, steady(0, 0), steady(0.5, 20, 30), steady(0.7, 60, 46), steady(1, 90, 60))
    assert steep.spiral == 0.7
    assert made_up(heron_still, steady(0, 0), steady(0.6, 20, 30)).spiral == 0.6
    assert made_up(heron_still, steady(0, 0), steady(1.0, 20, 30)).spiral is None
    assert any("From 70 % of one brake on it spirals" in caveat for caveat in steep.caveats)


def test_growing_motion_is_no_spiral(heron_still: Vehicle) -> None:
    turn = made_up(heron_still, steady(0, 0), steady(0.5, 9, growth=0.3), steady(1.0, 20, growth=0.1))
    assert turn.growing == (0.5, 1.0)
    assert turn.spiral is None
    assert any("At 50 % to 100 % of one brake a mode" in caveat for caveat in turn.caveats)


def test_bands_that_may_spiral_are_open(heron_still: Vehicle) -> None:
    """Steady up to 90 %, at worst up to 60 %: closed at 25 and 50 %, open at 75 %, none at full brake."""
    turn = made_up(heron_still, steady(0, 0), steady(0.9, 20), reach=(0.9, 0.6))
    bands = dict(turn.rate_bands)
    assert [bands[brake].high for brake in (0.25, 0.5, 0.75)] == [0.4, 0.4, inf]
    assert bands[0.75].low == 0.1
    assert np.isnan([bands[1.0].low, bands[1.0].high]).all()


def test_share_without_calibration(heron_still: Vehicle) -> None:
    assert made_up(heron_still, steady(0, 0)).uncalibrated_share["rate_50"] == pytest.approx(0.7)


def test_calibration_is_never_called_validation(heron_still: Vehicle) -> None:
    turn = made_up(heron_still, steady(0, 0), steady(1, 9))
    assert any("that is calibration, not validation" in caveat for caveat in turn.caveats)
    assert (SPIRAL_CAUTION, *CAUTIONS) == turn.report.CAUTIONS


def test_band_figures_leave_spirals_to_others(configs) -> None:
    """A wren of little yaw damping spirals at full brake: its last rate by itself, or another's."""
    steep = {"calibration.yaw_damping": -0.2}
    wren = in_wind(assemble(override(load_design(configs / "wren.yaml"), steep)), Wind.calm())
    own = band_figures(wren)
    assert own["reach"] < 1.0
    told = band_figures(wren, beyond=dict.fromkeys(own, 9.0))
    assert told["rate_100"] == 9.0
    assert own["rate_100"] != 9.0
    assert told["rate_50"] == own["rate_50"]


def track(heading: np.ndarray) -> Track:
    time = 0.05 * np.arange(len(heading))
    none, vectors = np.zeros(len(heading)), np.zeros((3, len(heading)))
    return Track(
        time=time, north=none, east=none, height=100 - 2 * time, velocity=vectors, airspeed=none + 8,
        alpha=none, beta=none, attitude=np.array([none, none, heading]), rates=vectors, left=none, right=none,
    )  # fmt: skip


TIME = 0.05 * np.arange(301)


def test_first_order_rise() -> None:
    """Rate 20 deg/s (1 - exp(-t)): nine tenths after ln 10 = 2.30 s, no overshoot, on through 180 deg."""
    heading = np.radians(20) * (TIME - 1 + np.exp(-TIME))
    step = _read_step(0.0, 0.5, track((heading + pi) % (2 * pi) - pi), np.zeros(3))
    assert degrees(step.settled_rate) == pytest.approx(20.0, rel=1e-5)
    assert step.rise_time == pytest.approx(np.log(10), abs=0.05)
    assert step.overshoot == pytest.approx(0.0, abs=1e-4)
    assert step.adverse_heading == 0.0
    assert step.height_lost[-1] == pytest.approx(30.0)


def test_adverse_heading_and_overshoot() -> None:
    """A rate that begins at -20 deg/s and settles at 10: away first, and mirrored for the left brake."""
    rate = 10 * (1 - 3 * np.exp(-2 * TIME) + 3 * np.exp(-3 * TIME) * TIME * 4)
    heading = np.radians(np.concatenate([[0], np.cumsum((rate[1:] + rate[:-1]) / 2 * 0.05)]))
    right = _read_step(0.0, 0.5, track(heading), np.zeros(3))
    left = _read_step(0.5, 0.0, track(-heading), np.zeros(3))
    assert right.adverse_heading == pytest.approx(-heading.min(), rel=1e-6)
    assert right.adverse_heading > radians(1)
    assert right.overshoot == pytest.approx(max(0.0, rate.max() / 10 - 1), abs=0.02)
    assert (left.adverse_heading, left.overshoot, left.rise_time) == pytest.approx(
        (right.adverse_heading, right.overshoot, right.rise_time)
    )


def test_a_step_that_does_not_turn() -> None:
    step = _read_step(0.0, 0.5, track(np.zeros(301)), np.zeros(3))
    assert (step.rise_time, step.overshoot) == pytest.approx((nan, nan), nan_ok=True)


def test_mirrored_steps_mirror(heron_still: Vehicle) -> None:
    """To ten times the integrator's tolerance: it is no mirror of itself to better than that.

    Measured, without servo: 1.3e-6 with a pull of 0.5 s, 0.9e-6 with 0.35 s, 5e-11 with 0.3 s.
    """
    right, left = (step_response(heron_still, left=pull[0], right=pull[1]) for pull in ((0, 0.6), (0.6, 0)))
    assert left.settled_rate == pytest.approx(-right.settled_rate, rel=1e-5)
    assert left.rise_time == pytest.approx(right.rise_time, abs=1e-9)
    assert (left.swing, left.twist, left.lean) == pytest.approx(
        (right.swing, right.twist, right.lean), rel=1e-4
    )


def test_a_swinging_payload_moves(configs) -> None:
    """Against the canopy, in all three ways; by no more than a rad."""
    swinging = override(load_design(configs / "pelican.yaml"), {"payload.suspension": {}})
    step = step_response(assemble(swinging), left=0.0, right=0.75)
    assert all(0.001 < angle < 1.0 for angle in (step.swing, step.twist, step.lean))


def test_more_yaw_damping_turns_slower(heron_still: Vehicle) -> None:
    damped = with_factors(heron_still, replace(heron_still.model.factors, yaw_damping=-0.8))
    rates = [
        steady_turns(each, left=0.0, right=1.0, brakes=np.array([0, 0.3, 0.6]), growth=False)[-1].rate
        for each in (heron_still, damped)
    ]
    assert rates[1] < rates[0]
