"""What `parasim size` answers."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from parasim.flight.drop import CAUTIONS
from parasim.flight.glide import STALL_RESERVE, TUCK_RESERVE
from parasim.flight.trim import Trim
from parasim.report.column import Column, Grid, Table, of_pair, row_document
from parasim.report.limits import may_pass, short_margins
from parasim.report.report import Block, Report
from parasim.report.words import FLAT_AREA
from parasim.study.size import SizePoint, Sizing
from parasim.units import System, in_degrees, show, show_range

if TYPE_CHECKING:
    from matplotlib.figure import Figure

GOAL_WORDS = {"sink": ("a sink", "speed"), "energy": ("an energy", "energy")}
"""Words and kind of quantity of what is aimed at."""


def _of_trim(figure: Callable[[Trim], float]) -> Callable[[SizePoint], float | None]:
    return lambda point: None if point.trim is None else figure(point.trim)


def _marked(words: str, margin: str, keeps: str) -> Column[SizePoint]:
    """A margin, printed with a sign for whether it is kept at the low end of the bands."""
    return Column(
        name="", words=words, kind="",
        read=lambda p: None
        if p.trim is None
        else f"{show(getattr(p, margin), 'angle')} {'+' if getattr(p, keeps) else 'x'}",
    )  # fmt: skip


SIZE_COLUMNS: tuple[Column[SizePoint], ...] = (
    Column(name="area_m2", words="flat area", kind="area", read=lambda p: p.area),
    Column(name="rigging_angle_deg", words="rigging", kind="angle", read=lambda p: p.rigging_angle),
    Column(name="span_m", words="span", kind="dimension", read=lambda p: p.span),
    Column(name="chord_m", words="chord", kind="dimension", read=lambda p: p.chord),
    Column(name="line_length_m", words="line length", kind="dimension", read=lambda p: p.line_length),
    Column(name="mass_kg", words="mass", kind="mass", read=lambda p: p.mass),
    Column(name="sink_m_s", words="sink", kind="speed", read=_of_trim(lambda trim: trim.sink)),
    Column(name="energy_j", words="energy", kind="energy", read=lambda p: p.figure("energy")),
    Column(name="glide_ratio", words="glide", kind="ratio", read=_of_trim(lambda trim: trim.glide_ratio)),
    Column(
        name="forward_speed_m_s", words="forward", kind="speed",
        read=_of_trim(lambda trim: trim.forward_speed),
    ),
    Column(name="airspeed_m_s", words="airspeed", kind="speed", read=_of_trim(lambda trim: trim.airspeed)),
    Column(name="tuck_margin_deg", words="", kind="angle", read=lambda p: p.tuck_margin),
    Column(name="stall_margin_deg", words="", kind="angle", read=lambda p: p.stall_margin),
    _marked("to tuck", "tuck_margin", "keeps_tuck"),
    _marked("to stall", "stall_margin", "keeps_stall"),
    Column(name="margins_kept", words="margins kept", kind="", read=lambda p: p.allowed),
)  # fmt: skip
"""Of one canopy; nothing where there is no stable steady glide."""

UNPRINTED = {"span_m", "chord_m", "line_length_m", "mass_kg", "airspeed_m_s", "margins_kept"}
"""Of `SIZE_COLUMNS`, in the CSV file and in the document only."""

NAME: Column[tuple[str, SizePoint]] = Column(name="canopy", words="canopy", kind="", read=lambda row: row[0])


class SizeReport(Report[Sizing]):
    """How large a canopy lands as wanted, rigged as the file has it or for the middle of the window."""

    COMMAND = "size"
    BANDED = True
    CAUTIONS = CAUTIONS

    def calibration(self) -> str:
        """As `Report.calibration`."""
        return self.result.design.calibration.in_words()

    def failures(self, units: System) -> list[str]:
        """Margins and limits of the file that the canopy does not keep, by its band's worse end."""
        chosen, bands, limits = self.result.chosen, self.result.bands, self.result.design.landing
        if chosen is None or bands is None:
            return []
        tuck, stall = chosen.tuck_margin - chosen.lost[0], chosen.stall_margin - chosen.lost[1]
        figures = (
            ("sink", bands.figures["sink"].high, limits.max_sink, "speed"),
            ("landing energy", bands.figures["energy"].high, limits.max_energy, "energy"),
        )
        return short_margins(tuck, stall, "may be", units) + may_pass(figures, units)

    @property
    def name(self) -> str:
        """As `Report.name`."""
        return self.result.design.name

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        sizing, chosen = self.result, self.result.chosen
        words, kind = GOAL_WORDS[sizing.goal]
        wanted = f"{words} of {show(sizing.target, kind, units)}"
        if chosen is None:
            yield f"{self.name}: {failure_sentence(sizing, units)}"
        else:
            yield f"{self.name} for {wanted}: {chosen_sentence(sizing, units)}"
            yield f"{cost_sentence(sizing, units)}\n{band_sentence(sizing, units)}"
            yield Grid(rows=length_rows(sizing, units), title="Lengths of that canopy")
        yield Table(
            columns=(NAME, *(of_pair(column) for column in SIZE_COLUMNS if column.name not in UNPRINTED)),
            rows=[
                ("as designed", sizing.as_designed),
                *(("this answer" if point is chosen else "", point) for point in sizing.answers),
            ],
            title=f"Canopies with {wanted}, by rigging angle; margins: + kept by the low end of the "
            "design's own bands, x not",
            note=f"flat area: {FLAT_AREA}",
        )

    def document(self) -> dict[str, Any]:
        """As `size_document`."""
        return size_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`: every canopy of the map, then the answers."""
        rows = [*map_points(self.result), *self.result.answers]
        yield "size.csv", Table(columns=SIZE_COLUMNS, rows=rows).csv()

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`; none without a map of at least two areas."""
        from parasim.plotting.size import size_figure

        if len(self.result.grid[0]) > 1:
            yield "size.png", size_figure(self.result, units)


def map_points(sizing: Sizing) -> list[SizePoint]:
    """Every canopy of the map."""
    return [point for row in sizing.grid for point in row]


def size_document(sizing: Sizing) -> dict[str, Any]:
    """Sizing as plain data.

    Returns
    -------
    dict
        - ``name``; ``goal`` (sink or energy); ``target_m_s`` or ``target_j``; ``flat_area_definition``;
          ``rigging_window_deg``: the model's, ``[low, high]`` or null.
        - ``as_designed``, ``chosen`` (null if none; of ``answers`` the one rigged as the design is or, if
          that lies outside the model's window, for its middle): the columns of `SIZE_COLUMNS`;
          ``answers``: for each rigging angle that can meet the target; ``map``: every canopy looked at.
          ``reserves``: ``tuck_deg``, ``stall_deg``.
        - ``bands``: of ``sink_m_s`` and ``energy_j`` of that: ``low``, ``high``; empty without.
          ``bands_lost``: factors at one end of whose range it has no steady glide; ``no_glide_fraction``:
          then the part of the canopies drawn from all ranges that has none, else null.
        - ``lengths`` of it: ``span_m``, ``chord_m``, ``arc_radius_m``, ``line_length_m``,
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
        "rigging_window_deg": sizing.window and [in_degrees(end) for end in sizing.window],
        "as_designed": row_document(SIZE_COLUMNS, sizing.as_designed),
        "chosen": row_document(SIZE_COLUMNS, sizing.chosen) if sizing.chosen else None,
        "bands": {
            key: {"low": bands.figures[name].low, "high": bands.figures[name].high}
            for key, name in (("sink_m_s", "sink"), ("energy_j", "energy"))
        }
        if bands
        else {},
        "bands_lost": list(bands.lost) if bands else [],
        "no_glide_fraction": bands.lost_share if bands else None,
        "lengths": {f"{name}_m": value for name, value in chosen_lengths(sizing).items()},
        "answers": Table(columns=SIZE_COLUMNS, rows=sizing.answers).document(),
        "reserves": {"tuck_deg": in_degrees(TUCK_RESERVE), "stall_deg": in_degrees(STALL_RESERVE)},
        f"reached_low_{unit}": low,
        f"reached_high_{unit}": high,
        "map": Table(columns=SIZE_COLUMNS, rows=map_points(sizing)).document(),
        "cautions": list(CAUTIONS),
        "caveats": list(sizing.caveats),
    }


def chosen_lengths(sizing: Sizing) -> dict[str, float | None]:
    """Lengths to write into the design file for that canopy; empty if there is none. [m]"""
    if sizing.chosen is None:
        return {}
    design, k = sizing.design, sizing.chosen.scale
    fins = design.canopy.stabilisers
    return {
        "span": k * design.canopy.span,
        "chord": k * design.canopy.chord,
        "arc_radius": k * (design.canopy.arc_radius or sizing.as_designed.line_length),
        "line_length": sizing.chosen.line_length,
        "riser_spread": k * design.lines.riser.spread,
        "stabiliser_height": k * fins.height if fins else None,
        "brake_travel": k * design.brakes.travel,
        "free_play": k * design.free_play,
    }


def length_rows(sizing: Sizing, system: System) -> list[list[str]]:
    """The same as text."""
    return [
        [name.replace("_", " "), show(value, "tape_length", system)]
        for name, value in chosen_lengths(sizing).items()
        if value is not None
    ]


def chosen_sentence(sizing: Sizing, system: System) -> str:
    """The answer: area, rigging, and what its figure may come out at."""
    chosen, bands = sizing.chosen, sizing.bands
    if chosen is None or bands is None:
        return ""
    band, (_, kind) = bands.figures[sizing.goal], GOAL_WORDS[sizing.goal]
    how = "as the file has it" if sizing.as_rigged else "not as the file has it"
    return (
        f"flat area {show(chosen.area, 'area', system)}, rigging "
        f"{show(chosen.rigging_angle, 'angle', system)} ({how}); built, "
        f"{show_range(band.low, band.high, kind, system)}"
    )


def cost_sentence(sizing: Sizing, system: System) -> str:
    """What that canopy costs against the design as it is."""
    chosen, own = sizing.chosen, sizing.as_designed
    if chosen is None or chosen.trim is None or own.trim is None:
        return ""
    glide = chosen.trim.glide_ratio - own.trim.glide_ratio
    forward = chosen.trim.forward_speed - own.trim.forward_speed
    mass = show(chosen.mass - own.mass, "small_mass", system)
    return (
        f"Against the design as it is: {100 * (chosen.area / own.area - 1):+.0f} % of area, "
        f"{'+' if chosen.mass > own.mass else ''}{mass} of mass, glide ratio {glide:+.2f}, and "
        f"{show(abs(forward), 'speed', system)} {'more' if forward > 0 else 'less'} forward speed to spend "
        "against the wind."
    )


def band_sentence(sizing: Sizing, system: System) -> str:
    """How sure the landing of that canopy is; empty if there is none."""
    if sizing.bands is None:
        return ""
    sink, energy = sizing.bands.figures["sink"], sizing.bands.figures["energy"]
    return (
        f"About 95 of 100 such canopies sink at {show_range(sink.low, sink.high, 'speed', system)} and land "
        f"with {show_range(energy.low, energy.high, 'energy', system)}, if the factors' ranges are right."
    )


def failure_sentence(sizing: Sizing, system: System) -> str:
    """Why there is no answer."""
    words, kind = GOAL_WORDS[sizing.goal]
    wanted = f"{words} of {show(sizing.target, kind, system)}"
    areas = [point.area for point in map_points(sizing)]
    if not areas or sizing.reached is None:
        return f"No canopy of this kind glides steadily; none reaches {wanted}."
    span = f"{show(min(areas), 'area', system)} to {show(max(areas), 'area', system)}"
    low, high = (show(end, kind, system) for end in sizing.reached)
    what = "at the rigging of this answer" if sizing.answers else "and no rigging angle"
    return f"No canopy {what} reaches {wanted}: flat areas of {span} give {low} to {high}."
