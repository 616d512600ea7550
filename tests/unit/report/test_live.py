"""A flight by hand in words and as a log that `parasim track` reads back."""

from __future__ import annotations

import re
from dataclasses import replace
from math import hypot
from pathlib import Path

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import release_of
from parasim.flight.live import LiveFlight
from parasim.logs.read import read_fixes
from parasim.logs.track import track as read_track
from parasim.report.live import instruments, landing_words, log_text


@pytest.fixture(scope="module")
def landed(heron: Design) -> LiveFlight:
    """heron flown by hand from 30 m, with a target: straight, then a left turn."""
    vehicle = assemble(override(heron, {"scatter.target": {"north": "0 m", "east": "-50 m"}}))
    flight = LiveFlight(vehicle, replace(release_of(vehicle), height=30.0))
    flight.release()
    while not flight.ended:
        flight.pull(0.4 if 6.0 < flight.time < 8.0 else 0.0, 0.0)
        flight.step()
    return flight


def test_the_landing_is_scored_in_words(landed: LiveFlight) -> None:
    first, facing, sink, ground_speed, energy, load, place, unopened = landing_words(landed)
    touchdown = landed.touchdown
    assert touchdown is not None
    joules = 0.5 * 1.307 * hypot(touchdown.sink, touchdown.ground_speed) ** 2  # heron lands 1.307 kg
    assert float(re.search(r"([\d.]+) J\.$", first)[1]) == pytest.approx(joules, abs=0.06)  # as printed
    speed = 3.0 * (max(landed.now.height[0], 0.5) / 10) ** 0.143  # the file's power law, even below 0.5 m
    wind = re.fullmatch(
        r"It came down (.*) the wind: heading .*, wind ([\d.]+) m/s from 270 deg \(W\)\.", facing
    )
    assert wind is not None
    assert float(wind[2]) == pytest.approx(speed, abs=0.06)  # as printed
    off = abs((np.degrees(landed.now.attitude[2, 0]) - 270 + 180) % 360 - 180)  # from facing the wind
    assert wind[1] == ("into" if off < 45 else "across" if off < 135 else "with")
    assert f"within the limit of 60.0 J, {100 * touchdown.energy / 60:.0f} % of it" in energy
    assert "within the limit of 4.00 m/s" in sink
    assert ground_speed.endswith(": no limit is set; the file can set one: max_ground_speed, under landing.")
    assert "within the limit of 60 times its weight" in load
    away = hypot(landed.now.north[0], landed.now.east[0] + 50.0)
    assert place.startswith(f"It lies {away:.0f} m from the target, ")
    assert unopened.startswith("Unopened it would arrive with ")
    said = " ".join(landing_words(landed)).lower()
    assert not re.search(r"\b(go|safe|legal|ok|success)\b", said)
    imperial = " ".join(landing_words(landed, "imperial"))
    assert " m/s" not in imperial
    assert " J" not in imperial


def test_over_a_limit_is_called_so(landed: LiveFlight, heron: Design) -> None:
    strict = assemble(override(heron, {"landing.max_energy": "1 J"}))
    flight = LiveFlight(strict, replace(release_of(strict), height=2.0))
    flight.release()
    while not flight.ended:
        flight.step()
    energy = landing_words(flight)[4]
    assert "over the limit of 1.0 J" in energy
    assert landing_words(flight)[6].endswith(
        ". No target is set; the file can hold one under scatter: "
        "target: {north: 20 m, east: -30 m, radius: 9 m}."
    )


def test_a_flight_that_folds_has_no_landing(heron: Design) -> None:
    calm = assemble(override(heron, {"drop.start": "rest", "site.wind.speed": 0.0, "drop.brakes": []}))
    flight = LiveFlight(calm)
    flight.release()
    while not flight.ended:
        flight.step()
    first, unopened = landing_words(flight)
    assert re.fullmatch(
        r"heron: the lines go slack 0\.9 s after release, 77 m above ground; how it lands is not known\.",
        first,
    )
    assert "Unopened" in unopened


def test_instruments_show_the_moment(landed: LiveFlight) -> None:
    shown, now = instruments(landed), landed.now
    assert shown["height"] == "0.0 m"  # of the payload's underside; its confluence is still in the air
    assert now.height[0] > 0.1
    assert shown["sink"] == f"{now.sink[0]:.2f} m/s"
    assert shown["time"] == f"{landed.time:.1f} s"
    assert shown["target"].startswith(f"{landed.distance_to_target:.0f} m, bearing ")
    assert instruments(landed, "imperial")["airspeed"] == f"{now.airspeed[0] / 0.3048:.1f} ft/s"


def test_its_log_is_read_as_a_log(landed: LiveFlight, tmp_path: Path) -> None:
    """Brakes, speeds and heights come back; its landing is found; every row says that it is simulated."""
    path = tmp_path / "heron_simulated_flight.csv"
    path.write_text(log_text(landed), encoding="utf-8")
    assert all(line.endswith(",1") for line in path.read_text().splitlines()[1:])
    fixes, track = read_fixes(path), landed.track
    n = len(track.time)
    np.testing.assert_allclose(fixes.columns["left"][:n], track.left, atol=1e-6)
    np.testing.assert_allclose(fixes.columns["airspeed"][:n], track.airspeed, atol=1e-5)
    np.testing.assert_allclose(fixes.columns["v_north"][:n], track.velocity[0], atol=1e-5)
    assert (fixes.columns["airspeed"][n:] == 0.0).all()
    (found,) = read_track(path).flights
    assert found.course.touchdown.seen
    assert found.course.touchdown.time == pytest.approx(landed.time, abs=0.3)
