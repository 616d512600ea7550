"""The picture of an opening shows its own forces and peaks, and carries the cautions."""

import numpy as np
import pytest
from matplotlib.figure import Figure

from parasim.dynamics.vehicle import Vehicle
from parasim.flight.opening.opening import CAUTIONS, Opening, opening
from parasim.plotting.opening import opening_figure


@pytest.fixture(scope="module")
def opened(vehicle: Vehicle) -> Opening:
    return opening(vehicle, release_speed=15.0, speeds=np.array([0.0, 15.0, 30.0]))


@pytest.fixture(scope="module")
def figure(opened: Opening) -> Figure:
    return opening_figure(opened)


def test_force_of_both_ways_and_the_bound(figure: Figure, opened: Opening) -> None:
    upper, _ = figure.axes
    plain, held = upper.lines[:2]
    for line, case in ((plain, opened.now.plain), (held, opened.now.held)):
        np.testing.assert_allclose(line.get_ydata(), case.filling.force)
        assert float(np.asarray(line.get_xdata())[-1]) == pytest.approx(case.filling_time)
    levels = {float(np.asarray(line.get_ydata())[0]) for line in upper.lines[4:]}
    assert levels == {opened.now.designed.bound, 1.2 * 9.80665}
    assert plain.get_linestyle() != held.get_linestyle()
    assert "as designed" in plain.get_label()


def test_peaks_over_release_speed_with_their_band(figure: Figure, opened: Opening) -> None:
    _, lower = figure.axes
    np.testing.assert_allclose(lower.lines[0].get_ydata(), [one.plain.peak for one in opened.speeds])
    np.testing.assert_allclose(lower.lines[1].get_ydata(), [one.held.peak for one in opened.speeds])
    band, snatch = lower.collections
    ends = [force for one in opened.speeds for force in one.designed.snatch[1:]]
    drawn = snatch.get_paths()[0].vertices[:, 1]
    assert (drawn.min(), drawn.max()) == pytest.approx((min(ends), max(ends)))
    heights = band.get_paths()[0].vertices[:, 1]
    assert heights.max() == pytest.approx(max(one.peak_band[1] for one in opened.speeds))
    assert heights.min() == pytest.approx(min(one.peak_band[0] for one in opened.speeds))


def test_finding_and_cautions(figure: Figure, opened: Opening) -> None:
    upper, _ = figure.axes
    likely, low, high = opened.now.designed.snatch
    told = f"worst is the snatch, {likely:.0f} N ({low:.0f} to {high:.0f} N)"
    assert told in upper.get_title(loc="left")
    assert all(caution in figure.get_supxlabel() for caution in CAUTIONS)


def test_imperial(opened: Opening) -> None:
    upper, lower = opening_figure(opened, "imperial").axes
    np.testing.assert_allclose(
        upper.lines[0].get_ydata(), opened.now.plain.filling.force / 4.4482216, rtol=1e-7
    )
    assert lower.get_xlabel() == "release speed [ft/s]"


def test_strengths_and_snatch_are_drawn(figure: Figure, opened: Opening) -> None:
    """The snatch with the loads that break a tab and pass the payload's limit."""
    lower = figure.axes[1]
    words = [text.get_text() for text in lower.texts]
    assert words == ["a tab breaks", "payload: limit"]
    by_part = {check.part: check for check in opened.checks if check.event == "snatch"}
    tab, payload = by_part["tab"], by_part["payload"]
    drawn = [line.get_ydata()[0] for line in lower.lines if len(line.get_ydata()) == 2]
    snatch = opened.now.designed.snatch[0]
    assert drawn == pytest.approx([tab.strength / tab.load * snatch, payload.strength])
    snatches = [one.designed.snatch[0] for one in opened.speeds]
    assert any(np.allclose(line.get_ydata(), snatches) for line in lower.lines if len(line.get_ydata()) > 2)
