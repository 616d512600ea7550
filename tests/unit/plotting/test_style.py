"""The look leaves no trace, and series differ without colour."""

import io
from pathlib import Path

import matplotlib as mpl
import matplotlib.image
import numpy as np
import pytest

from parasim.config.loader import load_design
from parasim.dynamics.vehicle import assemble
from parasim.flight.servo.servo import servo
from parasim.plotting.servo import servo_figure
from parasim.plotting.style import (
    APART,
    EDGE,
    SERIES,
    axis_label,
    label_contours,
    look,
    new_figure,
    picture_bytes,
    shown,
)


def test_look_puts_back_what_was_set() -> None:
    before = mpl.rcParams["font.size"]
    with look():
        assert mpl.rcParams["font.size"] != before
    assert mpl.rcParams["font.size"] == before


def test_series_differ_in_dash_and_marker() -> None:
    assert len({series["linestyle"] for series in SERIES}) == len(SERIES)
    assert len({series["marker"] for series in SERIES}) == len(SERIES)


def test_a_new_figure_can_be_saved() -> None:
    picture = io.BytesIO()
    new_figure().savefig(picture, format="png")
    assert picture.getvalue().startswith(b"\x89PNG")


def test_a_long_title_is_not_cut() -> None:
    """The picture leaves its margin beside a title that is wider than the figure."""
    with look():
        figure = new_figure(6.8, 3.0)
        figure.add_subplot().set_title(
            "kingfisher: a servo needs 0.049 N m (0.018 to 0.18) at the peak, arm 70 mm"
        )
    pixels = mpl.image.imread(io.BytesIO(picture_bytes(figure, "png")))
    assert pixels[:, -6:, :3].min() == 1.0


def test_shown_converts() -> None:
    assert shown(3.048, "speed", "imperial") == pytest.approx(10.0)
    assert axis_label("sink", "speed", "imperial") == "sink [ft/s]"
    assert axis_label("glide ratio", "ratio", "metric") == "glide ratio [-]"


def test_labels_of_contours_are_off_the_edges_and_apart() -> None:
    """Lines x = 1, 2 ... 9 across a field of 10 by 1, twice over; the one at 5 is not labelled."""
    ax = new_figure().add_subplot()
    x, y = np.meshgrid(np.linspace(0.0, 10.0, 11), np.linspace(0.0, 1.0, 5))
    lines = [ax.contour(x, y, x, levels=np.arange(0.1, 10.0, 1.0)) for _ in range(2)]
    first = label_contours(ax, lines[0], "%.1f", but=[5.1])
    both = label_contours(ax, lines[1], "%.1f", taken=first)
    assert "5.1" not in [text.get_text() for text in ax.texts[: len(first)]]
    assert "0.1" not in [text.get_text() for text in ax.texts], "at the edge"
    places = np.array(both)
    assert np.abs(places - 0.5).max() < 0.5 - EDGE
    gaps = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    assert gaps[np.triu_indices(len(places), 1)].min() > APART


def test_a_picture_is_cut_when_its_layout_has_settled(configs: Path) -> None:
    """Pelican's winch turns past 500 deg: the last tick label makes the layout move once more."""
    figure = servo_figure(servo(assemble(load_design(configs / "pelican.yaml"))), "imperial")
    width = int.from_bytes(picture_bytes(figure, "png")[16:20], "big") / 150
    figure.draw_without_rendering()
    assert width >= figure.get_tightbbox().width
