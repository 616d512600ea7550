"""The picture of the canopy can be measured in its front and side view."""

import numpy as np
import pytest
from matplotlib.axes import Axes

from parasim.caveats import CAUTION
from parasim.dynamics.vehicle import Vehicle
from parasim.geometry.airfoil import lower_surface
from parasim.geometry.seams import STABILISER_FRONT
from parasim.geometry.surface import skin_points
from parasim.plotting.canopy import FRONT, QUARTER, SIDE, canopy_figure, canopy_pieces, plot_canopy
from parasim.plotting.style import new_figure
from parasim.rotations import FloatArray

CHORDS = 2e-3
"""A skin is drawn as chords between every few points of its outline, a little inside it."""


def drawn(ax: Axes) -> FloatArray:
    """Corners of everything drawn, shape (n, 2)."""
    (collection,) = ax.collections
    return np.concatenate([path.vertices for path in collection.get_paths()])


@pytest.mark.parametrize("view", [FRONT, SIDE, QUARTER])
def test_views_are_rotations(view: object) -> None:
    axes = view.axes  # type: ignore[attr-defined]
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)


def test_front_view_measures_span_and_height(vehicle: Vehicle) -> None:
    ax = new_figure().add_subplot()
    plot_canopy(canopy_pieces(vehicle), ax, FRONT)
    upper = skin_points(vehicle.canopy, upper=True)
    corners = drawn(ax)
    assert np.ptp(corners[:, 0]) == pytest.approx(np.ptp(upper[..., 1]), rel=CHORDS)
    assert corners[:, 1].max() == pytest.approx(-upper[..., 2].min(), rel=CHORDS)
    riser, box = vehicle.design.lines.riser.length, vehicle.design.payload.size[2]
    assert corners[:, 1].min() == pytest.approx(-(riser + box))
    assert ax.get_aspect() == 1.0


def test_side_view_has_the_nose_to_the_left(vehicle: Vehicle) -> None:
    ax = new_figure().add_subplot()
    plot_canopy(canopy_pieces(vehicle), ax, SIDE)
    upper = skin_points(vehicle.canopy, upper=True)
    assert drawn(ax)[:, 0].max() == pytest.approx(-upper[..., 0].min())


def test_imperial_scales_the_picture(vehicle: Vehicle) -> None:
    metric, imperial = new_figure().add_subplot(), new_figure().add_subplot()
    plot_canopy(canopy_pieces(vehicle), metric, FRONT)
    plot_canopy(canopy_pieces(vehicle), imperial, FRONT, "imperial")
    np.testing.assert_allclose(0.0254 * drawn(imperial), drawn(metric), atol=1e-12)


def test_stabilisers_hang_below_the_tips(finned: Vehicle, vehicle: Vehicle) -> None:
    stabiliser = finned.canopy.stabiliser
    assert stabiliser is not None
    assert vehicle.canopy.stabiliser is None
    ax = new_figure().add_subplot()
    plot_canopy(canopy_pieces(finned), ax, FRONT)
    canopy = finned.canopy
    front = np.array([STABILISER_FRONT])
    skin = np.asarray(lower_surface(canopy.outline, front))
    bottom = canopy.point(np.array([canopy.half_arc]), front, skin)[0] - stabiliser.height * canopy.outward(
        np.array(canopy.half_arc)
    )
    on_paper = np.array([-bottom[1], -bottom[2]])
    assert np.linalg.norm(drawn(ax) - on_paper, axis=1).min() < 1e-9


def test_figure_labels_and_title(vehicle: Vehicle) -> None:
    large, front, side = canopy_figure(vehicle, "imperial").axes
    assert large.get_title(loc="left").startswith("heron: 5.92 ft² flat in 7 cells")
    assert front.get_xlabel() == "to the left, seen from ahead [in]"
    assert side.get_xlabel() == "behind the confluence, seen from the left [in]"
    assert side.get_ylabel() == "height over the confluence [in]"
    assert CAUTION in canopy_figure(vehicle).get_supxlabel()
