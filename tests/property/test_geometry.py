"""What must hold for the geometry of any sane design."""

from __future__ import annotations

from math import degrees

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.geometry.canopy import build_canopy
from parasim.geometry.lines import build_lines
from parasim.geometry.rigging import build_rigging, build_section
from parasim.geometry.surface import cosine_strips, lower_skin, upper_skin
from parasim.mass.inventory import enclosed_air, mass_items
from parasim.mass.properties import total
from tests.strategies import designs

SOME = settings(
    max_examples=25, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


@SOME
@given(design=designs())
def test_areas_and_volume(design: Design) -> None:
    canopy = build_canopy(design)
    assert 0.4 * canopy.flat_area < canopy.projected_area < canopy.flat_area
    assert canopy.projected_span < canopy.span
    for skin in (upper_skin(canopy), lower_skin(canopy)):
        assert 0.8 * canopy.flat_area < skin.total < 1.5 * canopy.flat_area
    assert enclosed_air(canopy).mass == pytest.approx(canopy.volume, rel=0.02)


@SOME
@given(design=designs())
def test_everything_mirrors(design: Design) -> None:
    canopy = build_canopy(design)
    lines = build_lines(design, canopy)
    solid = total(item.properties for item in mass_items(design, canopy, lines))
    assert solid.center[1] == pytest.approx(0.0, abs=1e-9)
    np.testing.assert_allclose(solid.inertia[[0, 1], [1, 2]], 0.0, atol=1e-9)
    for straight in lines.straight.values():
        np.testing.assert_allclose(straight, straight[::-1], atol=1e-9)
    strips = cosine_strips(canopy, 12)
    np.testing.assert_allclose(strips.quarter_chord[:, 1], -strips.quarter_chord[::-1, 1], atol=1e-9)


@SOME
@given(design=designs())
def test_inertia_is_that_of_a_body(design: Design) -> None:
    """Positive, and no moment larger than the other two together (about the centre of mass)."""
    canopy = build_canopy(design)
    solid = total(item.properties for item in mass_items(design, canopy, build_lines(design, canopy)))
    c = solid.center
    own = solid.inertia - solid.mass * (c @ c * np.eye(3) - np.outer(c, c))
    small, middle, large = np.linalg.eigvalsh(own)
    assert small > 0
    assert large <= small + middle + 1e-12


@SOME
@given(design=designs())
def test_cascades_are_never_shorter_than_straight_lines(design: Design) -> None:
    lines = build_lines(design, build_canopy(design)).lines
    trunks = {tuple(line.end.round(9)): line for line in lines if line.kind == "trunk"}
    for line in lines:
        below = trunks.get(tuple(line.start.round(9)))
        if line.kind == "branch" and below is not None:
            straight = float(np.linalg.norm(line.end - below.start))
            assert line.length + below.length >= straight - 1e-9


@SOME
@given(design=designs())
def test_rows_say_the_same_as_length_and_angle(design: Design) -> None:
    """The centre rib's own straight lengths, as a design file would give them, come back within 0.05 deg."""
    outline = build_section(design.canopy.airfoil)
    pose = build_rigging(design, outline)
    canopy = build_canopy(design)
    x = np.array(list(design.lines.rows.values()))
    from parasim.geometry.airfoil import lower_surface

    tabs = canopy.point(np.zeros(len(x)), x, lower_surface(outline, x))
    rows = dict(zip(design.lines.rows, np.linalg.norm(tabs, axis=1).tolist(), strict=True))
    changes = {"lines.length": None, "lines.rigging_angle": None, "lines.row_lengths": rows}
    back = build_rigging(override(design, changes), outline)
    assert degrees(back.rigging_angle - pose.rigging_angle) == pytest.approx(0.0, abs=0.05)
    assert back.line_length == pytest.approx(pose.line_length, abs=1e-5)
