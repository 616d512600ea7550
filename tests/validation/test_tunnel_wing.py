"""A rigid arced wing in a wind tunnel, against our strips with nothing calibrated.

Source: Belloc (2015), read from a secondary source and digitised from its figures (CL within 0.003, CD within
0.0005). The targets were set before the comparison was made: lift slope, drag at equal lift and side-force
slope within 20 % (slope 15 %), stall within 3 deg. What is not reached is marked as failing, with the number;
the `record` tests below only notice when such a number moves. Causes: scripts/studies/tunnel_wing.py.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.validation.tunnel_wing import AREA, LIFTS, computed, measured, tunnel_strips

TUNNEL = measured()
OURS = computed()


def too_low_by(percent: float) -> pytest.MarkDecorator:
    reason = f"drag reads {percent} % low; 20 % was asked. Minimum drag in the tunnel 0.0188, ours 0.0131"
    return pytest.mark.xfail(strict=True, reason=reason)


def test_the_measured_curves_are_the_published_ones():
    """Slope 3.00 per radian, zero lift at -0.73 deg, least drag 0.0188, stall at 17.5 deg, side force -0.767
    per radian.

    The figures are another reader's; the fits over the same points differ by up to 1.5 %.
    """
    slope, zero = TUNNEL.line
    assert slope == pytest.approx(3.00, rel=0.015)
    assert np.degrees(zero) == pytest.approx(-0.73, abs=0.05)
    assert TUNNEL.CD.min() == pytest.approx(0.0188, abs=0.0001)
    assert np.degrees(TUNNEL.stall[1]) == pytest.approx(17.5, abs=0.3)
    assert TUNNEL.side_force_slope == pytest.approx(-0.767, rel=0.015)


def test_area():
    """0.4440 m2 inferred for the coefficients; strips of a smooth arc through the same stations have 0.5 %
    more.
    """
    strips = tunnel_strips()
    assert float((strips.chord * strips.width).sum()) == pytest.approx(AREA, rel=0.01)


@pytest.mark.xfail(strict=True, reason="slope reads 20 % high (3.57 for 2.97 per radian); 15 % was asked")
def test_lift_slope():
    assert OURS.line[0] == pytest.approx(TUNNEL.line[0], rel=0.15)


@pytest.mark.parametrize(
    "lift",
    [pytest.param(0.1, marks=too_low_by(28)), pytest.param(0.2, marks=too_low_by(20.4)), *LIFTS[2:]],
)
def test_drag_at_equal_lift(lift):
    assert OURS.drag_at(lift) == pytest.approx(TUNNEL.drag_at(lift), rel=0.20)


def test_side_force_slope():
    assert OURS.side_force_slope == pytest.approx(TUNNEL.side_force_slope, rel=0.20)


@pytest.mark.xfail(strict=True, reason="greatest lift at 24 deg, in the tunnel at 17.5; 3 deg was asked")
def test_stall():
    assert np.degrees(OURS.stall[1]) == pytest.approx(np.degrees(TUNNEL.stall[1]), abs=3.0)


@pytest.mark.parametrize(
    ("found", "recorded"),
    [
        (OURS.line[0], 3.567),
        (np.degrees(OURS.line[1]), -1.63),
        (OURS.CD.min(), 0.01313),
        (OURS.drag_at(0.1), 0.01345),
        (OURS.drag_at(0.2), 0.01560),
        (OURS.drag_at(0.6), 0.0363),
        (OURS.stall[0], 1.29),
        (np.degrees(OURS.stall[1]), 24.0),
        (OURS.side_force_slope, -0.690),
    ],
    ids=[
        "slope",
        "zero lift",
        "least drag",
        "drag at 0.1",
        "drag at 0.2",
        "drag at 0.6",
        "CL max",
        "stall",
        "CY beta",
    ],
)
def test_record(found, recorded):
    """A record within 2 %, not a check: notices when a figure of the comparison moves."""
    assert found == pytest.approx(recorded, rel=0.02)
