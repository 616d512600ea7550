"""Prandtl's elliptic wing: slope 2 pi/(1 + 2/A) and induced drag CL^2/(pi A), both of high aspect ratio.

Source: [Prandtl1921], from memory. Lifting-surface theory lies under the slope of the lifting line by about
1.2 % at aspect ratio 20 and 0.3 % at 80; the check is that the difference dies away with aspect ratio.
"""

from __future__ import annotations

import numpy as np
import pytest

from parasim.aerodynamics.strips import Flow
from parasim.geometry.surface import Strips
from tests.validation.wings import elliptic_strips, lift_slope, wind_axes


def ellipse(aspect: float) -> tuple[Strips, float]:
    span = aspect * np.pi / 4
    return elliptic_strips(span=span, root_chord=1.0, n_strips=40), span * np.pi / 4


@pytest.mark.parametrize(("aspect", "tolerance"), [(20, 0.015), (80, 0.004)])
def test_lift_slope(aspect, tolerance):
    strips, area = ellipse(aspect)
    assert lift_slope(strips, area=area) == pytest.approx(2 * np.pi / (1 + 2 / aspect), rel=tolerance)


@pytest.mark.parametrize("aspect", [8, 20])
def test_induced_drag(aspect):
    """Far wake of 40 strips; 0.3 %."""
    strips, area = ellipse(aspect)
    lift, drag, _ = wind_axes(strips, Flow.steady(np.radians([4.0])), area=area)[0]
    assert drag == pytest.approx(lift**2 / (np.pi * aspect), rel=0.003)


def test_no_wing_beats_the_elliptic_loading():
    """Munk: no flat wing has less induced drag than CL^2/(pi A); strips may not find one by accident.

    At a small angle, where the wake of the curved trailing edge is flat.
    """
    for aspect in (4, 8, 20):
        strips, area = ellipse(aspect)
        lift, drag, _ = wind_axes(strips, Flow.steady(np.radians([0.5])), area=area)[0]
        assert drag > 0.997 * lift**2 / (np.pi * aspect)
