"""What `parasim build` answers: order, ladder and checklists as Markdown, terminal text and a document."""

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

from parasim.drawing.printing import paper_of
from parasim.flight.drop import CAUTIONS
from parasim.ladder.build_page import Pages, build_pdf
from parasim.ladder.checklists import Checklist
from parasim.ladder.ladder import Rung
from parasim.making.build import Build
from parasim.report.column import Grid
from parasim.report.limits import may_pass
from parasim.report.line_loads import weak_parts
from parasim.report.report import BOX, Block, Report
from parasim.sewing.order.steps import COUNT, Figure, Join, Step
from parasim.units import System, in_degrees, show

INDENT = "    "

KEYS: dict[str, tuple[str, float]] = {
    COUNT: ("count", 1.0),
    "ratio": ("glide_ratio", 1.0),
    "tape_length": ("mm", 1e3),
    "run": ("m", 1.0),
    "length": ("m", 1.0),
    "speed": ("m_s", 1.0),
    "wind_speed": ("m_s", 1.0),
    "force": ("n", 1.0),
    "energy": ("j", 1.0),
    "mass": ("kg", 1.0),
    "small_mass": ("kg", 1.0),
    "time": ("s", 1.0),
}
"""Kind of a figure to the end of its JSON key, and what its SI value is multiplied by; angles apart."""


class BuildReport(Report[Build]):
    """The build sheet."""

    COMMAND = "build"
    BANDED = True
    CAUTIONS = CAUTIONS

    def failures(self, units: System) -> list[str]:
        """Limits and heights that are not kept, by the worse end of each band, and weak lines and tabs."""
        flight, design = self.result.flight, self.result.vehicle.design
        limits, bands, height = design.landing, flight.bands.figures, flight.descents[-1].height
        minimum = flight.opening.minimum_release_height
        needed = "no steady glide after opening" if minimum is None else None
        if minimum is not None and minimum > height:
            needed = (
                f"packed it needs {show(minimum, 'length', units, digits=0)} to open and glide, the top rung "
                f"has {show(height, 'length', units, digits=0)}"
            )
        ground_speed = bands["forward_speed"].high
        figures = (
            ("sink", bands["sink"].high, limits.max_sink, "speed"),
            ("energy at touchdown", bands["energy"].high, limits.max_energy, "energy"),
            ("ground speed in still air", ground_speed, limits.max_ground_speed, "speed"),
        )
        checks = [check for check in flight.opening.checks if check.part != "payload"]
        return [*may_pass(figures, units), *([needed] if needed else []), *weak_parts(checks, units)]

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        pages = self.result.pages(units)
        steps, n = len(pages.steps), sum(len(step.figures) for step in pages.steps)
        yield f"{pages.name}: {steps} steps to build it, {n} figures to measure or count on the way"
        yield "\n".join(pages.facts)
        stage = ""
        for number, step in enumerate(pages.steps, start=1):
            if step.stage != stage:
                yield step.stage
            stage = step.stage
            yield from _step_blocks(step, number, units)
        for rung in pages.rungs:
            yield f"Test ladder: {rung.title}"
            doing = (("do", rung.do), ("measure", rung.measure), ("stops you", rung.stop))
            yield _boxed([f"{words}: {item}" for words, items in doing for item in items])
            yield from _figure_blocks(rung.figures, units)
        for checklist in pages.checklists:
            yield f"Checklist: {checklist.title.lower()}"
            yield _boxed(checklist.items)

    def document(self) -> dict[str, Any]:
        """As `build_document`."""
        return build_document(self.result)

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """The sheet as Markdown, and as pages to print."""
        pages = self.result.pages(units)
        yield "build.md", markdown(pages)
        yield "build.pdf", build_pdf(pages, self.result.paper or paper_of(units))


def _step_blocks(step: Step, number: int, units: System) -> Iterator[Block]:
    joins = step.joins
    said = [
        *step.details,
        *(f"By hand: {words}" for words in step.by_hand),
        *([f"{len(joins)} to sew, in this order: {joins[0].name} to {joins[-1].name}"] if joins else []),
    ]
    yield "\n".join([_boxed([f"{number}. {step.title}"]), *(f"{INDENT}{line}" for line in said)])
    yield from _figure_blocks(step.figures, units)


def _figure_blocks(figures: tuple[Figure, ...], units: System) -> Iterator[Block]:
    if figures:
        rows = figure_rows(figures, units)
        yield Grid(rows=rows, heads=["measure", "expected", "range"], long=True)


def _boxed(lines: Sequence[str]) -> str:
    return "\n".join(f"{BOX}{line}" for line in lines)


def build_document(build: Build) -> dict[str, Any]:
    """Document of ``parasim build --json``; sentences in metric units.

    Returns
    -------
    dict
        - ``name``; ``facts``: sentences.
        - ``steps``, in order: ``key``, ``stage``, ``title``, ``details`` (sentences), ``after`` (keys of
          steps that come before), ``joins``, ``by_hand`` (what a machine does not reach, and why),
          ``figures``.
        - ``joins``: each seam once: ``name``, ``parts``, ``length_m`` (null for tabs and patches),
          ``by_hand_mm``.
        - ``figures`` of steps and rungs: ``what``, ``both_sides`` (measured left and right), and by the kind
          of quantity one of ``count``, ``glide_ratio``, ``expected_mm``, ``expected_m``, ``expected_m_s``,
          ``expected_n``, ``expected_j``, ``expected_kg``, ``expected_s``, ``expected_deg``; with a tolerance
          either way ``tolerance_mm``, ``tolerance_m``, ``tolerance_kg``; with a band ``low_m``, ``high_m``,
          ``low_m_s``, ``high_m_s``, ``low_n``, ``high_n``, ``low_j``, ``high_j``, ``low_s``, ``high_s``,
          ``low_glide_ratio``, ``high_glide_ratio``.
        - ``rungs``, from the ground upwards: ``key``, ``title``, ``do``, ``measure``, ``stop`` (sentences),
          ``figures``.
        - ``checklists``: ``key``, ``title``, ``items`` (sentences).
        - ``bands_lost``: factors at one end of whose range there is no steady glide; ``no_glide_fraction``:
          then the part of the canopies drawn from all ranges that has none, else null.
        - ``cautions`` and ``caveats``: sentences.
    """
    bands = build.flight.bands
    pages = build.pages("metric")
    return {
        "name": pages.name,
        "facts": list(pages.facts),
        "steps": [_step(step) for step in pages.steps],
        "rungs": [_rung(rung) for rung in pages.rungs],
        "checklists": [
            {"key": one.key, "title": one.title, "items": list(one.items)} for one in pages.checklists
        ],
        "bands_lost": list(bands.lost),
        "no_glide_fraction": bands.lost_share,
        "cautions": list(pages.cautions),
        "caveats": list(pages.caveats),
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "key": step.key,
        "stage": step.stage,
        "title": step.title,
        "details": list(step.details),
        "after": list(step.after),
        "joins": [_join(join) for join in step.joins],
        "by_hand": list(step.by_hand),
        "figures": [_figure(figure) for figure in step.figures],
    }


def _join(join: Join) -> dict[str, Any]:
    return {
        "name": join.name,
        "parts": list(join.parts),
        "length_m": join.length,
        "by_hand_mm": round(1e3 * join.by_hand, 3),
    }


def _rung(rung: Rung) -> dict[str, Any]:
    return {
        "key": rung.key,
        "title": rung.title,
        "do": list(rung.do),
        "measure": list(rung.measure),
        "stop": list(rung.stop),
        "figures": [_figure(figure) for figure in rung.figures],
    }


def _figure(figure: Figure) -> dict[str, Any]:
    """Figure with the unit in its keys."""
    document: dict[str, Any] = {"what": figure.name, "both_sides": figure.both_sides}
    if figure.kind == "angle":
        return {**document, "expected_deg": in_degrees(figure.value)}
    end, factor = KEYS[figure.kind]
    plain = figure.kind in (COUNT, "ratio")
    document[end if plain else f"expected_{end}"] = factor * figure.value
    if figure.tolerance is not None:
        document[f"tolerance_{end}"] = factor * figure.tolerance
    if figure.band is not None:
        document |= {f"low_{end}": factor * figure.band[0], f"high_{end}": factor * figure.band[1]}
    return document


def figure_rows(figures: tuple[Figure, ...], system: System) -> list[list[str]]:
    """What, expected, and tolerance or band."""
    return [[figure.name, figure.shown(system), figure.shown_range(system)] for figure in figures]


def markdown(pages: Pages) -> str:
    """The build sheet as Markdown with boxes to tick."""
    return "\n".join(_markdown(pages)) + "\n"


def _markdown(pages: Pages) -> Iterator[str]:
    cautions = [f"**Caution: {caution}**\n" for caution in pages.cautions]
    yield f"# {pages.name}: build sheet\n"
    yield from (f"{fact}\n" for fact in pages.facts)
    yield from cautions
    yield "## Build order\n"
    number = 0
    for stage, steps in groupby(pages.steps, key=lambda step: step.stage):
        yield f"### {stage}\n"
        for step in steps:
            number += 1
            yield from _markdown_step(step, number, pages.system)
    yield "## Test ladder\n"
    yield from cautions
    for rung in pages.rungs:
        yield from _markdown_rung(rung, pages.system)
    for checklist in pages.checklists:
        yield from _markdown_list(checklist)
    yield "## What the figures leave out\n"
    yield from (f"- {caveat}" for caveat in pages.caveats)
    yield ""
    yield from cautions


def _markdown_step(step: Step, number: int, system: System) -> Iterator[str]:
    yield f"- [ ] **{number}. {step.title}**"
    yield from (f"  - {detail}" for detail in step.details)
    yield from (f"  - **By hand:** {words}" for words in step.by_hand)
    yield from (f"  - [ ] {join.name}" for join in step.joins)
    yield ""
    yield from _markdown_figures(step.figures, system)


def _markdown_rung(rung: Rung, system: System) -> Iterator[str]:
    yield f"### {rung.title}\n"
    yield from _boxes(rung.do)
    yield from _markdown_figures(rung.figures, system)
    for title, items in (("Measure", rung.measure), ("What stops you going on", rung.stop)):
        yield f"{title}:\n"
        yield from _boxes(items)


def _markdown_list(checklist: Checklist) -> Iterator[str]:
    yield f"## Checklist: {checklist.title.lower()}\n"
    yield from _boxes(checklist.items)


def _boxes(items: tuple[str, ...]) -> Iterator[str]:
    yield from (f"- [ ] {item}" for item in items)
    yield ""


def _markdown_figures(figures: tuple[Figure, ...], system: System) -> Iterator[str]:
    if figures:
        yield "| measure | expected | range | measured |\n| --- | --- | --- | --- |"
        yield from ("| " + " | ".join([*row, ""]) + " |" for row in figure_rows(figures, system))
        yield ""
