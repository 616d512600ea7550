"""Line loads: they balance the canopy, lever rule by hand, and what strength is left."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.flight.line_loads import LineLoads, RibLoads, line_loads, share_out
from parasim.flight.trim import Trim, find_trims
from parasim.geometry.lines import Hold, Line

GRAVITY = 9.80665


def flown(design: Design) -> tuple[Vehicle, Trim]:
    vehicle = assemble(design)
    return vehicle, find_trims(vehicle, modes=False).chosen


@pytest.fixture(scope="module")
def glide(reference: Design) -> tuple[Vehicle, Trim]:
    return flown(reference)


@pytest.fixture(scope="module")
def loads(glide: tuple[Vehicle, Trim]) -> LineLoads:
    return line_loads(*glide)


def total_pull(vehicle: Vehicle, loads: LineLoads) -> np.ndarray:
    """Of the upper ends of all lines on the canopy."""
    pull = np.zeros(3)
    for hold in vehicle.line_set.holds:
        for line in hold.uppers:
            pull += loads.tension[line.label] * (line.start - line.end) / line.length
    return pull


def test_lines_balance_the_air_and_the_cloth(glide, loads):
    vehicle, _ = glide
    left = loads.ribs.force.sum(axis=0) + total_pull(vehicle, loads)
    carried = abs(loads.ribs.force.sum(axis=0)[2])
    assert abs(left[1]) < 1e-6 * carried
    assert abs(left[2]) < 1e-3 * carried
    assert loads.chordwise_left == pytest.approx(left[0] / loads.ribs.pull.sum(), rel=1e-3)


def test_what_is_left_along_the_chord_is_what_lines_cannot_hold_at_the_confluence(glide, loads):
    """The glide is that of a stiff body. Its payload leans with the canopy, and so its weight has a moment
    about the confluence that the air on the canopy balances, but for the payload's drag.
    """
    vehicle, trim = glide
    ribs = loads.ribs
    left = loads.chordwise_left * ribs.pull.sum()
    arm = float(np.average(ribs.place[:, 2], weights=ribs.pull))
    assert left * arm == pytest.approx(ribs.confluence_moment, rel=0.1)
    weight, depth = vehicle.design.payload.mass * GRAVITY, 0.15 + 0.06
    drag = 0.5 * trim.air_density * trim.airspeed**2 * vehicle.design.payload.drag_area_or_default
    nose_up = depth * (-np.sin(trim.pitch) * weight - np.cos(trim.alpha) * drag)
    # Within what the lower halves of the lines add, and the lines' own weight.
    assert ribs.confluence_moment == pytest.approx(-nose_up, abs=0.15 * depth * weight)
    assert any("the canopy pitches nose-down" in caveat for caveat in loads.caveats)


def test_lines_carry_about_the_payload(glide, loads):
    """Riser pull is the payload's weight and drag and half the lines' drag: within a tenth of the weight."""
    vehicle, _ = glide
    assert np.linalg.norm(total_pull(vehicle, loads)) == pytest.approx(1.2 * GRAVITY, rel=0.1)


def test_left_and_right_are_alike(loads):
    for label, tension in loads.tension.items():
        if label[2] == "L":
            other = f"{16 - int(label[:2]):02d}R{label[3:]}"
            assert loads.tension[other] == pytest.approx(tension, rel=1e-6, abs=1e-9)


def test_joints_are_in_balance(glide, loads):
    """At every junction three line pulls add to nothing."""
    for hold in glide[0].line_set.holds:
        pulls = [
            loads.tension[line.label] * (line.end - line.start) / line.length * (-1 if i == 0 else 1)
            for i, line in enumerate(hold.lines)
        ]
        np.testing.assert_allclose(sum(pulls), 0.0, atol=1e-9)


def test_shares(loads):
    assert sum(loads.row_share.values()) == pytest.approx(1.0)
    assert loads.row_share["A"] / loads.row_share["B"] == pytest.approx(60 / 40)
    assert sum(loads.asked_share.values()) == pytest.approx(1.0)
    assert 0.2 < loads.ribs.center_of_pressure < 0.5


def test_nothing_pushes_and_brakes_are_slack(loads):
    assert min(loads.tension.values()) >= 0
    assert {tension for label, tension in loads.tension.items() if "brake" in label} == {0.0}


def straight_line(row: str, x: float) -> Hold:
    line = Line(
        kind="row", rows=(row,), rib=0, side="R", label=f"01R-{row}",
        start=np.array([x, 0.0, 0.0]), end=np.array([x, 0.0, -1.0]),
    )  # fmt: skip
    return Hold(lines=(line,), share=np.ones(1))


def one_rib(moment: float) -> RibLoads:
    return RibLoads(
        place=np.array([[0.0, 0, -1.0], [0.0, 1.0, -1.0]]),
        force=np.array([[0.0, 0, -10.0], [0.0, 0, 0.0]]),
        moment=np.array([moment, 0.0]),
        outward=np.array([[0.0, 0, -1.0]] * 2),
        spanwise=np.array([[0.0, 1.0, 0]] * 2),
        chord=np.ones(2),
    )


@pytest.mark.parametrize(
    ("moment", "front", "rear"), [(0.0, 6.667, 3.333), (-1.0, 4.333, 5.667), (2.0, 10.0, 0.0)]
)
def test_lever_rule_by_hand(moment, front, rear):
    """10 N up at the quarter chord, rows 0.143 m ahead and 0.286 behind: two thirds to one over 0.4286 m.

    Nose-down moment of 1 N m moves 2.333 N to the rear; nose-up of 2 N m would push on the rear line: slack.
    """
    holds = (straight_line("A", 0.142857), straight_line("D", -0.285714))
    pulls, _ = share_out(one_rib(moment), holds)
    if rear:
        np.testing.assert_allclose(pulls, [front, rear], atol=1e-3)
    else:
        assert pulls[1] == pytest.approx(0.0, abs=1e-9)


def test_four_equal_rows_share_a_middle_load_alike():
    """Statics leaves it open; lines of equal stiffness on a stiff rib take a quarter each."""
    holds = tuple(straight_line(row, x) for row, x in zip("ABCD", (0.3, 0.1, -0.1, -0.3), strict=True))
    pulls, misfit = share_out(one_rib(0.0), holds)
    np.testing.assert_allclose(pulls, 2.5, atol=1e-3)
    assert misfit < 1e-6


def test_twice_the_opening_twice_the_load(glide, loads):
    harder = line_loads(*glide, opening_factor=12.0)
    assert harder.opening_tension == pytest.approx(2 * loads.opening_tension)


def test_strength_is_compared(reference: Design, loads):
    assert loads.margin is None
    assert any("strength is not known" in caveat for caveat in loads.caveats)
    weak = override(reference, {"lines.strength": "20 N"})
    found = line_loads(*flown(weak))
    assert found.margin == pytest.approx(0.5 * 20 / found.opening_tension)
    assert any(found.highest[0] in caveat and "use stronger line" in caveat for caveat in found.caveats)
    guessed = line_loads(*flown(override(reference, {"lines.material": "polyester"})))
    assert guessed.margin > 5
    assert any("estimated" in caveat for caveat in guessed.caveats)


def test_a_reflexed_section_leaves_its_rear_rows_slack(configs):
    """Its lift stands far forward, ahead of 25 % of the chord."""
    loads = line_loads(*flown(load_design(configs / "pelican.yaml")))
    assert loads.ribs.center_of_pressure < 0.25
    assert any("C+D" in label for label in loads.slack)
    assert any("slack" in caveat for caveat in loads.caveats)


def test_heavier_payload_loads_lines_in_proportion(glide, loads, reference: Design):
    vehicle, trim = flown(override(reference, {"payload.mass": "1.8 kg"}))
    heavier = line_loads(vehicle, trim)
    ratio = vehicle.weight / glide[0].weight
    assert heavier.highest[1] / loads.highest[1] == pytest.approx(ratio, rel=0.05)


def test_slack_names_lines_with_next_to_no_load(loads):
    assert loads.slack == ()
    assert replace(loads, tension={**loads.tension, "01L-A": 0.0}).slack == ("01L-A",)
