"""Notes as numbers with errors, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi, sqrt
from typing import Any

import pytest

from parasim.config.notes import Notes
from parasim.errors import DesignError
from parasim.flight.turn.steady import SteadyTurn
from parasim.learning.evidence import Datum, Flown, evidence


def noted(*entries: dict[str, Any], **errors: Any) -> tuple[Datum, ...]:
    flight = {"name": "a", "by_hand": list(entries)}
    return evidence([("notes.yaml", Notes.model_validate({"errors": errors, "flights": [flight]}))])


def flying(**figures: float) -> Flown:
    usual = {
        "left": 0.0, "right": 0.0, "rate": 0.0, "bank": 0.0, "pitch": 0.0, "sideslip": 0.0, "alpha": 0.1,
        "airspeed": 5.0, "sink": 3.0, "growth": 0.0, "pull": 0.0,
    }  # fmt: skip
    return Flown(turn=SteadyTurn(**{**usual, **figures}), weight=12.0, canopy_weight=1.0)


def test_a_timed_descent() -> None:
    """62 m in 20.4 s: 3.04 m/s; 1 m of 62, two presses of 0.3 s in 20.4 s, and air at 0.1 m/s."""
    (found,) = noted({"height_lost": 62, "in": 20.4})
    assert (found.quantity, round(found.value, 2)) == ("sink", 3.04)
    assert found.error == pytest.approx(hypot(3.04 / 62, 3.04 * sqrt(2) * 0.3 / 20.4, 0.1), rel=1e-3)


def test_stated_errors_can_be_ones_own() -> None:
    (found,) = noted({"height_lost": 50, "in": 25}, stopwatch=0.1, height=2.0, air="0 m/s")
    assert found.error == pytest.approx(hypot(2.0 * 2 / 50, 2.0 * sqrt(2) * 0.1 / 25))


@pytest.mark.parametrize(("brakes", "sign"), [({"right": "50 %"}, 1), ({"left": "50 %"}, -1)])
@pytest.mark.parametrize("circles", [3, -3])
def test_circles_go_towards_the_brake_unless_negative(
    brakes: dict[str, str], sign: int, circles: float
) -> None:
    """3 circles in 38 s: 28.4 deg/s; 0.1 of 3 and 0.42 s of 38."""
    (found,) = noted({"circles": circles, "in": 38, **brakes})
    assert found.value == pytest.approx(sign * circles / 3 * 2 * pi * 3 / 38)
    assert found.error == pytest.approx(abs(found.value) * hypot(0.1 / 3, sqrt(2) * 0.3 / 38))


def test_circles_may_tell_radius_and_sink_as_well() -> None:
    found = noted({"circles": 2, "in": 20, "right": 0.5, "radius": "7.4 m", "height_lost": 60})
    assert [(each.quantity, round(each.value, 3)) for each in found] == [
        ("turn_rate", round(4 * pi / 20, 3)), ("radius", 7.4), ("sink", 3.0),
    ]  # fmt: skip
    assert found[1].error == 1.0


@pytest.mark.parametrize(("upwind", "expected"), [(True, (4.0 - 2.0) / 3.0), (False, (4.0 + 2.0) / 3.0)])
def test_a_glide_over_the_ground(upwind: bool, expected: float) -> None:
    """45 m from 30 m: 1.5. A canopy of 4 m/s forward (5 along the path, 3 down) makes 2 m/s headway."""
    (found,) = noted({"distance": 45, "from": 30, "wind": 2, "upwind": upwind})
    assert (found.quantity, found.value) == ("ground_glide", 1.5)
    assert found.read(flying()) == pytest.approx(expected)
    own = 1.5 * hypot(1 / 30, 1 / 45)
    # Over a sink of 3 m/s, 0.5 m/s of wind and 0.1 m/s of sinking air (by 1.5) move the touchdown so far.
    assert found.whole_error(flying()) == pytest.approx(hypot(own, 0.5 / 3, 0.1 * 1.5 / 3))


def test_a_timed_glide_tells_speed_and_sink() -> None:
    speed, sink = noted({"distance": 60, "from": 30, "in": 10, "wind": 2})
    assert (speed.quantity, speed.value) == ("forward_speed", 8.0)
    assert (sink.quantity, sink.value) == ("sink", 3.0)
    assert speed.error == pytest.approx(hypot(6 / 60, 6 * sqrt(2) * 0.3 / 10, 0.5))


def test_a_kite_pulls_by_the_square_of_the_wind() -> None:
    """At its airspeed of 5 m/s the canopy carries 12 N, its own newton included; at 10 m/s 48 N."""
    assert flying().kite_pull(5.0) == pytest.approx(11.0)
    assert flying().kite_pull(10.0) == pytest.approx(47.0)


def test_a_flight_counts_once() -> None:
    notes = Notes.model_validate({"flights": [{"name": "a", "by_hand": [{"height_lost": 9, "in": 3}]}]})
    with pytest.raises(DesignError, match=r'b\.yaml: flights\.0\.name: given "a", already in a\.yaml'):
        evidence([("a.yaml", notes), ("b.yaml", notes)])


@pytest.mark.parametrize(
    ("entry", "expected"),
    [
        ({"swing_period": 2.4, "error": 0.2}, 2.2),
        ({"swing_period": 2.4, "error": 0.2, "swing": "fore and aft"}, 3.8),
        ({"swing_period": 0.8, "error": 0.2, "swing": "sideways"}, 1.0),
    ],
)
def test_a_swing_is_compared_with_the_nearest(entry: dict[str, Any], expected: float) -> None:
    flight = {"name": "a", "measured": [entry]}
    (found,) = evidence([("notes.yaml", Notes.model_validate({"flights": [flight]}))])
    swinging = replace(flying(), fore_aft=(3.8, 0.9), sideways=(2.2, 1.0))
    assert found.read(swinging) == expected
    assert found.needs_modes
