"""Pictures of the glide show the result's own numbers, under a title that tells it."""

from dataclasses import replace

import numpy as np
import pytest

from parasim.caveats import CAUTION
from parasim.flight.glide import Glide
from parasim.plotting.glide import plot_polar, plot_rigging, polar_figure, rigging_figure
from parasim.plotting.style import new_figure


def test_polar_draws_the_brake_points(gliding: Glide) -> None:
    ax = new_figure().add_subplot()
    plot_polar(gliding, ax)
    curve, brakes_released = ax.lines
    flown = [point.trim for point in gliding.brakes if point.trim is not None]
    assert curve.get_xdata() == pytest.approx([trim.forward_speed for trim in flown])
    assert curve.get_ydata() == pytest.approx([trim.sink for trim in flown])
    assert (brakes_released.get_xdata()[0], brakes_released.get_ydata()[0]) == pytest.approx(
        (gliding.trim.forward_speed, gliding.trim.sink)
    )
    (band,) = ax.patches
    forward, sink = gliding.bands.figures["forward_speed"], gliding.bands.figures["sink"]
    left, low = band.get_xy()
    assert (left, left + band.get_width()) == pytest.approx((forward.low, forward.high))
    assert (low, low + band.get_height()) == pytest.approx((sink.low, sink.high))
    assert band.get_hatch()
    assert {text.get_text() for text in ax.texts} == {"20 %", "40 %", "60 %", "80 %", "100 %"}


def test_polar_labels_in_either_unit(gliding: Glide) -> None:
    for system, unit in (("metric", "m/s"), ("imperial", "ft/s")):
        (ax,) = polar_figure(gliding, system).axes
        assert ax.get_xlabel() == f"forward speed in still air [{unit}]"
        assert ax.get_ylabel() == f"sink [{unit}], downwards"
    (ax,) = polar_figure(gliding, "imperial").axes
    assert ax.lines[1].get_ydata() == pytest.approx(gliding.trim.sink / 0.3048)


def test_polar_title_is_the_finding(gliding: Glide) -> None:
    (ax,) = polar_figure(gliding).axes
    trim, ratio = gliding.trim, gliding.bands.figures["glide_ratio"]
    assert ax.get_title(loc="left") == (
        f"heron glides {trim.glide_ratio:.1f} to 1 ({ratio.low:.1f} to {ratio.high:.1f}) at "
        f"{trim.airspeed:.2f} m/s, brakes released"
    )


def test_the_legend_stands_below_the_curve_and_the_caution_below_that(gliding: Glide) -> None:
    for figure in (polar_figure(gliding), rigging_figure(gliding)):
        figure.draw_without_rendering()
        ax = figure.axes[-1]
        legend = ax.get_legend()
        assert legend is not None
        assert legend.get_window_extent().y1 < ax.get_window_extent().y0
        assert CAUTION in figure.get_supxlabel()


def test_rigging_draws_the_sweep_and_the_window(gliding: Glide) -> None:
    ax = new_figure().add_subplot()
    plot_rigging(gliding, ax, lambda trim: trim.sink, "speed", "sink")
    sinks = [np.nan if point.trim is None else point.trim.sink for point in gliding.rigging]
    np.testing.assert_allclose(ax.lines[0].get_ydata(), sinks)
    np.testing.assert_allclose(
        ax.lines[0].get_xdata(), np.degrees([point.setting for point in gliding.rigging])
    )
    assert gliding.window is not None
    (window,) = ax.patches
    assert window.get_x() == pytest.approx(np.degrees(gliding.window[0]))
    assert window.get_x() + window.get_width() == pytest.approx(np.degrees(gliding.window[1]))
    assert window.get_hatch()
    assert ax.get_xlabel() == "rigging angle [deg], positive nose-down"


def test_rigging_title_with_and_without_a_window(gliding: Glide) -> None:
    cases = {
        (-0.05, 0.1): f"the model's window is {np.degrees(-0.05):.1f} deg to {np.degrees(0.1):.1f} deg",
        None: "no usual rigging angle keeps both margins",
    }
    for window, told in cases.items():
        figure = rigging_figure(replace(gliding, window=window))
        assert figure.axes[0].get_title(loc="left") == f"heron: {told}"


def test_rigging_leaves_gaps_where_nothing_flies(gliding: Glide) -> None:
    broken = (replace(gliding.rigging[0], trim=None), *gliding.rigging[1:])
    ax = new_figure().add_subplot()
    plot_rigging(replace(gliding, rigging=broken), ax, lambda trim: trim.sink, "speed", "sink")
    gaps = np.isnan(np.asarray(ax.lines[0].get_ydata(), dtype=float)).tolist()
    assert gaps == [True, *(point.trim is None for point in gliding.rigging[1:])]
