"""Pictures of a scatter show its own landings, regions and shares, and carry the cautions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.runge_kutta import SLACK
from parasim.flight.drop import CAUTIONS
from parasim.plotting.map_marks import round_length
from parasim.plotting.scatter import landing_figure, map_figure, sensitivity_figure
from parasim.scatter.scatter import Scatter
from parasim.scatter.sensitivity import FIGURES, Sobol
from tests.unit.scatter.test_scatter import scattered


@pytest.fixture(scope="module")
def scatter(heron: Design) -> Scatter:
    target = {"scatter.target": {"north": "10 m", "east": "-140 m", "radius": "20 m"}}
    return scattered(override(heron, target), drops=600)


@pytest.fixture(scope="module")
def mapped(scatter: Scatter) -> Figure:
    return map_figure(scatter)


def test_map_shows_every_landing_by_its_branch(scatter: Scatter, mapped: Figure) -> None:
    ax = mapped.axes[0]
    shown = {each.get_label(): np.asarray(each.get_offsets()) for each in ax.collections}
    landed = scatter.landed
    for outcome, name in enumerate(("opened", "late", "too late", "unopened")):
        those = landed.select(landed.outcome == outcome)
        if len(those):
            np.testing.assert_allclose(
                shown[f"{name} ({len(those)})"], np.column_stack([those.east, those.north])
            )
    assert sum(len(each) for each in shown.values()) == len(landed)


def test_map_is_like_a_map(scatter: Scatter, mapped: Figure) -> None:
    ax, side = mapped.axes
    assert ax.get_aspect() == 1.0
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("east [m]", "north [m]")
    assert "N" in {text.get_text() for text in side.texts}
    assert "wind 3.0 m/s\nfrom 270 deg" in {text.get_text() for text in side.texts}
    bar = [patch for patch in ax.patches if patch.get_height() < 20]
    words = next(text.get_text() for text in ax.texts if text.get_text().endswith(" m"))
    assert sum(patch.get_width() for patch in bar) == pytest.approx(float(words.split()[0]))
    furthest = np.hypot(scatter.landed.north, scatter.landed.east).max()
    assert f"landings lie within {furthest:.0f} m of under the release" in ax.get_title(loc="left")
    clear = next(line for line in ax.lines if str(line.get_label()).startswith("to keep clear"))
    assert np.hypot(*clear.get_data()) == pytest.approx(furthest)


def test_map_draws_regions_target_and_advice(scatter: Scatter, mapped: Figure) -> None:
    ax = mapped.axes[0]
    lines = {line.get_label(): line for line in ax.lines}
    assert scatter.footprint is not None
    for region in scatter.footprint.regions:
        line = lines[f"{100 * region.level:.0f} % of landings"]
        np.testing.assert_allclose(line.get_xydata(), region.polygons[0][0])
    styles = {lines[f"{level} % of landings"].get_linestyle() for level in (50, 90, 99)}
    assert len(styles) == 3
    assert lines["target"].get_xydata() == pytest.approx(np.array([[-140.0, 10.0]]))
    assert scatter.advice is not None
    assert lines["release here for it"].get_xydata()[0] == pytest.approx(scatter.advice.release[::-1])


def test_histograms_count_every_landing(scatter: Scatter) -> None:
    figure = landing_figure(scatter)
    for ax, limit in zip(figure.axes, (None, 4.0, 60.0), strict=True):
        assert ax.get_yscale() == "log"
        upright = [line for line in ax.lines if line.get_xdata()[0] == line.get_xdata()[1]]
        assert [line.get_xdata()[0] for line in upright] == ([] if limit is None else [limit])
    share = next(each for each in scatter.limits if each.name == "any")
    assert f"{100 * share.value:.1f} % of landings are over a limit" in figure.axes[0].get_title(loc="left")


def test_a_limit_far_beyond_is_named_and_not_drawn(scatter: Scatter) -> None:
    far = [replace(each, limit=1e6 if each.limit else None) for each in scatter.limits]
    for ax in landing_figure(replace(scatter, limits=far)).axes[1:]:
        assert [text.get_text().partition(", ")[2] for text in ax.texts] == ["beyond the picture"]
        assert ax.get_xlim()[1] < 1e5


def test_bars_are_the_correlations(scatter: Scatter) -> None:
    assert scatter.sensitivity is not None
    figure = sensitivity_figure(scatter)
    for i, ax in enumerate(figure.axes[:5]):
        widths = np.sort(np.abs([bar.get_width() for bar in ax.patches]))[::-1]
        np.testing.assert_allclose(widths, np.sort(np.abs(scatter.sensitivity.partial[i]))[::-1][:7])
        for bar in ax.patches:
            assert bool(bar.get_hatch()) == (bar.get_width() < 0)


def test_bars_are_sobol_indices_where_there_are_any(scatter: Scatter) -> None:
    names = ("heading", "wind_speed")
    total = np.arange(10.0).reshape(5, 2) / 10
    made = Sobol(
        names=names, first=total / 2, total=total, first_interval=np.array([total, total]),
        total_interval=np.array([total - 0.1, total + 0.1]), base=8, flights=32, failed=0,
    )  # fmt: skip
    figure = sensitivity_figure(replace(scatter, sobol=made))
    for i, ax in enumerate(figure.axes[: len(FIGURES)]):
        widths = sorted(bar.get_width() for bar in ax.patches if bar.get_hatch())
        np.testing.assert_allclose(widths, 100 * np.sort(total[i]))


def test_units_and_cautions(scatter: Scatter) -> None:
    figure = map_figure(scatter, "imperial")
    assert figure.axes[0].get_xlabel() == "east [ft]"
    for drawn in (figure, landing_figure(scatter)):
        small_print = drawn.get_supxlabel()
        assert all(caution in small_print for caution in CAUTIONS)


def test_where_too_many_are_not_known_the_title_says_no_distance(scatter: Scatter) -> None:
    status = scatter.members.status.copy()
    status[: len(status) // 2] = SLACK
    lost = replace(scatter, members=replace(scatter.members, status=status), radii=(None, None, None))
    title = map_figure(lost).axes[0].get_title(loc="left") or map_figure(lost).axes[0].get_title()
    assert f"{len(status) // 2} of {len(status)} drops end in the air, their landing not known" in title


def test_partial_is_in_the_title(scatter: Scatter) -> None:
    figure = map_figure(replace(scatter, drops=10000))
    assert figure.axes[0].get_title(loc="left").startswith("PARTIAL, heron")


@pytest.mark.parametrize(("longest", "found"), [(37.0, 20.0), (5.0, 5.0), (0.013, 0.01), (999.0, 500.0)])
def test_round_lengths(longest: float, found: float) -> None:
    assert round_length(longest) == pytest.approx(found)
