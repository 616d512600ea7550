"""Figures against limits: words, room, and what fails first; by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from parasim.flight.arrival import Verdict
from parasim.making.rulers import Ruler, first_to_fail
from parasim.page.board import Board
from parasim.report.limits import digits_apart, may_pass, not_kept
from parasim.report.summary import ruler_columns, scale
from parasim.units import FOOT, System


def ruler(value: float, low: float, high: float, limit: float | None, *, most: bool = True) -> Ruler:
    return Ruler(
        name="sink", kind="speed", value=value, low=low, high=high, limit=limit, most=most, basis="test"
    )


@pytest.mark.parametrize(
    ("found", "word", "room"),
    [
        (ruler(2.0, 1.5, 3.0, 4.0), "kept", 0.25),
        (ruler(2.0, 1.5, 5.0, 4.0), "may not be kept", -0.25),
        (ruler(4.5, 4.0, 5.0, 4.0), "not kept", -0.25),
        (ruler(2.0, 1.5, 3.0, None), "unknown", None),
        (ruler(5.0, 3.0, 6.0, 2.0, most=False), "kept", 0.5),
        (ruler(3.0, 1.0, 6.0, 2.0, most=False), "may not be kept", -0.5),
        (ruler(1.0, 0.0, 6.0, 2.0, most=False), "not kept", -1.0),
    ],
)
def test_words_and_room(found: Ruler, word: str, room: float | None) -> None:
    assert found.word == word
    assert found.room == (None if room is None else pytest.approx(room))


def test_first_to_fail_has_least_room() -> None:
    wide, narrow, unknown = ruler(1, 1, 1, 4.0), ruler(1, 1, 3.9, 4.0), ruler(9, 9, 9, None)
    assert first_to_fail((wide, unknown, narrow)) is narrow
    assert first_to_fail((unknown,)) is None


def test_places_on_a_ruler() -> None:
    """From zero to 1.15 times the greatest figure: the limit 4 m/s at 100/1.15, the figure at half that."""
    laid = scale(ruler(2.0, 1.0, 3.0, 4.0), "metric")
    assert (laid.limit, laid.value, laid.low) == pytest.approx((86.96, 43.48, 21.74), abs=0.01)
    below = scale(ruler(-1.0, -2.0, 1.0, 2.0), "metric")
    assert below.limit is not None
    assert 0 < below.low < below.value < below.high < below.limit < 100


HEIGHT = replace(ruler(80.3, 80.3, 80.3, 80.0), kind="length")


@pytest.mark.parametrize(
    ("found", "units", "figures", "limit"),
    [
        (HEIGHT, "metric", "80.3 m", "at most 80.0 m"),
        (replace(HEIGHT, value=80.003), "metric", "80.003 m", "at most 80.000 m"),
        (replace(HEIGHT, value=81.0), "metric", "81 m", "at most 80 m"),
        (replace(HEIGHT, value=79.8, low=79.8, high=79.8), "metric", "80 m", "at most 80 m"),
        (replace(HEIGHT, value=262.1 * FOOT, limit=262.0 * FOOT), "imperial", "262.1 ft", "at most 262.0 ft"),
        (ruler(4.004, 3.9, 4.1, 4.0), "metric", "4.004 m/s (3.900 to 4.100 m/s)", "at most 4.000 m/s"),
        (ruler(3.8, 3.7, 4.004, 4.0), "metric", "3.800 m/s (3.700 to 4.004 m/s)", "at most 4.000 m/s"),
        (ruler(1.998, 1.9, 2.1, 2.0, most=False), "metric", "1.998 m/s (1.900 to 2.100 m/s)",
         "at least 2.000 m/s"),
        (ruler(4.0, 4.0, 4.0, 4.0), "metric", "4.00 m/s", "at most 4.00 m/s"),
    ],
)  # fmt: skip
def test_no_figure_contradicts_its_verdict(found: Ruler, units: System, figures: str, limit: str) -> None:
    """In the table of the terminal, on the page that is printed, and on that of the browser."""
    laid = scale(found, units)
    assert (laid.figures, laid.limit_words) == (figures, limit)
    cells = {column.words: column.cell(found, units) for column in ruler_columns(units) if column.words}
    assert figures.startswith(cells["computed"])
    assert cells["limit"] == limit
    board = Board()
    board.take("bands", [found])
    assert f"{figures}; {limit}: <b>{found.word}</b>" in board.html(units)


def test_neither_does_a_sentence() -> None:
    verdict = Verdict(name="sink", value=4.004, limit=4.0)
    assert not_kept([verdict], "metric") == ["sink 4.004 m/s (at most 4.000 m/s)"]
    load = Verdict(name="load", value=60.3, limit=60.0)
    assert not_kept([load], "metric") == ["peak load 60.3 times its weight (at most 60.0 times its weight)"]
    assert may_pass([("sink", 4.004, 4.0, "speed")], "metric") == [
        "sink may be 4.004 m/s (at most 4.000 m/s)"
    ]


def test_digits_of_the_last_bit_are_not_shown() -> None:
    assert digits_apart(80.0 + 1e-12, 80.0, "length", "metric", digits=0) == 0
