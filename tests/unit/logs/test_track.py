"""What is said of invented flights: segments, wind, figures, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from parasim.config.segments import GivenCourse, GivenSegment, read_brakes
from parasim.errors import ConvergenceError
from parasim.logs.figures import Figure, Refused, glide_of, radius_and_bank
from parasim.logs.fixes import Fixes
from parasim.logs.log import ordered
from parasim.logs.segments import Segment, find_course
from parasim.logs.track import LoggedFlight, flown
from parasim.logs.wind import combined, given_wind
from tests.flown import Flight, any_flight, logged

INVENTED = Path("invented.csv")


def of(flight: Flight, sensor: str = "speeds", seed: int = 0, step: float = 1.0, **settings) -> LoggedFlight:
    fixes = logged(flight, sensor, np.random.default_rng(seed), step)
    return flown(ordered(fixes, INVENTED), **settings)


def legs(*headings: float, each: float = 20.0, sensor: str = "speeds", seed: int = 0) -> LoggedFlight:
    """Straight legs on some headings [deg], in a wind of 1 m/s to the north and 2.5 m/s to the east."""
    parts = [
        Flight(heading=np.radians(heading), turns=0.0, straight=(each, 0.0), rest=0.0, wait=0.0)
        for heading in headings
    ]
    velocity = np.concatenate([part.velocity for part in parts], axis=1)
    velocity = np.concatenate([np.zeros((2, 1000)), velocity, np.zeros((2, 1500))], axis=1)
    n = velocity.shape[1]
    flight = Flight()
    put = object.__setattr__
    aloft = np.concatenate([np.zeros(1000), np.ones(n - 2500), np.zeros(1500)])
    height = -3.04 * np.cumsum(aloft) * 0.01
    for name, value in (
        ("time", np.arange(n) * 0.01), ("velocity", velocity), ("height", height - height[-1]),
        ("north", np.cumsum(velocity[0]) * 0.01), ("east", np.cumsum(velocity[1]) * 0.01),
    ):  # fmt: skip
        put(flight, name, value)
    return of(flight, sensor, seed)


def test_a_whole_flight():
    """The hand example: 62 m in 20.4 s are 3.04 m/s, circles at 7.4 m/s; a glide of 2.43."""
    flight = of(Flight(fall=1.0, flare=1.8, turns=4.5), seed=3)
    kinds = [segment.kind for segment in flight.course.segments]
    assert kinds == ["carried", "opening", "straight", "circles", "straight", "flare"]
    assert flight.course.release.time == pytest.approx(10.0, abs=1.0)
    assert flight.course.duration == pytest.approx(1.0 + 20 + 4.5 * 360 / 28 + 25, abs=1.0)
    straight, circles = flight.alike
    assert straight.lasting.endswith("s straight, 2 legs")
    for stretch in (straight, circles):
        assert stretch.get("sink").value == pytest.approx(3.04, abs=0.06)
        assert stretch.get("forward_speed").value == pytest.approx(7.4, abs=0.15)
        assert stretch.get("glide_ratio").value == pytest.approx(2.43, abs=0.07)
    assert np.degrees(circles.get("turn_rate").value) == pytest.approx(28.0, abs=0.2)
    assert circles.get("radius").value == pytest.approx(7.4 / np.radians(28), abs=0.4)
    assert np.degrees(circles.get("bank").value) == pytest.approx(20.2, abs=0.5)
    assert flight.log.height.value[0, -10:] == pytest.approx(
        0.0, abs=1.2
    )  # zero at touchdown, noise of 0.3 m


def test_opening_and_flare_against_the_truth():
    """Free fall of 1 s and a second to slow down; at last 1.8 m/s less sink: errors hold, 20 times over."""
    opening, gain = [], []
    for seed in range(20):
        flight = of(Flight(fall=1.0, flare=1.8), seed=seed, step=0.2)
        assert isinstance(flight.opening_time, Figure)
        assert isinstance(flight.flare_gain, Figure)
        opening.append((flight.opening_time.value - 2.0) / flight.opening_time.error)
        gain.append((flight.flare_gain.value - 1.75) / flight.flare_gain.error)
    assert np.abs(opening).max() < 3.5
    assert abs(np.mean(opening)) < 1.5
    assert np.abs(gain).max() < 3.5
    assert 0.4 < np.std(gain) < 1.6


def test_what_is_not_there_is_refused():
    flight = of(Flight(turns=3.5))
    assert isinstance(flight.opening_time, Refused)
    assert flight.opening_time.why == "the sink shows no opening, fixes 1 s apart"
    assert isinstance(flight.flare_gain, Refused)
    reasons = {refused.name: refused.why for refused in flight.each[0].refused}
    assert reasons["swing_period"] == "neither attitude nor acceleration is logged"


@pytest.mark.parametrize("sensor", ["speeds", "places", "igc"])
@pytest.mark.parametrize("seed", range(5))
def test_straight_flight_gives_no_wind(sensor, seed):
    flight = legs(40.0, each=45.0, sensor=sensor, seed=seed)
    assert flight.winds.wind is None
    assert "it cannot be parted from the canopy's own speed" in flight.winds.why_not
    assert any("--wind and --wind-from give one" in caveat for caveat in flight.caveats)
    straight = flight.alike[0]
    assert straight.get("sink").value == pytest.approx(3.04, abs=0.1)
    assert straight.get("forward_speed") is None
    assert {refused.name: refused.why for refused in straight.refused}["forward_speed"] == "no wind is known"


def test_a_wind_that_is_given_gives_a_speed():
    log = legs(40.0, each=45.0).log
    flight = flown(log, wind=given_wind(np.array([1.0, 2.5])))
    forward = flight.alike[0].get("forward_speed")
    assert forward.value == pytest.approx(7.4, abs=0.2)
    assert forward.error == pytest.approx(0.5, abs=0.05)  # the wind's, which is taken as known to 0.5 m/s


@pytest.mark.parametrize("seed", range(4))
def test_two_opposite_legs_give_the_wind_along_them(seed):
    """Headings 90 and 270: along east the wind is known; across it is assumed, with a large error."""
    flight = legs(90.0, 270.0, seed=seed)
    wind = flight.winds.wind
    assert "two opposite legs" in wind.how
    assert wind.velocity[1] == pytest.approx(2.5, abs=0.3)
    error = np.sqrt(np.diag(wind.covariance))
    assert error[0] > 1.0
    assert abs(wind.velocity[0] - 1.0) < 3 * error[0]


@pytest.mark.parametrize("headings", [(10.0, 130.0, 250.0), (0.0, 90.0, 180.0, 270.0)])
def test_legs_on_three_headings_lie_on_a_circle(headings):
    flight = legs(*headings)
    wind = flight.winds.wind
    assert wind.how == f"from straight legs on {len(headings)} headings"
    error = np.sqrt(np.diag(wind.covariance))
    assert error.max() < 0.3
    assert np.abs((wind.velocity - [1.0, 2.5]) / error).max() < 3.5
    speed, off = wind.legs_speed
    assert abs(speed - 7.4) < 3.5 * off


@pytest.mark.parametrize("turn_rate", [-45.0, 12.0, 28.0])
@pytest.mark.parametrize("gap", [0, 6])
@pytest.mark.parametrize("sensor", ["speeds", "igc"])
def test_wind_by_circles_at_several_rates_and_with_gaps(turn_rate, gap, sensor):
    whole = logged(Flight(turn_rate=np.radians(turn_rate), turns=3.5), sensor, np.random.default_rng(8))
    keep = np.ones(len(whole.time), dtype=bool)
    if gap:
        for start in (40, 55):
            keep[start : start + gap] = False
    part = {name: values[keep] for name, values in whole.columns.items()}
    flight = flown(ordered(Fixes(kind="x", time=whole.time[keep], columns=part), INVENTED))
    wind = flight.winds.wind
    assert wind is not None
    error = np.sqrt(np.diag(wind.covariance))
    assert np.abs((wind.velocity - [1.0, 2.5]) / error).max() < 4.0
    assert error.max() < 0.5


def test_a_wind_that_changes_is_said_and_given_by_height():
    """It turns from 250 deg to calm on the way down."""
    flight = Flight(turns=6.5)
    at = np.clip(flight.height / flight.height[0], 0.0, 1.0)
    aloft = (np.hypot(*flight.velocity) > 0.1) & (np.arange(len(at)) > 1000)
    extra = np.array([1.0, 2.5])[:, None] * (2 * at - 1) * aloft
    put = object.__setattr__
    put(flight, "velocity", flight.velocity + extra)
    put(flight, "north", np.cumsum(flight.velocity[0]) * flight.step)
    put(flight, "east", np.cumsum(flight.velocity[1]) * flight.step)
    found = of(flight)
    wind = found.winds.wind
    assert wind.changes
    assert any("see it by height" in caveat for caveat in found.caveats)
    high, low = wind.layers[0], wind.layers[-1]
    assert high.height > low.height
    assert np.hypot(*high.velocity) > np.hypot(*low.velocity) + 1.0
    truth = [2 * layer.height / flight.height[0] * 2.5 for layer in wind.layers]
    assert [layer.velocity[1] for layer in wind.layers] == pytest.approx(truth, abs=0.5)
    assert wind.at(-50.0) is None
    reasons = [refused.why for one in found.each for refused in one.refused]
    assert "the wind changes, and here it is not known" in reasons


def test_brakes_part_the_flight():
    flight = of(Flight(turns=4.5), brakes=read_brakes("0s: L 0 R 0; 20s: R 50%; 77s: R 0"))
    pulls = {one.first.kind: (one.first.left, one.first.right) for one in flight.alike}
    assert pulls == {"straight": (0.0, 0.0), "circles": (0.0, 0.5)}
    assert flight.brakes_known
    assert len(flight.course.pulls) == 3 - (flight.course.pulls[0].at > 1)
    assert not any("Brakes" in caveat for caveat in flight.caveats)


def test_brakes_that_are_logged():
    fixes = logged(Flight(turns=4.5), "speeds", np.random.default_rng(0))
    right = np.where((fixes.time > 30) & (fixes.time < 88), 0.5, 0.0)
    columns = {**fixes.columns, "left": np.zeros_like(right), "right": right}
    flight = flown(ordered(replace(fixes, columns=columns), INVENTED))
    assert {one.first.kind: one.first.right for one in flight.alike} == {"straight": 0.0, "circles": 0.5}


def test_segments_that_a_person_gave():
    log = of(Flight(turns=4.5)).log
    segments = (
        GivenSegment(kind="straight", start=12.0, end=28.0, left=0.0, right=0.0),
        GivenSegment(kind="circles", start=33.0, end=86.0, left=0.0, right=0.5),
        GivenSegment(kind="straight", start=90.0, end=95.0, left=None, right=None),
    )
    flight = flown(log, given=GivenCourse(log="x", release=10.0, touchdown=112.0, segments=segments))
    assert [one.first.start for one in flight.each] == [12.0, 33.0, 90.0]
    assert flight.winds.wind.how == "from 4 circles"
    assert flight.each[2].refused[0].why == "5.0 s steady; figures need 10 s"
    assert not flight.brakes_known
    with pytest.raises(ConvergenceError, match="after the log's end"):
        flown(log, given=GivenCourse(log="x", release=1e4, touchdown=2e4, segments=()))


@pytest.mark.parametrize(("period", "name"), [(3.2, "pitch"), (2.1, "forward_acceleration")])
def test_a_swing_has_its_period(period, name):
    """A decaying swing at 10 Hz with noise of half its size: the errors hold, 20 times over."""
    scores = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        fixes = logged(Flight(turns=0.0, straight=(30.0, 5.0)), "speeds", rng, step=0.1)
        swing = np.exp(-fixes.time / 40) * np.sin(2 * np.pi * fixes.time / period + seed)
        noise = 0.5 * rng.standard_normal(len(swing))
        flight = flown(ordered(replace(fixes, columns={**fixes.columns, name: swing + noise}), INVENTED))
        figure = flight.each[0].get("swing_period")
        scores.append((figure.value - period) / figure.error)
    assert 0.5 < np.std(scores) < 1.6
    assert np.abs(scores).max() < 4


def test_noise_has_no_swing():
    rng = np.random.default_rng(1)
    fixes = logged(Flight(turns=0.0, straight=(30.0, 5.0)), "speeds", rng, step=0.1)
    columns = {**fixes.columns, "pitch": 0.05 * rng.standard_normal(len(fixes.time))}
    flight = flown(ordered(replace(fixes, columns=columns), INVENTED))
    assert flight.each[0].get("swing_period") is None
    assert "no swing stands out of the noise" in [refused.why for refused in flight.each[0].refused]


def test_airspeed_as_logged():
    fixes = logged(Flight(), "speeds", np.random.default_rng(0))
    columns = {
        **fixes.columns,
        "airspeed": 8.0 + 0.3 * np.random.default_rng(1).standard_normal(len(fixes.time)),
    }
    flight = flown(ordered(replace(fixes, columns=columns), INVENTED))
    assert flight.alike[0].get("airspeed").value == pytest.approx(8.0, abs=0.3)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            lambda f: {**f.columns, "pressure_height": np.full(len(f.time), 400.0)},
            "comes down by 5 m or more",
        ),
        (lambda f: f.columns, "fixes are 10 s apart"),
    ],
)
def test_no_flight_is_said(change, said):
    fixes = logged(Flight(), "speeds", np.random.default_rng(0), step=10.0 if "10 s" in said else 1.0)
    with pytest.raises(ConvergenceError, match=said):
        find_course(ordered(replace(fixes, columns=change(fixes)), INVENTED))


def test_a_log_that_begins_and_ends_in_the_air():
    fixes = logged(Flight(turns=3.5), "speeds", np.random.default_rng(0))
    inside = (fixes.time > 15) & (fixes.time < 85)
    cut = Fixes(
        kind="x", time=fixes.time[inside], columns={name: v[inside] for name, v in fixes.columns.items()}
    )
    flight = flown(ordered(cut, INVENTED))
    assert not flight.course.release.seen
    assert not flight.course.touchdown.seen
    assert any("the log begins in the air" in caveat for caveat in flight.caveats)


def test_mirrored_flights_turn_the_other_way():
    one, other = (of(any_flight(5)[0]), of(replace(any_flight(5)[0], turn_rate=-any_flight(5)[0].turn_rate)))
    rates = [
        next(f for f in flight.alike if f.first.kind == "circles").get("turn_rate").value
        for flight in (one, other)
    ]
    assert rates[0] == pytest.approx(-rates[1], rel=0.02)


def test_bank_and_radius_by_hand():
    """R = V²/(g tan phi), by any book of flight mechanics: 6.55 m/s at 20 deg is 12.0 m, 11.5 s a turn."""
    speed = Figure(name="forward_speed", value=6.55, error=0.1, how="")
    rate = Figure(name="turn_rate", value=-2 * np.pi / 11.5, error=0.01, how="")
    radius, bank = radius_and_bank(speed, rate)
    assert radius.value == pytest.approx(12.0, abs=0.05)
    assert np.degrees(bank.value) == pytest.approx(-20.0, abs=0.1)
    assert radius.error == pytest.approx(12.0 * np.hypot(0.1 / 6.55, 0.01 / 0.5464), rel=0.01)


def test_glide_by_hand():
    """7.4 over 3.04; errors of 2 and 1 per cent are 2.2 together."""
    forward = Figure(name="forward_speed", value=7.4, error=0.148, how="")
    ratio = glide_of(forward, Figure(name="sink", value=3.04, error=0.0304, how=""))
    assert ratio.value == pytest.approx(2.434, abs=0.001)
    assert ratio.error / ratio.value == pytest.approx(0.02236, abs=1e-4)


def test_means_that_differ_too_much_are_less_sure():
    """Two values of error 1 that lie 4 apart: squares of 8 for one degree of freedom, error √(8/2) = 2."""
    mean, covariance = combined([np.array([0.0]), np.array([4.0])], [np.eye(1), np.eye(1)])
    assert mean[0] == pytest.approx(2.0)
    assert covariance[0, 0] == pytest.approx(4.0)


def test_segments_in_words():
    circles = Segment(kind="circles", start=0.0, end=50.0, turned=-8 * np.pi)
    assert circles.words == "4.0 circles to the left"
    assert replace(circles, kind="turn", turned=1.0).words == "turn to the right"
    assert replace(circles, kind="straight").words == "straight"
