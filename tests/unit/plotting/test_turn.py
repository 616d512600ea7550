"""Pictures of the turn show the result's own numbers, under a title that tells it."""

from dataclasses import replace
from math import degrees, inf, nan

import numpy as np
import pytest

from parasim.dynamics.vehicle import Vehicle
from parasim.flight.turn.turn import SPIRAL_CAUTION, Turn, turn
from parasim.flight.uncertainty import Band
from parasim.plotting.style import new_figure
from parasim.plotting.turn import plot_rates, plot_size, plot_steps, plot_tracks, step_figure, turn_figure


@pytest.fixture(scope="module")
def turning(vehicle: Vehicle) -> Turn:
    return turn(vehicle)


def with_last_band(result: Turn, **changes: float) -> Turn:
    """Full brake with another band, and steady to it."""
    full: Band = replace(result.bands.figures["rate_100"], **changes)
    reach = replace(result.bands.figures["reach"], value=1.0, low=1.0)
    figures = {**result.bands.figures, "rate_100": full, "reach": reach}
    return replace(result, bands=replace(result.bands, figures=figures))


def title(figure) -> str:
    return figure.get_suptitle()


def test_rates_are_those_of_both_brakes(turning: Turn) -> None:
    ax = new_figure().add_subplot()
    plot_rates(turning, ax)
    right, left = ax.lines[:2]
    assert right.get_ydata() == pytest.approx([degrees(each.rate) for each in turning.right])
    assert left.get_ydata() == pytest.approx([degrees(each.rate) for each in turning.left])
    assert right.get_xdata()[-1] == pytest.approx(126.0)
    assert left.get_xdata()[-1] == pytest.approx(-126.0)
    bands = ax.collections
    assert len(bands) == 2
    assert all(each.get_hatch() for each in bands)


def test_band_is_drawn_where_it_is(turning: Turn) -> None:
    """At full brake, made up: 5 to 60 deg/s; an open one to the edge of the picture."""
    ax = new_figure().add_subplot()
    plot_rates(with_last_band(turning, low=np.radians(5), high=np.radians(60)), ax)
    corners = ax.collections[0].get_paths()[0].vertices
    at_full = corners[np.isclose(corners[:, 0], 126.0), 1]
    assert (at_full.min(), at_full.max()) == pytest.approx((5.0, 60.0))
    ax = new_figure().add_subplot()
    plot_rates(with_last_band(turning, high=inf), ax)
    assert ax.collections[0].get_paths()[0].vertices[:, 1].max() == pytest.approx(ax.get_ylim()[1])


def test_size_is_radius_and_height(turning: Turn) -> None:
    ax = new_figure().add_subplot()
    plot_size(turning, ax)
    radius, height = ax.lines[:2]
    assert radius.get_ydata()[-1] == pytest.approx(turning.right[-1].radius)
    assert height.get_ydata()[-1] == pytest.approx(turning.right[-1].height_per_turn)
    assert len(ax.lines) == 2  # the left brake does the same
    uneven = replace(turning, left=tuple(replace(one, rate=1.1 * one.rate) for one in turning.left))
    plot_size(uneven, ax := new_figure().add_subplot())
    assert len(ax.lines) == 4
    assert ax.get_ylabel() == "radius, height [m], log scale"


def test_steps_over_time(turning: Turn) -> None:
    ax = new_figure().add_subplot()
    plot_steps(turning, ax, "rate", "turn rate", "angular_rate")
    for line, step in zip(ax.lines, turning.steps, strict=True):
        np.testing.assert_allclose(line.get_ydata(), np.degrees(step.rate))
    assert len({line.get_linestyle() for line in ax.lines}) == 3


def test_tracks_are_true_to_shape(turning: Turn) -> None:
    ax = new_figure().add_subplot()
    plot_tracks(turning, ax)
    assert ax.get_aspect() == 1.0
    np.testing.assert_allclose(ax.lines[0].get_ydata(), turning.steps[0].north)


def test_titles_are_the_finding(turning: Turn) -> None:
    rate = degrees(turning.right[-1].rate)
    head = f"heron turns at {rate:.0f} deg/s under 100 % of one brake"
    closed = with_last_band(turning, low=np.radians(7), high=np.radians(60))
    assert title(turn_figure(closed)) == f"{head}; it may be 7 to 60 deg/s"
    assert title(turn_figure(with_last_band(turning, low=np.radians(7), high=inf))) == (
        f"{head}; it may be 7 deg/s, it may spiral"
    )
    assert title(turn_figure(with_last_band(turning, low=nan, high=nan))) == f"{head}: a spiral"
    assert title(turn_figure(replace(turning, right=turning.right[:1]))) == (
        "heron: no steady turn; one brake spirals it"
    )


def test_step_title_and_units(turning: Turn) -> None:
    last = turning.steps[-1]
    said = title(step_figure(turning, "imperial"))
    assert said.startswith(f"heron reaches its turn rate {last.rise_time:.2f} s after a pull to 75 % begins")
    assert said.endswith("ft/s")
    labels = {ax.get_ylabel() for ax in step_figure(turning, "imperial").axes}
    assert {"height lost [ft]", "north [ft]", "turn rate [deg/s]"} <= labels
    idle = replace(last, rise_time=nan)
    assert (
        title(step_figure(replace(turning, steps=(idle,)))) == "heron hardly turns at 75 % of the right brake"
    )


def test_the_caution_is_on_every_picture(turning: Turn) -> None:
    for figure in (turn_figure(turning), step_figure(turning)):
        assert SPIRAL_CAUTION in figure.get_supxlabel()


def test_the_band_goes_over_the_full_pull(turning: Turn) -> None:
    """Where the design spirals it has no upper end, and the lower one stays."""
    ax = new_figure().add_subplot()
    plot_rates(with_last_band(turning, low=nan, high=nan), ax)
    corners = np.concatenate([each.get_paths()[0].vertices for each in ax.collections])
    assert corners[:, 0].max() == pytest.approx(126.0)
    assert corners[:, 0].min() == pytest.approx(-126.0)
    assert any("may spiral" in text.get_text() for text in ax.get_legend().get_texts())
