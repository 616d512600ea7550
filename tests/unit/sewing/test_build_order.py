"""The build order: sorted, complete, only what the design needs, and with the sizes of the other sheets."""

from __future__ import annotations

import re
from collections import Counter
from graphlib import CycleError
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings

from parasim.config.as_built import AsBuiltSpec
from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.geometry.airfoil import lower_surface, upper_surface
from parasim.geometry.canopy import build_canopy
from parasim.geometry.lines import build_lines
from parasim.geometry.rigging import build_rigging
from parasim.sewing.line_sheet import build_line_sheet
from parasim.sewing.order import joins
from parasim.sewing.order.build_order import build_order
from parasim.sewing.order.job import Job, listed
from parasim.sewing.order.joins import PRESSER_FOOT, reach
from parasim.sewing.order.rigging import rigging_steps
from parasim.sewing.order.sewing import sewing_steps
from parasim.sewing.order.steps import Figure, Step, in_order
from parasim.sewing.templates import Templates, templates
from tests.strategies import designs

DEMO = ("heron", "wren", "pelican", "dipper", "kingfisher")


def job_of(design: Design, **changes: object) -> Job:
    design = override(design, {key.replace("__", "."): value for key, value in changes.items()})
    canopy = build_canopy(design)
    rigging = build_rigging(design, canopy.outline)
    line_set = build_lines(design, canopy)
    return Job(
        templates=templates(design),
        line_set=line_set,
        line_sheet=build_line_sheet(design, canopy, line_set, tension={}),
        rigging_angle=rigging.rigging_angle,
        line_length=rigging.line_length,
        cloth_mass=0.06,
        line_mass=0.01,
        payload_mass=design.payload.mass,
        left_right=0.003,
    )


@pytest.fixture(scope="module")
def job(heron) -> Job:
    return job_of(heron)


def by_key(job: Job) -> dict[str, Step]:
    return {step.key: step for step in build_order(job)}


def figures(job: Job) -> dict[str, Figure]:
    return {figure.name: figure for step in build_order(job) for figure in step.figures}


def figure(job: Job, key: str, name: str) -> Figure:
    return next(one for one in by_key(job)[key].figures if one.name == name)


def skin_panels(design: Design) -> int:
    spec = design.canopy
    return spec.cells if design.sewing.panel == "cell" else spec.half_cells_or_default


# Order


@settings(max_examples=10, deadline=None)
@given(designs())
def test_nothing_comes_before_what_it_needs(design):
    job = job_of(design)
    steps = build_order(job)
    done: set[str] = set()
    for step in steps:
        assert set(step.after) <= done, step.key
        done.add(step.key)
    assert len(done) == len(steps)
    assert sorted(done) == sorted(step.key for step in (*sewing_steps(job), *rigging_steps(job)))
    names = [(step.key, figure.name) for step in steps for figure in step.figures]
    assert max(Counter(names).values()) == 1
    check_joins(job, steps)
    check_lines(job)


def all_joins(templates: Templates) -> tuple[joins.Join, ...]:
    """Every seam of the canopy once."""
    return (
        *joins.patch_joins(templates),
        *joins.tab_joins(templates),
        *joins.tape_joins(templates),
        *joins.brake_joins(templates),
        *joins.skin_joins(templates, "top"),
        *joins.skin_joins(templates, "bottom"),
        *joins.trailing_joins(templates),
    )


def check_joins(job: Job, steps: tuple[Step, ...]) -> None:
    """Each seam once; every rib on both skins, every panel at its ribs and trailing edge."""
    sewn = [join for step in steps for join in step.joins]
    assert sorted(join.name for join in sewn) == sorted(join.name for join in all_joins(job.templates))
    assert max(Counter(join.parts for join in sewn).values()) == 1
    design, canopy = job.design, job.canopy
    pairs = Counter((join.parts[0], part) for join in sewn for part in join.parts[1:])
    per_panel = canopy.n_half_cells // skin_panels(design)
    expected = {
        (f"rib {rib}", f"{skin} panel {panel + 1}")
        for skin in ("top", "bottom")
        for panel in range(skin_panels(design))
        for rib in range(panel * per_panel + 1, (panel + 1) * per_panel + 2)
    }
    expected |= {(f"top panel {i}", f"bottom panel {i}") for i in range(1, skin_panels(design) + 1)}
    loaded = range(1, canopy.n_ribs + 1)[canopy.loaded_ribs]
    expected |= {(f"{what} {row} of rib {rib}", f"rib {rib}")
                 for what in (("tab", "patch") if design.sewing.patch else ("tab",))
                 for row in design.lines.rows for rib in loaded}  # fmt: skip
    expected |= {(f"tape of rib {rib}", f"rib {rib}") for rib in loaded}
    if design.canopy.stabilisers:
        expected |= {("rib 1", "left stabiliser"), (f"rib {canopy.n_ribs}", "right stabiliser")}
    brakes = {pair for pair in pairs if pair[0].startswith("brake tab")}
    assert len(brakes) == 2 * design.brakes.branches
    assert pairs == Counter(expected | brakes)


def check_lines(job: Job) -> None:
    """Every line is measured once, at the length of the line sheet."""
    told = Counter()
    for one in by_key(job)["check_lines"].figures:
        for label in one.name.split(" and "):
            told[label] += 1
            assert one.value == pytest.approx(job.line_sheet.finished[label], abs=1e-9)
    assert told == dict.fromkeys(job.line_sheet.finished, 1)


def test_the_last_seam_is_the_trailing_edge(job):
    steps = build_order(job)
    sewing = [step.key for step in steps if step.joins]
    assert sewing[-1] == "trailing_edge"
    order = [step.key for step in steps]
    assert order.index("patches") < order.index("tabs") < order.index("top_skin") < order.index("bottom_skin")
    assert order[0] == "cut"
    assert order[-1] == "weigh_all"


def test_a_circle_is_refused():
    steps = [Step(key=a, stage="", title="", after=(b,)) for a, b in (("sew", "cut"), ("cut", "sew"))]
    with pytest.raises(CycleError):
        in_order(steps)


def test_order_is_the_one_given_where_nothing_forces_another():
    steps = [Step(key=key, stage="", title="", after=after) for key, after in
             (("c", ("b",)), ("a", ()), ("b", ("gone",)), ("d", ()))]  # fmt: skip
    assert [step.key for step in in_order(steps)] == ["a", "b", "c", "d"]
    assert in_order(steps)[1].after == ()


# Only what the design needs


@pytest.mark.parametrize(
    ("changes", "gone"),
    [
        ({"canopy__crossports__count": 0}, {"ports"}),
        ({"sewing__patch": "0 mm"}, {"patches"}),
        ({"lines__cascades": []}, {"cascades"}),
        ({"canopy__stabilisers": {"height": "6 cm", "chord": "60 %"}}, {"stabilisers"}),
        ({"sewing__panel": "cell"}, {"middle_ribs"}),
    ],
)
def test_steps_come_and_go_with_what_they_are_about(heron, job, changes, gone):
    assert set(by_key(job)) ^ set(by_key(job_of(heron, **changes))) == gone


BARE = {
    "canopy__crossports__count": 0,
    "sewing__patch": "0 mm",
    "lines__cascades": [],
    "canopy__half_cells": 7,
}


def test_nothing_is_said_of_what_the_design_has_not(heron, job):
    def said(job: Job) -> str:
        steps = build_order(job)
        words = [word for step in steps for word in (step.title, *step.details, *step.by_hand)]
        return " ".join([*words, *(one.name for step in steps for one in step.figures)]).lower()

    finned = job_of(heron, canopy__stabilisers={"height": "6 cm", "chord": "60 %"})
    for word, with_it in (
        *((word, job) for word in ("cross-port", "holes", "patch", "cascade", "unloaded")),
        ("stabiliser", finned),
        ("middle line", job_of(heron, sewing__panel="cell")),
    ):
        assert word in said(with_it)
        assert word not in said(job_of(heron, **BARE)), word


def test_seams_of_panels_of_a_cell(heron):
    job = job_of(heron, sewing__panel="cell", brakes__span_fraction="90 %")
    check_joins(job, build_order(job))
    assert {join.name for join in by_key(job)["middle_ribs"].joins} == {
        f"top skin at rib {rib}" for rib in range(2, 15, 2)
    }


def test_without_half_cells_panels_of_a_cell_have_no_middle_rib(heron):
    assert "middle_ribs" not in by_key(job_of(heron, sewing__panel="cell", canopy__half_cells=7))


def test_inlet_and_riser_are_those_of_the_design(heron, job):
    told = by_key(job)["nose_ribs"].details
    assert "ticks at the nose; fold 10 mm under" in told[0]
    assert "Flush" in told[1]
    other = job_of(heron, canopy__inlet__kind="open", lines__riser={"length": 0.0, "spread": 0.0})
    assert "Open" in by_key(other)["nose_ribs"].details[1]
    assert by_key(other)["risers"].figures == ()


def test_servo_or_fixed_brakes(heron, configs):
    assert "Servo arm" in " ".join(by_key(job_of(heron))["zero_marks"].details)
    assert "Winch" in " ".join(by_key(job_of(load_design(configs / "pelican.yaml")))["zero_marks"].details)
    assert "Without servos" in " ".join(by_key(job_of(heron, servo=None))["zero_marks"].details)


# By hand


@pytest.mark.parametrize("name", DEMO)
def test_the_rear_ends_are_where_the_rib_is_lower_than_a_foot(configs, name):
    canopy = build_canopy(load_design(configs / f"{name}.yaml"))
    x = reach(canopy)
    tip = canopy.root_chord * canopy.taper
    at, behind = (
        tip * float(upper_surface(canopy.outline, place) - lower_surface(canopy.outline, place))
        for place in (x, min(x + 0.002, 1.0))
    )
    assert at >= PRESSER_FOOT > behind


def test_hand_seams_are_named_with_their_reason(heron, job):
    step = by_key(job)["rear_ends"]
    assert "foot of a machine does not get between" in step.by_hand[0]
    assert "42 mm" in step.by_hand[0]
    bottom = by_key(job)["bottom_skin"].joins
    assert {round(1e3 * join.by_hand) for join in bottom} == {42}
    assert not any(join.by_hand for join in by_key(job)["top_skin"].joins)
    assert not by_key(job)["tabs"].by_hand
    low = job_of(heron, lines__rows={"A": "10 %", "B": "35 %", "C": "60 %", "D": "95 %"})
    assert (
        by_key(low)["tabs"]
        .by_hand[0]
        .startswith("Tabs of row D: they sit where the tip rib is lower than 12 mm")
    )


def test_a_rib_lower_than_a_foot_is_sewn_by_hand_all_along(heron):
    """15 % of 70 mm are 10.5 mm."""
    thin = job_of(heron, canopy__chord="0.1 m", canopy__taper=0.7, brakes__travel="20 mm", sewing__patch=0,
                  canopy__crossports__count=0)  # fmt: skip
    assert reach(thin.canopy) == 0.0
    for join in by_key(thin)["bottom_skin"].joins:
        assert 0.9 * join.length < join.by_hand <= join.length


# Sizes


def counted(job: Job) -> Counter[str]:
    """Pieces to cut by the first two words of their name."""
    found: Counter[str] = Counter()
    for one in by_key(job)["cut"].figures:
        found[" ".join(one.name.split()[1:3])] += int(one.value)
    return found


def test_counting_rule(job):
    """7 cells, 14 half cells, 15 ribs, of which 8 carry lines and 2 are plain end ribs: common practice."""
    counts = counted(job)
    assert counts["end rib"] + counts["loaded rib"] == 8
    assert counts["unloaded rib"] == 7
    assert counts["top panel"] == counts["bottom panel"] == 14
    assert "14 spaces between ribs make 15 ribs" in by_key(job)["cut"].details[-1]
    assert "ribs, 2 to 14" in by_key(job)["ports"].title


@settings(max_examples=5, deadline=None)
@given(designs())
def test_ribs_are_one_more_than_their_spaces(design):
    job = job_of(design)
    counts = counted(job)
    ribs = counts["end rib"] + counts["loaded rib"] + counts["unloaded rib"]
    assert ribs == design.canopy.half_cells_or_default + 1
    assert counts["end rib"] + counts["loaded rib"] == design.canopy.cells + 1


@pytest.mark.parametrize("name", DEMO)
def test_sizes_are_those_of_the_templates(configs, name):
    job = job_of(load_design(configs / f"{name}.yaml"))
    told = figures(job)
    for piece in job.templates.pieces:
        if piece.kind == "rib":
            length, height = 1e-3 * np.ptp(piece.sewing_line, axis=0)
            assert told[f"{piece.called}: length along the chord"].value == pytest.approx(length)
            assert told[f"{piece.called}: height"].value == pytest.approx(height)
            chord = job.canopy.chord_at(job.canopy.rib_angle[piece.places[0] - 1])
            assert height == pytest.approx(chord * job.canopy.thickness_ratio, rel=0.005)
    widths = [one for one in told.values() if "along the" in one.name and "edge" in one.name]
    for skin in ("top", "bottom"):
        for edge in ("front", "rear"):
            ours = sorted(
                one.value
                for one in widths
                if f" {skin} panel" in one.name and one.name.endswith(f"{edge} edge")
            )
            pieces = [p for p in job.templates.pieces if p.name.startswith(f"{skin} panel")]
            theirs = sorted(1e-3 * piece.edge(edge).length for piece in pieces)
            assert ours[0] == pytest.approx(theirs[0], abs=0.0006)
            assert ours[-1] == pytest.approx(theirs[-1], abs=0.0006)
    assert told["span along the arc, bottom skin"].value == job.design.canopy.span


def test_widths_of_a_tapered_canopy_are_told_as_measured(heron):
    """Edges aslant are longer than the panel is wide across the warp; each figure holds for every panel."""
    job = job_of(heron, canopy__taper=0.5)
    told = {figure.name: figure.value for figure in by_key(job)["check_cut"].figures}
    panels = {piece.places[0]: piece for piece in job.templates.pieces if piece.name.startswith("top panel")}
    across = {name: size for name, size in told.items() if name.endswith("across the warp, widest")}
    assert len(across) > 1
    for piece in panels.values():
        mine = [size for name, size in across.items() if " top panel" in name and _holds(name, piece.number)]
        widest = float(np.ptp(piece.sewing_line[:, 1]))
        assert [round(1e3 * size) for size in mine] == [round(widest)], piece.title


def _holds(name: str, number: int) -> bool:
    runs = re.findall(r"(\d+)(?: to (\d+))?", re.split("panel|,? (?:top|bottom)", name)[0])
    return any(int(low) <= number <= int(high or low) for low, high in runs)


def test_pages_are_glued_before_they_are_cut(job):
    assert "1-0 on 1-0" in by_key(job)["cut"].details[0]


def test_tabs_are_where_the_rows_are(job):
    """Flat-bottomed rib of 0.5 m: along the bottom the tabs are a quarter of the chord apart."""
    told = figures(job)
    along = [told[f"2 loaded rib: lower lip to tab {row}"].value for row in "ABCD"]
    assert [b - a for a, b in pairwise(along)] == pytest.approx([0.125, 0.125, 0.125], abs=0.001)


@pytest.mark.parametrize("name", DEMO)
def test_front_rows_are_shorter_than_rear_ones(configs, name):
    """At a nose-down rigging angle: common practice, no source. Heron and wren are put back to one."""
    at_four = {"lines.length": 0.7, "lines.rigging_angle": "4 deg", "lines.row_lengths": None}
    job = job_of(override(load_design(configs / f"{name}.yaml"), at_four if name != "pelican" else {}))
    rows = tuple(job.design.lines.rows)
    for d in job.line_sheet.differentials:
        ways = [0.0, *(d.longer[row] for row in rows[1:])]
        assert ways == sorted(ways)
    longer = [one for one in by_key(job)["check_rigging"].figures if "longer than" in one.name]
    assert all(one.value > 0 for one in longer)
    n_pairs = job.canopy.n_cells // 2 + 1
    assert len(longer) == n_pairs * (len(rows) - 1)
    first = job.line_sheet.differentials[0]
    assert [one.value for one in longer[: len(rows) - 1]] == [first.longer[row] for row in rows[1:]]


def test_an_even_canopy_has_a_centre_rib_on_both_risers(heron):
    job = job_of(heron, canopy__cells=6, canopy__half_cells=12)
    check_lines(job)
    assert "centre rib hangs from both" in by_key(job)["risers"].details[0]
    names = [one.name for one in by_key(job)["check_rigging"].figures]
    assert names.count("rib 7: D longer than A") == 1


def test_masses_and_brakes(heron, job):
    assert figure(job, "weigh_canopy", "canopy without lines").value == 0.06
    assert figure(job, "weigh_all", "all-up, with payload").value == pytest.approx(1.27)
    for step, key in (("weigh_canopy", "canopy_mass"), ("weigh_all", "finished_mass")):
        assert key in AsBuiltSpec.model_fields
        assert f"a notes file, as_built.{key}, for parasim learn" in " ".join(by_key(job)[step].details)
    pull = figure(job, "zero_marks", "full pull from the zero mark, free play included")
    assert (pull.value, pull.both_sides) == (heron.brakes.travel, True)
    assert figure(job, "zero_marks", "free play").value == heron.brakes.free_play
    marked = figure(job, "zero_marks", "L-brake-1+2+3: fan to zero mark").value
    assert marked == job.line_sheet.finished["L-brake-1+2+3"]
    assert figure(job, "check_rigging", "left less right, any row").tolerance == job.left_right


def test_figures_in_words():
    one = Figure(name="tab", value=0.0354, kind="tape_length", tolerance=0.002)
    assert (one.shown("metric"), one.shown_range("metric")) == ("35 mm", "± 2 mm")
    assert (one.shown("imperial"), one.shown_range("imperial")) == ("1 3/8 in", "± 1/16 in")
    assert Figure(name="ribs", value=15.0, kind="count").shown("imperial") == "15"
    banded = Figure(name="sink", value=2.7, kind="speed", band=(2.3, 3.4))
    assert banded.shown_range("metric") == "2.30 to 3.40 m/s"
    assert (
        Figure(name="glide", value=3.0, kind="ratio", band=(2.5, 3.5)).shown_range("metric") == "2.50 to 3.50"
    )
    assert Figure(name="free", value=0.1, kind="time").shown_range("metric") == ""
    assert listed(tuple(range(2, 15))) == "2 to 14"


def test_front_and_rear_risers_are_told_apart(configs):
    """Four ends, which rows go to which, and a length for each riser."""
    job = job_of(override(load_design(configs / "dipper.yaml"), {"payload.suspension.rear_riser": "80 mm"}))
    step = by_key(job)["risers"]
    assert "four riser ends" in step.title
    assert "Front risers: rows A, B. Rear risers: rows C, D and the brakes." in step.details
    told = {figure.name: figure.value for figure in step.figures}
    assert told["front risers, lines to hook"] == pytest.approx(0.060)
    assert told["rear risers, lines to hook"] == pytest.approx(0.080)
    assert told["front hooks ahead of the rear ones"] == pytest.approx(0.060)


def test_a_range_that_is_open_keeps_its_low_end():
    figure = Figure(name="a quarter circle", value=10.0, kind="time", band=(8.1, float("inf")))
    assert figure.shown_range("metric") == "8.1 s or more"
