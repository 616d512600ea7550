"""What `parasim release` says in a calm, in a veering wind, and where the flown plan fails."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import get_args

import numpy as np
import pypdfium2
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.runge_kutta import OVERTURNED
from parasim.dynamics.vehicle import assemble, in_wind
from parasim.flight.opening.opening import opening
from parasim.flight.release.release import ReleasePoint, packed_height, plan_limits, release
from parasim.report.release import (
    paces,
    place_in_words,
    rate_range,
    reach_rows,
    show_far,
    walked,
    wind_rows,
)
from parasim.report.release_card import card, card_pdf
from parasim.units import KNOT, System
from tests.texts import flowing


@pytest.fixture(scope="module")
def point(heron: Design) -> ReleasePoint:
    return release(assemble(heron))


def said(point: ReleasePoint) -> str:
    return " ".join(point.report.first_line("metric").split())


def test_answer_comes_first(point: ReleasePoint) -> None:
    assert repr(point) == "<ReleasePoint of heron>"
    far, box = float(-point.plan.release[1]), point.plan.box
    assert said(point).startswith(
        "heron let go at 80 m, gliding, in 3.0 m/s of wind from 270 deg (W) at 10 m above ground: "
        f"{far:.0f} m upwind of the target, bearing 270 deg (W) from it, within {box:.0f} m of that point; "
        "gliding straight it can land "
    )


def test_a_spiral_by_the_band_is_said(point: ReleasePoint) -> None:
    """`parasim turn` says the same of heron: it may spiral from 62 % on."""
    words = f"may spiral from 62 % of one brake on, and circles at {100 * point.circle.brake:.0f} %"
    assert words in said(point)
    calm = replace(point, rate_bands=replace(point.rate_bands, figures=_never(point)))
    assert "NOT KEPT" not in said(calm)


def test_a_packed_release_is_higher_by_what_the_opening_loses(point: ReleasePoint, heron: Design) -> None:
    lost = opening(assemble(heron), speeds=np.zeros(0)).height_to_glide
    assert lost is not None
    assert f"packed, let it go {lost:.0f} m higher at least" in said(point)
    imperial = " ".join(point.report.first_line("imperial").split())
    assert f"packed, let it go {lost / 0.3048:.0f} ft higher at least" in imperial


def test_the_band_of_the_turn_is_open_where_it_may_spiral(point: ReleasePoint) -> None:
    calm = replace(point, rate_bands=replace(point.rate_bands, figures=_never(point)))
    band = point.rate_bands.figures["rate"]
    low, high = (f"{np.degrees(end):.1f}" for end in (band.low, band.high))
    assert rate_range(point, "metric") == f"{low} deg/s to a spiral"
    assert rate_range(calm, "metric") == f"{low} to {high} deg/s"


def test_limits_of_the_plan_are_those_of_the_release(point: ReleasePoint) -> None:
    limits = plan_limits(point.vehicle, point.height)
    assert limits.wind == pytest.approx(point.limit)
    assert limits.lowest == pytest.approx(point.plan.lowest_release)
    assert limits.wind_height == point.wind.height


def _never(point: ReleasePoint) -> dict[str, object]:
    bands = dict(point.rate_bands.figures)
    return {**bands, "reach": replace(bands["reach"], low=1.0)}


def test_in_a_calm_there_is_no_upwind(heron: Design) -> None:
    calm = release(assemble(override(heron, {"site.wind": None, "drop.heading": "90 deg"})))
    text = said(calm)
    assert "let go at 80 m, gliding, in a calm: 78 m from the target, bearing 270 deg (W) from it" in text
    assert "it can land up to 322 m (" in text
    assert "upwind" not in text
    assert calm.report.document()["wind"]["from_deg"] is None


def test_a_wind_that_veers_is_followed_aloft(heron: Design) -> None:
    """Veering by 120 deg over the first 100 m the drift is no longer along the wind that is measured."""
    veering = release(assemble(override(heron, {"site.wind.turn": "150 deg", "site.wind.speed": "4 m/s"})))
    assert "across the wind from the target" in place_in_words(veering, "metric")
    assert veering.miss is not None
    assert veering.miss < 25.0


def test_a_plan_that_does_not_come_down_as_planned(point: ReleasePoint) -> None:
    flown = point.flown
    assert flown is not None
    off = replace(flown, seen=(*flown.seen[:-1], flown.end._replace(north=40.0)))
    assert "the plan flown once misses by 4" in said(replace(point, flown=off))
    lost = replace(point, flown=replace(flown, status=OVERTURNED))
    assert "the plan flown once does not land" in said(lost)
    assert lost.report.document()["flown"]["energy_j"] is None
    fast = replace(flown, seen=(*flown.seen[:-1], flown.end._replace(velocity=(0.0, 0.0, 9.0))))
    assert "sink 9.00 m/s (at most 4.00 m/s)" in said(replace(point, flown=fast))


def test_in_too_much_wind_it_says_what_the_limit_takes(heron: Design, point: ReleasePoint) -> None:
    """As a plan of its own in that wind has it."""
    windy = release(assemble(override(heron, {"site.wind.speed": "8 m/s"})))
    there = release(assemble(override(heron, {"site.wind.speed": f"{windy.limit - 1e-6} m/s"})))
    far = float(-there.plan.release[1])
    words = f"In {windy.limit:.1f} m/s let go {far:.0f} m upwind of the target. Wait for less wind"
    assert words in flowing(windy.text())
    assert "Wait for less wind" not in point.text()


def test_from_ten_minutes_on_times_are_in_minutes(point: ReleasePoint) -> None:
    time = replace(point.reach.band("time"), value=660.0, low=630.0, high=720.0)
    figures = {**point.reach.bands.figures, "time": time}
    long = replace(point, reach=replace(point.reach, bands=replace(point.reach.bands, figures=figures)))
    assert reach_rows(long, "metric")[0][1:3] == ["11.0 min", "10.5 to 12.0 min"]
    assert reach_rows(point, "metric")[0][1].endswith(" s")


def test_winds_to_look_up_are_whole_ones(point: ReleasePoint) -> None:
    assert [row.wind for row in wind_rows(point, "metric")] == [0.0, 1.0, 2.0, 3.0, 4.0]
    knots = [row.wind / KNOT for row in wind_rows(point, "imperial")]
    assert knots == pytest.approx([0.0, 2.0, 4.0, 6.0, 8.0])
    assert all(row.wind <= point.limit for row in wind_rows(point, "imperial"))


def test_steps() -> None:
    """Of 0.75 m, from the distance as it is printed: 47.6 m is printed as 48 m."""
    assert paces(75.0, "metric") == "100 steps"
    assert paces(47.6, "metric") == "64 steps"
    assert walked(2001.0, "metric") == "2001 m"


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_the_card_counts_steps_once(point: ReleasePoint, units: System) -> None:
    """Its table has a row for 3 m/s, the wind of the release: as many steps as are said above it."""
    held = card(point, units)
    (said,) = (words for name, words in held.numbers if name == "let go from the target")
    if units == "metric":
        (row,) = (row for row in held.rows if row[0] == "3.0 m/s")
        assert f" = {row[held.heads.index('steps')]} steps, within " in said
    assert point.opened is not None
    assert point.opened.height_to_glide is not None
    lost = point.opened.height_to_glide + point.plan.lowest_release
    assert any(f"packed {show_far(lost, units)}." in stop for stop in held.stops)


def test_packed_it_needs_what_opening_and_plan_take(point: ReleasePoint, heron: Design) -> None:
    """Of heron the plan decides, of the same with twice the height factor what `parasim opening` asks."""
    plan = plan_limits(point.vehicle, point.height)
    for factor in (1.0, 2.0):
        spec = heron.opening.height_factor * factor
        opened = opening(assemble(override(heron, {"opening.height_factor": spec})), speeds=np.zeros(0))
        assert opened.height_to_glide is not None
        assert opened.minimum_release_height is not None
        both = opened.height_to_glide + plan.lowest
        assert (opened.minimum_release_height > both) == (factor > 1)
        least = max(opened.minimum_release_height, both)
        assert packed_height(opened, plan) == least
        assert f"from {least:.0f} m or more" in said(replace(point, opened=opened))
    assert packed_height(opened, None) is None
    unknown = replace(opened, settling=replace(opened.settling, height_lost=None))
    assert packed_height(unknown, plan) is None
    assert "packed" not in said(replace(point, opened=unknown))


def test_the_card_says_what_fails_as_the_answer_does(point: ReleasePoint) -> None:
    flown = point.flown
    assert flown is not None
    fast = flown.end._replace(north=40.0, velocity=(0.0, 0.0, 9.0))
    bad = replace(point, flown=replace(flown, seen=(*flown.seen[:-1], fast)))
    for one, count in ((point, 1), (bad, 4)):
        failed = card(one, "metric").failures
        assert len(failed) == count
        for units in get_args(System):
            page, *more = pypdfium2.PdfDocument(io.BytesIO(card_pdf(card(one, units), units)))
            assert not more
            text = " ".join(page.get_textpage().get_text_range().split())
            assert f"Not kept: {'; '.join(card(one, units).failures)}." in text
        assert said(one).endswith(f"NOT KEPT: {'; '.join(failed)}")


def test_the_card_has_the_flare_of_the_file_and_every_part_of_the_plan(point: ReleasePoint) -> None:
    """The file has "2.76m: L 0.94 R 0.94 over 1.6s"."""
    numbers = dict(card(point, "metric").numbers)
    assert numbers["flare"] == "at 2.8 m: 94 % of both brakes in 1.6 s"
    *before, flare = point.legs
    assert (flare.name, len(before)) == ("flare", 4)
    for leg in before:
        assert numbers[leg.name] == f"from {leg.top:.0f} m to {leg.bottom:.0f} m, {leg.time:.0f} s"
    calm = replace(point, vehicle=in_wind(point.vehicle, point.wind.law.scaled(0.0)))
    assert card(calm, "metric").answer.endswith(", facing 270 deg (W).")


def test_why_the_reach_is_not_even_is_said(point: ReleasePoint) -> None:
    assert "a glide into it is steeper and one with it flatter" in flowing(point.text())


def test_what_the_file_lacks(point: ReleasePoint, heron: Design) -> None:
    assert any(caveat.startswith("No gust is given") for caveat in point.caveats)
    bare = release(assemble(override(heron, {"drop.brakes": None, "site.wind": None})), gust=1.0)
    caveats = " ".join(bare.caveats)
    assert "No flare by height in drop.brakes" in caveats
    assert "No wind is given" in caveats
    assert "No gust" not in caveats
    assert [leg.name for leg in bare.legs][-1] == "straight into the wind"
