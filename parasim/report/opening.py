"""An opening as a document, as rows of a CSV file and as rows for people."""

from collections.abc import Sequence
from typing import Any

from parasim.dynamics.inflation import nominal_diameter
from parasim.flight.opening.opening import CAUTIONS, DELAYS, AtSpeed, Opening
from parasim.flight.opening.strength import Check
from parasim.report.words import in_degrees, show_range
from parasim.units import System, show

HEADS = (
    "release_speed_m_s",
    "stretch_speed_m_s",
    "relative_speed_m_s",
    "snatch_n",
    "peak_n",
    "peak_low_n",
    "peak_high_n",
    "peak_g",
    "other_peak_n",
    "bound_n",
    "filling_time_s",
    "height_to_stretch_m",
    "height_to_full_m",
    "height_to_full_low_m",
    "height_to_full_high_m",
)
"""Of opening.csv; low and high over the range of the filling constant, other: what it is compared with."""

HELD_WORDS = {
    "nothing": "without slider or reefing",
    "slider": "with a slider",
    "reefing": "reefed",
}


def opening_document(opening: Opening) -> dict[str, Any]:
    """Opening as plain data.

    Returns
    -------
    dict
        - `name`; `release`: `speed_m_s`, `path_below_horizon_deg`, `height_m`, `pack`, `delay_s`; `held_by`:
          nothing, slider or reefing; `filling_constant`: `value`, `low`, `high`.
        - `opening_factor`: of the handbook; `constant_speed_factor`: of this model; `ballistic_parameter`:
          small where the speed drops while it fills.
        - `masses_and_areas`: `payload_kg`, `canopy_kg`, `air_kg`, `nominal_diameter_m`,
          `open_drag_area_m2`, `pack_drag_area_m2`.
        - `snatch`: `relative_speed_m_s`, `force_n`, `low_n`, `high_n`, `stretch_is_known`.
        - `opening`: `stretch_speed_m_s`, `filling_time_s`, `filling_distance_m`, `peak_n`, `low_n`, `high_n`,
          `peak_g` (in weights of the payload), `peak_time_s`, `full_speed_m_s`, `bound_n` (handbook),
          `model_bound_n`.
        - `other`: with a slider, or without what the design has: `held_by`, `peak_n`, `height_to_full_m`.
        - `heights` lost from release: `to_stretch_m`, `to_full_m`, `to_full_low_m`, `to_full_high_m`,
          `to_glide_m`; `minimum_release_m`. `glide`: `height_lost_m` and `time_s` from full to steady,
          `nosed_under`, `path_below_horizon_deg` from which it was followed.
        - `checks`: for each `part` and `event`: `load_n`, `strength_n`, `wanted_strength_n`, `margin`,
          `verdict`.
        - `speeds`: for each release speed: `HEADS`.
        - `cautions` and `caveats`: sentences.
    """
    now, case = opening.now, opening.now.designed
    opener, spec = case.opener, opening.spec
    low, high = now.peak_band
    value, soft, stiff = case.snatch
    constant = spec.filling_constant
    return {
        "name": opening.vehicle.design.name,
        "release": {
            "speed_m_s": case.release_speed,
            "path_below_horizon_deg": in_degrees(spec.release_angle),
            "height_m": opening.release_height,
            "pack": spec.pack,
            "delay_s": DELAYS[spec.pack] if spec.delay is None else spec.delay,
        },
        "held_by": opening.held_by,
        "filling_constant": {"value": constant.value, "low": constant.low, "high": constant.high},
        "opening_factor": spec.opening_factor,
        "constant_speed_factor": opener.constant_speed_factor,
        "ballistic_parameter": opener.ballistic_parameter,
        "masses_and_areas": {
            "payload_kg": opener.payload_mass,
            "canopy_kg": opener.canopy_mass,
            "air_kg": opener.air_mass,
            "nominal_diameter_m": nominal_diameter(opening.vehicle.canopy.flat_area),
            "open_drag_area_m2": opener.open_drag_area,
            "pack_drag_area_m2": opener.pack_drag_area,
        },
        "snatch": {
            "relative_speed_m_s": case.stretched.relative_speed,
            "force_n": value,
            "low_n": soft,
            "high_n": stiff,
            "stretch_is_known": opening.stiffness_is_given,
        },
        "opening": {
            "stretch_speed_m_s": case.stretch_speed,
            "filling_time_s": case.filling_time,
            "filling_distance_m": opener.filling_distance,
            "peak_n": case.peak,
            "low_n": low,
            "high_n": high,
            "peak_g": case.load_factor,
            "peak_time_s": case.peak_time,
            "full_speed_m_s": float(case.filling.speed[-1]),
            "bound_n": case.bound,
            "model_bound_n": case.model_bound,
        },
        "other": {
            "held_by": opening.compared_with,
            "peak_n": now.other.peak,
            "height_to_full_m": now.other.height_to_full,
        },
        "heights": _heights(opening),
        "glide": {
            "height_lost_m": opening.settling.height_lost,
            "time_s": opening.settling.time,
            "nosed_under": opening.settling.nosed_under,
            "path_below_horizon_deg": in_degrees(opening.settling.path),
        },
        "checks": [_check_document(check) for check in opening.checks],
        "speeds": [dict(zip(HEADS, row, strict=True)) for row in opening_csv(opening)],
        "cautions": list(CAUTIONS),
        "caveats": list(opening.caveats),
    }


def _heights(opening: Opening) -> dict[str, float | None]:
    low, high = opening.now.height_band
    return {
        "to_stretch_m": opening.now.designed.height_to_stretch,
        "to_full_m": opening.now.designed.height_to_full,
        "to_full_low_m": low,
        "to_full_high_m": high,
        "to_glide_m": opening.height_to_glide,
        "minimum_release_m": opening.minimum_release_height,
    }


def _check_document(check: Check) -> dict[str, Any]:
    return {
        "part": check.part,
        "event": check.event,
        "load_n": check.load,
        "strength_n": check.strength,
        "wanted_strength_n": check.wanted_strength,
        "margin": check.margin,
        "verdict": check.word,
    }


def opening_csv(opening: Opening) -> list[Sequence[float]]:
    """Rows under `HEADS`."""
    return [_row(one) for one in opening.speeds]


def _row(one: AtSpeed) -> list[float]:
    case = one.designed
    cells = [
        case.release_speed,
        case.stretch_speed,
        case.stretched.relative_speed,
        case.snatch[0],
        case.peak,
        *one.peak_band,
        case.load_factor,
        one.other.peak,
        case.bound,
        case.filling_time,
        case.height_to_stretch,
        case.height_to_full,
        *one.height_band,
    ]
    return [round(float(cell), 4) for cell in cells]


def summary_rows(opening: Opening, system: System) -> list[list[str]]:
    """Rows for people: what happens from release to the glide."""
    now, case, settling = opening.now, opening.now.designed, opening.settling
    other = f"peak {HELD_WORDS[opening.compared_with]}"
    low_n, high_n = sorted(case.snatch)[0], sorted(case.snatch)[-1]
    snatch_band = "" if opening.stiffness_is_given else show_range(low_n, high_n, "force", system)
    glide_time = "" if settling.time is None else f"{show(settling.time, 'time', system)} after full"
    beside = " (at least)" if settling.nosed_under else ""
    height_lost = "height lost until "
    return [
        ["speed at line stretch", show(case.stretch_speed, "speed", system), ""],
        ["payload leaves the pack at", show(case.stretched.relative_speed, "speed", system), ""],
        ["snatch at line stretch", show(case.snatch[0], "force", system), snatch_band],
        ["filling time", f"{case.filling_time:.2f} s", ""],
        [
            f"opening peak, {HELD_WORDS[opening.held_by]}",
            show(case.peak, "force", system),
            show_range(*now.peak_band, "force", system),
        ],
        ["the same in payload weights", f"{case.load_factor:.1f}", ""],
        [other, show(now.other.peak, "force", system), ""],
        ["upper bound (no slowing down)", show(case.bound, "force", system), ""],
        ["this model's, no slowing down", show(case.model_bound, "force", system), ""],
        [height_lost + "line stretch", show(case.height_to_stretch, "length", system, digits=1), ""],
        [
            height_lost + "full",
            show(case.height_to_full, "length", system, digits=1),
            show_range(*now.height_band, "length", system),
        ],
        [
            height_lost + "steady glide" + beside,
            show(opening.height_to_glide, "length", system, digits=1),
            glide_time,
        ],
        [
            f"minimum release height, {opening.spec.height_factor:g} x that" + beside,
            show(opening.minimum_release_height, "length", system, digits=0),
            "filling slowly",
        ],
    ]


def check_rows(opening: Opening, system: System) -> list[list[str]]:
    """Rows for people: loads against strengths, words and signs beside the numbers."""
    return [
        [
            f"{check.part} at {check.event}",
            show(check.load, "force", system),
            show(check.strength, "force", system),
            "-" if check.margin is None else f"{check.margin:.1f}",
            f"{check.symbol} {check.word}",
            show(check.wanted_strength, "force", system, digits=1 if system == "imperial" else 0),
        ]
        for check in opening.checks
    ]


def speed_rows(opening: Opening, system: System) -> list[list[str]]:
    """Rows for people: over release speed."""
    return [
        [
            show(one.designed.release_speed, "speed", system, digits=0),
            show(one.designed.stretch_speed, "speed", system, digits=1),
            show(one.designed.snatch[0], "force", system, digits=0),
            show(one.designed.peak, "force", system, digits=1),
            show_range(*one.peak_band, "force", system),
            show(one.other.peak, "force", system, digits=1),
            show(one.designed.bound, "force", system, digits=0),
            show(one.designed.height_to_full, "length", system, digits=1),
        ]
        for one in opening.speeds
    ]
