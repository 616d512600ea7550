"""Pictures of `parasim learn`: what is drawn, and where."""

from __future__ import annotations

from pathlib import Path

import pytest
from matplotlib.figure import Figure

from parasim.config.design import Design
from parasim.dynamics.vehicle import assemble
from parasim.learning.learn import learn
from parasim.learning.learned import Learned
from parasim.plotting.learn import FARTHEST, learn_figure


@pytest.fixture(scope="module")
def flown(heron: Design) -> Learned:
    return learn(assemble(heron), [Path(__file__).parents[2] / "data/flown.yaml"])


def labels(figure: Figure, ax: int) -> list[str]:
    return [label.get_text() for label in figure.axes[ax].get_yticklabels()]


def test_ranges_and_flights_side_by_side(flown: Learned) -> None:
    figure = learn_figure(flown)
    assert labels(figure, 0) == [each.name.replace("_", " ") for each in flown.numbers]
    assert labels(figure, 1)[0] == "drop 3: sink (1)"
    assert labels(figure, 1)[1] == "drop 3: turn rate L0 R50 % (1)"
    told = sum(each.known_better for each in flown.numbers)
    left, right = figure.axes
    assert left.get_title(loc="left") == f"heron: the flights narrow {told} of 11 numbers"
    assert "measurements within two errors of the fit" in right.get_title(loc="left")
    fitted = next(line for line in right.lines if line.get_label() == "less fitted")
    assert fitted.get_xdata()[0] == pytest.approx(flown.compared[0].deviations)
    assert all(abs(x) <= FARTHEST for line in right.lines for x in line.get_xdata())


def test_without_notes_trials_are_drawn(heron: Design) -> None:
    unflown = learn(assemble(heron))
    figure = learn_figure(unflown, "imperial")
    (ax,) = figure.axes
    assert labels(figure, 0) == [each.trial.words for each in unflown.nexts]
    assert "narrows the" in ax.get_title(loc="left")
    assert len(ax.lines) == 4
    assert len({(line.get_marker()) for line in ax.lines}) == 4  # told apart without colour
