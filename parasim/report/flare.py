"""What `parasim flare` answers."""

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from parasim.flight.arrival import Touchdown, peak_load, verdicts
from parasim.flight.drop import CAUTIONS
from parasim.flight.flare.flare import AIM_WORDS, NEAR_STALL, NO_GAIN, Flare, FlareCase
from parasim.report.column import Column, Grid, Table, of_array, of_part, row_document
from parasim.report.drop import TOUCHDOWN, touchdown_document
from parasim.report.limits import not_kept
from parasim.report.report import IN_FLIGHT, Block, Report
from parasim.report.words import factor_in_words, show_pull
from parasim.rotations import FloatArray
from parasim.units import System, convert, in_degrees, label, show, show_range

if TYPE_CHECKING:
    from matplotlib.figure import Figure

BANDED = ("sink", "energy")
"""Figures of the arrival that carry a band, and are compared."""


class FlareReport(Report[Flare]):
    """The pull of both brakes that lands softest."""

    COMMAND = "flare"
    BANDED = True
    CAUTIONS = CAUTIONS
    TOUCHED = IN_FLIGHT

    def failures(self, units: System) -> list[str]:
        """Limits of the payload not kept at the worse end of a band, and a flare that gains nothing."""
        flare, limits = self.result, self.result.vehicle.design.landing
        worst = {name: band.high for name, band in flare.bands.figures.items()}
        worst["load"] = peak_load(worst["sink"], limits.stop_distance)
        gains = "softer" in flare.compared(flare.touchdown).values()
        nothing = [] if gains else [f"no flare gains {100 * NO_GAIN:.0f} % in sink or energy"]
        kept = not_kept(verdicts(flare.touchdown, limits), units, worst=worst)
        return [*kept, *nothing, *cases_not_kept(flare)]

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        flare = self.result
        yield headline(flare, units)
        yield f"for {AIM_WORDS[flare.aim]}, in still air, out of the glide with the brakes released"
        worst = f"worst, {show(flare.height_error, 'length', units)} off"
        yield Grid(
            rows=gain_rows(flare, units), note=band_sentence(flare),
            heads=["touchdown", "released", "flared", "change", worst, "band"],
        )  # fmt: skip
        if flare.cases:
            yield Table(
                columns=case_columns(flare, units), rows=flare.cases,
                title="The same flare, not as planned (a gust steps in as the pull begins, and stays); sink "
                "and energy against those with the brakes released: under "
                f"{100 * NO_GAIN:.0f} % of change is no gain. Stall: beyond "
                f"{show(flare.stall_alpha, 'angle', units)}; close: less than "
                f"{show(NEAR_STALL, 'angle', units)} short of it",
            )  # fmt: skip
        if flare.helps:
            yield paste_words(flare, units)

    def document(self) -> dict[str, Any]:
        """As `flare_document`."""
        return flare_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        flare, heights = self.result, start_heights(self.result)
        down = int(np.count_nonzero(flare.descent.lost <= flare.start_height))
        yield "flare.csv", Table(columns=history_columns(flare), rows=range(down)).csv()
        yield (
            "flare_heights.csv",
            Table(columns=height_columns(flare, heights), rows=range(len(heights))).csv(),
        )

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.flare import flare_figure

        yield "flare.png", flare_figure(self.result, units)


def case_columns(flare: Flare, system: System = "metric") -> tuple[Column[FlareCase], ...]:
    """Of the flare under other circumstances; not all figures of the arrivals are printed."""

    def arrival(name: str, column: Column[Touchdown]) -> Column[FlareCase]:
        shown = column if name in BANDED else replace(column, words="")
        return of_part(shown, lambda case: case.touchdown)

    def verdict(name: str) -> Column[FlareCase]:
        return Column(
            name=f"{name}_verdict", words=f"{name} is", kind="",
            read=lambda case: flare.compared(case.touchdown)[name],
        )  # fmt: skip

    return (
        Column(name="name", words="", kind="", read=lambda case: case.name),
        Column(name="words", words="when", kind="", read=lambda case: case.words.said(system)),
        Column(name="start_height_m", words="", kind="length", read=lambda case: case.start_height),
        *(arrival(name, column) for name, column in TOUCHDOWN.items()),
        *map(verdict, BANDED),
        Column(
            name="highest_alpha_deg", words="highest alpha", kind="angle",
            read=lambda case: case.highest_alpha,
        ),
        Column(
            name="", words="stall", kind="",
            read=lambda case: "STALL" if case.stalled else "close" if flare.near_stall(case) else "",
        ),
        Column(name="stalled", words="", kind="", read=lambda case: case.stalled),
        Column(
            name="harder_than_brakes_released", words="", kind="",
            read=lambda case: "HARDER" in flare.compared(case.touchdown).values(),
        ),
    )  # fmt: skip


def height_columns(flare: Flare, heights: FloatArray) -> tuple[Column[int], ...]:
    """The best pull begun at heights of the payload's bottom above ground [m]."""
    sink, speed = flare.descent.arrivals(heights)
    alpha = flare.descent.highest_alpha(heights)
    return (
        of_array("start_height_m", "length", heights),
        of_array("sink_m_s", "speed", sink),
        of_array("speed_m_s", "speed", speed),
        of_array("energy_j", "energy", 0.5 * flare.vehicle.mass * speed**2),
        of_array("highest_alpha_deg", "angle", alpha),
        of_array("stalled", "", alpha > flare.stall_alpha),
    )


def history_columns(flare: Flare) -> tuple[Column[int], ...]:
    """The best flare from its beginning on; height of the payload's bottom."""
    descent = flare.descent
    brake = [flare.pull.schedule.position(float(time))[0] for time in descent.time]
    return (
        of_array("time_s", "time", descent.time),
        of_array("height_m", "length", flare.start_height - descent.lost),
        of_array("ground_speed_m_s", "speed", np.hypot(*descent.velocity[:2])),
        of_array("sink_m_s", "speed", descent.velocity[2]),
        of_array("airspeed_m_s", "speed", descent.airspeed),
        of_array("alpha_deg", "angle", descent.alpha),
        of_array("brake_fraction", "", np.array(brake)),
    )


def flare_document(flare: Flare) -> dict[str, Any]:
    """Flare as plain data.

    Returns
    -------
    dict
        - ``name``; ``aim`` (sink, energy or both) and ``aim_words``; ``helps``; ``start_height_m`` of the
          payload's bottom above ground; ``height_error_m`` allowed for; ``pull``: list of ``start_s`` after
          the flare begins, ``over_s``, ``brake_fraction``, ``pull_mm``; ``servo_full_travel_s``, ``servo``.
        - ``brakes_released`` and ``flared``: ``ground_speed_m_s``, ``sink_m_s``, ``speed_m_s``, ``mass_kg``,
          ``energy_j``, ``vertical_energy_j``, ``equivalent_drop_height_m``, ``energy_drop_height_m``, in
          still air.
        - ``gain``: brakes released less flared, ``sink_m_s``, ``energy_j``, ``vertical_energy_j``.
        - ``worst_within_height_error``: ``sink_m_s``, ``energy_j``.
        - ``bands``: of the flared ``sink_m_s`` and ``energy_j``: ``low``, ``high``, ``causes``;
          ``bands_lost``: factors at one end of whose range there is no such flare out of a steady glide;
          ``no_glide_fraction``: then the part of the canopies drawn from all ranges that has none, else null.
        - ``cases``: ``name``, ``words``, ``start_height_m``, ``gust_m_s`` (forward, right, down), figures as
          in ``flared``, ``sink_verdict`` and ``energy_verdict`` (softer, no gain or HARDER than with the
          brakes released), ``highest_alpha_deg``, ``stalled``, ``harder_than_brakes_released`` in either.
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
            for key, band in ((TOUCHDOWN[name].name, flare.bands.figures[name]) for name in BANDED)
        },
        "bands_lost": list(flare.bands.lost),
        "no_glide_fraction": flare.bands.lost_share,
        "cases": [
            {
                **row_document(case_columns(flare), case),
                "gust_m_s": list(case.gust),
                "mass_kg": case.touchdown.mass,
            }
            for case in flare.cases
        ],
        "stall_alpha_deg": in_degrees(flare.stall_alpha),
        "descents_simulated": flare.evaluations,
        "cautions": list(CAUTIONS),
        "caveats": list(flare.caveats),
    }


def start_heights(flare: Flare) -> FloatArray:
    """Heights at which the best pull is shown to begin. [m]"""
    return np.linspace(0.0, flare.descent.deepest, 121)


def cases_not_kept(flare: Flare) -> list[str]:
    """In how many of the what-ifs it stalls or lands harder than without; nothing where no pull helps."""
    stalled = [case.name for case in flare.cases if case.stalled]
    harder = [case for case in flare.cases if "HARDER" in flare.compared(case.touchdown).values()]
    planned = ", as planned too" if "as_planned" in stalled else ""
    found = [
        f"stalls in {len(stalled)} of {len(flare.cases)} cases tried{planned}" if stalled else "",
        f"lands harder than without it in {len(harder)} of {len(flare.cases)}" if harder else "",
    ]
    return [words for words in found if words and flare.helps]


def headline(flare: Flare, system: System) -> str:
    """The pull as an instruction, and how it lands."""
    name, arrives, up = flare.vehicle.design.name, _arrives(flare, system), flare.brakes_released
    if not flare.helps:
        return f"{name}: keep the brakes released; no pull tried lands softer than {arrives}"
    travel = flare.vehicle.design.brakes.travel
    stages = [
        f"{'' if number == 0 else f'at {stage.start:.2f} s '}both brakes to {show_pull(stage.fraction)} "
        f"({show(travel * stage.fraction, 'small_length', system)}) in {stage.over:.2g} s"
        for number, stage in enumerate(flare.pull.stages)
    ]
    return (
        f"{name}: at {show(flare.start_height, 'length', system, digits=1)} above ground "
        f"{', then '.join(stages)}; lands at {arrives}, with the brakes released at "
        f"{show(up.sink, 'speed', system)} and {show(up.energy, 'energy', system)}"
    )


def _arrives(flare: Flare, system: System) -> str:
    """Sink and energy of the arrival with their bands."""
    sink, energy = (
        f"{TOUCHDOWN[name].cell(flare.touchdown, system)} "
        f"({show_range(band.low, band.high, TOUCHDOWN[name].kind, system)})"
        for name, band in ((name, flare.bands.figures[name]) for name in BANDED)
    )
    return f"{sink} down with {energy}"


def paste_line(flare: Flare, system: System) -> str | None:
    """The line of the design's `drop.brakes` that flares so; None for a pull in two moves."""
    command, *later = (
        f"L {stage.fraction:.2g} R {stage.fraction:.2g} over {stage.over:.2g} s"
        for stage in flare.pull.stages
    )
    height = f"{convert(flare.start_height, 'length', system):.3g} {label('length', system)}"
    return None if later else f'"{height}: {command}"'


def paste_words(flare: Flare, system: System) -> str:
    """That line in words, and where the search came to its end."""
    line = paste_line(flare, system)
    if line is None:
        return "A pull in two moves cannot be written into drop.brakes, which know one height each."
    found = f"To fly it, put it last in the design's drop.brakes:\n    - {line}"
    ended = f"\nThe search ended at {' and '.join(flare.at_end)}: beyond that it may land softer."
    return found + ended if flare.at_end else found


def gain_rows(flare: Flare, system: System) -> list[list[str]]:
    """Each figure of the arrival without and with the flare, its worst near that height and its band."""
    worst = {"sink": flare.worst_sink, "energy": flare.worst_energy}
    rows = []
    for name, column in TOUCHDOWN.items():
        before, after = (getattr(one, name) for one in (flare.brakes_released, flare.touchdown))
        row = [column.words, *(show(one, column.kind, system) for one in (before, after))]
        row.append(f"{100 * (after / before - 1):+.0f} %")
        if name in BANDED:
            band = flare.bands.figures[name]
            row.append(show(worst[name], column.kind, system))
            row.append(show_range(band.low, band.high, column.kind, system))
        rows.append(row)
    return rows


def band_sentence(flare: Flare) -> str:
    """What makes the bands wide."""
    causes = flare.bands.figures["sink"].causes[:2]
    words = " and ".join(factor_in_words(name) for name, _ in causes)
    return f"The band is that of the same flare by such a canopy; that of the sink comes mostly from {words}."
