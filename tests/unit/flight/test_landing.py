"""Arrivals in wind by hand, verdicts, and the whole table of a demonstration design."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.config.scenario import LandingSpec
from parasim.dynamics.vehicle import assemble
from parasim.flight.arrival import Touchdown, Verdict, mean_load, peak_load
from parasim.flight.landing import COURSES, Landing, arrive, judged, landing, wind_limit


@pytest.fixture(scope="module")
def brakes_released(heron: Design) -> Landing:
    return landing(assemble(heron), flared=False)


@pytest.mark.parametrize(("course", "ground"), [("into", 3.0), ("across", 65.0**0.5), ("with", 11.0)])
def test_ground_speed_by_course(course, ground):
    """7 m/s through the air and 4 m/s of wind."""
    arrival = arrive(forward_speed=7.0, sink=3.0, mass=2.0, wind=4.0, course=course)
    assert arrival.ground_speed == pytest.approx(ground)
    assert arrival.energy == pytest.approx(ground**2 + 9.0)


def test_wind_stronger_than_the_canopy_carries_it_backwards():
    still = Touchdown(ground_speed=5.0, sink=2.0, mass=1.0)
    into = judged("brakes released", still, 7.0, "into", LandingSpec())
    assert into.backwards
    assert into.touchdown.ground_speed == pytest.approx(2.0)
    assert not judged("brakes released", still, 7.0, "with", LandingSpec()).backwards
    assert not judged("brakes released", still, 5.0, "into", LandingSpec()).backwards


def test_loads_by_hand():
    """2 m/s over 5 cm: 4/(2 x 9.80665 x 0.05) + 1."""
    assert mean_load(2.0, 0.05) == pytest.approx(5.0789, abs=1e-4)
    assert peak_load(2.0, 0.05) == pytest.approx(10.1577, abs=1e-4)
    assert mean_load(0.0, 0.05) == 1.0


def test_wind_limit_keeps_a_fifth_in_hand():
    assert wind_limit(8.0) == pytest.approx(6.4)
    assert wind_limit(8.0, reserve=0.0) == 8.0


@pytest.mark.parametrize(
    ("value", "limit", "word", "symbol"),
    [(3.0, 3.0, "within", "+"), (3.01, 3.0, "over", "x"), (3.0, None, "no limit given", "?")],
)
def test_verdicts(value, limit, word, symbol):
    verdict = Verdict(name="sink", value=value, limit=limit)
    assert (verdict.word, verdict.symbol) == (word, symbol)


def test_every_limit_is_judged():
    spec = LandingSpec(
        stop_distance="50 mm", max_sink="1 m/s", max_ground_speed="20 m/s", max_energy="10 J", max_load=11
    )
    arrival = judged("brakes released", Touchdown(ground_speed=5.0, sink=2.0, mass=1.0), 1.0, "with", spec)
    assert {v.name: v.word for v in arrival.verdicts} == {
        "sink": "over", "ground_speed": "within", "energy": "over", "load": "within",
    }  # fmt: skip
    assert arrival.peak_load == pytest.approx(10.1577, abs=1e-4)
    assert arrival.obstacle_load == pytest.approx(2 * (40.0 / (2 * 9.80665 * 0.05) + 1))


def test_table_holds_every_way_course_and_wind(brakes_released: Landing):
    assert brakes_released.ways == ("brakes released",)
    assert len(brakes_released.arrivals) == 3 * 9
    assert [a.wind for a in brakes_released.series("brakes released", "into")] == list(range(9))
    still = [brakes_released.series("brakes released", course)[0].touchdown for course in COURSES]
    assert still[0] == still[1] == still[2]
    assert still[0].sink == brakes_released.trim.sink
    for i in range(1, 9):
        into, across, behind = (
            brakes_released.series("brakes released", c)[i].touchdown.energy for c in COURSES
        )
        assert into < across < behind


def test_unopened_falls_from_the_release_height_and_drifts(brakes_released: Landing, heron: Design):
    """60 m of fall without air would be 34.3 m/s; drag keeps it well under that."""
    for arrival in brakes_released.unopened:
        assert 15.0 < arrival.touchdown.sink < 34.3
        assert arrival.touchdown.ground_speed == arrival.wind
    lower = landing(assemble(override(heron, {"drop.height": "5 m"})), flared=False)
    assert 9.0 < lower.still("unopened").touchdown.sink < 9.9  # sqrt(2 g 5 m) is 9.90


def test_wind_to_make_way_against(brakes_released: Landing):
    assert brakes_released.still_wind == brakes_released.trim.forward_speed
    assert brakes_released.wind_limit == pytest.approx(0.8 * brakes_released.trim.forward_speed)


def test_bands_and_caveats(brakes_released: Landing):
    band = brakes_released.bands.figures["energy"]
    assert band.low < band.value < band.high
    still = brakes_released.still("brakes released").touchdown
    assert band.value == pytest.approx(still.energy, rel=1e-9)
    assert band.value == pytest.approx(0.5 * still.mass * hypot(still.sink, still.ground_speed) ** 2)
    assert any("triangular" in caveat for caveat in brakes_released.caveats)


def test_a_band_that_passes_its_limit_is_told(brakes_released: Landing, heron: Design):
    band = brakes_released.bands.figures["sink"]
    close = override(heron, {"landing.max_sink": (band.value + band.high) / 2})
    told = landing(assemble(close), flared=False, winds=np.zeros(1))
    assert any("sink keeps within its limit" in caveat for caveat in told.caveats)
    wide = replace(told, vehicle=assemble(override(heron, {"landing.max_sink": band.high + 1})))
    assert wide.limits.max_sink == pytest.approx(band.high + 1)


def test_own_wind_plays_no_part(brakes_released: Landing, heron: Design):
    windy = landing(assemble(override(heron, {"site.wind.speed": "7 m/s"})), flared=False, winds=np.zeros(1))
    assert windy.still("brakes released").touchdown == brakes_released.still("brakes released").touchdown
    assert windy.still("unopened").touchdown == brakes_released.still("unopened").touchdown
