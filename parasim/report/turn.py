"""A turn as a document, as rows of CSV files and as rows and sentences for people."""

from math import degrees, isfinite
from typing import Any

import numpy as np

from parasim.flight.trim import Trim
from parasim.flight.turn.steady import STEEP_BANK, SteadyTurn, banked_sink_growth, coordinated_radius
from parasim.flight.turn.step import StepResponse
from parasim.flight.turn.turn import Turn
from parasim.flight.uncertainty import Band
from parasim.report.words import column, factor_in_words, in_degrees, show_pull, show_range
from parasim.units import System, show

TURN_HEADS = (
    "left_brake_fraction",
    "right_brake_fraction",
    "pull_mm",
    "turn_rate_deg_s",
    "bank_deg",
    "coordinated_bank_deg",
    "pitch_deg",
    "sideslip_deg",
    "alpha_deg",
    "radius_m",
    "coordinated_radius_m",
    "turn_time_s",
    "airspeed_m_s",
    "sink_m_s",
    "height_lost_per_turn_m",
    "growth_per_s",
)
"""Of turn.csv: steady turns, first to the right, then to the left; right and right wing down positive."""

STEP_HEADS = (
    "right_brake_fraction",
    "time_s",
    "heading_deg",
    "turn_rate_deg_s",
    "bank_deg",
    "sideslip_deg",
    "height_lost_m",
    "north_m",
    "east_m",
)
"""Of turn_step.csv: step responses, one after another; the nose points north before the pull."""

STEP_EVERY = 2
"""Samples of a step response from one row of its CSV file to the next."""

LONGEST_RADIUS = 3000.0
"""Radius beyond which a turn is shown as straight. [m]"""


def turn_document(turn: Turn) -> dict[str, Any]:
    """Turn as plain data; right, and right wing down, are positive.

    Returns
    -------
    dict
        - ``name``; ``straight``: ``airspeed_m_s``, ``sink_m_s``, ``dynamically_stable`` with the brakes
          released.
        - ``steady_turns``: ``right`` and ``left``, each a list by rising brake with the columns of
          `TURN_HEADS` and ``stable``; radius, time and height are null when straight.
        - ``turn_bands``: list of ``right_brake_fraction``, ``pull_mm``, ``turn_rate_deg_s``, its
          ``low_deg_s`` and ``high_deg_s``, ``may_spiral`` (then the upper end is open: null), ``causes``
          (factor to share of the band, 0 to 1), ``uncalibrated_fraction`` (share of factors that nothing but
          a flight can settle).
          ``bands_lost``: factors at one end of whose range there is no steady glide to turn out of;
          ``no_glide_fraction``: then the part of the canopies drawn from all ranges that has none, else null.
        - ``steady_to_brake_fraction`` and ``steady_to_low_brake_fraction``: right brake up to which steady
          turns of less than ``steep_bank_deg`` go, and the low end of its band.
          ``spiral_brake_fraction``: where the design itself spirals, or null.
          ``reversal_brake_fraction``: right brake below which it turns away from it, or null;
          ``wrong_way_deg_s``: fastest such turn. ``growing_brake_fraction``: list of right brakes in whose
          steady turn it will not stay.
        - ``steps``: list of ``right_brake_fraction``, ``pull_mm``, ``rise_time_s``, ``overshoot_fraction``,
          ``adverse_heading_deg``, ``settled_deg_s``, ``height_lost_m``, and how far the payload moved against
          the canopy, ``payload_swing_deg``, ``payload_twist_deg``, ``payload_lean_deg``.
        - ``cautions`` and ``caveats``: sentences.
    """
    travel = turn.vehicle.design.brakes.travel
    uncalibrated = turn.uncalibrated_share
    reach = turn.bands.figures["reach"]
    return {
        "name": turn.vehicle.design.name,
        "straight": _straight_document(turn.straight),
        "steady_turns": {
            "right": [_steady_document(each, travel) for each in turn.right],
            "left": [_steady_document(each, travel) for each in turn.left],
        },
        "turn_bands": [
            {
                "right_brake_fraction": brake,
                "pull_mm": 1e3 * travel * brake,
                "turn_rate_deg_s": in_degrees(band.value),
                "low_deg_s": in_degrees(band.low),
                "high_deg_s": in_degrees(band.high),
                "may_spiral": not isfinite(band.high),
                "causes": dict(band.causes),
                "uncalibrated_fraction": uncalibrated[f"rate_{100 * brake:.0f}"],
            }
            for brake, band in turn.rate_bands
        ],
        "bands_lost": list(turn.bands.lost),
        "no_glide_fraction": turn.bands.lost_share,
        "steady_to_brake_fraction": reach.value,
        "steady_to_low_brake_fraction": reach.low,
        "steep_bank_deg": in_degrees(STEEP_BANK),
        "spiral_brake_fraction": turn.spiral,
        "reversal_brake_fraction": turn.reversal,
        "wrong_way_deg_s": in_degrees(turn.wrong_way),
        "growing_brake_fraction": list(turn.growing),
        "steps": [_step_document(step, travel) for step in turn.steps],
        "cautions": list(turn.cautions),
        "caveats": list(turn.caveats),
    }


def _straight_document(trim: Trim) -> dict[str, Any]:
    return {
        "airspeed_m_s": trim.airspeed,
        "sink_m_s": trim.sink,
        "dynamically_stable": trim.dynamically_stable,
    }


def _steady_document(turn: SteadyTurn, travel: float) -> dict[str, Any]:
    figures = (
        turn.left,
        turn.right,
        1e3 * travel * turn.brake,
        in_degrees(turn.rate),
        in_degrees(turn.bank),
        in_degrees(turn.coordinated_bank),
        in_degrees(turn.pitch),
        in_degrees(turn.sideslip),
        in_degrees(turn.alpha),
        turn.radius,
        coordinated_radius(airspeed=turn.forward_speed, bank=turn.bank) if turn.bank else np.inf,
        turn.turn_time,
        turn.airspeed,
        turn.sink,
        turn.height_per_turn,
        turn.growth,
    )
    return dict(zip(TURN_HEADS, figures, strict=True)) | {"stable": turn.stable}


def _step_document(step: StepResponse, travel: float) -> dict[str, Any]:
    return {
        "right_brake_fraction": step.right,
        "pull_mm": 1e3 * travel * step.right,
        "rise_time_s": step.rise_time,
        "overshoot_fraction": step.overshoot,
        "adverse_heading_deg": in_degrees(step.adverse_heading),
        "settled_deg_s": in_degrees(step.settled_rate),
        "height_lost_m": float(step.height_lost[-1]),
        "payload_swing_deg": in_degrees(step.swing),
        "payload_twist_deg": in_degrees(step.twist),
        "payload_lean_deg": in_degrees(step.lean),
    }


def steady_csv(turn: Turn) -> list[list[object]]:
    """Rows under `TURN_HEADS`; empty cells for what is infinite when straight."""
    travel = turn.vehicle.design.brakes.travel
    rows = (_steady_document(each, travel) for each in (*turn.right, *turn.left))
    return [[round(row[head], 5) if isfinite(row[head]) else "" for head in TURN_HEADS] for row in rows]


def step_csv(steps: tuple[StepResponse, ...]) -> list[list[float]]:
    """Rows under `STEP_HEADS`."""
    rows: list[list[float]] = []
    for step in steps:
        angles = (step.heading, step.rate, step.bank, step.sideslip)
        columns = (step.time, *map(np.degrees, angles), step.height_lost, step.north, step.east)
        thinned = (column(values[::STEP_EVERY]) for values in columns)
        rows += [[step.right, *row] for row in zip(*thinned, strict=True)]
    return rows


def headline(turn: Turn, system: System) -> str:
    """The last steady turn in one sentence."""
    last, name = turn.right[-1], turn.vehicle.design.name
    if not last.rate:
        return f"{name} has no steady turn: any brake spirals it"
    return (
        f"{name} at {show_pull(last.brake)} of one brake turns at "
        f"{show(abs(last.rate), 'angular_rate', system)} on a radius of "
        f"{show(last.radius, 'length', system, digits=1)}, "
        f"losing {show(last.height_per_turn, 'length', system, digits=0)} a turn"
    )


STEADY_WORDS = (
    "brake",
    "pull",
    "turn rate",
    "bank",
    "sideslip",
    "radius",
    "airspeed",
    "sink",
    "lost per turn",
    "motion",
)
"""Heads of `steady_rows`."""


def steady_rows(turns: tuple[SteadyTurn, ...], travel: float, system: System) -> list[list[str]]:
    """Steady turns at every tenth of the brake, and the last."""
    kept = [each for each in turns if round(100 * each.brake) % 10 == 0 or each is turns[-1]]
    return [_steady_row(each, travel, system) for each in kept]


def _steady_row(turn: SteadyTurn, travel: float, system: System) -> list[str]:
    straight = turn.radius > LONGEST_RADIUS
    return [
        show_pull(turn.brake),
        show(turn.brake * travel, "small_length", system),
        show(turn.rate, "angular_rate", system),
        show(turn.bank, "angle", system),
        show(turn.sideslip, "angle", system),
        "straight" if straight else show(turn.radius, "length", system, digits=1),
        show(turn.airspeed, "speed", system),
        show(turn.sink, "speed", system),
        "-" if straight else show(turn.height_per_turn, "length", system, digits=0),
        ("spiral, " if turn.steep else "") + ("decays" if turn.stable else "GROWS"),
    ]


STEP_WORDS = (
    "right brake",
    "rise time",
    "overshoot",
    "first the other way",
    "settled rate",
    "height lost",
)
"""Heads of `step_rows`."""


def step_rows(steps: tuple[StepResponse, ...], system: System) -> list[list[str]]:
    """Step responses."""
    return [
        [
            show_pull(step.right),
            "-" if np.isnan(step.rise_time) else show(step.rise_time, "time", system, digits=2),
            "-" if np.isnan(step.overshoot) else show(step.overshoot, "percent", system, digits=0),
            show(step.adverse_heading, "angle", system),
            show(step.settled_rate, "angular_rate", system),
            show(float(step.height_lost[-1]), "length", system, digits=1),
        ]
        for step in steps
    ]


def band_rows(turn: Turn, system: System) -> list[list[str]]:
    """Turn rates with their bands and what makes them."""
    rows = []
    for brake, band in turn.rate_bands:
        share = turn.uncalibrated_share[f"rate_{100 * brake:.0f}"]
        value = show(band.value, "angular_rate", system)
        rows.append([show_pull(brake), value, _range(band, system), f"{100 * share:.0f} %", _causes(band)])
    longest = max(len(row[-1]) for row in rows)
    return [[*row[:-1], row[-1].ljust(longest)] for row in rows]


def _range(band: Band, system: System) -> str:
    if np.isnan(band.low):
        return "spirals"
    if not isfinite(band.high):
        return f"{show(band.low, 'angular_rate', system)} to a spiral"
    return show_range(band.low, band.high, "angular_rate", system)


def _causes(band: Band) -> str:
    main = [cause for cause in band.causes[:2] if cause[1] >= 0.1]
    return ", ".join(f"{factor_in_words(name)} {100 * share:.0f} %" for name, share in main) or "-"


def band_sentence(turn: Turn) -> str:
    """How far the turn rates can be trusted."""
    minimum = min(turn.uncalibrated_share[f"rate_{100 * brake:.0f}"] for brake, _ in turn.rate_bands)
    part = (
        "All of each band rests"
        if minimum > 0.995
        else f"{100 * minimum:.0f} % or more of each band (by its square) rests"
    )
    return (
        f"{part} on factors that no measurement of this canopy has settled: take it as an order of magnitude "
        "until you have flown and calibrated it."
    )


def finding_sentences(turn: Turn, system: System) -> list[str]:
    """Reversal, spiral and what the bank costs, in plain sentences."""
    found = []
    if turn.reversal is None:
        found.append("Every brake turns it towards the braked side; the band above may say otherwise.")
    elif turn.reversal >= 1.0:
        found.append("One brake turns it AWAY from the braked side, however far it is pulled.")
    else:
        found.append(
            f"Up to {show_pull(turn.reversal)} of one brake it turns AWAY from the braked side, by at most "
            f"{show(turn.wrong_way, 'angular_rate', system)}; beyond that towards it."
        )
    reach = turn.bands.figures["reach"]
    steep = f"{degrees(STEEP_BANK):.0f} deg of bank"
    if turn.spiral is not None:
        found.append(
            f"It spirals from {show_pull(turn.spiral)} of one brake on ({steep}, or no steady turn)."
        )
    elif reach.low < 1.0:
        found.append(
            f"It does not spiral up to full brake by these figures, but within their bands such a canopy may "
            f"from {show_pull(reach.low)} on ({steep}, or no steady turn)."
        )
    else:
        found.append(f"It does not spiral up to full brake ({steep}), within the bands.")
    last = turn.right[-1]
    if last.rate:
        found.append(
            f"At {show_pull(last.brake)} it sinks {last.sink / turn.straight.sink:.2f} times as fast as "
            f"straight; the bank of {show(abs(last.bank), 'angle', system)} alone would make it "
            f"{banked_sink_growth(last.bank):.2f} times, at the same coefficients."
        )
    return found


def swing_sentence(turn: Turn, system: System) -> str:
    """How far the payload moves against the canopy; nothing where a pole holds it."""
    if turn.vehicle.design.payload.suspension.stiff:
        return ""
    swing, twist, lean = (
        show(max(getattr(step, name) for step in turn.steps), "angle", system)
        for name in ("swing", "twist", "lean")
    )
    return (
        f"The payload swings up to {swing} fore and aft, twists up to {twist} and leans up to {lean} against "
        "the canopy."
    )
