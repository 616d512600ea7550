"""Figures against limits: words, room, and what fails first; by hand."""

import pytest

from parasim.making.rulers import Ruler, first_to_fail
from parasim.report.summary import scale


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
