"""Arrays of the scene against places worked out elsewhere, or by hand."""

import json

import numpy as np
import pytest

from parasim.config.loader import override
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.mass.inventory import payload_place
from parasim.plotting.scene import Scene, build_scene


def scene_of(vehicle: Vehicle) -> Scene:
    return build_scene(vehicle.design, vehicle.canopy, vehicle.line_set)


def test_payload_hangs_below_the_risers(vehicle: Vehicle) -> None:
    """heron: 0.15 m of riser, a box of 0.22 by 0.12 by 0.12 m whose top is at its hooks."""
    scene = scene_of(vehicle)
    np.testing.assert_allclose(scene.payload.min(axis=0), [-0.11, -0.06, 0.15])
    np.testing.assert_allclose(scene.payload.max(axis=0), [0.11, 0.06, 0.27])
    np.testing.assert_allclose(scene.payload[4], [0.11, -0.06, 0.15])  # front, left, top
    np.testing.assert_allclose(scene.risers[0], [[0, -0.05, 0.15], [0, -0.05, 0]])


def test_four_hooks_turn_the_payload(vehicle: Vehicle) -> None:
    hung = {"hooks": "front and rear", "front": 0.06, "rear": -0.06, "height": 0.1, "front_rows": ["A", "B"]}
    hung |= {"front_riser": 0.06, "rear_riser": 0.06}
    turned = assemble(override(vehicle.design, {"payload.suspension": hung, "lines.rigging_angle": "5 deg"}))
    scene = scene_of(turned)
    np.testing.assert_allclose(scene.payload.mean(axis=0), payload_place(turned.design, turned.canopy))
    np.testing.assert_allclose(scene.risers[:, 1], turned.line_set.riser_ends)
    along = scene.payload[4] - scene.payload[0]
    assert np.degrees(np.arctan2(-along[2], along[0])) == pytest.approx(5.0)


def test_lines_and_skins_are_the_vehicles(vehicle: Vehicle) -> None:
    scene = scene_of(vehicle)
    length = sum(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum() for ends in scene.lines.values())
    assert length == pytest.approx(vehicle.line_set.total_length)
    assert np.ptp(scene.ribs[..., 0]) == pytest.approx(0.5)  # the chord
    arc = np.linalg.norm(np.diff(scene.ribs[:, 1, -1], axis=0), axis=1).sum()
    assert arc == pytest.approx(1.1, rel=2e-3)  # the span: at the trailing edge, as chords between ribs
    assert list(np.flatnonzero(scene.loaded)) == list(range(0, 15, 2))


def test_document_is_plain(vehicle: Vehicle, finned: Vehicle) -> None:
    for each in (vehicle, finned):
        document = json.loads(json.dumps(scene_of(each).document(), allow_nan=False))
        assert len(document["stabilisers"]) == (2 if each is finned else 0)
        assert np.array(document["upper"]).shape == scene_of(each).upper.shape
