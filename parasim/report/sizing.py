"""A sizing as a document, as rows of a CSV file and as rows for people."""

from typing import Any

from parasim.flight.drop import CAUTIONS
from parasim.flight.glide import STALL_RESERVE, TUCK_RESERVE
from parasim.report.words import FLAT_AREA, in_degrees, show_range
from parasim.study.sizing import SizePoint, Sizing
from parasim.units import System, show

GOAL_WORDS = {"sink": ("a sink", "speed"), "energy": ("an energy", "energy")}
"""Words and kind of quantity of what is aimed at."""

SIZE_HEADS = (
    "area_m2",
    "rigging_angle_deg",
    "span_m",
    "chord_m",
    "line_length_m",
    "mass_kg",
    "sink_m_s",
    "forward_speed_m_s",
    "airspeed_m_s",
    "glide_ratio",
    "energy_j",
    "tuck_margin_deg",
    "stall_margin_deg",
    "margins_kept",
)
"""Of size.csv; empty where there is no stable steady glide."""


def sizing_document(sizing: Sizing) -> dict[str, Any]:
    """Sizing as plain data.

    Returns
    -------
    dict
        - ``name``; ``goal`` (sink or energy); ``target_m_s`` or ``target_j``; ``flat_area_definition``.
        - ``as_designed``, ``best`` (null if none; of ``answers`` that keep both margins the one that
          glides furthest): the columns of `SIZE_HEADS`; ``answers``: for each rigging angle that can
          meet the target; ``map``: every canopy looked at. ``reserves``: ``tuck_deg``, ``stall_deg``.
        - ``bands``: of the best's ``sink_m_s`` and ``energy_j``: ``low``, ``high``; empty without a best.
          ``bands_lost``: factors at one end of whose range it has no steady glide; ``no_glide_fraction``:
          then the part of the canopies drawn from all ranges that has none, else null.
        - ``best_lengths``: of the best: ``span_m``, ``chord_m``, ``arc_radius_m``, ``line_length_m``,
          ``riser_spread_m``, ``stabiliser_height_m`` (null without), ``brake_travel_m``, ``free_play_m``.
        - ``reached_low_m_s``, ``reached_high_m_s`` or ``reached_low_j``, ``reached_high_j``: range of the
          figure on the map.
        - ``cautions`` and ``caveats``: sentences.
    """
    low, high = sizing.reached or (None, None)
    unit, bands = "m_s" if sizing.goal == "sink" else "j", sizing.bands
    return {
        "name": sizing.design.name,
        "goal": sizing.goal,
        f"target_{unit}": sizing.target,
        "flat_area_definition": FLAT_AREA,
        "as_designed": point_document(sizing, sizing.as_designed),
        "best": point_document(sizing, sizing.best) if sizing.best else None,
        "bands": {
            key: {"low": bands.figures[name].low, "high": bands.figures[name].high}
            for key, name in (("sink_m_s", "sink"), ("energy_j", "energy"))
        }
        if bands
        else {},
        "bands_lost": list(bands.lost) if bands else [],
        "no_glide_fraction": bands.lost_share if bands else None,
        "best_lengths": {f"{name}_m": value for name, value in best_lengths(sizing).items()},
        "answers": [point_document(sizing, point) for point in sizing.answers],
        "reserves": {"tuck_deg": in_degrees(TUCK_RESERVE), "stall_deg": in_degrees(STALL_RESERVE)},
        f"reached_low_{unit}": low,
        f"reached_high_{unit}": high,
        "map": [point_document(sizing, point) for row in sizing.grid for point in row],
        "cautions": list(CAUTIONS),
        "caveats": list(sizing.caveats),
    }


def point_document(sizing: Sizing, point: SizePoint) -> dict[str, Any]:
    """One canopy under `SIZE_HEADS`; null where there is no stable steady glide."""
    canopy, trim = sizing.design.canopy, point.trim
    return {
        "area_m2": point.area,
        "rigging_angle_deg": in_degrees(point.rigging_angle),
        "span_m": point.scale * canopy.span,
        "chord_m": point.scale * canopy.chord,
        "line_length_m": point.line_length,
        "mass_kg": point.mass,
        "sink_m_s": trim.sink if trim else None,
        "forward_speed_m_s": trim.forward_speed if trim else None,
        "airspeed_m_s": trim.airspeed if trim else None,
        "glide_ratio": trim.glide_ratio if trim else None,
        "energy_j": point.figure("energy") if trim else None,
        "tuck_margin_deg": in_degrees(point.tuck_margin) if trim else None,
        "stall_margin_deg": in_degrees(point.stall_margin) if trim else None,
        "margins_kept": point.allowed,
    }


def sizing_csv(sizing: Sizing) -> list[list[Any]]:
    """Rows under `SIZE_HEADS`: every canopy of the map, then the answers."""
    points = [*(point for row in sizing.grid for point in row), *sizing.answers]
    documents = (point_document(sizing, point) for point in points)
    return [
        [round(value, 4) if isinstance(value, float) else value for value in map(found.get, SIZE_HEADS)]
        for found in documents
    ]


def best_lengths(sizing: Sizing) -> dict[str, float | None]:
    """Lengths to write into the design file for the best canopy; empty if there is none. [m]"""
    if sizing.best is None:
        return {}
    design, k = sizing.design, sizing.best.scale
    fins = design.canopy.stabilisers
    return {
        "span": k * design.canopy.span,
        "chord": k * design.canopy.chord,
        "arc_radius": k * (design.canopy.arc_radius or sizing.as_designed.line_length),
        "line_length": sizing.best.line_length,
        "riser_spread": k * design.lines.riser.spread,
        "stabiliser_height": k * fins.height if fins else None,
        "brake_travel": k * design.brakes.travel,
        "free_play": k * design.brakes.free_play,
    }


def length_rows(sizing: Sizing, system: System) -> list[list[str]]:
    """The same as text."""
    return [
        [name.replace("_", " "), show(value, "small_length", system)]
        for name, value in best_lengths(sizing).items()
        if value is not None
    ]


def answer_rows(sizing: Sizing, system: System) -> list[list[str]]:
    """The design as it is, then each answer; the best is marked."""
    rows = [_row("as designed", sizing.as_designed, system)]
    for point in sizing.answers:
        rows.append(_row("best glide" if point is sizing.best else "", point, system))
    return rows


def _row(words: str, point: SizePoint, system: System) -> list[str]:
    trim = point.trim
    if trim is None:
        return [words, show(point.rigging_angle, "angle", system), show(point.area, "area", system)]
    return [
        words,
        show(point.rigging_angle, "angle", system),
        show(point.area, "area", system),
        show(trim.sink, "speed", system),
        show(point.figure("energy"), "energy", system),
        f"{trim.glide_ratio:.2f}",
        show(trim.forward_speed, "speed", system),
        show(point.tuck_margin, "angle", system) + _mark(point.tuck_margin >= TUCK_RESERVE),
        show(point.stall_margin, "angle", system) + _mark(point.stall_margin >= STALL_RESERVE),
    ]


ANSWER_HEADS = (
    "",
    "rigging",
    "flat area",
    "sink",
    "energy",
    "glide",
    "forward speed",
    "tuck margin",
    "stall margin",
)
"""Of `answer_rows`."""


def cost_sentence(sizing: Sizing, system: System) -> str:
    """What the best canopy costs against the design as it is."""
    best, own = sizing.best, sizing.as_designed
    if best is None or best.trim is None or own.trim is None:
        return ""
    glide = best.trim.glide_ratio - own.trim.glide_ratio
    forward = best.trim.forward_speed - own.trim.forward_speed
    return (
        f"Against the design as it is: {100 * (best.area / own.area - 1):+.0f} % of area, "
        f"{show(best.mass - own.mass, 'small_mass', system)} of mass, glide ratio {glide:+.2f}, and "
        f"{show(abs(forward), 'speed', system)} {'more' if forward > 0 else 'less'} forward speed to spend "
        "against the wind."
    )


def band_sentence(sizing: Sizing, system: System) -> str:
    """How sure the landing of the best canopy is; empty if there is none."""
    if sizing.bands is None:
        return ""
    sink, energy = sizing.bands.figures["sink"], sizing.bands.figures["energy"]
    return (
        f"About 95 of 100 such canopies sink at {show_range(sink.low, sink.high, 'speed', system)} and land "
        f"with {show_range(energy.low, energy.high, 'energy', system)}, if the factors' ranges are right."
    )


def failure_sentence(sizing: Sizing, system: System) -> str:
    """Why there is no best one."""
    words, kind = GOAL_WORDS[sizing.goal]
    wanted = f"{words} of {show(sizing.target, kind, system)}"
    areas = [point.area for row in sizing.grid for point in row]
    if not areas or sizing.reached is None:
        return f"No canopy of this kind glides steadily; none reaches {wanted}."
    span = f"{show(min(areas), 'area', system)} to {show(max(areas), 'area', system)}"
    if not sizing.answers:
        low, high = (show(end, kind, system) for end in sizing.reached)
        return f"No combination reaches {wanted}: flat areas of {span} give {low} to {high}."
    return f"Combinations reach {wanted}, but none keeps both margins; see the table."


def _mark(kept: bool) -> str:
    return " +" if kept else " x"
