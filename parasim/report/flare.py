"""A flare as a document, as rows of CSV files and as rows for people."""

from typing import Any

import numpy as np

from parasim.flight.drop import CAUTIONS
from parasim.flight.flare.flare import AIM_WORDS, Flare, FlareCase
from parasim.report.drop import touchdown_document
from parasim.report.words import column, factor_in_words, in_degrees, show_pull, show_range
from parasim.rotations import FloatArray
from parasim.units import System, show

HEIGHT_HEADS = (
    "start_height_m",
    "sink_m_s",
    "speed_m_s",
    "energy_j",
    "highest_alpha_deg",
    "stalled",
)
"""Of flare_heights.csv: the best pull begun at each height of the payload's bottom above ground."""

HISTORY_HEADS = (
    "time_s",
    "height_m",
    "ground_speed_m_s",
    "sink_m_s",
    "airspeed_m_s",
    "alpha_deg",
    "brake_fraction",
)
"""Of flare.csv: the best flare from its beginning to touchdown; height of the payload's bottom."""


def flare_document(flare: Flare) -> dict[str, Any]:
    """Flare as plain data.

    Returns
    -------
    dict
        - ``name``; ``aim`` (sink, energy or both) and ``aim_words``; ``helps``; ``start_height_m`` of the
          payload's bottom above ground; ``height_error_m`` allowed for; ``pull``: list of ``start_s`` after
          the flare begins, ``over_s``, ``brake_fraction``, ``pull_mm``; ``servo_full_travel_s``, ``servo``.
        - ``brakes_released`` and ``flared``: ``ground_speed_m_s``, ``sink_m_s``, ``speed_m_s``, ``mass_kg``,
          ``energy_j``, ``vertical_energy_j``, ``equivalent_drop_height_m``, in still air.
        - ``gain``: brakes released less flared, ``sink_m_s``, ``energy_j``, ``vertical_energy_j``.
        - ``worst_within_height_error``: ``sink_m_s``, ``energy_j``.
        - ``bands``: of the flared ``sink_m_s`` and ``energy_j``: ``low``, ``high``, ``causes``;
          ``bands_lost``: factors at one end of whose range there is no such flare out of a steady glide;
          ``no_glide_fraction``: then the part of the canopies drawn from all ranges that has none, else null.
        - ``cases``: ``name``, ``words``, ``start_height_m``, ``gust_m_s`` (forward, right, down), figures as
          in ``flared``, ``highest_alpha_deg``, ``stalled``, ``harder_than_brakes_released``.
        - ``stall_alpha_deg``; ``descents_simulated``; ``cautions`` and ``caveats``: sentences.
    """
    up, down = flare.brakes_released, flare.touchdown
    travel = flare.vehicle.design.brakes.travel
    return {
        "name": flare.vehicle.design.name,
        "aim": flare.aim,
        "aim_words": AIM_WORDS[flare.aim],
        "helps": flare.helps,
        "start_height_m": flare.start_height,
        "height_error_m": flare.height_error,
        "pull": [
            {
                "start_s": stage.start,
                "over_s": stage.over,
                "brake_fraction": stage.fraction,
                "pull_mm": 1e3 * travel * stage.fraction,
            }
            for stage in flare.pull.stages
        ],
        "servo_full_travel_s": flare.servo.full_travel,
        "servo": flare.servo.words,
        "brakes_released": touchdown_document(up),
        "flared": touchdown_document(down),
        "gain": {
            "sink_m_s": up.sink - down.sink,
            "energy_j": up.energy - down.energy,
            "vertical_energy_j": up.vertical_energy - down.vertical_energy,
        },
        "worst_within_height_error": {"sink_m_s": flare.worst_sink, "energy_j": flare.worst_energy},
        "bands": {
            key: {"low": band.low, "high": band.high, "causes": dict(band.causes)}
            for key, band in (
                ("sink_m_s", flare.bands.figures["sink"]),
                ("energy_j", flare.bands.figures["energy"]),
            )
        },
        "bands_lost": list(flare.bands.lost),
        "no_glide_fraction": flare.bands.lost_share,
        "cases": [
            {
                "name": case.name,
                "words": case.words,
                "start_height_m": case.start_height,
                "gust_m_s": list(case.gust),
                **touchdown_document(case.touchdown),
                "highest_alpha_deg": in_degrees(case.highest_alpha),
                "stalled": case.stalled,
                "harder_than_brakes_released": _harder(flare, case),
            }
            for case in flare.cases
        ],
        "stall_alpha_deg": in_degrees(flare.stall_alpha),
        "descents_simulated": flare.evaluations,
        "cautions": list(CAUTIONS),
        "caveats": list(flare.caveats),
    }


def height_csv(flare: Flare) -> list[list[Any]]:
    """Rows under `HEIGHT_HEADS`."""
    heights = start_heights(flare)
    sink, speed = flare.descent.arrivals(heights)
    alpha = flare.descent.highest_alpha(heights)
    columns = (heights, sink, speed, 0.5 * flare.vehicle.mass * speed**2, np.degrees(alpha))
    return [
        [*row, bool(highest > flare.stall_alpha)]
        for row, highest in zip(zip(*map(column, columns), strict=True), alpha, strict=True)
    ]


def start_heights(flare: Flare) -> FloatArray:
    """Heights at which the best pull is shown to begin. [m]"""
    return np.linspace(0.0, flare.descent.deepest, 121)


def history_csv(flare: Flare) -> list[list[float]]:
    """Rows under `HISTORY_HEADS`."""
    descent = flare.descent
    down = descent.lost <= flare.start_height
    brake = [flare.pull.schedule.position(float(t))[0] for t in descent.time[down]]
    columns = (
        descent.time[down],
        flare.start_height - descent.lost[down],
        np.hypot(*descent.velocity[:2, down]),
        descent.velocity[2, down],
        descent.airspeed[down],
        np.degrees(descent.alpha[down]),
        np.array(brake),
    )
    return [list(row) for row in zip(*map(column, columns), strict=True)]


def pull_in_words(flare: Flare, system: System) -> str:
    """The pull as an instruction."""
    if not flare.helps:
        return "keep the brakes released"
    travel = flare.vehicle.design.brakes.travel
    stages = [
        f"{'' if number == 0 else f'at {stage.start:.2f} s '}both brakes to {show_pull(stage.fraction)} "
        f"({show(travel * stage.fraction, 'small_length', system)}) in {stage.over:.2f} s"
        for number, stage in enumerate(flare.pull.stages)
    ]
    return f"at {show(flare.start_height, 'length', system)} above ground " + ", then ".join(stages)


def gain_rows(flare: Flare, system: System) -> list[list[str]]:
    """Each figure of the arrival without and with the flare, its worst near that height and its band."""
    up, down, band = flare.brakes_released, flare.touchdown, flare.bands.figures

    def row(words: str, before: float, after: float, kind: str, *more: str) -> list[str]:
        change = f"{100 * (after / before - 1):+.0f} %"
        return [words, show(before, kind, system), show(after, kind, system), change, *more]

    sink = show_range(band["sink"].low, band["sink"].high, "speed", system)
    energy = show_range(band["energy"].low, band["energy"].high, "energy", system)
    return [
        row("sink", up.sink, down.sink, "speed", show(flare.worst_sink, "speed", system), sink),
        row("speed over the ground", up.ground_speed, down.ground_speed, "speed", "", ""),
        row("energy", up.energy, down.energy, "energy", show(flare.worst_energy, "energy", system), energy),
        row("energy of the sink alone", up.vertical_energy, down.vertical_energy, "energy", "", ""),
        row("like a free fall from", up.equivalent_height, down.equivalent_height, "length", "", ""),
    ]


def case_rows(flare: Flare, system: System) -> list[list[str]]:
    """What becomes of the flare under other circumstances; a last word says stall or hard landing."""
    return [
        [
            case.words,
            show(case.touchdown.sink, "speed", system),
            show(case.touchdown.ground_speed, "speed", system),
            show(case.touchdown.energy, "energy", system),
            show(case.highest_alpha, "angle", system),
            _verdict(flare, case),
        ]
        for case in flare.cases
    ]


def band_sentence(flare: Flare) -> str:
    """What makes the bands wide."""
    causes = flare.bands.figures["sink"].causes[:2]
    words = " and ".join(factor_in_words(name) for name, _ in causes)
    return f"The band is that of the same flare by such a canopy; that of the sink comes mostly from {words}."


def _harder(flare: Flare, case: FlareCase) -> bool:
    return case.touchdown.sink > flare.brakes_released.sink


def _verdict(flare: Flare, case: FlareCase) -> str:
    parts = ["STALL"] if case.stalled else []
    if _harder(flare, case):
        parts.append("HARDER than with the brakes released")
    return ", ".join(parts) or "softer than with the brakes released"
