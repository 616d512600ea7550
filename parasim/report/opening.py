"""What `parasim opening` answers."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from parasim.dynamics.inflation import nominal_diameter
from parasim.flight.opening.opening import CAUTIONS, DELAYS, AtSpeed, Case, Opening
from parasim.flight.opening.strength import SYMBOLS, Check
from parasim.report.column import Column, Grid, Table
from parasim.report.cut import packed_document
from parasim.report.limits import show_apart
from parasim.report.report import Block, Report
from parasim.sewing.packing import Packed, packed, packed_words
from parasim.units import System, in_degrees, show, show_range

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def _of_case(figure: Callable[[Case], float]) -> Callable[[AtSpeed], float]:
    return lambda at: figure(at.designed)


SPEED_COLUMNS: tuple[Column[AtSpeed], ...] = (
    Column(
        name="release_speed_m_s", words="released at", kind="speed", digits=0,
        read=_of_case(lambda case: case.release_speed),
    ),
    Column(
        name="stretch_speed_m_s", words="stretch", kind="speed", digits=1,
        read=_of_case(lambda case: case.stretch_speed),
    ),
    Column(
        name="relative_speed_m_s", words="leaves the pack at", kind="speed",
        read=_of_case(lambda case: case.stretched.relative_speed),
    ),
    Column(
        name="snatch_n", words="snatch", kind="force", digits=0, read=_of_case(lambda case: case.snatch[0])
    ),
    Column(name="peak_n", words="peak", kind="force", digits=0, read=_of_case(lambda case: case.peak)),
    Column(name="peak_low_n", words="low", kind="force", digits=0, read=lambda at: at.peak_band[0]),
    Column(name="peak_high_n", words="high", kind="force", digits=0, read=lambda at: at.peak_band[1]),
    Column(
        name="peak_g", words="payload weights", kind="ratio", digits=1,
        read=_of_case(lambda case: case.load_factor),
    ),
    Column(name="other_peak_n", words="other", kind="force", digits=0, read=lambda at: at.other.peak),
    Column(name="bound_n", words="bound", kind="force", digits=0, read=_of_case(lambda case: case.bound)),
    Column(
        name="filling_time_s", words="filling", kind="time", digits=2,
        read=_of_case(lambda case: case.filling_time),
    ),
    Column(
        name="height_to_stretch_m", words="down, stretched", kind="length", digits=1,
        read=_of_case(lambda case: case.height_to_stretch),
    ),
    Column(
        name="height_to_full_m", words="down, full", kind="length", digits=1,
        read=_of_case(lambda case: case.height_to_full),
    ),
    Column(
        name="height_to_full_low_m", words="low", kind="length", digits=1, read=lambda at: at.height_band[0]
    ),
    Column(
        name="height_to_full_high_m", words="high", kind="length", digits=1, read=lambda at: at.height_band[1]
    ),
)  # fmt: skip
"""Over release speed; low and high over the filling constant's range, other: what it is compared with."""

UNPRINTED = {
    "relative_speed_m_s", "peak_g", "filling_time_s", "height_to_stretch_m", "height_to_full_low_m",
    "height_to_full_high_m",
}  # fmt: skip
"""Of `SPEED_COLUMNS`, in the CSV file and in the document only."""

CHECK_COLUMNS: tuple[Column[Check], ...] = (
    Column(name="part", words="most loaded", kind="", read=lambda check: check.part),
    Column(name="event", words="at", kind="", read=lambda check: check.event),
    Column(name="load_n", words="load", kind="force", digits=1, read=lambda check: check.load),
    Column(name="strength_n", words="holds", kind="force", digits=1, read=lambda check: check.strength),
    Column(
        name="wanted_strength_n", words="needs", kind="force", digits=1,
        read=lambda check: check.wanted_strength,
    ),
    Column(name="margin", words="margin", kind="ratio", digits=1, read=lambda check: check.margin),
    Column(
        name="margin_low", words="at worst", kind="ratio", digits=1, read=lambda check: check.worst_margin
    ),
    Column(
        name="wanted_margin", words="wanted", kind="ratio", digits=1, read=lambda check: check.wanted
    ),
    Column(
        name="verdict", words="verdict", kind="", read=lambda check: check.word,
        show=lambda word: f"{SYMBOLS[word]} {word}",
    ),
)  # fmt: skip
"""Loads against strengths."""

HELD_WORDS = {
    "nothing": "without slider or reefing",
    "slider": "with a slider",
    "reefing": "reefed",
}


class OpeningReport(Report[Opening]):
    """From a packed canopy to the steady glide."""

    COMMAND = "opening"
    CAUTIONS = CAUTIONS
    TOUCHED = frozenset({"payload", "canopy", "cloth", "lines", "rigging", "flight"})

    def failures(self, units: System) -> list[str]:
        """Margins and heights that are not there."""
        opening = self.result
        found = [margin_words(check) for check in opening.checks if check.may_be_short]
        full, least, given = (
            opening.now.height_band[1], opening.minimum_release_height or 0.0, opening.release_height
        )  # fmt: skip
        if full >= given:
            lost, height = show_apart(full, given, "length", units, digits=0)
            found.append(f"it may reach the ground before it is full ({lost} lost, released at {height})")
        elif least > given:
            wanted, height = show_apart(least, given, "length", units, digits=0)
            found.append(f"released at {height} ({wanted} wanted)")
        return found

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        opening, constant = self.result, self.result.spec.filling_constant
        yield headline(opening, units)
        yield Grid(
            rows=summary_rows(opening, units),
            heads=["", "likely", "range"],
            note=f"Range: filling constant {constant.low:g} to {constant.high:g}, likely "
            f"{constant.value:g}; unverified at this size.",
        )
        yield "\n".join(packed_words(pack(opening), units))
        yield Table(
            columns=CHECK_COLUMNS, rows=opening.checks,
            title="Loads against strengths: opening at its worst, snatch likely and at worst",
            note="A line's strength is taken at a knot; what it needs is before knotting.",
        )  # fmt: skip
        other = "with slider" if opening.compared_with == "slider" else "unheld"
        yield Table(
            columns=tuple(
                replace(column, words=other) if column.name == "other_peak_n" else column
                for column in SPEED_COLUMNS
                if column.name not in UNPRINTED
            ),
            rows=opening.speeds, title="Over release speed; low and high: range of the peak",
        )  # fmt: skip

    def document(self) -> dict[str, Any]:
        """As `opening_document`."""
        return opening_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        yield "opening.csv", Table(columns=SPEED_COLUMNS, rows=self.result.speeds).csv()

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.opening import opening_figure

        yield "opening.png", opening_figure(self.result, units)


def pack(opening: Opening) -> Packed:
    """What is packed, by the masses that fly."""
    masses = {item.name: item.properties.mass for item in opening.vehicle.items}
    del masses["payload"]
    return packed(opening.vehicle.design, masses)


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
        - `packed`: as in `parasim cut`: `mass_g`, of which `canopy_g`, `lines_g`, `bag_g`, `pilot_chute_g`;
          `density_kg_m3`, `loose_kg_m3`, `pressed_kg_m3`; `volume_m3`, `low_m3`, `high_m3`; `container`,
          `length_mm`, `low_mm`, `high_mm`, `room_mm`, `filled_percent`.
        - `snatch`: `relative_speed_m_s`, `force_n`, `low_n`, `high_n`, `stretch_is_known`.
        - `opening`: `stretch_speed_m_s`, `filling_time_s`, `filling_distance_m`, `peak_n`, `low_n`, `high_n`,
          `peak_g` (in weights of the payload), `peak_time_s`, `full_speed_m_s`, `bound_n` (handbook),
          `model_bound_n`.
        - `other`: with a slider, or without what the design has: `held_by`, `peak_n`, `height_to_full_m`.
        - `heights` lost from release: `to_stretch_m`, `to_full_m`, `to_full_low_m`, `to_full_high_m`,
          `to_glide_m`; `minimum_release_m`. `glide`: `height_lost_m` and `time_s` from full to steady,
          `nosed_under`, `path_below_horizon_deg` from which it was followed.
        - `checks`: for each `part` and `event`: `load_n`, `strength_n`, `wanted_strength_n`, `margin`,
          `margin_low` (at the high end of the load), `wanted_margin`, `verdict`.
        - `speeds`: for each release speed: the columns of `SPEED_COLUMNS`.
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
        "packed": packed_document(pack(opening)),
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
        "checks": Table(columns=CHECK_COLUMNS, rows=opening.checks).document(),
        "speeds": Table(columns=SPEED_COLUMNS, rows=opening.speeds).document(),
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


def headline(opening: Opening, system: System) -> str:
    """The worst load first, then the other, and the part that is nearest to its strength."""
    case, now, weakest = opening.now.designed, opening.now, opening.weakest
    loads = sorted(
        (("snatch at line stretch", *case.snatch), ("opening", case.peak, *now.peak_band)),
        key=lambda load: -max(load[1:]),
    )
    shown = ", ".join(
        f"{words} {load(likely, system)}"
        + (f" ({load_range(low, high, system)})" if load(low, system) != load(high, system) else "")
        for words, likely, low, high in loads
    )
    held = "" if weakest is None or weakest.may_be_short else f"; weakest part known: {margin_words(weakest)}"
    unknown = dict.fromkeys(f"the {check.part}" for check in opening.checks if check.strength is None)
    not_given = f"; strength of {' and '.join(unknown)} not given" if unknown else ""
    return (
        f"{opening.vehicle.design.name}, packed ({pack_words(opening)}), released at "
        f"{show(case.release_speed, 'speed', system, digits=0)}, "
        f"{show(opening.release_height, 'length', system, digits=0)} above ground: "
        f"{shown}{held}{not_given}{_height_words(opening, system)}"
    )


def pack_words(opening: Opening) -> str:
    """How it is packed and in what, and which key says nothing of it."""
    packing, spec = opening.vehicle.design.packing, opening.spec
    inside = "" if packing is None or packing.container == "bag" else f" in its {packing.container}"
    return f"{spec.pack}{inside}" + ("" if "pack" in spec.model_fields_set else ": opening.pack left out")


def _height_words(opening: Opening, system: System) -> str:
    """The least height, where it is kept: else it is among the failures."""
    least = opening.minimum_release_height
    if least is None or least > opening.release_height:
        return ""
    return f"; to open and glide let go at {show(least, 'length', system, digits=0)} at least"


def margin_words(check: Check) -> str:
    """A part whose strength is known, its margin with its band or, if only that falls short, its worst."""
    assert check.margin_band is not None
    low, high = (f"{end:.1f}" for end in check.margin_band)
    part, wanted = f"{check.part} at {check.event}", f"{check.wanted:g} wanted"
    if check.may_be_short and not check.short:
        return f"{part}, margin at worst {low} (likely {check.margin:.1f}; {wanted})"
    band = f"{low} to {high}; " if low != high else ""
    return f"{part}, margin {check.margin:.1f} ({band}{wanted})"


def load(force: float, system: System) -> str:
    """A load: whole newtons, tenths of a pound-force."""
    return show(force, "force", system, digits=1 if system == "imperial" else 0)


def load_range(low: float, high: float, system: System) -> str:
    """Two loads and their unit."""
    return show_range(low, high, "force", system, digits=1 if system == "imperial" else 0)


def height_range(low: float, high: float, system: System) -> str:
    """Two heights and their unit."""
    return show_range(low, high, "length", system, digits=0)


def summary_rows(opening: Opening, system: System) -> list[list[str]]:
    """Rows for people: what happens from release to the glide."""
    now, case, settling = opening.now, opening.now.designed, opening.settling
    other = f"peak {HELD_WORDS[opening.compared_with]}"
    low_n, high_n = sorted(case.snatch)[0], sorted(case.snatch)[-1]
    snatch_band = "" if opening.stiffness_is_given else load_range(low_n, high_n, system)
    glide_time = "" if settling.time is None else f"{show(settling.time, 'time', system)} after full"
    beside = " (at least)" if settling.nosed_under else ""
    height_lost = "height lost until "
    return [
        ["speed at line stretch", show(case.stretch_speed, "speed", system, digits=1), ""],
        ["payload leaves the pack at", show(case.stretched.relative_speed, "speed", system, digits=1), ""],
        ["snatch at line stretch", load(case.snatch[0], system), snatch_band],
        ["filling time", f"{case.filling_time:.2f} s", ""],
        [
            f"opening peak, {HELD_WORDS[opening.held_by]}",
            load(case.peak, system),
            load_range(*now.peak_band, system),
        ],
        ["the same in payload weights", f"{case.load_factor:.1f}", ""],
        [other, load(now.other.peak, system), ""],
        ["upper bound (no slowing down)", load(case.bound, system), ""],
        ["this model's, no slowing down", load(case.model_bound, system), ""],
        [height_lost + "line stretch", show(case.height_to_stretch, "length", system, digits=1), ""],
        [
            height_lost + "full",
            show(case.height_to_full, "length", system, digits=1),
            height_range(*now.height_band, system),
        ],
        [
            height_lost + "steady glide" + beside,
            show(opening.height_to_glide, "length", system, digits=1),
            glide_time,
        ],
        [
            f"minimum release height, {opening.spec.height_factor:g} x that, filling slowly" + beside,
            show(opening.minimum_release_height, "length", system, digits=0),
            "",
        ],
    ]
