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
from parasim.mass.inventory import enclosed_air, mass_items, payload_center
from tests.outlines import perimeter


def items(design: Design):
    canopy = build_canopy(design)
    return {item.name: item.properties for item in mass_items(design, canopy, build_lines(design, canopy))}


def test_budget_by_hand(reference: Design) -> None:
    """40 g/m2 of cloth, 10 mm of it round seams; 15 ribs of 0.5 m; 0.5 g/m of line; 1.2 kg of payload."""
    canopy = build_canopy(reference)
    found = items(reference)
    assert set(found) == {"upper skin", "lower skin", "ribs", "patches", "tape", "thread", "lines", "payload"}
    # The last point is the first but for rounding, and the mitre at the tail would hang on that bit.
    outline = Polygon(0.5 * canopy.outline[:-1])
    wide = outline.buffer(0.010, join_style="mitre", mitre_limit=2.0).area
    ribs = 15 * wide - 13 * 3 * np.pi * 0.06**2 / 4 * 0.25
    assert found["ribs"].mass == pytest.approx(0.040 * ribs, rel=0.005)
    edge = 0.5 * perimeter(canopy.outline)[0]
    # 14 panels: seam allowance on two long edges, a hem of 15 mm at either end; a bulge of 2/3 x 0.7 %.
    skin = upper_skin(canopy).total * (1 + 2 / 3 * 0.0074) + 28 * 0.010 * edge + 2 * 0.015 * 1.10
    skin += 14 * 4 * 0.010 * 0.015  # corners
    assert found["upper skin"].mass == pytest.approx(0.040 * skin, rel=0.005)
    assert found["payload"].mass == 1.2


def test_line_mass_has_its_loops(reference: Design) -> None:
    """Every straight piece takes two loops of 60 mm, a brake its way to the servo; 38 end at 20 mm tabs."""
    lines = build_lines(reference, build_canopy(reference))
    length = lines.total_length + 2 * 0.060 * len(lines.lines) + 2 * (0.15 + 0.12) - 38 * 0.020
    assert items(reference)["lines"].mass == pytest.approx(0.0005 * length)


def test_a_line_through_a_junction_takes_a_knot_for_two_loops(reference: Design) -> None:
    """8 ribs, one cascade through: two loops at each junction give way to a 15 mm knot."""
    through = override(reference, {"lines.cascades.0.through": "A"})
    less = items(reference)["lines"].mass - items(through)["lines"].mass
    assert less == pytest.approx(0.0005 * 8 * (2 * 0.060 - 0.015))


def test_tape_and_thread_by_hand(reference: Design) -> None:
    """Tape: 8 loaded ribs of 0.485 m, 38 tabs of 60 mm; thread 3 m a metre of seam."""
    found = items(reference)
    assert found["tape"].mass == pytest.approx(0.0015 * (8 * 0.485 + 38 * 0.06), rel=0.01)
    around = 15 * 0.5 * sum(perimeter(build_canopy(reference).outline))
    assert found["thread"].mass == pytest.approx(0.00003 * 3 * (around + 3 * 1.1), rel=0.01)
    bare = override(reference, {"sewing.tape": 0.0, "sewing.thread": 0.0, "sewing.patch": 0.0})
    assert set(found) - set(items(bare)) == {"tape", "thread", "patches"}


def test_skin_weighs_what_a_maker_would_guess(reference: Design) -> None:
    """0.55 m2, skins a little longer than chord and arc, a third more for seams of 14 narrow panels."""
    found = items(reference)
    assert 0.057 < found["upper skin"].mass + found["lower skin"].mass < 0.064


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
    assert found.mass == pytest.approx(2 * 0.040 * (0.06 + 0.025) * (0.3 + 0.030))
    assert found.center[2] > items(with_panels)["upper skin"].center[2]


def test_rods_have_their_inertia(reference: Design) -> None:
    """The lines' inertia about their own middle: m L2/12 each, by many points instead of three."""
    canopy = build_canopy(reference)
    lines = build_lines(reference, canopy)
    t = (np.arange(200) + 0.5) / 200
    inertia = np.zeros((3, 3))
    for line in lines.lines:
        points = line.start + t[:, None] * (line.end - line.start)
        mass = 0.0005 * (line.length + 0.120 - 0.020 * line.at_tab) / 200
        inertia += mass * ((points**2).sum() * np.eye(3) - points.T @ points)
    for riser_end in lines.riser_ends:
        tail = 0.0005 * (0.15 + 0.12)
        inertia += tail * ((riser_end**2).sum() * np.eye(3) - np.outer(riser_end, riser_end))
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
