"""The picture of what may be wrong: title, bars, sizes with their units."""

from __future__ import annotations

import io

import pytest

from parasim.config.design import Design
from parasim.dynamics.vehicle import assemble
from parasim.flight.trouble.trouble import Trouble, trouble
from parasim.plotting.trouble import trouble_figure


@pytest.fixture(scope="module")
def found(heron: Design) -> Trouble:
    return trouble(assemble(heron), "opens hard")


@pytest.mark.parametrize(("system", "unit"), [("metric", " cm²"), ("imperial", " in²")])
def test_title_and_sizes(found: Trouble, system, unit):
    figure = trouble_figure(found, system)
    (ax,) = figure.axes
    assert ax.get_title(loc="left").startswith("heron opens hard: 2 errors could do it alone")
    computed = [check for check in found.checks if check.computed]
    assert [tick.get_text() for tick in ax.get_yticklabels()] == [check.words.error for check in computed]
    texts = [text.get_text() for text in ax.texts]
    assert any(text.startswith("not by ") and text.endswith(unit) for text in texts)
    assert "can injure people" in figure.get_supxlabel()
    figure.savefig(io.BytesIO(), format="png")
