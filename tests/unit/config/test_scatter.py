"""Spreads as they are written in a design file: read, refused, written out again."""

from __future__ import annotations

from math import radians
from typing import Any

import pytest

from parasim.config.design import Design
from parasim.config.loader import design_document, override
from parasim.config.scatter import ScatterSpec, Spread
from parasim.errors import DesignError


def spread(design: Design, key: str, given: Any) -> Spread:
    found = getattr(override(design, {f"scatter.{key}": given}).scatter, key)
    assert isinstance(found, Spread)
    return found


@pytest.mark.parametrize(
    ("key", "given", "kind", "numbers", "relative"),
    [
        ("release_north", {"normal": "5 m"}, "normal", (0.0, 5.0), False),
        ("release_north", {"normal": "10 ft", "mean": -2}, "normal", (-2.0, 3.048), False),
        ("heading", {"uniform": ["-10 deg", "20 deg"]}, "uniform", (radians(-10), radians(20)), False),
        ("left_trim", {"triangular": ["-1 %", 0, "3 %"]}, "triangular", (-0.01, 0.0, 0.03), False),
        ("wind_speed", {"normal": "1 m/s"}, "normal", (0.0, 1.0), False),
        ("wind_speed", {"normal": "15 %", "mean": "-5 %"}, "normal", (-0.05, 0.15), True),
        ("payload_mass", {"lognormal": "5 %"}, "lognormal", (0.05,), True),
        ("wind_speed", {"lognormal": 0.3}, "lognormal", (0.3,), True),
        ("yaw_damping", {"uniform": [-0.1, 0.1]}, "uniform", (-0.1, 0.1), False),
    ],
)
def test_spreads_are_read(
    heron: Design, key: str, given: Any, kind: str, numbers: tuple[float, ...], relative: bool
) -> None:
    found = spread(heron, key, given)
    assert (found.kind, found.relative) == (kind, relative)
    assert found.numbers == pytest.approx(numbers)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        (
            {"scatter.release_north": "5 m"},
            'scatter.release_north: given "5 m", not a spread; use {normal: S}',
        ),
        ({"scatter.release_north": {"normal": "5 kg"}}, 'scatter.release_north.normal: given "5 kg", a mass'),
        ({"scatter.release_north": {"normal": "-5 m"}}, "a standard deviation below zero"),
        ({"scatter.release_north": {"normal": "9000 m"}}, "too large; use -5000 to 5000 m"),
        ({"scatter.release_north": {"gauss": "5 m"}}, "scatter.release_north.gauss: unknown key"),
        ({"scatter.release_north": {"normal": 1, "uniform": [0, 1]}}, "needs exactly one kind of spread"),
        ({"scatter.release_north": {}}, "needs exactly one kind of spread"),
        ({"scatter.release_north": {"uniform": 3}}, "a uniform spread needs a list of 2"),
        ({"scatter.release_north": {"normal": [1, 2]}}, "a normal spread needs one number"),
        ({"scatter.release_north": {"uniform": [3, 1]}}, "not in rising order; write the lowest first"),
        ({"scatter.release_north": {"uniform": [0, 1], "mean": 2}}, "goes with a normal spread only"),
        ({"scatter.release_north": {"lognormal": 0.1}}, "multiplies, which makes no sense here"),
        ({"scatter.heading": {"normal": 10}}, "an angle without its unit"),
        ({"scatter.wind_speed": {"uniform": ["-10 %", "1 m/s"]}}, "per cent and units mixed"),
        ({"scatter.wind_speed": {"normal": "900 %"}}, "out of range; use up to 300 %"),
        ({"scatter.gust": {"normal": 1}}, "scatter.gust: unknown key"),
        ({"scatter.wind_sped": {"normal": 1}}, "did you mean wind_speed?"),
        ({"scatter.unopened": 1}, "scatter.unopened: given 1, a probability without its unit"),
        ({"scatter.late": {"probability": 0.5}}, "a probability without its unit could be a ratio or per"),
        ({"scatter.unopened": "101 %"}, 'scatter.unopened: given "101 %", too large'),
        ({"scatter.late.probability": "-10 %"}, "too small"),
        ({"scatter.target.radius": "0 m"}, "too small"),
        ({"site.position": ["91", 11]}, "out of range; use degrees, -90 to 90"),
        ({"site.position": [47]}, "site.position"),
    ],
)
def test_mistakes_are_told_in_one_line(heron: Design, changes: dict[str, Any], told: str) -> None:
    with pytest.raises(DesignError) as caught:
        override(heron, changes)
    assert told in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_what_was_written_is_written_out_again(heron: Design) -> None:
    given = {"heading": {"uniform": ["-10 deg", "0.2 rad"]}, "wind_speed": {"normal": "15 %"}}
    once = override(heron, {f"scatter.{key}": value for key, value in given.items()})
    assert design_document(once)["scatter"] == given
    assert override(once, {"payload.mass": "1.3 kg"}).scatter == once.scatter


def test_position_in_degrees_or_with_a_unit(heron: Design) -> None:
    bare = override(heron, {"site.position": [47.1, "-11.25"]})
    assert bare.site.position == pytest.approx((radians(47.1), radians(-11.25)))
    with_unit = override(heron, {"site.position": ["47.1 deg", "0.1 rad"]})
    assert with_unit.site.position == pytest.approx((radians(47.1), 0.1))
    again = override(bare, {"payload.mass": "1.3 kg"})
    assert again.site.position == bare.site.position


def test_nothing_varies_with_no_width() -> None:
    assert Spread("normal", (3.0, 0.0)).is_none
    assert Spread("uniform", (1.0, 1.0)).is_none
    assert not Spread("lognormal", (0.1,), relative=True).is_none
    assert not any(
        getattr(ScatterSpec(), name).is_none for name in ("release_north", "wind_speed", "rigging_angle")
    )
