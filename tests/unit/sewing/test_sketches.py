"""Small drawings of the build sheet: by their steps, of the design's geometry, without overprints."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pypdfium2
import pytest
from shapely import Polygon

from parasim.config.loader import load_design, override
from parasim.drawing.drawing import Drawing
from parasim.geometry.lines import brake_tab_angles
from parasim.ladder.build_page import Pages, build_pdf
from parasim.sewing.order import joins
from parasim.sewing.order.build_order import build_order
from parasim.sewing.order.job import Job
from parasim.sewing.order.joins import reach
from parasim.sewing.order.steps import Step
from tests.unit.sewing.test_build_order import job_of

DEMO = ("heron", "wren", "pelican", "dipper", "kingfisher")
ALWAYS = {
    "cut", "tabs", "nose_ribs", "lips", "brake_tabs", "top_skin", "bottom_skin", "trailing_edge",
    "lines_cut", "brake_fans", "risers", "zero_marks",
}  # fmt: skip


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
    extra |= {"ports"} if job.design.canopy.crossports.count else set()
    extra |= {"rear_ends"} if reach(job.canopy) < 1.0 else set()
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


def test_cross_ports_stand_where_the_template_has_them(job):
    """Middles of the holes as the means of their corners, from the front of the rib's sewing line."""
    rib = next(piece for piece in job.templates.pieces if piece.kind == "rib" and piece.holes)
    text = words(sketches(job)["ports"])
    front = min(point[0] for edge in rib.edges for point in edge.points)
    for i, hole in enumerate(rib.holes, start=1):
        assert f"{i}: {job.size(1e-3 * (hole[:, 0].mean() - front))}" in text
    # Below a circle of the same area a polygon of 96 corners is wider by less than 0.1 mm.
    chord = float(job.canopy.chord_at(job.canopy.rib_angle[rib.places[0] - 1]))
    assert f"cross-ports of {job.size(job.design.canopy.crossports.diameter * chord)};" in text


def test_brake_tabs_stand_where_the_geometry_has_them(job):
    """First tab of the right side, along the arc from the seam at the inner side of its panel."""
    (drawing,) = sketches(job)["brake_tabs"]
    held = next(join for join in joins.brake_joins(job.templates) if join.name == "brake tab 1 right")
    text = words((drawing,))
    assert f"Brake tabs on {held.parts[1]}," in text
    found = re.search(r"brake tab 1: (\d+) mm from the seam of rib (\d+)", text)
    spec = job.design.brakes
    tab = brake_tab_angles(job.canopy, spec.span_fraction, spec.branches)[0]
    along = 1e3 * job.canopy.arc_radius * (tab - job.canopy.rib_angle[int(found[2]) - 1])
    assert float(found[1]) == pytest.approx(along, abs=1.0)  # flat pieces stand on chords, and a whole mm
    assert f"loop end {job.size(0.020)} from the stitching" in text


def test_ends_of_lines_fans_and_free_play_have_the_sizes_of_the_line_sheet(job):
    found, sheet, design = sketches(job), job.line_sheet, job.design
    ends = words(found["lines_cut"])
    trunk = next(entry for entry in sheet.entries if entry.remark.startswith("mark the zero"))
    assert (
        f"{trunk.label}: zero mark to loop end {job.size(trunk.finished)} finished, cut {trunk.cut_mm} mm"
        in ends
    )
    assert f"tail to the servo, {job.size(sheet.brake_tail)}" in ends
    assert f"{job.size(design.lines.loop_allowance)} of line in each loop" in ends
    through = next((entry for entry in sheet.entries if entry.run), None)
    assert ("knot for" in ends) == (through is not None)
    if through is not None:
        assert f"knot for {through.run.tied[0]} at {job.size(through.run.knot)}" in ends
    fan, play = found["brake_fans"]
    for entry in sheet.entries:
        if entry.label.startswith("L-brake"):
            assert f"{entry.label}: {job.size(entry.finished)}" in words((fan,))
    tops = [label.text for label in fan.labels if label.text.isdigit()]
    assert tops == [str(i) for i in range(1, design.brakes.branches + 1)]
    assert f"pulled by {job.size(design.free_play)}, free play" in words((play,))
    assert f"pulled by {job.size(design.brakes.travel)}: full brake" in words((play,))


def test_lips_and_rear_ends_have_the_sizes_of_their_steps(job):
    found = sketches(job)
    assert f"front edge folded under, {job.size(job.design.sewing.hem)}" in words(found["lips"])
    if "rear_ends" in found:
        by_hand = joins.skin_joins(job.templates, "bottom")[0].by_hand
        assert f"by hand, {job.size(by_hand)}" in words(found["rear_ends"])
        assert f"skins {job.size(joins.PRESSER_FOOT)} apart" in words(found["rear_ends"])


@pytest.mark.parametrize(("branches", "levels"), [(1, 1), (12, 1), (12, 3)])
def test_fans_of_any_size_can_be_drawn(heron, branches, levels):
    job = job_of(override(heron, {"brakes.branches": branches, "brakes.levels": levels}))
    for drawing in sketches(job)["brake_fans"]:
        assert not overprints(drawing)
        assert drawing.box.width < 175.0


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


def printed(steps: tuple[Step, ...], paper: str) -> list[str]:
    pages = Pages(name="x", facts=(), steps=steps, rungs=(), checklists=(), cautions=(), caveats=(),
                  system="metric")  # fmt: skip
    document = pypdfium2.PdfDocument(io.BytesIO(build_pdf(pages, paper)))
    return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


def assert_drawn_by_their_steps(steps: tuple[Step, ...], texts: list[str]) -> None:
    for number, step in enumerate(steps, start=1):
        on = {i for i, text in enumerate(texts) if f"{number}. {step.title[:30]}" in text}
        for drawing in step.sketches:
            assert on & {i for i, text in enumerate(texts) if drawing.title in text}, drawing.title


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_they_are_printed_by_their_step(job, paper):
    steps = build_order(job)
    assert_drawn_by_their_steps(steps, printed(steps, paper))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_step_of_more_than_a_page_has_its_drawing_by_its_heading(heron, paper):
    many = {
        "canopy.cells": 29,
        "canopy.half_cells": 58,
        "lines.cascades.0.through": "A",
        "lines.cascades.1.through": "C",
    }
    steps = build_order(job_of(override(heron, many)))
    cut = next(step for step in steps if step.key == "lines_cut")
    assert len(cut.details) > 60, "more than a page of cut orders"
    assert_drawn_by_their_steps(steps, printed(steps, paper))
