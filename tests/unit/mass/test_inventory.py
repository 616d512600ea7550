"""The mass budget against areas, lengths and volumes worked out apart."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.geometry.canopy import build_canopy
from parasim.geometry.lines import build_lines
from parasim.geometry.surface import upper_skin
from parasim.mass.inventory import SEAM_ALLOWANCE, enclosed_air, mass_items, payload_center


def items(design: Design):
    canopy = build_canopy(design)
    return {item.name: item.properties for item in mass_items(design, canopy, build_lines(design, canopy))}


def test_budget_by_hand(reference: Design) -> None:
    """40 g/m2 with a tenth for seams on skins and ribs; 0.5 g/m of line; 1.2 kg of payload."""
    canopy = build_canopy(reference)
    found = items(reference)
    assert set(found) == {"upper skin", "lower skin", "ribs", "lines", "payload"}
    assert found["upper skin"].mass == pytest.approx(0.040 * SEAM_ALLOWANCE * upper_skin(canopy).total)
    ribs = Polygon(canopy.outline).area * 0.25 * 15 - 13 * 3 * np.pi * 0.06**2 / 4 * 0.25
    assert found["ribs"].mass == pytest.approx(0.040 * SEAM_ALLOWANCE * ribs, rel=1e-6)
    assert found["lines"].mass == pytest.approx(0.0005 * build_lines(reference, canopy).total_length)
    assert found["payload"].mass == 1.2


def test_skin_weighs_what_a_maker_would_guess(reference: Design) -> None:
    """0.55 m2, two skins a little longer than the chord and arc: 44 g/m2 makes 49 to 54 g."""
    found = items(reference)
    assert 0.049 < found["upper skin"].mass + found["lower skin"].mass < 0.054


def test_everything_is_centred(reference: Design) -> None:
    for name, properties in items(reference).items():
        assert properties.center[1] == pytest.approx(0.0, abs=1e-12), name
        assert np.all(np.linalg.eigvalsh(properties.inertia) > 0), name


def test_payload_hangs_below_the_riser(reference: Design) -> None:
    """0.15 m of riser and half of 0.12 m."""
    np.testing.assert_allclose(payload_center(reference), [0.0, 0.0, 0.21])


def test_stabilisers_weigh(reference: Design) -> None:
    with_panels = override(reference, {"canopy.stabilisers": {"height": 0.06, "chord": 0.6}})
    found = items(with_panels)["stabilisers"]
    assert found.mass == pytest.approx(2 * 0.044 * 0.06 * 0.3)
    assert found.center[2] > items(with_panels)["upper skin"].center[2]


def test_rods_have_their_inertia(reference: Design) -> None:
    """The lines' inertia about their own middle: m L2/12 each, by many points instead of three."""
    canopy = build_canopy(reference)
    lines = build_lines(reference, canopy)
    t = (np.arange(200) + 0.5) / 200
    inertia = np.zeros((3, 3))
    for line in lines.lines:
        points = line.start + t[:, None] * (line.end - line.start)
        mass = 0.0005 * line.length / 200
        inertia += mass * ((points**2).sum() * np.eye(3) - points.T @ points)
    np.testing.assert_allclose(items(reference)["lines"].inertia, inertia, rtol=1e-4, atol=1e-9)


def test_enclosed_air_fills_the_volume(reference: Design) -> None:
    """Slices against Pappus: 1 %, the blunt nose; their centre sin h/h of the arc's radius above its centre
    line.
    """
    canopy = build_canopy(reference)
    air = enclosed_air(canopy)
    assert air.mass == pytest.approx(canopy.volume, rel=0.01)
    h = canopy.half_arc
    radius = 0.75 + Polygon(canopy.outline).centroid.y * 0.5
    below = canopy.quarter_chord[2] + 0.75
    assert air.center[2] == pytest.approx(below - radius * np.sin(h) / h, abs=0.002)
