"""Results that a nudged key may move: of geometry, masses, glide, sheets and flights, as lists of numbers."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.aerodynamics.strips import Flow
from parasim.config.design import Design
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.flight.drop import drop, release_of
from parasim.flight.flare.descent import brake_speed, build_flare_descent, servo_pull
from parasim.flight.glide import GLIDE_FACTORS, headline_figures
from parasim.flight.landing import landing
from parasim.flight.line_loads import line_loads
from parasim.flight.opening.opening import at_speed, opening
from parasim.flight.servo.servo import servo
from parasim.flight.trim import find_trims
from parasim.flight.turn.step import step_response
from parasim.flight.uncertainty import bands
from parasim.geometry.canopy import build_canopy
from parasim.geometry.lines import build_lines
from parasim.geometry.rigging import build_rigging, build_section
from parasim.report.landing import landing_document
from parasim.report.landing_map import geojson
from parasim.report.opening import opening_document
from parasim.report.servo import servo_document
from parasim.report.templates import template_document
from parasim.scatter.ensemble import fly
from parasim.scatter.ensemble_model import build_ensemble_model
from parasim.sewing.line_sheet import build_line_sheet
from parasim.sewing.packing import packed
from parasim.sewing.templates import templates
from tests.unit.scatter.test_scatter import scattered as scattered_in_straight_glides

ANGLE = np.radians([5.0])


VEHICLES: dict[str, Vehicle] = {}


def assembled(design: Design) -> Vehicle:
    """Vehicle of a design; made once for all results that one nudge is asked for."""
    text = repr(design)
    if text not in VEHICLES:
        if len(VEHICLES) > 8:
            VEHICLES.clear()
        VEHICLES[text] = assemble(design)
    return VEHICLES[text]


def geometry(design: Design) -> list[Any]:
    """Section, pose, areas, ribs and every line's length."""
    outline = build_section(design.canopy.airfoil)
    rigging = build_rigging(design, outline)
    canopy = build_canopy(design, rigging)
    lines = build_lines(design, canopy)
    pose = [rigging.line_length, rigging.rigging_angle, *canopy.quarter_chord]
    sizes = [canopy.flat_area, canopy.projected_area, canopy.volume, canopy.inlet.lower_lip]
    return [outline, pose, sizes, canopy.rib_area, [line.length for line in lines.lines]]


def mass(design: Design) -> list[Any]:
    """Of the solid parts, of the air inside and of the air around."""
    vehicle = assembled(design)
    return [vehicle.solid.matrix, vehicle.enclosed_matrix, vehicle.air_matrix]


def glide(design: Design) -> list[Any]:
    """Brakes released trim and its modes."""
    trim = find_trims(assembled(design)).chosen
    return [trim.alpha, trim.airspeed, trim.sink, [mode.eigenvalue for mode in trim.modes]]


def one_brake(design: Design) -> list[Any]:
    """Coefficients of the canopy with one brake at 60 % of its travel."""
    return [assembled(design).model.coefficients(Flow.steady(ANGLE), np.array([0.6]), np.zeros(1))]


def band(design: Design) -> list[Any]:
    """Bands of the glide with the brakes released."""
    ranges = build_ranges(design, GLIDE_FACTORS)
    found = bands(assembled(design), ranges, headline_figures)
    return [[figure.low, figure.high] for figure in found.figures.values()]


def dropped(design: Design) -> list[Any]:
    """Where and how it lands, open and unopened."""
    found = drop(assembled(design))
    arrivals = [[one.ground_speed, one.sink] for one in (found.end.touchdown, found.unopened)]
    return [found.time_aloft, found.track.north[-1], found.track.east[-1], arrivals]


def pulled(design: Design) -> list[Any]:
    """Force in the brake lines and what the servo makes of it; not what is only said again."""
    found = servo_document(servo(assembled(design)))
    drive = [found[key] for key in ("pull_per_degree_mm", "pull_per_turn_rate_mm_per_deg_s", "reached_mm")]
    motor = {key: value for key, value in (found["servo"] or {}).items() if key != "torque_n_m"}
    torque = [found["torque"][key] for key in ("steady_n_m", "peak_n_m")]
    return [found["curve"], torque, drive, motor, found["ring"]]


def landed(design: Design) -> list[Any]:
    """Arrivals in every wind with their loads and verdicts, without flare."""
    found = landing_document(landing(assembled(design), flared=False))
    return [found["arrivals"], found["unopened"]]


def sewn(design: Design) -> list[Any]:
    """Every piece of cloth, and how much cloth they take."""
    found = template_document(templates(design))
    return [found["pieces"], found["cut_area_m2"], found["cloth_length_m"]]


def drawn(design: Design) -> list[Any]:
    """Marks on every piece."""
    return [[[path.points for path in piece.marks] for piece in templates(design).pieces]]


def tied(design: Design) -> list[Any]:
    """Every line on the sheet, and what it carries."""
    vehicle = assembled(design)
    loads = line_loads(vehicle, find_trims(vehicle, modes=False).chosen)
    sheet = build_line_sheet(design, vehicle.canopy, vehicle.line_set, tension=loads.tension)
    lines = [[entry.label, entry.finished, entry.cut] for entry in sheet.entries]
    return [lines, loads.margin]


def packs(design: Design) -> list[Any]:
    """How small the canopy packs."""
    found = packed(design, {item.name: item.properties.mass for item in assembled(design).items[:-1]})
    return [found.mass, found.volume, found.length, found.filled]


def unpacked(design: Design) -> list[Any]:
    """One opening, likely and at the ends of its range, as far as the full canopy."""
    vehicle = assembled(design)
    found = at_speed(vehicle, design.opening.release_speed, design.drop.height)
    cases = (found.designed, found.quick, found.slow)
    return [[[case.peak, case.bound, case.height_to_full, case.peak_time, *case.snatch] for case in cases]]


def opened(design: Design) -> list[Any]:
    """The whole of it: release, heights and verdicts."""
    found = opening_document(opening(assembled(design), speeds=np.zeros(0)))
    return [
        found["heights"],
        [[check["margin"], check["verdict"]] for check in found["checks"]],
        found["snatch"],
    ]


def scattered(design: Design) -> list[Any]:
    """What members are flown with, how those that fall arrive, where to release, and the map."""
    found = scattered_in_straight_glides(design, drops=120)
    members, advice = found.members, found.advice
    drawn = [np.sort(values) for values in members.inputs.values()]
    fallen = members.select(members.outcome > 0)
    arrivals = [len(fallen), np.sort(fallen.sink), np.sort(fallen.time_aloft)]
    target = None if advice is None else [advice.release, advice.now.count, advice.moved.count]
    return [drawn, arrivals, target, json.loads(geojson(found))["features"]]


def stepped(design: Design) -> list[Any]:
    """One brake pulled in straight flight, and what follows."""
    found = step_response(assembled(design), left=0.0, right=0.6)
    return [found.heading[:40], found.height_lost[:40]]


def flared(design: Design) -> list[Any]:
    """Arrival after the same quick pull, begun at the same height."""
    vehicle = assembled(design)
    descending = build_flare_descent(vehicle, find_trims(vehicle, modes=False).chosen)
    full_travel = brake_speed(design).full_travel
    found = descending.descend(servo_pull((0.0, 0.5, 0.0), full_travel=full_travel), 1.0)
    return [found.lost[:40], found.velocity[:, :40]]


def ensemble(design: Design) -> list[Any]:
    """Landing of the nominal member, by the compiled flight."""
    vehicle = assembled(design)
    family = build_ensemble_model(vehicle, release_of(vehicle), varied=())
    found = fly(family, {}, number=np.array([0]), seed=1)
    return [found.north, found.east, found.time_aloft, found.sink]
