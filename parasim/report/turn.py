"""What `parasim turn` answers."""

from collections.abc import Iterator
from math import degrees, isfinite, isnan
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from parasim.flight.trim import Trim
from parasim.flight.turn.steady import STEEP_BANK, SteadyTurn, banked_sink_growth, coordinated_radius
from parasim.flight.turn.step import STEP_TIME, StepResponse, step_in_words
from parasim.flight.turn.turn import TURN_CAUTIONS, UNCALIBRATED, Turn
from parasim.flight.uncertainty import Band
from parasim.report.column import Column, Table, of_array, row_document
from parasim.report.report import IN_FLIGHT, Block, Report
from parasim.report.words import causes_in_words, show_pull
from parasim.rotations import FloatArray
from parasim.units import System, in_degrees, show, show_range

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TURN_COLUMNS: tuple[Column[SteadyTurn], ...] = (
    Column(name="", words="brake", kind="", read=lambda t: t.brake, show=show_pull),
    Column(name="left_brake_fraction", words="", kind="", read=lambda t: t.left),
    Column(name="right_brake_fraction", words="", kind="", read=lambda t: t.right),
    Column(name="pull_mm", words="pull", kind="small_length", read=lambda t: t.pull),
    Column(name="turn_rate_deg_s", words="turn rate", kind="angular_rate", read=lambda t: t.rate),
    Column(name="bank_deg", words="bank", kind="angle", read=lambda t: t.bank),
    Column(name="coordinated_bank_deg", words="", kind="angle", read=lambda t: t.coordinated_bank),
    Column(name="pitch_deg", words="", kind="angle", read=lambda t: t.pitch),
    Column(name="sideslip_deg", words="sideslip", kind="angle", read=lambda t: t.sideslip),
    Column(name="alpha_deg", words="", kind="angle", read=lambda t: t.alpha),
    Column(
        name="radius_m", words="radius", kind="length", read=lambda t: t.radius, digits=1,
        missing="straight",
    ),
    Column(
        name="coordinated_radius_m", words="", kind="length",
        read=lambda t: coordinated_radius(airspeed=t.forward_speed, bank=t.bank) if t.bank else None,
    ),
    Column(name="turn_time_s", words="", kind="time", read=lambda t: t.turn_time),
    Column(name="airspeed_m_s", words="airspeed", kind="speed", read=lambda t: t.airspeed),
    Column(name="sink_m_s", words="sink", kind="speed", read=lambda t: t.sink),
    Column(
        name="height_lost_per_turn_m", words="lost/turn", kind="length",
        read=lambda t: t.height_per_turn, digits=0,
    ),
    Column(name="growth_per_s", words="", kind="", read=lambda t: t.growth),
    Column(name="stable", words="", kind="", read=lambda t: t.stable),
    Column(
        name="", words="motion", kind="",
        read=lambda t: "SPIRAL" if t.steep else "decays" if t.stable else "GROWS",
    ),
)  # fmt: skip
"""Of steady turns; right and right wing down positive, nothing for what is infinite when straight."""


class RateBand(NamedTuple):
    """Turn rate at one right brake: its pull [m], its band, the share of that without calibration."""

    brake: float
    pull: float
    band: Band
    uncalibrated: float


BAND_COLUMNS: tuple[Column[RateBand], ...] = (
    Column(
        name="right_brake_fraction", words="brake", kind="", read=lambda r: r.brake, show=show_pull
    ),
    Column(name="pull_mm", words="", kind="small_length", read=lambda r: r.pull),
    Column(name="turn_rate_deg_s", words="turn rate", kind="angular_rate", read=lambda r: r.band.value),
    Column(name="low_deg_s", words="", kind="angular_rate", read=lambda r: r.band.low),
    Column(name="high_deg_s", words="", kind="angular_rate", read=lambda r: r.band.high),
    Column(name="", words="band", kind="", read=lambda r: _range(r.band)),
    Column(name="may_spiral", words="", kind="", read=lambda r: not isfinite(r.band.high)),
    Column(
        name="uncalibrated_fraction", words="uncalibrated", kind="", read=lambda r: r.uncalibrated,
        show=show_pull,
    ),
    Column(name="", words="band mostly from", kind="", read=lambda r: causes_in_words(r.band)),
)  # fmt: skip
"""Of turn rates; no upper end where such a canopy may spiral."""

STEP_COLUMNS: tuple[Column[StepResponse], ...] = (
    Column(
        name="right_brake_fraction", words="right brake", kind="", read=lambda s: s.right, show=show_pull
    ),
    Column(name="rise_time_s", words="rise time", kind="time", read=lambda s: s.rise_time, digits=2),
    Column(
        name="overshoot_fraction", words="overshoot", kind="", read=lambda s: s.overshoot, show=show_pull
    ),
    Column(
        name="adverse_heading_deg", words="first the other way", kind="angle",
        read=lambda s: s.adverse_heading,
    ),
    Column(
        name="settled_deg_s", words="settled rate", kind="angular_rate", read=lambda s: s.settled_rate
    ),
    Column(
        name="height_lost_m", words="height lost", kind="length",
        read=lambda s: float(s.height_lost[-1]), digits=1,
    ),
    Column(name="payload_swing_deg", words="", kind="angle", read=lambda s: s.swing),
    Column(name="payload_twist_deg", words="", kind="angle", read=lambda s: s.twist),
    Column(name="payload_lean_deg", words="", kind="angle", read=lambda s: s.lean),
)  # fmt: skip
"""Of step responses; the payload moves against the canopy."""

STEP_EVERY = 2
"""Samples of a step response from one row of its CSV file to the next."""


class TurnReport(Report[Turn]):
    """What one brake does."""

    COMMAND = "turn"
    BANDED = True
    CAUTIONS = TURN_CAUTIONS
    TOUCHED = IN_FLIGHT

    def failures(self, units: System) -> list[str]:
        """Turns the wrong way, that will not stay, or that end in a spiral; by the bands as well."""
        turn, found = self.result, []
        if turn.reversal is not None:
            found.append(f"turns AWAY from a brake of less than {show_pull(turn.reversal)}")
        wrong = [brake for brake, band in turn.rate_bands if band.low < 0 and brake > (turn.reversal or 0.0)]
        if wrong:
            found.append(f"may turn away from a brake of {show_pull(wrong[-1])}")
        if turn.growing:
            ends = dict.fromkeys(map(show_pull, (turn.growing[0], turn.growing[-1])))
            found.append(f"does not stay in its turn at {' to '.join(ends)} of one brake")
        reach = turn.bands.figures["reach"]
        if turn.spiral is not None:
            found.append(f"spirals from {show_pull(turn.spiral)} of one brake on")
        elif reach.low < 1.0:
            found.append(f"may spiral from {show_pull(reach.low)} of one brake on")
        return found

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        turn = self.result
        yield headline(turn, units)
        mirror = "; the left brake does the same to the left" if turn.mirrored else ""
        yield f"in still air near the ground, the other brake at rest{mirror}"
        for side, turns in (("Right", turn.right), *(() if turn.mirrored else (("Left", turn.left),))):
            yield Table(
                columns=TURN_COLUMNS, rows=every_tenth(turns),
                title=f"{side} brake, steady (right and right wing down positive)",
            )  # fmt: skip
        yield Table(
            columns=BAND_COLUMNS, rows=rate_bands(turn), title="How sure that is", note=band_sentence(turn)
        )
        yield "\n".join(finding_sentences(turn, units))
        how = step_in_words(turn.vehicle.design)
        yield Table(
            columns=STEP_COLUMNS, rows=turn.steps, note=swing_sentence(turn, units),
            title=f"Pulled {how} out of the glide with the brakes released and held {STEP_TIME:g} s",
        )  # fmt: skip

    def document(self) -> dict[str, Any]:
        """As `turn_document`."""
        return turn_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        turn = self.result
        yield "turn.csv", Table(columns=TURN_COLUMNS, rows=(*turn.right, *turn.left)).csv()
        yield "turn_step.csv", step_csv(turn.steps)

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.turn import step_figure, turn_figure

        yield "turn.png", turn_figure(self.result, units)
        yield "turn_step.png", step_figure(self.result, units)


def turn_document(turn: Turn) -> dict[str, Any]:
    """Turn as plain data; right, and right wing down, are positive.

    Returns
    -------
    dict
        - ``name``; ``straight``: ``airspeed_m_s``, ``sink_m_s``, ``dynamically_stable`` with the brakes
          released.
        - ``steady_turns``: ``right`` and ``left``, each a list by rising brake with the columns of
          `TURN_COLUMNS`; radius, time and height are null when straight.
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
    reach = turn.bands.figures["reach"]
    return {
        "name": turn.vehicle.design.name,
        "straight": _straight_document(turn.straight),
        "steady_turns": {
            "right": Table(columns=TURN_COLUMNS, rows=turn.right).document(),
            "left": Table(columns=TURN_COLUMNS, rows=turn.left).document(),
        },
        "turn_bands": [
            {**row_document(BAND_COLUMNS, each), "causes": dict(each.band.causes)}
            for each in rate_bands(turn)
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
        "steps": [
            {**row_document(STEP_COLUMNS, step), "pull_mm": 1e3 * travel * step.right} for step in turn.steps
        ],
        "cautions": list(TURN_CAUTIONS),
        "caveats": list(turn.caveats),
    }


def _straight_document(trim: Trim) -> dict[str, Any]:
    return {
        "airspeed_m_s": trim.airspeed,
        "sink_m_s": trim.sink,
        "dynamically_stable": trim.dynamically_stable,
    }


def rate_bands(turn: Turn) -> list[RateBand]:
    """Turn rates with what is known of their bands."""
    travel, uncalibrated = turn.vehicle.design.brakes.travel, turn.uncalibrated_share
    return [
        RateBand(brake, travel * brake, band, uncalibrated[f"rate_{100 * brake:.0f}"])
        for brake, band in turn.rate_bands
    ]


def every_tenth(turns: tuple[SteadyTurn, ...]) -> list[SteadyTurn]:
    """Those at every tenth of the brake, and the last."""
    return [each for each in turns if round(100 * each.brake) % 10 == 0 or each is turns[-1]]


def step_csv(steps: tuple[StepResponse, ...]) -> str:
    """Step responses, one after another; the nose points north before the pull."""
    thin = slice(None, None, STEP_EVERY)

    def joined(name: str) -> FloatArray:
        return np.concatenate([getattr(step, name)[thin] for step in steps])

    brake = np.concatenate([np.full_like(step.time[thin], step.right) for step in steps])
    columns = (
        of_array("right_brake_fraction", "", brake),
        of_array("time_s", "time", joined("time")),
        of_array("heading_deg", "angle", joined("heading")),
        of_array("turn_rate_deg_s", "angular_rate", joined("rate")),
        of_array("bank_deg", "angle", joined("bank")),
        of_array("sideslip_deg", "angle", joined("sideslip")),
        of_array("height_lost_m", "length", joined("height_lost")),
        of_array("north_m", "length", joined("north")),
        of_array("east_m", "length", joined("east")),
    )
    return Table(columns=columns, rows=range(len(brake))).csv()


def headline(turn: Turn, system: System) -> str:
    """The last steady turn in one sentence."""
    last, name = turn.right[-1], turn.vehicle.design.name
    if not last.rate:
        return f"{name} has no steady turn: any brake spirals it"
    return (
        f"{name} at {show_pull(last.brake)} of one brake turns at "
        f"{show(abs(last.rate), 'angular_rate', system, digits=0)} ({_full_band(turn)}) on a radius of "
        f"{show(last.radius, 'length', system, digits=0)}, "
        f"losing {show(last.height_per_turn, 'length', system, digits=0)} a turn{_half(turn, system)}"
    )


def _half(turn: Turn, system: System) -> str:
    """The same at half of one brake, where that is less than the last turn and no spiral."""
    band = dict(turn.rate_bands)[0.5]
    half = next((each for each in turn.right[:-1] if each.right == 0.5), None)
    if half is None or isnan(band.low) or not half.rate:
        return ""
    away = " AWAY from it" if half.rate < 0 else ""
    return (
        f"; at 50 % at {show(abs(half.rate), 'angular_rate', system, digits=0)}{away} ({_ends(band)}), "
        f"radius {show(half.radius, 'length', system, digits=0)}"
    )


def _full_band(turn: Turn) -> str:
    """Band at full brake, in the digits that it leaves."""
    brake, band = turn.rate_bands[-1]
    if isnan(band.low) or brake != turn.right[-1].right:
        return "beyond that it spirals"
    return _ends(band)


def _ends(band: Band) -> str:
    end = f"{degrees(band.high):.0f} deg/s" if isfinite(band.high) else "a spiral"
    return f"{degrees(band.low):.0f} to {end}"


def _range(band: Band) -> str:
    if isnan(band.low):
        return "spirals"
    if not isfinite(band.high):
        return f"{show(band.low, 'angular_rate')} to a spiral"
    return show_range(band.low, band.high, "angular_rate", "metric")


def band_sentence(turn: Turn) -> str:
    """How far the turn rates can be trusted."""
    if not turn.uncalibrated:
        return "Each factor that the bands rest on has a source in the design file."
    shares = [each.uncalibrated for each in rate_bands(turn)]
    part = (
        "All of each band rests"
        if min(shares) > 0.995
        else f"{100 * min(shares):.0f} % or more of each band (by its square) rests"
        if len(turn.uncalibrated) == len(UNCALIBRATED)
        else f"Up to {100 * max(shares):.0f} % of a band (by its square) rests"
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
