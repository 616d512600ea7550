"""Small drawings of the build sheet: by their steps, of the design's geometry, without overprints."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from shapely import Polygon

from parasim.config.loader import load_design, override
from parasim.drawing.drawing import Drawing
from parasim.ladder.build_page import Pages, build_pdf
from parasim.sewing.order.build_order import build_order
from parasim.sewing.order.job import Job
from parasim.sewing.order.steps import Step
from tests.unit.sewing.test_build_order import job_of

DEMO = ("heron", "wren", "pelican", "dipper", "kingfisher")
ALWAYS = {"cut", "tabs", "nose_ribs", "top_skin", "bottom_skin", "trailing_edge", "risers", "zero_marks"}


@pytest.fixture(scope="module", params=DEMO)
def job(request, configs: Path) -> Job:
    return job_of(load_design(configs / f"{request.param}.yaml"))


def sketches(job: Job) -> dict[str, tuple[Drawing, ...]]:
    return {step.key: step.sketches for step in build_order(job) if step.sketches}


def words(drawings: tuple[Drawing, ...]) -> str:
    return " ".join(label.text for drawing in drawings for label in drawing.labels)


def test_each_kind_of_step_has_its_drawing(job):
    found = sketches(job)
    extra = {"cascades"} if job.design.lines.cascades else set()
    extra |= {"stabilisers"} if job.canopy.stabiliser else set()
    assert set(found) == ALWAYS | extra


def test_they_show_the_design(job):
    found, sheet = sketches(job), job.line_sheet
    numbers = [label.text for label in found["cut"][0].labels if label.text.isdigit()]
    assert numbers == [str(rib) for rib in range(1, job.canopy.n_ribs + 1)]
    x = [label.at[0] for label in found["cut"][0].labels if label.text.isdigit()]
    assert x == sorted(x)
    assert f"{job.design.canopy.inlet.kind} inlet" in words(found["nose_ribs"])
    assert f"tab: loop end {job.size(0.020)}" in words(found["tabs"])
    assert job.size(job.design.sewing.seam_allowance) in words(found["top_skin"])
    assert "felled" in words(found["bottom_skin"])
    assert ("stabiliser" in words(found["bottom_skin"])) == (job.canopy.stabiliser is not None)
    assert job.size(job.design.sewing.hem) in words(found["trailing_edge"])
    rings = job.line_set.rings
    where = "at the riser's end" if rings is None else f"guide, {job.size(rings.onward)} on from the ring"
    assert where in words(found["zero_marks"])
    for key in ("cascades",) if "cascades" in found else ():
        for entry in sheet.entries:
            if entry.rib == 1 and entry.kind in ("trunk", "branch"):
                assert f"{entry.label}: {job.size(entry.finished)}" in words(found[key])
    if "stabilisers" in found:
        assert job.size(job.canopy.stabiliser.height) in words(found["stabilisers"])


def overprints(drawing: Drawing) -> list[tuple[str, str]]:
    rooms = [(label.text, Polygon(label.corners)) for label in drawing.labels]
    return [
        (text, other)
        for i, (text, room) in enumerate(rooms)
        for other, there in rooms[:i]
        if room.intersection(there).area > 0.3
    ]


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("name", DEMO)
def test_no_label_is_printed_over_another_and_all_fit_the_page(configs, name, units):
    from dataclasses import replace

    job = replace(job_of(load_design(configs / f"{name}.yaml")), system=units)
    for key, drawings in sketches(job).items():
        for drawing in drawings:
            assert drawing.box.width < 170.0, key
            assert drawing.box.height < 75.0, key
            assert not overprints(drawing), key
            assert (" mm" in words((drawing,))) <= (units == "metric"), key
            assert min(label.height for label in drawing.labels) >= 2.5


def test_a_line_that_runs_through_is_drawn_so(heron):
    job = job_of(override(heron, {"lines.cascades.0.through": "A", "lines.cascades.1.through": "C"}))
    assert "tied about the line" in words(sketches(job)["cascades"])
    assert "loop in loop" in words(sketches(job_of(heron))["cascades"])


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_they_are_printed_by_their_step(job, paper):
    steps: tuple[Step, ...] = build_order(job)
    pages = Pages(name="x", facts=(), steps=steps, rungs=(), checklists=(), cautions=(), caveats=(),
                  system="metric")  # fmt: skip
    document = pypdfium2.PdfDocument(io.BytesIO(build_pdf(pages, paper)))
    texts = [" ".join(page.get_textpage().get_text_range().split()) for page in document]
    for number, step in enumerate(steps, start=1):
        if step.sketches:
            on = [i for i, text in enumerate(texts) if f"{number}. {step.title[:30]}" in text]
            for drawing in step.sketches:
                shown = [i for i, text in enumerate(texts) if drawing.title in text]
                assert shown, drawing.title
                assert np.abs(np.array(shown)[:, None] - np.array(on)).min() == 0 or step.key == "bottom_skin"
