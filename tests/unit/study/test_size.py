"""Scaling by hand, and that an answer meets what was asked for."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.errors import DesignError
from parasim.study import size as module
from parasim.study.size import Sizing, area_range, point_of, rigging_angles, scaled, size

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module", autouse=True)
def _coarse_map():
    patch = pytest.MonkeyPatch()
    patch.setattr(module, "RIGGING_ANGLES", np.radians([-1.0, 2.0]))
    patch.setattr(module, "AREAS", 4)
    yield
    patch.undo()


@pytest.fixture(scope="module")
def by_sink(heron: Design) -> Sizing:
    return size(heron, goal="sink", target=2.2)


def test_lengths_grow_with_the_root_of_area(configs):
    design = load_design(configs / "pelican.yaml")
    large = scaled(design, 4 * design.canopy.flat_area)
    assert large.canopy.flat_area == pytest.approx(4 * design.canopy.flat_area)
    for read in (
        lambda d: d.canopy.span,
        lambda d: d.canopy.chord,
        lambda d: d.arc_radius,
        lambda d: d.lines.length,
        lambda d: d.lines.riser.spread,
        lambda d: d.canopy.stabilisers.height,
        lambda d: d.brakes.travel,
        lambda d: d.brakes.free_play,
    ):
        assert read(large) == pytest.approx(2 * read(design))
    for same in ("payload", "site"):
        assert getattr(large, same) == getattr(design, same)
    assert large.canopy.cloth == design.canopy.cloth
    assert large.lines.diameter == design.lines.diameter
    assert large.lines.riser.length == design.lines.riser.length
    assert large.lines.rigging_angle == pytest.approx(design.lines.rigging_angle)


def test_row_lengths_become_length_and_angle(configs):
    """Scaled by one, it glides as before."""
    design = load_design(configs / "wren.yaml")
    same = scaled(design, design.canopy.flat_area)
    assert same.lines.row_lengths is None
    before = size(design, goal="sink", target=2.0).as_designed
    after = point_of(same, before.rigging_angle, design)
    assert after.trim is not None
    assert before.trim is not None
    assert after.trim.sink == pytest.approx(before.trim.sink, rel=1e-6)
    assert after.line_length == pytest.approx(before.line_length)


def test_a_canopy_beyond_the_file_is_refused(heron: Design):
    with pytest.raises(DesignError, match="span"):
        scaled(heron, 100.0)


def test_map_covers_design_and_guess():
    assert area_range(0.5, 0.8) == pytest.approx((0.5 / 1.6, 1.28))
    assert area_range(0.5, 100.0)[1] == pytest.approx(6 * 0.5 * 1.6)


def test_own_rigging_is_on_the_map(monkeypatch):
    monkeypatch.setattr(module, "RIGGING_ANGLES", np.radians([0.0, 2.0, 4.0]))
    assert np.degrees(rigging_angles(np.radians(2.7))) == pytest.approx([0.0, 2.7, 4.0])
    assert np.degrees(rigging_angles(np.radians(9.0))) == pytest.approx([0.0, 2.0, 4.0, 9.0])


def test_answers_meet_the_target(by_sink: Sizing):
    assert len(by_sink.answers) == 2
    for answer in by_sink.answers:
        assert answer.figure("sink") == pytest.approx(2.2, rel=2e-3)


def test_the_answer_is_rigged_as_the_file_has_it_where_that_will_do(by_sink: Sizing):
    chosen, own = by_sink.chosen, by_sink.as_designed
    assert by_sink.as_rigged
    assert chosen is not None
    assert chosen.rigging_angle == pytest.approx(own.rigging_angle)
    assert not any("rigging angle" in caveat for caveat in by_sink.caveats)


def test_else_for_the_middle_of_the_models_window(heron: Design):
    """Never at an angle that the program itself warns about."""
    steep = size(override(heron, {"lines.rigging_angle": "-6 deg"}), goal="sink", target=2.4)
    assert steep.window is not None
    assert steep.chosen is not None
    assert not steep.as_rigged
    assert steep.chosen.rigging_angle == pytest.approx(sum(steep.window) / 2)
    assert steep.chosen.allowed
    assert not any("rigging angle: " in caveat for caveat in steep.caveats)
    assert any("rigged for the middle of it" in caveat for caveat in steep.caveats)


def test_own_energy_asks_for_the_own_area(heron: Design, by_sink: Sizing):
    own = by_sink.as_designed
    found = size(heron, goal="energy", target=own.figure("energy"))
    answer = next(a for a in found.answers if a.rigging_angle == pytest.approx(own.rigging_angle))
    assert answer.area == pytest.approx(own.area, rel=5e-3)


def test_slower_wants_larger(heron: Design, by_sink: Sizing):
    slower = size(heron, goal="sink", target=1.7)
    assert [a.area for a in slower.answers] > [a.area for a in by_sink.answers]


def test_energy_is_of_the_whole_speed(by_sink: Sizing):
    own = by_sink.as_designed
    assert own.trim is not None
    speed = sqrt(own.trim.sink**2 + own.trim.forward_speed**2)
    assert own.figure("energy") == pytest.approx(0.5 * own.mass * speed**2)


def test_out_of_reach_is_said(heron: Design):
    found = size(heron, goal="sink", target=0.3)
    assert found.answers == ()
    assert found.chosen is None
    assert found.reached is not None
    assert found.reached[0] > 0.3


def test_guard_rails_of_the_answer_are_told(heron: Design):
    found = size(heron, goal="energy", target=110.0)
    assert found.chosen is not None
    assert any("wing loading" in caveat for caveat in found.caveats)
    assert "square root" in found.caveats[0]
