"""The glide as a document and as rows of tables."""

from math import degrees
from typing import Any

from parasim.flight.glide import STALL_RESERVE, TUCK_RESERVE, Glide, GlidePoint
from parasim.flight.trim import Mode, Trim
from parasim.flight.uncertainty import DRAWS, Band
from parasim.report.drag import drag_document
from parasim.report.words import FLAT_AREA, factor_in_words, in_degrees, show_pull, show_range
from parasim.units import System, show

HEADLINES = (
    ("airspeed", "airspeed", "speed"),
    ("forward_speed", "forward speed", "speed"),
    ("sink", "sink", "speed"),
    ("glide_ratio", "glide ratio", "ratio"),
    ("glide_angle", "glide angle", "angle"),
    ("alpha", "angle of attack", "angle"),
    ("pitch", "pitch of the chord, nose-up", "angle"),
    ("stall_margin", "stall margin", "angle"),
    ("tuck_margin", "nose-tuck margin", "angle"),
)
"""Figures that carry a band: name, words, kind of quantity."""

MINIMUM_CAUSE = 0.1
"""Share of a band under which a cause is not worth a word. [-]"""

POINT_HEADS = (
    "airspeed_m_s",
    "forward_speed_m_s",
    "sink_m_s",
    "glide_ratio",
    "alpha_deg",
    "stall_margin_deg",
    "tuck_margin_deg",
)
"""Columns of every table of glides, after what was varied; empty where there is no steady glide."""


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
          ``rear_row_error`` over ``error_mm`` (negative: too short), ``hanging`` over ``change`` (words),
          ``altitudes`` over ``height_m`` above sea level: lists of glides with the columns of `POINT_HEADS`,
          null where there is no steady glide.
        - ``rigging_window_deg``: ``[low, high]`` or null; ``window_reserves_deg``: ``tuck``, ``stall``.
        - ``drag``: as `drag_document`. ``caveats``: sentences.
    """
    vehicle, trim = glide.vehicle, glide.trim
    headline = {_key(name, kind): _plain(band.value, kind) for name, band, kind in _bands(glide)}
    travel = 1e3 * vehicle.design.brakes.travel
    return {
        "name": vehicle.design.name,
        "mass_kg": vehicle.mass,
        "flat_area_m2": vehicle.canopy.flat_area,
        "flat_area_definition": FLAT_AREA,
        "projected_area_m2": vehicle.canopy.projected_area,
        "wing_loading_n_m2": vehicle.wing_loading,
        "reynolds": vehicle.reynolds,
        "rigging_angle_deg": in_degrees(vehicle.rigging.rigging_angle),
        **headline,
        "stall_alpha_deg": in_degrees(glide.stall_alpha),
        "lift_coefficient": trim.CL,
        "drag_coefficient": trim.CD,
        "bands": {_key(name, kind): _band_document(band, kind) for name, band, kind in _bands(glide)},
        "bands_lost": list(glide.bands.lost),
        "no_glide_fraction": glide.lost_share,
        "modes": [_mode_document(mode) for mode in trim.modes],
        "dynamically_stable": trim.dynamically_stable,
        "other_trims": [_trim_document(other) for other in glide.trims.others],
        "brakes": [
            {"brake_fraction": round(p.setting, 6), "pull_mm": travel * p.setting, **_point_document(p)}
            for p in glide.brakes
        ],
        "rigging": [
            {"rigging_angle_deg": in_degrees(p.setting), **_point_document(p)} for p in glide.rigging
        ],
        "rigging_window_deg": glide.window and [in_degrees(end) for end in glide.window],
        "window_reserves_deg": {"tuck": in_degrees(TUCK_RESERVE), "stall": in_degrees(STALL_RESERVE)},
        "rear_row_error": [{"error_mm": 1e3 * p.setting, **_point_document(p)} for p in glide.lines],
        "hanging": [{"change": words, **_point_document(p)} for words, p in glide.hanging],
        "altitudes": [{"height_m": p.setting, **_point_document(p)} for p in glide.altitudes],
        "drag": drag_document(glide.drag, trim),
        "caveats": list(glide.caveats),
    }


def headline_rows(glide: Glide, system: System) -> list[list[str]]:
    """Figure, value, band and its main causes."""
    rows = [
        [words, show(band.value, kind, system), show_range(band.low, band.high, kind, system), causes(band)]
        for (_, words, _), (_, band, kind) in zip(HEADLINES, _bands(glide), strict=True)
    ]
    longest = max(len(row[-1]) for row in rows)
    return [[*row[:-1], row[-1].ljust(longest)] for row in rows]


def causes(band: Band) -> str:
    """The two main causes of a band in words."""
    main = [cause for cause in band.causes[:2] if cause[1] >= MINIMUM_CAUSE]
    return ", ".join(f"{factor_in_words(name)} {100 * share:.0f} %" for name, share in main) or "-"


def size_rows(glide: Glide, system: System) -> list[list[str]]:
    """What the canopy and its load are, without bands."""
    vehicle = glide.vehicle
    return [
        ["flat area", f"{show(vehicle.canopy.flat_area, 'area', system)} ({FLAT_AREA})"],
        ["all-up mass", show(vehicle.mass, "mass", system)],
        ["wing loading", f"{show(vehicle.wing_loading, 'wing_loading', system)} (all-up weight, flat area)"],
        ["Reynolds number", f"{vehicle.reynolds:.2g} (mean chord)"],
        ["rigging angle", f"{show(vehicle.rigging.rigging_angle, 'angle', system)} (positive nose-down)"],
    ]


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


def point_rows(points: tuple[GlidePoint, ...], settings: list[list[str]], system: System) -> list[list[str]]:
    """Rows of a table of glides, after the cells that say what was varied."""
    return [[*cells, *_point_cells(point, system)] for cells, point in zip(settings, points, strict=True)]


def hanging_rows(glide: Glide, system: System) -> list[list[str]]:
    """Rows of the glides with the payload hung otherwise."""
    points = tuple(point for _, point in glide.hanging)
    return point_rows(points, [[words] for words, _ in glide.hanging], system)


def lost_sentence(glide: Glide) -> str:
    """How many such canopies do not glide at all."""
    if glide.lost_share == 0:
        return f"Each of {DRAWS} canopies drawn from those ranges has a steady glide."
    return f"{100 * glide.lost_share:.2g} of 100 canopies drawn from those ranges have no steady glide."


POINT_WORDS = ("airspeed", "forward", "sink", "glide", "alpha", "to stall", "to tuck")
"""Heads of `point_rows`, after what was varied."""


def brake_settings(glide: Glide, system: System) -> list[list[str]]:
    """Brake fraction and line pulled."""
    travel = glide.vehicle.design.brakes.travel
    return [
        [show_pull(point.setting), show(point.setting * travel, "small_length", system)]
        for point in glide.brakes
    ]


def point_csv(points: tuple[GlidePoint, ...], settings: list[list[float]]) -> list[list[object]]:
    """Rows of a CSV file: settings, then `POINT_HEADS`; empty cells where there is no steady glide."""
    rows: list[list[object]] = []
    for cells, point in zip(settings, points, strict=True):
        figures = _point_document(point).values()
        rows.append([*cells, *("" if figure is None else round(figure, 4) for figure in figures)])
    return rows


def window_sentence(glide: Glide) -> str:
    """Rigging angles to choose from, and what they keep in reserve."""
    reserves = (
        f"at least {degrees(TUCK_RESERVE):.0f} deg before the nose tucks "
        f"and {degrees(STALL_RESERVE):.0f} deg before it stalls"
    )
    if glide.window is None:
        return f"No rigging angle of this sweep keeps {reserves}."
    low, high = glide.window
    ends = {glide.rigging[0].setting, glide.rigging[-1].setting}
    first, last = (
        f"{degrees(end):.1f} deg{' (end of the sweep)' if end in ends else ''}" for end in glide.window
    )
    angle = glide.vehicle.rigging.rigging_angle
    place = "inside" if low <= angle <= high else "OUTSIDE"
    return (
        f"Allowable rigging angle (positive nose-down): {first} to {last}; it keeps {reserves}. "
        f"The design's {degrees(angle):.1f} deg lies {place}."
    )


def _bands(glide: Glide) -> list[tuple[str, Band, str]]:
    return [(name, glide.bands.figures[name], kind) for name, _, kind in HEADLINES]


def _key(name: str, kind: str) -> str:
    return name + {"speed": "_m_s", "angle": "_deg", "ratio": ""}[kind]


def _plain(value: float, kind: str) -> float:
    return in_degrees(value) if kind == "angle" else value


def _band_document(band: Band, kind: str) -> dict[str, Any]:
    return {"low": _plain(band.low, kind), "high": _plain(band.high, kind), "causes": dict(band.causes)}


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


def _point_document(point: GlidePoint) -> dict[str, float | None]:
    trim = point.trim
    if trim is None:
        return dict.fromkeys(POINT_HEADS)
    figures = (
        trim.airspeed,
        trim.forward_speed,
        trim.sink,
        trim.glide_ratio,
        in_degrees(trim.alpha),
        in_degrees(point.stall_margin),
        in_degrees(point.tuck_margin),
    )
    return dict(zip(POINT_HEADS, figures, strict=True))


def _point_cells(point: GlidePoint, system: System) -> list[str]:
    trim = point.trim
    if trim is None:
        return ["no steady glide", *["-"] * (len(POINT_WORDS) - 1)]
    return [
        *(show(speed, "speed", system) for speed in (trim.airspeed, trim.forward_speed, trim.sink)),
        show(trim.glide_ratio, "ratio"),
        *(show(angle, "angle") for angle in (trim.alpha, point.stall_margin, point.tuck_margin)),
    ]
