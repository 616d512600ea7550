"""Poses of a drop against its state and hand trigonometry, and the strip and the film made of them."""

from dataclasses import replace
from math import cos, radians, sin
from xml.etree import ElementTree

import numpy as np
import pytest

from parasim.config.loader import override
from parasim.dynamics.pose import canopy_points, payload_points
from parasim.dynamics.suspension.swing import Swing
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.flight.drop import CAUTIONS, Drop, Release, drop
from parasim.mass.inventory import payload_bottom
from parasim.plotting.film import film_of, frame_times
from parasim.plotting.poses import POSES, moments, poses
from parasim.plotting.scene import build_scene
from parasim.plotting.strip import strip_svg
from parasim.rotations import quaternion_from_euler

SVG = "{http://www.w3.org/2000/svg}"


def test_a_state_moves_points_by_hand_trigonometry() -> None:
    """Heading east, 10 m up, 30 deg nose up; the payload 20 deg nose down below it."""
    state = np.zeros(20)
    state[2] = -10.0
    state[3:7] = quaternion_from_euler(0.0, radians(30), radians(90))
    state[13:17] = quaternion_from_euler(0.0, radians(-20), radians(90))
    one = canopy_points(state, np.array([1.0, 0.0, 0.0]))
    np.testing.assert_allclose(one, [0.0, cos(radians(30)), -10.0 - sin(radians(30))], atol=1e-12)
    hung = payload_points(state, np.array([0.0, 0.0, 2.0]), Swing(center=np.zeros(3)))
    # 2 m down its own z axis: nose down by 20 deg, that axis points back by as much, which is west.
    np.testing.assert_allclose(hung, [0.0, -2 * sin(radians(20)), -10.0 + 2 * cos(radians(20))], atol=1e-12)


def test_a_pose_is_that_of_the_state(dropped: Drop) -> None:
    """Lines and box keep their sizes, and the payload its distance to the confluence."""
    times = moments(dropped)
    scene = build_scene(dropped.vehicle.design, dropped.vehicle.canopy, dropped.vehicle.line_set)
    lines = np.concatenate(list(scene.lines.values()))
    wanted = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1)
    assert wanted.sum() == pytest.approx(dropped.vehicle.line_set.total_length)
    for pose in poses(dropped, times):
        found = np.linalg.norm(pose.lines[:, 1] - pose.lines[:, 0], axis=1)
        np.testing.assert_allclose(found, wanted, atol=1e-12)
        # heron: riser 0.15 m, box 0.12 m upright, hung by one point.
        top = pose.payload[[0, 2, 4, 6]].mean(axis=0)
        assert np.linalg.norm(top) == pytest.approx(0.15)
        np.testing.assert_allclose(np.linalg.norm(pose.payload[4] - pose.payload[0]), 0.22, atol=1e-12)
        height = np.interp(pose.time, dropped.track.time, dropped.track.height)
        assert -pose.confluence[2] == pytest.approx(height, abs=2e-3)  # straight between samples 0.05 s apart
        heading = np.interp(pose.time, dropped.track.time, np.unwrap(dropped.track.attitude[2]))
        assert cos(pose.attitude[2] - heading) == pytest.approx(1.0, abs=1e-5)


def test_the_last_pose_touches_the_ground(dropped: Drop) -> None:
    last = poses(dropped, moments(dropped))[-1]
    bottom = last.confluence[2] + last.payload[[1, 3, 5, 7]].mean(axis=0)[2]
    assert bottom == pytest.approx(0.0, abs=1e-6)
    assert payload_bottom(dropped.vehicle.design)[2] == pytest.approx(0.27)


def test_a_payload_on_four_hooks_touches_the_ground_too(vehicle: Vehicle) -> None:
    """Its hooks keep their places on the box, 60 mm before and behind its middle."""
    hung = {"hooks": "front and rear", "front": 0.06, "rear": -0.06, "height": 0.1, "front_rows": ["A", "B"]}
    hung |= {"front_riser": 0.06, "rear_riser": 0.06}
    four = assemble(override(vehicle.design, {"payload.suspension": hung, "drop.height": 10.0}))
    pose = poses(flown := drop(four), np.array([0.0, flown.time_aloft]))[1]
    bottom = pose.confluence[2] + pose.payload[[1, 3, 5, 7]].mean(axis=0)[2]
    assert bottom == pytest.approx(0.0, abs=1e-6)
    front, rear = pose.risers[:2, 0].mean(axis=0), pose.risers[2:, 0].mean(axis=0)
    assert np.linalg.norm(front - rear) == pytest.approx(0.12)


def test_moments_hold_the_release_the_turns_and_the_landing(dropped: Drop) -> None:
    times, track = moments(dropped), dropped.track
    assert len(times) == POSES
    assert (times[0], times[-1]) == (0.0, pytest.approx(dropped.time_aloft))
    assert (np.diff(times) > 0).all()
    assert (times > dropped.time_aloft - 2.0).sum() == 3
    before = track.time < dropped.time_aloft - 2.0
    for quickest in (np.argmax(track.rates[2][before]), np.argmin(track.rates[2][before])):
        assert np.abs(times - track.time[quickest]).min() < 1e-9
    low = moments(drop(dropped.vehicle, release_at(dropped, 3.0)))
    np.testing.assert_allclose(np.diff(low), low[-1] / (POSES - 1))


def release_at(dropped: Drop, height: float) -> Release:
    """Its release lower down, without brakes."""
    return replace(dropped.release, height=height, brakes=())


@pytest.mark.parametrize("system", ["metric", "imperial"])
def test_the_strip_has_its_poses_with_time_and_height(dropped: Drop, system: str) -> None:
    text = strip_svg(dropped, system)
    root = ElementTree.fromstring(text)
    words = [" ".join("".join(one.itertext()).split()) for one in root.iter(f"{SVG}text")]
    one, unit = (1.0, "m") if system == "metric" else (0.3048, "ft")
    heights = np.interp(moments(dropped), dropped.track.time, dropped.track.height) / one
    for number, (time, height) in enumerate(zip(moments(dropped), heights, strict=True), start=1):
        assert f"{time:.1f} s" in words
        assert f"{height:.0f} {unit}" in words or f"{height:.1f} {unit}" in words
        assert any(word == str(number) for word in words)
    assert sum(word.endswith("from behind") for word in words) == 2
    title = root.find(f"{SVG}title")
    assert title is not None
    assert title.text is not None
    assert title.text.startswith("heron lands at ")
    assert title.text.count(" s, ") == POSES
    assert root.get("aria-label") == title.text
    joined = " ".join(words)
    assert all(caution in joined for caution in CAUTIONS)
    assert "m/s" in joined if system == "metric" else " m/s" not in joined
    assert len(text) < 1_000_000


def test_film_times_are_even_and_end_with_the_flight() -> None:
    """10 frames a second and at most 300 and the last: 30 s as flown, 41 s at twice the speed."""
    for duration, faster in ((29.95, 1), (41.0, 2), (300.1, 11)):
        times, found = frame_times(duration)
        assert found == faster
        assert len(times) <= 301
        np.testing.assert_allclose(np.diff(times)[:-1], faster / 10)
        assert times[-1] == duration


def test_film_says_how_long_it_is(dropped: Drop) -> None:
    seen: list[tuple[int, int]] = []
    low = drop(dropped.vehicle, release_at(dropped, 1.5))
    film = film_of(low, progress=lambda done, of: seen.append((done, of)))
    assert seen == [(i + 1, len(film.times)) for i in range(len(film.times))]
    assert film.content.startswith(b"GIF89a")
    assert film.note.startswith(f"film: {len(film.times)} frames, ")
    assert "as fast as it flies" in film.note
