"""The map of area and rigging: title, legend, and what is hatched."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.plotting.size import size_figure
from parasim.study import size as module
from parasim.study.size import Sizing, size


@pytest.fixture(scope="module")
def found(heron: Design) -> Sizing:
    patch = pytest.MonkeyPatch()
    patch.setattr(module, "RIGGING_ANGLES", np.radians([-1.0, 2.0, 12.0]))
    patch.setattr(module, "AREAS", 3)
    result = size(heron, goal="sink", target=2.4)
    patch.undo()
    return result


@pytest.mark.parametrize(("system", "unit"), [("metric", "m²"), ("imperial", "ft²")])
def test_title_and_axes(found: Sizing, system, unit):
    figure = size_figure(found, system)
    (ax,) = figure.axes
    assert ax.get_title(loc="left").startswith("heron, ")
    assert f"{unit} rigged at" in ax.get_title(loc="left")
    assert ax.get_xlabel() == f"flat area [{unit}]"
    assert ax.get_ylabel() == "rigging angle [deg], positive nose-down"
    figure.savefig(io.BytesIO(), format="png")


def test_legend_names_what_is_drawn(found: Sizing):
    legend = size_figure(found).axes[0].get_legend()
    assert legend is not None
    words = [text.get_text() for text in legend.get_texts()]
    assert words[:3] == ["wanted: 2.40 m/s", "sink [m/s]", "glide ratio"]
    assert "as designed" in words
    assert "nose-tuck margin under 1 deg" in words


def test_failure_is_the_title(found: Sizing):
    title = size_figure(replace(found, chosen=None)).axes[0].get_title(loc="left")
    assert title == "heron, 2.40 m/s of sink: none at that rigging"
    title = size_figure(replace(found, chosen=None, answers=())).axes[0].get_title(loc="left")
    assert title.endswith("nothing here reaches it")
