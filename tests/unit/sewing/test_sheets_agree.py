"""Tape, tabs and lines of the cut list, the line sheet, the templates and the build order say the same."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from parasim.cli.main import main
from parasim.config.loader import load_design, override
from parasim.geometry.seams import TAB_LENGTH, TAB_TAIL, TAB_TAPE
from parasim.sewing.cut_list import tape_runs
from parasim.sewing.line_sheet import zero_points
from parasim.sewing.order.build_order import build_order
from parasim.sewing.order.job import Job
from parasim.units import INCH, in_sixteenths
from tests.texts import flowing
from tests.unit.sewing.test_build_order import by_key, job_of

DEMO = ("heron", "wren", "pelican", "dipper")


@pytest.fixture(scope="module", params=DEMO)
def job(request, configs: Path) -> Job:
    return job_of(load_design(configs / f"{request.param}.yaml"))


def test_all_tape_that_is_bought_is_sewn(job):
    """Edge by edge, tab by tab; the lengths of the steps add up to that of the cut list."""
    steps, runs = by_key(job), tape_runs(job.templates)
    edges, tabs = runs
    assert sum(join.length for join in steps["tape"].joins) == pytest.approx(edges.length)
    assert steps["tape"].figures[0].value == edges.length
    assert steps["tabs"].figures[0].value == tabs.length
    n_tabs = len(steps["tabs"].joins) + len(steps["brake_tabs"].joins)
    assert n_tabs * TAB_TAPE == pytest.approx(tabs.length)
    assert sum(join.length for join in steps["tape"].joins) + n_tabs * TAB_TAPE == pytest.approx(
        sum(run.length for run in runs)
    )
    order = [step.key for step in build_order(job)]
    assert order.index("patches") < order.index("tape") < order.index("tabs") < order.index("bottom_skin")
    words = steps["tape"].details[0]
    assert "from the lower lip to the trailing edge" in words
    assert f"{1e3 * job.design.sewing.tape:.2f} g/m" in words


def test_without_tape_none_is_sewn(heron):
    steps = by_key(job_of(heron, sewing__tape=0))
    assert "tape" not in steps
    assert "tape" not in " ".join(one.name for one in steps["tabs"].figures)


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("name", DEMO)
def test_where_a_line_starts_and_ends_is_said_in_the_same_words(configs, capsys, name, units):
    """On the line sheet, the templates and the build order."""
    size = {"metric": "20 mm", "imperial": "13/16 in"}[units]
    for command in ("lines", "templates", "build"):
        assert main([command, str(configs / f"{name}.yaml"), "--units", units]) == 0
        said = flowing(capsys.readouterr().out)
        assert all(words in said for words in zero_points(units)), command
        assert f"the end of the tab's loop, {size} below the stitching" in said


def test_lengths_follow_from_it(job):
    """Line and tab are the way to the skin of the geometry, without stretch; at joints there is no tab."""
    design = override(job.design, {"lines.material": None})
    sheet = job_of(design).line_sheet
    for entry in sheet.entries:
        joint = entry.kind == "trunk" or "+" in entry.label.rsplit("-", 1)[-1]
        tab = 0.0 if joint else 0.020
        assert entry.finished + tab == pytest.approx(entry.length, abs=1e-9), entry.label
    assert pytest.approx(0.020) == TAB_LENGTH
    assert pytest.approx(2 * (TAB_LENGTH + TAB_TAIL)) == TAB_TAPE
    tab = next(one for one in by_key(job)["tabs"].figures if one.name == "tab, stitching to loop end")
    assert tab.value == TAB_LENGTH


def inches(words: str) -> float:
    """Of a mixed number. [m]"""
    return INCH * float(sum(Fraction(part) for part in words.split()))


@pytest.mark.parametrize("name", ["heron", "pelican"])
def test_a_line_that_runs_through_has_one_order(configs, name):
    """The knot is at the end of the lower part, the tab at the end of both, and the line is long enough."""
    design = load_design(configs / f"{name}.yaml")
    job = job_of(override(design, {"lines.cascades.0.through": "A"}))
    by_label = {entry.label: entry for entry in job.line_sheet.entries}
    through = [entry for entry in job.line_sheet.entries if entry.run]
    assert len(through) == sum(entry.label.endswith("-A+B") for entry in job.line_sheet.entries)
    said = by_key(job)["lines_cut"].details
    for lower in through:
        upper = by_label[lower.label.removesuffix("+B")]
        knot, tab = lower.finished, lower.finished + upper.finished
        metric = f"cut {lower.cut_mm}; riser loop; knot for B at {1e3 * knot:.0f}; tab at {1e3 * tab:.0f}"
        assert lower.cut_order("metric") == metric
        assert f"{lower.label}: {metric}." in said
        first, _, *places = lower.cut_order("imperial").split("; ")
        cut = first.removeprefix("cut ")
        at, end = (place.split(" at ")[1] for place in places)
        assert np.array([inches(at), inches(end)]) == pytest.approx([knot, tab], abs=INCH / 32 + 1e-9)
        assert lower.cut <= inches(cut) <= lower.cut + INCH / 16
        assert lower.cut >= tab + 2 * job.line_sheet.loop_allowance
        assert in_sixteenths(knot) == at
        assert upper.cut is None
