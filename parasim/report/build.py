"""The build sheet: order, ladder and checklists as pages, Markdown, terminal text and a JSON document."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from parasim.environment.atmosphere import GRAVITY
from parasim.flight.build import BuildFlight, Descents
from parasim.flight.drop import CAUTIONS, Drop
from parasim.flight.line_loads import line_loads
from parasim.flight.lines import ASYMMETRY
from parasim.flight.opening.opening import Opening
from parasim.ladder.build_page import Pages
from parasim.ladder.checklists import Checklist, checklists
from parasim.ladder.expectations import Arrival, DropNumbers, FlightNumbers, Limits, OpeningNumbers
from parasim.ladder.ladder import Rung, ladder
from parasim.report.words import in_degrees
from parasim.sewing.line_sheet import build_line_sheet
from parasim.sewing.order.build_order import build_order
from parasim.sewing.order.job import Job
from parasim.sewing.order.steps import COUNT, Figure, Join, Step
from parasim.sewing.templates import Templates
from parasim.units import System

KEYS: dict[str, tuple[str, float]] = {
    COUNT: ("count", 1.0),
    "ratio": ("glide_ratio", 1.0),
    "small_length": ("mm", 1e3),
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


@dataclass(frozen=True, kw_only=True, eq=False)
class BuildReport:
    """All that ``parasim build`` gives, before it is put into words.

    Attributes
    ----------
    flight : BuildFlight
        What flies, and how.
    templates : Templates
        Every piece of cloth.
    design_file : str
        As it was given.
    """

    flight: BuildFlight
    templates: Templates
    design_file: str

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        return tuple(dict.fromkeys([*self.templates.caveats, *self.flight.caveats]))

    def job(self, system: System) -> Job:
        """What is to be built; sizes in sentences in these units."""
        flight, vehicle = self.flight, self.flight.vehicle
        mass = {item.name: item.properties.mass for item in vehicle.items}
        lines, payload = mass.pop("lines"), mass.pop("payload")
        loads = line_loads(vehicle, flight.trim)
        return Job(
            templates=self.templates,
            line_set=vehicle.line_set,
            line_sheet=build_line_sheet(
                vehicle.design, vehicle.canopy, vehicle.line_set, tension=loads.tension
            ),
            rigging_angle=vehicle.rigging.rigging_angle,
            line_length=vehicle.rigging.line_length,
            cloth_mass=sum(mass.values()),
            line_mass=lines,
            payload_mass=payload,
            left_right=ASYMMETRY,
            system=system,
        )

    def pages(self, system: System) -> Pages:
        """Steps, rungs and checklists in these units."""
        job, numbers, design = self.job(system), flight_numbers(self.flight), self.flight.vehicle.design
        limits = design.landing
        return Pages(
            name=design.name,
            facts=_facts(job),
            steps=build_order(job),
            rungs=ladder(
                numbers,
                Limits(
                    sink=limits.max_sink,
                    ground_speed=limits.max_ground_speed,
                    energy=limits.max_energy,
                    load=limits.max_load,
                ),
                pack=design.opening.pack,
                steered=design.servo is not None,
                system=system,
            ),
            checklists=checklists(job, numbers, self.design_file),
            cautions=CAUTIONS,
            caveats=self.caveats,
            system=system,
        )


def _facts(job: Job) -> tuple[str, ...]:
    return (
        f"{job.say(job.canopy.flat_area, 'area')} flat area (bottom-skin span along the arc x mean chord), "
        f"{job.say(job.all_up_mass, 'mass')} all up.",
        "Order and tolerances are common practice or our own choice, without source; sizes are those of "
        "parasim templates and parasim lines, flight figures those of parasim glide, drop and opening.",
    )


def flight_numbers(flight: BuildFlight) -> FlightNumbers:
    """Plain numbers for the ladder."""
    trim, vehicle, found = flight.trim, flight.vehicle, flight.bands.figures
    half, lines = flight.half_brake, vehicle.mass - vehicle.design.payload.mass
    band = {name: (figure.low, figure.high) for name, figure in found.items()}
    return FlightNumbers(
        airspeed=trim.airspeed,
        forward_speed=trim.forward_speed,
        sink=trim.sink,
        glide_ratio=trim.glide_ratio,
        glide_angle=trim.glide_angle,
        airspeed_band=band["airspeed"],
        forward_band=band["forward_speed"],
        sink_band=band["sink"],
        glide_ratio_band=band["glide_ratio"],
        energy_band=band["energy"],
        energy=found["energy"].value,
        weight=vehicle.weight,
        canopy_weight=lines * GRAVITY,
        half_brake=None if half is None else (half.airspeed, half.sink),
        wind_limit=flight.wind_limit,
        site_wind=flight.site_wind,
        dive=flight.dive,
        drops=tuple(_drop_numbers(descents) for descents in flight.descents),
        opening=_opening_numbers(flight.opening),
    )


def _drop_numbers(descents: Descents) -> DropNumbers:
    return DropNumbers(
        height=descents.height,
        still=_arrival(descents.still),
        windy=_arrival(descents.windy),
        wind=descents.wind,
        unopened_sink=descents.unopened.sink,
        unopened_energy=descents.unopened.energy,
    )


def _arrival(drop: Drop | None) -> Arrival | None:
    touchdown = None if drop is None else drop.touchdown
    if drop is None or touchdown is None:
        return None
    return Arrival(
        time=drop.time_aloft,
        distance=drop.distance,
        sink=touchdown.sink,
        ground_speed=touchdown.ground_speed,
        energy=touchdown.energy,
    )


def _opening_numbers(opening: Opening) -> OpeningNumbers:
    now = opening.now
    return OpeningNumbers(
        release_speed=now.designed.release_speed,
        peak=now.designed.peak,
        snatch=now.designed.snatch[0],
        peak_band=now.peak_band,
        height_to_full=now.designed.height_to_full,
        full_band=now.height_band,
        height_to_glide=opening.height_to_glide,
        minimum_release=opening.minimum_release_height,
    )


def build_document(report: BuildReport) -> dict[str, Any]:
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
    bands = report.flight.bands
    pages = report.pages("metric")
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
