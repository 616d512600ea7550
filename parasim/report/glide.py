"""What `parasim glide` answers."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from math import degrees
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from parasim.config.design import RIGGING_RAIL
from parasim.flight.glide import (
    ALTITUDES,
    HANG_STEP,
    LINE_ERROR,
    STALL_RESERVE,
    TUCK_RESERVE,
    USUAL_ALTITUDES,
    Aloft,
    Glide,
    GlidePoint,
)
from parasim.flight.trim import Mode, Trim
from parasim.flight.uncertainty import DRAWS, Band
from parasim.report.column import Column, Grid, Table, of_pair, of_part, row_document, text_last
from parasim.report.drag import drag_document
from parasim.report.limits import may_pass, short_margins
from parasim.report.report import Block, Report
from parasim.report.words import FLAT_AREA, causes_in_words, show_pull
from parasim.units import System, in_degrees, show, show_range

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def _banded(name: str, words: str, kind: str) -> Column[Band]:
    return Column(name=name, words=words, kind=kind, read=lambda band: band.value)


HEADLINES: dict[str, Column[Band]] = {
    "airspeed": _banded("airspeed_m_s", "airspeed", "speed"),
    "forward_speed": _banded("forward_speed_m_s", "forward speed", "speed"),
    "sink": _banded("sink_m_s", "sink", "speed"),
    "glide_ratio": _banded("glide_ratio", "glide ratio", "ratio"),
    "glide_angle": _banded("glide_angle_deg", "glide angle", "angle"),
    "alpha": _banded("alpha_deg", "angle of attack", "angle"),
    "pitch": _banded("pitch_deg", "chord's pitch, nose-up", "angle"),
    "stall_margin": _banded("stall_margin_deg", "stall margin", "angle"),
    "tuck_margin": _banded("tuck_margin_deg", "nose-tuck margin", "angle"),
}
"""Figures that carry a band, by their names in `Glide.bands`."""


def _of_trim(figure: Callable[[Trim], float]) -> Callable[[GlidePoint], float | None]:
    return lambda point: None if point.trim is None else figure(point.trim)


POINT_COLUMNS: tuple[Column[GlidePoint], ...] = (
    Column(
        name="airspeed_m_s", words="airspeed", kind="speed", read=_of_trim(lambda t: t.airspeed),
        missing="no steady glide",
    ),
    Column(
        name="forward_speed_m_s", words="forward", kind="speed", read=_of_trim(lambda t: t.forward_speed)
    ),
    Column(name="sink_m_s", words="sink", kind="speed", read=_of_trim(lambda t: t.sink)),
    Column(name="glide_ratio", words="glide", kind="ratio", read=_of_trim(lambda t: t.glide_ratio)),
    Column(name="alpha_deg", words="alpha", kind="angle", read=_of_trim(lambda t: t.alpha)),
    Column(name="stall_margin_deg", words="to stall", kind="angle", read=lambda p: p.stall_margin),
    Column(name="tuck_margin_deg", words="to tuck", kind="angle", read=lambda p: p.tuck_margin),
)  # fmt: skip
"""Of every table of glides, after what was varied; nothing where there is no steady glide."""

RIGGING: Column[GlidePoint] = Column(
    name="rigging_angle_deg", words="rigging", kind="angle", read=lambda p: p.setting
)
ROW_ERROR: Column[GlidePoint] = Column(
    name="error_mm", words="rear row", kind="tape_length", read=lambda p: p.setting
)


BRAKE_COLUMNS: tuple[Column[GlidePoint], ...] = (
    Column(name="brake_fraction", words="brake", kind="", read=lambda p: round(p.setting, 6), show=show_pull),
    Column(name="pull_mm", words="pull", kind="small_length", read=lambda p: p.pull),
    *POINT_COLUMNS,
)
"""Of both brakes together."""


def _show_reynolds(reynolds: float) -> str:
    return f"{reynolds:.1e}".replace("e+0", "e")  # a column of the widest table


ALOFT_COLUMNS: tuple[Column[Aloft], ...] = (
    Column(
        name="height_m", words="height", kind="length", digits=0, read=lambda row: row.point.setting
    ),
    *(of_part(column, attrgetter("point")) for column in POINT_COLUMNS[:1]),
    Column(
        name="equivalent_airspeed_m_s", words="equiv.", kind="speed",
        read=lambda row: row.equivalent_airspeed,
    ),
    *(of_part(column, attrgetter("point")) for column in POINT_COLUMNS[1:]),
    Column(
        name="reynolds", words="Re", kind="", read=lambda row: row.reynolds, show=_show_reynolds
    ),
)  # fmt: skip
"""Over height above sea level; airspeed is true."""

CHANGE: Column[tuple[str, GlidePoint]] = Column(
    name="change", words="how it hangs", kind="", read=lambda row: row[0]
)


class GlideReport(Report[Glide]):
    """Steady glide, its bands and margins, and what changes it."""

    COMMAND = "glide"
    BANDED = True

    def failures(self, units: System) -> list[str]:
        """Margins and limits that the steady glide does not keep, judged by the band's worse end."""
        bands, limits = self.result.bands.figures, self.result.vehicle.design.landing
        short = short_margins(bands["tuck_margin"].low, bands["stall_margin"].low, "may be", units)
        return [*short, *may_pass([("sink", bands["sink"].high, limits.max_sink, "speed")], units)]

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        glide = self.result
        yield headline(glide, units)
        yield Grid(rows=size_rows(glide, units))
        yield Grid(
            rows=headline_rows(glide, units),
            heads=["brakes released", "", "band", "band mostly from"],
            note="A band holds about 95 of 100 such canopies, if the factors' ranges are right; they are "
            f"judgements.\n{lost_sentence(glide)}",
        )
        yield "\n".join(stability_sentences(glide, units))
        yield Table(
            columns=BRAKE_COLUMNS, rows=glide.brakes,
            title="Both brakes together (line pulled, free play included)",
        )  # fmt: skip
        yield Table(
            columns=(RIGGING, *POINT_COLUMNS), rows=glide.rigging,
            title="Rigging angle (positive nose-down), line length kept", note=window_sentence(glide),
        )  # fmt: skip
        yield self._row_error(units)
        yield Table(
            columns=(CHANGE, *(of_pair(column) for column in POINT_COLUMNS)), rows=glide.hanging,
            title=f"How the payload hangs, changed by {show(HANG_STEP, 'tape_length', units)}",
            note=hanging_sentence(glide),
        )  # fmt: skip
        yield Table(
            columns=ALOFT_COLUMNS, rows=glide.altitudes, brief=rows_of_use(glide),
            title="Height above sea level (airspeed is true; equiv.: at sea level's density; Re: Reynolds')",
        )  # fmt: skip

    def _row_error(self, units: System) -> Grid:
        error = show(LINE_ERROR, "tape_length", units)
        names = (f"{error} too short", "as designed", f"{error} too long")
        cells = Table(columns=POINT_COLUMNS, rows=self.result.lines).grid(units)
        return Grid(
            rows=[[name, *row] for name, row in zip(names, cells.rows, strict=True)],
            heads=["rear row", *cells.heads],
            title=f"An error of {error} in the rear row that the rows between follow (of one row alone: "
            "parasim lines)",
        )

    def document(self) -> dict[str, Any]:
        """As `glide_document`."""
        return glide_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        glide = self.result
        yield "glide_polar.csv", Table(columns=BRAKE_COLUMNS, rows=glide.brakes).csv()
        yield "glide_rigging.csv", Table(columns=(RIGGING, *POINT_COLUMNS), rows=glide.rigging).csv()
        yield "glide_altitude.csv", Table(columns=ALOFT_COLUMNS, rows=glide.altitudes).csv()

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.drag import drag_figure
        from parasim.plotting.glide import polar_figure, rigging_figure

        yield "glide_polar.png", polar_figure(self.result, units)
        yield "glide_rigging.png", rigging_figure(self.result, units)
        yield "drag.png", drag_figure(self.result.drag, self.name)


def glide_document(glide: Glide) -> dict[str, Any]:
    """Glide as plain data.

    Returns
    -------
    dict
        - ``name``; ``mass_kg`` all-up; ``flat_area_m2`` and ``flat_area_definition``; ``projected_area_m2``;
          ``wing_loading_n_m2`` all-up weight over flat area; ``reynolds`` on mean chord;
          ``rigging_angle_deg`` nose-down positive.
        - ``airspeed_m_s``, ``forward_speed_m_s``, ``sink_m_s``, ``glide_ratio``, ``glide_angle_deg`` below
          the horizon, ``alpha_deg``, ``pitch_deg`` nose-up positive, ``stall_margin_deg``,
          ``tuck_margin_deg``, ``stall_alpha_deg``, ``lift_coefficient``, ``drag_coefficient``: brakes
          released.
        - ``bands``: by the same keys, ``low``, ``high`` and ``causes`` (factor to share of the band, 0 to 1);
          ``bands_lost``: factors at one end of whose range there is no steady glide;
          ``no_glide_fraction``: part of the canopies drawn from all ranges that has none.
        - ``modes``: modes, ``motion`` (words), ``lateral``, ``stable``, ``growth_per_s``,
          ``frequency_rad_s``. ``dynamically_stable``. ``other_trims``: ``alpha_deg``, ``airspeed_m_s``,
          ``sink_m_s``, ``glide_ratio``, ``statically_stable``.
        - ``brakes`` over ``brake_fraction`` and ``pull_mm``, ``rigging`` over ``rigging_angle_deg``,
          ``rear_row_error`` over ``error_mm`` (negative: too short), ``hanging`` over ``change`` (words; by
          10 mm), ``altitudes`` over ``height_m`` above sea level: lists of glides with the columns of
          `POINT_COLUMNS`, null where there is no steady glide; ``altitudes`` with
          ``equivalent_airspeed_m_s`` and ``reynolds`` there as well.
        - ``rigging_window_deg``: ``[low, high]`` or null; ``window_reserves_deg``: ``tuck``, ``stall``.
        - ``drag``: as `drag_document`. ``caveats``: sentences.
    """
    vehicle, trim, bands = glide.vehicle, glide.trim, glide.bands
    return {
        "name": vehicle.design.name,
        "mass_kg": vehicle.mass,
        "flat_area_m2": vehicle.canopy.flat_area,
        "flat_area_definition": FLAT_AREA,
        "projected_area_m2": vehicle.canopy.projected_area,
        "wing_loading_n_m2": vehicle.wing_loading,
        "reynolds": vehicle.reynolds,
        "rigging_angle_deg": in_degrees(vehicle.rigging.rigging_angle),
        **{column.name: column.value(bands.figures[name]) for name, column in HEADLINES.items()},
        "stall_alpha_deg": in_degrees(glide.stall_alpha),
        "lift_coefficient": trim.CL,
        "drag_coefficient": trim.CD,
        "bands": {c.name: band_document(bands.figures[name], c) for name, c in HEADLINES.items()},
        "bands_lost": list(bands.lost),
        "no_glide_fraction": glide.lost_share,
        "modes": [_mode_document(mode) for mode in trim.modes],
        "dynamically_stable": trim.dynamically_stable,
        "other_trims": [_trim_document(other) for other in glide.trims.others],
        "brakes": Table(columns=BRAKE_COLUMNS, rows=glide.brakes).document(),
        "rigging": Table(columns=(RIGGING, *POINT_COLUMNS), rows=glide.rigging).document(),
        "rigging_window_deg": glide.window and [in_degrees(end) for end in glide.window],
        "window_reserves_deg": {"tuck": in_degrees(TUCK_RESERVE), "stall": in_degrees(STALL_RESERVE)},
        "rear_row_error": Table(columns=(ROW_ERROR, *POINT_COLUMNS), rows=glide.lines).document(),
        "hanging": [{"change": words, **row_document(POINT_COLUMNS, p)} for words, p in glide.hanging],
        "altitudes": Table(columns=ALOFT_COLUMNS, rows=glide.altitudes).document(),
        "drag": drag_document(glide.drag, trim),
        "caveats": list(glide.caveats),
    }


def headline(glide: Glide, system: System) -> str:
    """How it glides and how sure that is, in a sentence."""
    trim, bands = glide.trim, glide.bands.figures
    ratio, sink = bands["glide_ratio"], bands["sink"]
    height = show(glide.vehicle.ground_height, "length", system, digits=0)
    return (
        f"{glide.vehicle.design.name} glides {trim.glide_ratio:.1f} to 1 ({ratio.low:.1f} to "
        f"{ratio.high:.1f}) with the brakes released: sinks {show(trim.sink, 'speed', system)} "
        f"({show_range(sink.low, sink.high, 'speed', system)}) at {show(trim.airspeed, 'speed', system)} "
        f"airspeed, in still air {height} above sea level"
    )


def headline_rows(glide: Glide, system: System) -> list[list[str]]:
    """Figure, value, band and its main causes."""
    rows = []
    for name, column in HEADLINES.items():
        band = glide.bands.figures[name]
        limits = show_range(band.low, band.high, column.kind, system)
        rows.append([column.words, column.cell(band, system), limits, causes_in_words(band)])
    return text_last(rows)


def rows_of_use(glide: Glide) -> int:
    """Rows of the altitude table up to the release, or to heights of drops from low down."""
    site, drop = glide.vehicle.design.site, glide.vehicle.design.drop
    below = sum(altitude < site.ground_height + drop.height for altitude in ALTITUDES)
    return min(max(USUAL_ALTITUDES, below + 1), len(ALTITUDES))


def size_rows(glide: Glide, system: System) -> list[list[str]]:
    """What the canopy and its load are, without bands."""
    vehicle = glide.vehicle
    rows = [
        ["flat area", f"{show(vehicle.canopy.flat_area, 'area', system)} ({FLAT_AREA})"],
        ["all-up mass", show(vehicle.mass, "mass", system)],
        ["wing loading", f"{show(vehicle.wing_loading, 'wing_loading', system)} (all-up weight, flat area)"],
        ["Reynolds number", f"{vehicle.reynolds:.2g} (mean chord)"],
        ["rigging angle", f"{show(vehicle.rigging.rigging_angle, 'angle', system)} (positive nose-down)"],
    ]
    return text_last(rows)


def stability_sentences(glide: Glide, system: System) -> list[str]:
    """Modes and other steady glides in plain sentences."""
    trim = glide.trim
    verdict = "decays" if trim.dynamically_stable else "GROWS: it is unstable"
    first = "Every small disturbance" if trim.dynamically_stable else "At least one small disturbance"
    found = [f"{first} about the glide with the brakes released {verdict}:"]
    found += [f"  {'' if mode.stable else 'UNSTABLE '}{mode.description}" for mode in trim.modes]
    if not glide.trims.others:
        return [*found, "There is no other steady glide with the brakes released."]
    return [
        *found,
        "Other steady glides with the brakes released:",
        *(f"  {_other(other, system)}" for other in glide.trims.others),
    ]


def hanging_sentence(glide: Glide) -> str:
    """Why moving the payload changes nothing where it hangs on one pair of hooks."""
    if glide.vehicle.design.payload.suspension.four_hooks:
        return ""
    return (
        "On one pair of hooks a payload moved forward or back only tilts until its centre hangs below them: "
        "the canopy flies as before, and with a longer riser nearly so."
    )


def lost_sentence(glide: Glide) -> str:
    """How many such canopies do not glide at all."""
    if glide.lost_share == 0:
        return f"Each of {DRAWS} canopies drawn from those ranges has a steady glide."
    return f"{100 * glide.lost_share:.2g} of 100 canopies drawn from those ranges have no steady glide."


def window_sentence(glide: Glide) -> str:
    """Rigging angles to choose from, and what they keep in reserve."""
    reserves = (
        f"at least {degrees(TUCK_RESERVE):.0f} deg before the nose tucks "
        f"and {degrees(STALL_RESERVE):.0f} deg before it stalls"
    )
    if glide.window is None:
        return f"No usual rigging angle keeps {reserves}, at the low end of the bands."
    low, high = glide.window
    first, last = (
        f"{degrees(end):.1f} deg{' (end of the usual)' if round(degrees(end), 6) in RIGGING_RAIL else ''}"
        for end in glide.window
    )
    angle = glide.vehicle.rigging.rigging_angle
    place = "inside" if low <= angle <= high else "OUTSIDE"
    return (
        f"The model's window of rigging angles (positive nose-down): {first} to {last}; it keeps {reserves}, "
        f"at the low end of the bands. "
        f"The design's {degrees(angle):.1f} deg lies {place}."
    )


def band_document(band: Band, column: Column[Band]) -> dict[str, Any]:
    """A band as plain data, in the unit of its figure's key."""
    low, high = (column.value(replace(band, value=end)) for end in (band.low, band.high))
    return {"low": low, "high": high, "causes": dict(band.causes)}


def _mode_document(mode: Mode) -> dict[str, Any]:
    return {
        "motion": mode.description,
        "lateral": mode.lateral,
        "stable": mode.stable,
        "growth_per_s": mode.eigenvalue.real,
        "frequency_rad_s": mode.eigenvalue.imag,
    }


def _trim_document(trim: Trim) -> dict[str, Any]:
    return {
        "alpha_deg": in_degrees(trim.alpha),
        "airspeed_m_s": trim.airspeed,
        "sink_m_s": trim.sink,
        "glide_ratio": trim.glide_ratio,
        "statically_stable": trim.statically_stable,
    }


def _other(trim: Trim, system: System) -> str:
    kind = "stable" if trim.statically_stable else "unstable, so it leaves it"
    return (
        f"at {degrees(trim.alpha):.0f} deg angle of attack, sink {show(trim.sink, 'speed', system)}: {kind}"
    )
