"""Every key of a design file changes a result: each is nudged, and what it should move is asked.

`NUDGES` and `ALSO_MOVES` say how each key is nudged and which results have to move, all of them: those of the
geometry, of the masses, of the steady glide, of one brake pulled, of the bands, or of flights: a drop, the
step response of a turn, a flare, a member of an ensemble. Results are numbers that commands report or are
made of, never a copy of what was written.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from pydantic import BaseModel

from parasim.aerodynamics.factors import build_ranges
from parasim.config.calibration import NUMBERS as CALIBRATED
from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.dynamics.vehicle import assemble, in_wind
from parasim.environment.wind import Wind
from parasim.flight.turn.turn import band_figures
from parasim.flight.uncertainty import bands
from parasim.geometry.airfoil import build_outline
from parasim.scatter.ensemble_model import FACTORS
from tests.house.observed import (
    band,
    drawn,
    dropped,
    ensemble,
    flared,
    geometry,
    glide,
    landed,
    mass,
    one_brake,
    opened,
    packs,
    pulled,
    scattered,
    sewn,
    stepped,
    tied,
    unpacked,
)

pytestmark = pytest.mark.slow

SOURCES = (
    *(f"calibration.{name}" for name in CALIBRATED),
    "opening.filling_constant",
    "servo.dynamic_factor",
)
EXEMPT = {"name": "a label: printed, no result hangs on it", "description": "a note to oneself"}
EXEMPT |= {f"{key}.from": "words: said beside the bands" for key in SOURCES}
NUMBERS = (int, float, complex, np.number)

BY_ROWS = {
    "lines.length": None,
    "lines.rigging_angle": None,
    "lines.row_lengths": {"A": "746 mm", "D": "826 mm"},
}
UNTIMED = {"opening.delay": None, "opening.drag_area": None}
AT_REST = {"drop.start": "rest", "drop.velocity": None}


def hooked(**changes: Any) -> dict[str, Any]:
    """A payload on front and rear hooks: yet another way."""
    hooks = {
        "hooks": "front and rear",
        "front": 0.03,
        "rear": -0.04,
        "height": 0.08,
        "front_rows": ["A", "B"],
    }
    rows = {"front_rows": ["A", "B"], "front_riser": 0.05, "rear_riser": 0.05}
    return {"payload.suspension": {**hooks, **rows, **changes}}


def hinged(**changes: float) -> dict[str, Any]:
    """A payload that swings on its own: another way to fly, so nothing of it is in the rich file."""
    return {
        "payload.suspension": {"roll_stiffness": 0.5, "twist_stiffness": 0.05, "damping": 0.05, **changes}
    }


CHANGED_SPREADS = {
    "scatter.release_north": {"normal": "6 m"},
    "scatter.release_east": {"uniform": ["-3 m", "9 m"]},
    "scatter.release_height": {"triangular": ["-1 m", "0 m", "2 m"]},
    "scatter.heading": {"normal": "8 deg", "mean": "5 deg"},
    "scatter.wind_speed": {"normal": "10 %"},
    "scatter.wind_from": {"normal": "20 deg"},
    "scatter.payload_mass": {"normal": "0.1 kg"},
    "scatter.rigging_angle": {"normal": "1 deg"},
    "scatter.left_trim": {"normal": "4 %"},
    "scatter.right_trim": {"normal": "4 %"},
    **{f"scatter.{name}": {"uniform": [0.0, 0.01]} for name in FACTORS},
}

WINCH = {"kind": "winch", "torque": "5 kgf cm", "time_per_60_deg": "0.14 s", "drum": "40 mm"}


def nose(**changes: Any) -> dict[str, Any]:
    """An open nose, by height and angle or by its lips: the rich file has a flush slot."""
    return {"canopy.inlet": {"kind": "open", **changes}}


RING = {"below": "40 mm", "friction": [0.1, 0.3], "guide": ["20 mm", "0 mm", "0 mm"], "drag": "0.1 N"}

NUDGES: dict[str, tuple[Any, Any]] = {
    "payload.mass": ("1.3 kg", glide),
    "payload.size": (["0.22 m", "0.12 m", "0.16 m"], mass),
    "payload.kind": ({"payload.drag_area": None, "payload.kind": "soft"}, glide),
    "payload.drag_area": ("0.02 m^2", glide),
    "canopy.span": ("1.12 m", glide),
    "canopy.chord": ("0.51 m", glide),
    "canopy.taper": (0.95, glide),
    "canopy.cells": ({"canopy.cells": 14}, geometry),
    "canopy.half_cells": (7, mass),
    "canopy.arc_radius": ("0.82 m", glide),
    "canopy.airfoil.family": ("symmetric", glide),
    "canopy.airfoil.thickness": ("16 %", glide),
    "canopy.airfoil.coordinates": (
        {"canopy.airfoil": {"coordinates": "FILE"}},
        geometry,
    ),
    "canopy.inlet.kind": ("open", glide),
    "canopy.inlet.height": ("5 %", glide),
    "canopy.inlet.cut_angle": (nose(height="6 %", cut_angle="80 deg"), mass),
    "canopy.inlet.overhang": (nose(height="6 %", overhang="1 %"), mass),
    "canopy.inlet.upper_lip": (nose(upper_lip="3 %", lower_lip="5 %"), glide),
    "canopy.inlet.lower_lip": (nose(upper_lip="2 %", lower_lip="6 %"), glide),
    "canopy.stabilisers.height": ("0.08 m", glide),
    "canopy.stabilisers.chord": ("70 %", glide),
    "canopy.stabilisers.rows": ({"canopy.stabilisers.rows.S": "60 %"}, geometry),
    "canopy.stabilisers.front_rows": (hooked() | {"canopy.stabilisers.front_rows": []}, geometry),
    "canopy.crossports.count": (4, mass),
    "canopy.crossports.diameter": ("7 %", mass),
    "canopy.cloth.areal_weight": ("45 g/m^2", glide),
    "canopy.cloth.permeability": ("2 ft^3/min/ft^2", glide),
    "lines.length": ("0.8 m", glide),
    "lines.rigging_angle": ("5 deg", glide),
    "lines.row_lengths": ({**BY_ROWS, "lines.row_lengths": {"A": "746 mm", "D": "830 mm"}}, glide),
    "lines.rows": ({"lines.rows.B": "40 %"}, geometry),
    "lines.diameter": ("1 mm", glide),
    "lines.linear_density": ("0.7 g/m", mass),
    "lines.riser.length": ("0.2 m", glide),
    "lines.riser.spread": ("0.16 m", geometry),
    "lines.cascades.rows": ({"lines.cascades.0.rows": ["A", "C"]}, geometry),
    "lines.cascades.height": ({"lines.cascades.0.height": "50 %"}, geometry),
    "lines.cascades.load": ({"lines.cascades.0.load": ["40 %", "60 %"]}, geometry),
    "brakes.span_fraction": ("60 %", one_brake),
    "brakes.travel": ("130 mm", one_brake),
    "brakes.free_play": ("8 mm", one_brake),
    "brakes.branches": ({"brakes.branches": 4, "brakes.shares": None}, geometry),
    "brakes.shares": ([0.5, 1.0, 1.0], one_brake),
    "brakes.fan_height": ("60 %", geometry),
    "brakes.levels": (2, geometry),
    "brakes.ring.riser": (hooked() | {"brakes.ring": {**RING, "below": "20 mm", "riser": "front"}}, geometry),
    "brakes.ring.below": ({"brakes.ring": {**RING, "below": "60 mm"}}, geometry),
    "brakes.ring.friction": ({"brakes.ring": {**RING, "friction": [0.2, 0.4]}}, pulled),
    "brakes.ring.guide": ({"brakes.ring": {**RING, "guide": ["50 mm", "0 mm", "0 mm"]}}, pulled),
    "brakes.ring.drag": ({"brakes.ring": {**RING, "drag": "0.4 N"}}, pulled),
    "calibration.lift_factor.value": (0.9, glide),
    "calibration.extra_drag.value": (0.005, glide),
    "calibration.inlet_drag_factor.value": (0.2, glide),
    "calibration.moment_shift.value": (0.005, glide),
    "calibration.line_drag_coefficient.value": (1.3, glide),
    "calibration.roughness_drag.value": (0.005, glide),
    "calibration.brake_lift_factor.value": (0.4, one_brake),
    "calibration.brake_drag_factor.value": (1.4, one_brake),
    "calibration.side_force_slope.value": (-0.08, glide),
    "calibration.yaw_damping.value": (-0.2, glide),
    "calibration.roll_damping.value": (-0.3, glide),
    "calibration.lift_factor.low": (0.7, band),
    "calibration.lift_factor.high": (1.1, band),
    "calibration.extra_drag.low": (0.001, band),
    "calibration.extra_drag.high": (0.008, band),
    "calibration.inlet_drag_factor.low": (
        {"calibration.inlet_drag_factor": {"value": 0.1, "low": 0.05, "high": 0.15}}, band,
    ),
    "calibration.inlet_drag_factor.high": (
        {"calibration.inlet_drag_factor": {"value": 0.1, "low": 0.0, "high": 0.2}}, band,
    ),
    "calibration.moment_shift.low": (-0.01, band),
    "calibration.moment_shift.high": (0.01, band),
    "calibration.line_drag_coefficient.low": (1.1, band),
    "calibration.line_drag_coefficient.high": (1.6, band),
    "calibration.roughness_drag.low": (0.001, band),
    "calibration.roughness_drag.high": (0.008, band),
    "calibration.correlations": ({"calibration.correlations": {"lift_factor": {"moment_shift": 0.6}}}, band),
    "payload.center_of_mass.forward": ("20 mm", dropped),
    "payload.center_of_mass.up": ("10 mm", dropped),
    "payload.suspension.hooks": ({"payload.suspension": {"hooks": "stiff"}}, glide),
    "payload.suspension.front": (hooked(front=0.05), glide),
    "payload.suspension.rear": (hooked(rear=-0.02), glide),
    "payload.suspension.height": (hooked(height=0.11), glide),
    "payload.suspension.front_rows": (hooked(front_rows=["A", "B", "C"]), glide),
    "payload.suspension.front_riser": (hooked(front_riser=0.07), glide),
    "payload.suspension.rear_riser": (hooked(rear_riser=0.07), glide),
    "payload.suspension.roll_stiffness": (hinged(roll_stiffness=1.0), dropped),
    "payload.suspension.twist_stiffness": (hinged(twist_stiffness=0.2), dropped),
    "payload.suspension.damping": (hinged(damping=0.2), dropped),
    "lines.material": ("uhmwpe", tied),
    "lines.strength": ("400 N", tied),
    "lines.loop_allowance": ("50 mm", tied),
    "lines.tie_allowance": ("25 mm", tied),
    "lines.measuring_tension": ("20 N", tied),
    "lines.cascades.through": ({"lines.cascades.0.through": "B"}, tied),
    "sewing.seam_allowance": ("12 mm", sewn),
    "sewing.hem": ("20 mm", sewn),
    "sewing.panel": ("cell", sewn),
    "sewing.billow": ("3 %", sewn),
    "sewing.notch_spacing": ("60 mm", drawn),
    "sewing.patch": ("60 mm", sewn),
    "sewing.cloth_width": ("0.9 m", sewn),
    "sewing.tape": ("2 g/m", mass),
    "sewing.thread": ("0.05 g/m", mass),
    "packing.tube": ({"packing": {"tube": "80 mm", "length": "200 mm"}}, packs),
    "packing.bag": ("80 mm", packs),
    "packing.bag_box": ({"packing": {"bag_box": ["80 mm", "60 mm"], "length": "200 mm"}}, packs),
    "packing.tray": ({"packing": {"tray": ["120 mm", "80 mm"], "length": "200 mm"}}, packs),
    "packing.length": ("150 mm", packs),
    "packing.density": ("250 kg/m^3", packs),
    "landing.stop_distance": ("50 mm", landed),
    "landing.max_sink": ("1 m/s", landed),
    "landing.max_ground_speed": ("2 m/s", landed),
    "landing.max_energy": ("5 J", landed),
    "landing.max_load": (5, landed),
    "opening.release_speed": ("12 m/s", opened),
    "opening.release_angle": ("40 deg", unpacked),
    "opening.pack": ({**UNTIMED, "opening.pack": "static line"}, unpacked),
    "opening.delay": ("1.2 s", unpacked),
    "opening.drag_area": ("0.03 m^2", unpacked),
    "opening.line_stiffness": ("5 kN", unpacked),
    "opening.filling_constant.value": (7, unpacked),
    "opening.filling_constant.low": (3, unpacked),
    "opening.filling_constant.high": (12, unpacked),
    "opening.growth_exponent": (1.5, unpacked),
    "opening.slider": ({"opening.reefing": None, "opening.slider": True}, unpacked),
    "opening.reefing.area": ("30 %", unpacked),
    "opening.reefing.time": ("0.6 s", unpacked),
    "opening.opening_factor": (2.0, unpacked),
    "opening.tab_strength": ("80 N", opened),
    "opening.height_factor": (3, opened),
    **{key: ({key: spread}, scattered) for key, spread in CHANGED_SPREADS.items()},
    "scatter.unopened": ("20 %", scattered),
    "scatter.late.probability": ("30 %", scattered),
    "scatter.late.delay": ("1 s", scattered),
    "scatter.target.north": ("15 m", scattered),
    "scatter.target.east": ("-25 m", scattered),
    "scatter.target.radius": ("60 m", scattered),
    "site.position": ([47.2, 11.2], scattered),
    "servo.kind": ({"servo": WINCH}, pulled),
    "servo.torque": ("8 kgf cm", pulled),
    "servo.time_per_60_deg": ("0.2 s", pulled),
    "servo.arm": ("80 mm", pulled),
    "servo.sweep": ("90 deg", pulled),
    "servo.offset": ("10 deg", pulled),
    "servo.line_distance": ("150 mm", pulled),
    "servo.drum": ({"servo": {**WINCH, "drum": "50 mm"}}, pulled),
    "servo.dynamic_factor.value": (2.0, pulled),
    "servo.dynamic_factor.low": (1.4, pulled),
    "servo.dynamic_factor.high": (3.0, pulled),
    "servo.torque_per_current": (1.2, pulled),
    "servo.measured.pull": ("80 mm", pulled),
    "servo.measured.force": ("5 N", pulled),
    "servo.measured.airspeed": ("8 m/s", pulled),
    "servo.measured.error": ("0.3 N", pulled),
    "site.ground_height": ("800 m", glide),
    "site.temperature_offset": ("15 K", glide),
    "site.sea_level_pressure": ("980 hPa", glide),
    "site.wind.speed": ("4 m/s", dropped),
    "site.wind.from": ("200 deg", dropped),
    "site.wind.reference_height": ("5 m", dropped),
    "site.wind.exponent": (0.25, dropped),
    "site.wind.turn": ("40 deg", dropped),
    "site.wind.roughness": ({"site.wind.exponent": None, "site.wind.roughness": "1 m"}, dropped),
    "site.wind.table": ({"site.wind": {"table": "FILE"}}, dropped),
    "site.gust.speed": ("2 m/s", dropped),
    "site.gust.length": ("12 m", dropped),
    "site.gust.start": ("0.6 s", dropped),
    "site.gust.direction": ("up", dropped),
    "site.gust.from": ({"site.gust.direction": None, "site.gust.from": "30 deg"}, dropped),
    "site.gust.shape": ("stays", dropped),
    "site.turbulence.seed": (4, dropped),
    "site.turbulence.intensity": ("20 %", dropped),
    "site.turbulence.deviation": (
        {"site.turbulence.intensity": None, "site.turbulence.deviation": "0.6 m/s"}, dropped,
    ),
    "drop.height": ("15 m", dropped),
    "drop.start": (AT_REST, dropped),
    "drop.velocity": (["1 m/s", "-6 m/s", "3 m/s"], dropped),
    "drop.heading": ("260 deg", dropped),
    "drop.brakes.at_time": ({"drop.brakes.0": "0.7s: L 0.4 R 0 over 0.5s"}, dropped),
    "drop.brakes.at_height": ({"drop.brakes.1": "6m: L 0.5 R 0.5 over 1s"}, dropped),
    "drop.brakes.left": ({"drop.brakes.0": "0.5s: L 0.5 R 0 over 0.5s"}, dropped),
    "drop.brakes.right": ({"drop.brakes.1": "5m: L 0.5 R 0.7 over 1s"}, dropped),
    "drop.brakes.over": ({"drop.brakes.0": "0.5s: L 0.4 R 0 over 0.8s"}, dropped),
}  # fmt: skip
"""New value, or all keys to change at once, and the first result that has to move."""

FLIGHTS = (dropped, stepped, flared, ensemble)
ALSO_MOVES: dict[str, tuple[Any, ...]] = {
    "canopy.stabilisers.rows": (mass, tied, drawn),
    **dict.fromkeys(
        (
            "payload.mass", "payload.drag_area", "canopy.span", "canopy.chord", "canopy.arc_radius",
            "canopy.airfoil.thickness", "canopy.cloth.areal_weight", "lines.length", "lines.rigging_angle",
            "lines.diameter", "brakes.span_fraction", "brakes.travel", "brakes.free_play",
            "calibration.brake_lift_factor.value", "calibration.brake_drag_factor.value",
            "site.ground_height",
        ),
        FLIGHTS,
    ),
    **dict.fromkeys(
        (
            "servo.kind", "servo.time_per_60_deg", "servo.arm", "servo.sweep", "servo.offset",
            "servo.line_distance", "servo.drum",
        ),
        FLIGHTS,
    ),
    **dict.fromkeys(
        (
            "site.wind.speed", "site.wind.from", "site.gust.speed", "site.turbulence.intensity",
            "drop.height", "drop.heading", "drop.brakes.at_time", "drop.brakes.at_height", "drop.brakes.left",
            "drop.brakes.right", "drop.brakes.over",
        ),
        (ensemble,),
    ),
}  # fmt: skip
"""Further results that have to move: a key that counts in one flight counts in all that fly the same."""

COMPARED_WITH: dict[str, dict[str, Any]] = {
    "canopy.inlet.cut_angle": nose(height="6 %"),
    "canopy.inlet.overhang": nose(height="6 %"),
    "canopy.inlet.upper_lip": nose(upper_lip="2 %", lower_lip="5 %"),
    "canopy.inlet.lower_lip": nose(upper_lip="2 %", lower_lip="5 %"),
    "lines.row_lengths": BY_ROWS,
    "payload.kind": {"payload.drag_area": None},
    **{
        f"payload.suspension.{key}": hooked()
        for key in ("front", "rear", "height", "front_rows", "front_riser", "rear_riser")
    },
    "payload.suspension.roll_stiffness": hinged(),
    "payload.suspension.twist_stiffness": hinged(),
    "payload.suspension.damping": hinged(),
    "opening.pack": UNTIMED,
    "opening.slider": {"opening.reefing": None},
    "servo.drum": {"servo": WINCH},
    "canopy.stabilisers.front_rows": hooked(),
    "brakes.ring.riser": hooked() | {"brakes.ring": {**RING, "below": "20 mm"}},
    **{f"brakes.ring.{key}": {"brakes.ring": RING} for key in ("below", "friction", "guide", "drag")},
}
"""What to nudge from, where a key only counts in the company of others."""

TURN_RANGES = {
    f"calibration.{factor}.{end}": value
    for factor, low, high in (
        ("brake_lift_factor", 0.05, 0.6),
        ("brake_drag_factor", 0.8, 4.0),
        ("side_force_slope", -0.2, 0.1),
        ("yaw_damping", -0.9, 0.0),
        ("roll_damping", -0.9, 0.1),
    )
    for end, value in (("low", low), ("high", high))
}
"""Ends of ranges that only the bands of a turn read."""


def leaves(spec: type[BaseModel], prefix: str = "") -> Iterator[str]:
    """Dotted keys of all values below a spec; entries of lists are not counted."""
    for name, info in spec.model_fields.items():
        key = prefix + (info.alias or name)
        below = spec_within(info.annotation)
        if below is None:
            yield key
        else:
            yield from leaves(below, key + ".")


def spec_within(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for found in map(spec_within, get_args(annotation)) if found), None)


@cache
def rich() -> Design:
    return load_design(Path(__file__).with_name("rich.yaml"))


@cache
def results_before(observe: Any, key: str) -> list[Any]:
    return observe(override(rich(), COMPARED_WITH.get(key, {})))


def words_and_numbers(value: Any) -> Iterator[Any]:
    """All that stands in lists, mappings and arrays, in order."""
    if isinstance(value, Mapping):
        value = list(value.values())
    if isinstance(value, list | tuple | np.ndarray):
        for entry in value:
            yield from words_and_numbers(entry)
    else:
        yield value


def moved(before: list[Any], after: list[Any]) -> bool:
    """Whether a word changed, or a number by more than one part in a million of the largest beside it."""
    for one, other in zip(before, after, strict=True):
        parts = [list(words_and_numbers(result)) for result in (one, other)]
        numbers = [np.array([x for x in part if isinstance(x, NUMBERS)], dtype=complex) for part in parts]
        words = [[x for x in part if not isinstance(x, NUMBERS)] for part in parts]
        if words[0] != words[1] or numbers[0].shape != numbers[1].shape:
            return True
        one, other = (np.nan_to_num(part, nan=0.0, posinf=1e9) for part in numbers)
        if one.size and np.any(
            np.abs(one - other) > 1e-6 * np.abs(one).max(where=np.abs(one) < 1e9, initial=0)
        ):
            return True
    return False


def nudged(key: str, tmp_path: Path) -> Design:
    change, _ = NUDGES[key]
    changes = dict(change) if isinstance(change, dict) else {key: change}
    if key == "canopy.airfoil.coordinates":
        file = tmp_path / "section.dat"
        np.savetxt(file, build_outline("reflexed", 0.14), fmt="%.6f", header="section", comments="")
        changes = {"canopy.airfoil": {"coordinates": str(file)}}
    if key == "site.wind.table":
        file = tmp_path / "wind.csv"
        file.write_text("height_m,speed_m_s,from_deg\n2,1,250\n20,5,280\n")
        changes = {"site.wind": {"table": str(file)}}
    return override(rich(), changes)


def test_every_key_is_nudged_or_excused():
    assert {*NUDGES, *EXEMPT, *TURN_RANGES} == set(leaves(Design))


def test_the_rich_file_leaves_nothing_out():
    """But for what excludes something else in it, and the calibration, whose defaults will do."""
    left_out = {
        key
        for key in leaves(Design)
        if not key.startswith("calibration.") and not is_set(rich(), key.split("."))
    }
    apart = {
        "canopy.inlet.upper_lip",
        "canopy.inlet.lower_lip",
        "canopy.airfoil.coordinates",
        "lines.row_lengths",
        "servo.drum",
        "packing.tray",
        "packing.bag_box",
    }
    apart |= {"site.wind.roughness", "site.wind.table", "site.gust.from", "site.turbulence.deviation"}
    apart |= {"canopy.stabilisers.front_rows"}
    apart |= {key for key in leaves(Design) if key.startswith("brakes.ring.")}  # would stand in every line
    hung_otherwise = {key for key in leaves(Design) if key.startswith("payload.suspension.")}
    assert left_out == apart | hung_otherwise - {"payload.suspension.hooks", "payload.suspension.damping"}


def is_set(value: Any, path: list[str]) -> bool:
    if isinstance(value, tuple) and path:
        return any(is_set(entry, path) for entry in value)
    if not path:
        return value is not None
    if value is None:
        return False
    name = next((name for name, info in type(value).model_fields.items() if info.alias == path[0]), path[0])
    return is_set(getattr(value, name), path[1:])


@pytest.mark.parametrize("key", NUDGES)
def test_key_moves_its_results(key, tmp_path):
    design, compared = nudged(key, tmp_path), key if key in COMPARED_WITH else ""
    still = [
        observe.__name__
        for observe in (NUDGES[key][1], *ALSO_MOVES.get(key, ()))
        if not moved(results_before(observe, compared), observe(design))
    ]
    assert still == []


def test_further_results_are_those_of_keys_that_are_nudged():
    assert set(ALSO_MOVES) <= set(NUDGES)


def test_a_dead_key_would_be_noticed():
    """Nothing moves when only a label changes."""
    observed = (geometry, mass, glide, one_brake)
    renamed = override(rich(), {"name": "other", "description": "another note"})
    assert not any(moved(observe(rich()), observe(renamed)) for observe in observed)


def turn_band(design: Design, factor: str) -> list[float]:
    """Ends of the turn rates' bands that one factor makes."""
    vehicle = in_wind(assemble(design), Wind.calm())
    ranges = tuple(each for each in build_ranges(design) if each.name == factor)
    found = bands(vehicle, ranges, band_figures).figures.values()
    return [end for one in found for end in (one.low, one.high)]


@pytest.mark.parametrize("key", TURN_RANGES)
def test_range_moves_a_turn_band(key):
    factor = key.split(".")[1]
    nudged = turn_band(override(rich(), {key: TURN_RANGES[key]}), factor)
    assert moved(turn_band(rich(), factor), nudged)
