"""Pictures of a drop show its own track, carry the cautions and say how it ends."""

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
from matplotlib.figure import Figure

from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.flight.drop import CAUTIONS, Drop, drop, release_of
from parasim.plotting.drop import history_figure, side_figure, track_figure


def small_print(figure: Figure) -> str:
    """Text at the bottom of a figure."""
    return str(figure.get_supxlabel())


def test_side_draws_height_over_the_ground_path(dropped: Drop) -> None:
    (ax,) = side_figure(dropped).axes
    curve = ax.lines[0]
    np.testing.assert_allclose(curve.get_ydata(), dropped.track.height)
    along = np.asarray(curve.get_xdata(), dtype=float)
    steps = np.hypot(np.diff(dropped.track.north), np.diff(dropped.track.east))
    assert along[-1] == pytest.approx(steps.sum())
    assert ax.get_aspect() == 1.0
    landing = dropped.touchdown
    assert ax.get_title(loc="left") == (
        f"heron lands at {landing.ground_speed:.2f} m/s over the ground and {landing.sink:.2f} m/s down"
    )


def test_track_is_a_map(dropped: Drop) -> None:
    (ax,) = track_figure(dropped, "imperial").axes
    curve = ax.lines[0]
    np.testing.assert_allclose(curve.get_xdata(), dropped.track.east / 0.3048)
    np.testing.assert_allclose(curve.get_ydata(), dropped.track.north / 0.3048)
    assert ax.get_aspect() == 1.0
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("east [ft]", "north [ft]")


def test_wind_arrow_points_where_it_blows(dropped: Drop) -> None:
    (ax,) = track_figure(dropped).axes
    arrow = next(text for text in ax.texts if text.get_text() == "")
    head, tail = arrow.xycoords.transform(arrow.xy), arrow.anncoords.transform(arrow.xyann)
    direction = (head - tail) / np.linalg.norm(head - tail)
    towards = radians(270 - 180)  # the heron's wind comes from 270 deg
    assert direction == pytest.approx([sin(towards), cos(towards)], abs=1e-9)
    assert "wind 3.0 m/s\nfrom 270 deg" in {text.get_text() for text in ax.texts}


def test_history_draws_every_panel(dropped: Drop) -> None:
    height, speed, bank, alpha, brakes = history_figure(dropped).axes
    track = dropped.track
    drawn = {
        height: [track.height],
        speed: [track.airspeed, track.ground_speed, track.sink],
        bank: [np.degrees(track.attitude[0])],
        alpha: [np.degrees(track.alpha)],
        brakes: [100 * track.left, 100 * track.right],
    }
    for ax, curves in drawn.items():
        assert ax.get_ylabel()
        for line, curve in zip(ax.lines, curves, strict=True):
            np.testing.assert_allclose(line.get_xdata(), track.time)
            np.testing.assert_allclose(line.get_ydata(), curve)
    assert brakes.get_xlabel() == "time after release [s]"


def test_cautions_stand_below_each_picture(dropped: Drop) -> None:
    for figure in (side_figure(dropped), track_figure(dropped), history_figure(dropped)):
        assert all(caution in small_print(figure) for caution in CAUTIONS)


def test_brake_moves_are_numbered(dropped: Drop) -> None:
    (ax,) = track_figure(dropped).axes
    numbers = [text.get_text() for text in ax.texts if text.get_text().isdigit()]
    moves = [move for move in dropped.trajectory.told.moves if move.start <= dropped.time_aloft]
    assert numbers == [str(number) for number in range(1, len(moves) + 1)]


def test_a_drop_that_goes_slack_says_that_its_touchdown_is_not_known(vehicle: Vehicle) -> None:
    """From rest in calm air it dives until its lines go slack: no picture calls its last point a landing."""
    calm = in_wind(vehicle, replace(vehicle.wind, speed=0.0))
    lost = drop(calm, replace(release_of(vehicle), start="rest"))
    assert lost.end.ending == "slack lines"
    for figure in (side_figure(lost), track_figure(lost), history_figure(lost)):
        title = figure.axes[0].get_title(loc="left")
        assert title.startswith("heron: touchdown not known,\nthe lines go slack")
        assert "lands" not in title
    for figure in (side_figure(lost), track_figure(lost)):
        words = [text.get_text() for text in figure.axes[0].get_legend().get_texts()]
        assert "slack lines" in words
        assert "touchdown" not in words
