"""Opening section of a design file: defaults, ranges, refusals."""

import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.errors import DesignError


def test_defaults(reference: Design) -> None:
    assert reference.opening.filling_constant.model_dump(exclude_unset=True) == {
        "value": 6.0,
        "low": 3.0,
        "high": 14.0,
    }
    assert reference.opening.release_speed == 0.0


def test_values_with_units(reference: Design) -> None:
    changed = override(
        reference,
        {
            "opening.release_speed": "30 kt",
            "opening.filling_constant": {"value": 5, "low": 4, "high": 8},
            "opening.reefing": {"area": "30 %", "time": "1.5 s"},
        },
    ).opening
    assert changed.release_speed == pytest.approx(30 * 1852 / 3600)
    assert changed.filling_constant.low == 4
    assert changed.reefing is not None
    assert changed.reefing.area == pytest.approx(0.3)


def test_a_plain_number_keeps_the_range_and_stretches_it(reference: Design) -> None:
    assert override(reference, {"opening.filling_constant": 2}).opening.filling_constant.low == 2


REFUSED = [
    ({"opening.pack": "box"}, "opening.pack"),
    ({"opening.release_speed": "3 kg"}, 'opening.release_speed: given "3 kg", a mass'),
    ({"opening.release_speed": -1}, "too small"),
    ({"opening.filling_constant": "quick"}, "not a number; use a number, 0.5 to 100"),
    ({"opening.filling_constant": {"value": 9, "low": 10, "high": 12}}, "let low <= value <= high"),
    ({"opening.slider": True, "opening.reefing": {"area": 0.3, "time": 1}}, "keep one of them"),
    ({"opening.pack": "static line", "opening.delay": "1 s"}, "does not go with a static line"),
    ({"opening.reefing": {"area": "120 %", "time": "1 s"}}, "opening.reefing.area"),
    ({"opening.parachute": 1}, "opening.parachute"),
]


@pytest.mark.parametrize(("changes", "told"), REFUSED, ids=[told for _, told in REFUSED])
def test_refusals(reference: Design, changes: dict[str, object], told: str) -> None:
    with pytest.raises(DesignError) as caught:
        override(reference, changes)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)
