"""A scatter as a document and as rows of CSV files."""

from collections.abc import Mapping, Sequence
from math import atan2, hypot, pi
from typing import Any

import numpy as np

from parasim.flight.drop import CAUTIONS
from parasim.report.scatter_words import input_rows, limit_words
from parasim.report.words import column, in_degrees
from parasim.scatter.inputs import FLIGHT_INPUTS
from parasim.scatter.members import OUTCOMES, STATUSES, Members
from parasim.scatter.replay import Replay
from parasim.scatter.scatter import Scatter
from parasim.scatter.sensitivity import FIGURES as DRIVEN
from parasim.scatter.statistics import QUANTILES, RADIUS_LEVELS, Distribution, Share

SUFFIX = {"length": "m", "angle": "deg", "speed": "m_s", "mass": "kg", "percent": "fraction"}
"""Of the key of an input, by the kind of quantity; a calibration number has none."""

UNIT_OF_FIGURE = {"speed": "m_s", "energy": "j", "time": "s", "length": "m"}

OUTCOME_HEADS = (
    "number",
    "outcome",
    "status",
    "north_m",
    "east_m",
    "time_aloft_s",
    "ground_speed_m_s",
    "sink_m_s",
    "speed_m_s",
    "energy_j",
    "airspeed_m_s",
    "landing_heading_deg",
    "largest_alpha_deg",
    "largest_sideslip_deg",
    "mass_kg",
)
"""Of landings.csv and failed.csv, before the inputs; places are from the point below the nominal release."""


def input_key(name: str) -> str:
    """Key of an input, with its unit."""
    kind = FLIGHT_INPUTS.get(name)
    return name if kind is None else f"{name}_{SUFFIX[kind]}"


def scatter_document(scatter: Scatter) -> dict[str, Any]:
    """Scatter as plain data.

    Returns
    -------
    dict
        - `name`; `drops_asked_count`, `drops_flown_count`, `complete`, `seed`; `release`: `height_m`,
          `heading_deg`, `start`; `wind`: `speed_m_s`, `from_deg`, `reference_height_m`; `position`:
          `latitude_deg`, `longitude_deg`, or null.
        - `inputs` that vary: `input`, `nominal` and `spread` in words.
        - `outcomes`, each with `outcome` and its share among all drops: `count`, `share_percent`,
          `low_percent`, `high_percent` (exact binomial interval at 95 %). `failed_counts` of those that did
          not land, by the reason.
        - `figures` of all that landed, `ground_speed_m_s`, `sink_m_s`, `speed_m_s`, `energy_j`,
          `time_aloft_s` and `distance_m` from the point under the release, each with `mean`, `deviation`,
          `minimum`, `largest`, `p5`, `p25`, `p50`, `p75`, `p95`, `p99`.
        - `over_limits`: `figure`, `limit` in words, and the share of the landings and of those that ended in
          the air, which count as over: `count`, `share_percent`, `low_percent`, `high_percent`.
        - `footprint` of all that landed, null for too few: `center_north_m`, `center_east_m`; `regions` of
          highest density: `level_percent`, `area_m2`, `pieces_count`, `held_percent` of the landings,
          `cross_checked_percent` of every other landing when drawn from the rest; beside each the `ellipse`
          of a normal cloud: `area_m2`, `held_percent`, `semi_axes_m`, `bearing_deg` of the longer one.
        - `circles` about the mean landing: `level_percent`, `radius_m`.
        - `drift` of those that opened as designed, from release to touchdown: `north_m`, `east_m`,
          `distance_m`, `bearing_deg`.
        - `advice`, null without a target: `target_north_m`, `target_east_m`, `target_radius_m`;
          `release_north_m`, `release_east_m` of where to release, from the nominal release; `within` and
          `within_if_moved`: share of the landings within the radius.
        - `sensitivity` of those that opened as designed, null for too few: `axis_deg`, bearing along which
          the
          cloud is longest; `count`, `chance_rank` (as large comes
          by chance in one of twenty), and `figures`: `figure`, `explained_percent` and `inputs`: `input`,
          `rank` and `partial_rank` correlation.
        - `sobol`, null unless asked for: `flights_count`, `failed_count`, `base_count` and `figures`:
          `figure` and `inputs`: `input`, `first_percent`, `total_percent` of the variance, and their
          `first_low_percent`, `first_high_percent`, `total_low_percent`, `total_high_percent`.
        - With `--replay` instead: `number`, `outcome`, `inputs` with their units, `glide_begins_with` and
          `touchdown` of that member.
        - `cautions` and `caveats`: sentences.
    """
    release, wind = scatter.release, scatter.vehicle.wind
    position = scatter.vehicle.design.site.position
    north, east = (float(x) for x in scatter.drift)
    return {
        "name": scatter.vehicle.design.name,
        "drops_asked_count": scatter.drops,
        "drops_flown_count": len(scatter.members),
        "complete": scatter.complete,
        "seed": scatter.seed,
        "release": {
            "height_m": release.height,
            "heading_deg": in_degrees(release.heading),
            "start": release.start,
        },
        "wind": {
            "speed_m_s": wind.speed,
            "from_deg": in_degrees(wind.from_direction),
            "reference_height_m": wind.reference_height,
        },
        "position": None
        if position is None
        else {"latitude_deg": in_degrees(position[0]), "longitude_deg": in_degrees(position[1])},
        "inputs": [
            {"input": row[0], "nominal": row[1], "spread": row[2]} for row in input_rows(scatter, "metric")
        ],
        "outcomes": [{"outcome": each.name, **share_document(each)} for each in scatter.outcomes],
        "failed_counts": dict(scatter.failures),
        "figures": {_figure_key(each): _distribution_document(each) for each in scatter.distributions},
        "over_limits": [
            {"figure": each.name, "limit": limit_words(each, "metric"), **share_document(each)}
            for each in scatter.limits
        ],
        "footprint": _footprint_document(scatter),
        "circles": [
            {"level_percent": round(100 * level), "radius_m": radius}
            for level, radius in zip(RADIUS_LEVELS, scatter.radii, strict=True)
        ],
        "drift": {
            "north_m": north,
            "east_m": east,
            "distance_m": hypot(north, east),
            "bearing_deg": in_degrees(atan2(east, north) % (2 * pi)),
        },
        "advice": _advice_document(scatter),
        "sensitivity": _sensitivity_document(scatter),
        "sobol": _sobol_document(scatter),
        "cautions": list(CAUTIONS),
        "caveats": list(scatter.caveats),
    }


def share_document(share: Share) -> dict[str, Any]:
    """Share as plain data; keys as in `scatter_document`."""
    return {
        "count": share.count,
        "share_percent": 100 * share.value,
        "low_percent": 100 * share.low,
        "high_percent": 100 * share.high,
    }


def _figure_key(each: Distribution) -> str:
    return f"{each.name}_{UNIT_OF_FIGURE[each.kind]}"


def _distribution_document(each: Distribution) -> dict[str, float | None]:
    named = {f"p{round(100 * q)}": value for q, value in zip(QUANTILES, each.quantiles, strict=True)}
    return {
        "mean": each.mean, "deviation": each.deviation,
        "minimum": each.minimum, "largest": each.largest, **named,
    }  # fmt: skip


def _footprint_document(scatter: Scatter) -> dict[str, Any] | None:
    found = scatter.footprint
    if found is None:
        return None
    return {
        "center_north_m": float(found.center[1]),
        "center_east_m": float(found.center[0]),
        "regions": [
            {
                "level_percent": round(100 * region.level),
                "area_m2": region.area,
                "pieces_count": len(region.polygons),
                "held_percent": 100 * region.held,
                "cross_checked_percent": None if region.cross_checked is None else 100 * region.cross_checked,
                "ellipse": {
                    "area_m2": ellipse.area,
                    "held_percent": 100 * ellipse.held,
                    "semi_axes_m": ellipse.semi_axes,
                    "bearing_deg": in_degrees(ellipse.bearing),
                },
            }
            for region, ellipse in zip(found.regions, found.ellipses, strict=True)
        ],
    }


def _advice_document(scatter: Scatter) -> dict[str, Any] | None:
    found = scatter.advice
    if found is None:
        return None
    return {
        "target_north_m": found.target.north,
        "target_east_m": found.target.east,
        "target_radius_m": found.target.radius,
        "release_north_m": found.release[0],
        "release_east_m": found.release[1],
        "within": share_document(found.now),
        "within_if_moved": share_document(found.moved),
    }


def _sensitivity_document(scatter: Scatter) -> dict[str, Any] | None:
    found = scatter.sensitivity
    if found is None:
        return None
    return {
        "axis_deg": in_degrees(atan2(scatter.axis[1], scatter.axis[0]) % (2 * pi)),
        "count": found.count,
        "chance_rank": found.noise,
        "figures": [
            {
                "figure": figure,
                "explained_percent": 100 * float(found.explained[i]),
                "inputs": [
                    {"input": name, "rank": found.rank[i, j], "partial_rank": found.partial[i, j]}
                    for j, name in enumerate(found.names)
                ],
            }
            for i, figure in enumerate(DRIVEN)
        ],
    }


def _sobol_document(scatter: Scatter) -> dict[str, Any] | None:
    found = scatter.sobol
    if found is None:
        return None
    values = {
        "first_percent": found.first,
        "total_percent": found.total,
        "first_low_percent": found.first_interval[0],
        "first_high_percent": found.first_interval[1],
        "total_low_percent": found.total_interval[0],
        "total_high_percent": found.total_interval[1],
    }
    return {
        "flights_count": found.flights,
        "failed_count": found.failed,
        "base_count": found.base,
        "figures": [
            {
                "figure": figure,
                "inputs": [
                    {"input": name, **{key: 100 * float(table[i, j]) for key, table in values.items()}}
                    for j, name in enumerate(found.names)
                ],
            }
            for i, figure in enumerate(DRIVEN)
        ],
    }


def member_heads(members: Members) -> list[str]:
    """Heads of landings.csv and failed.csv: `OUTCOME_HEADS`, then the inputs that vary."""
    return [*OUTCOME_HEADS, *(input_key(name) for name in members.inputs)]


def member_rows(members: Members, *, digits: int = 4) -> list[Sequence[object]]:
    """Rows under `member_heads`."""
    columns: list[Sequence[object]] = [
        members.number.tolist(),
        [OUTCOMES[i] for i in members.outcome],
        [STATUSES[i] for i in members.status],
    ]
    figures = (
        members.north, members.east, members.time_aloft, members.ground_speed, members.sink, members.speed,
        members.energy, members.airspeed, np.degrees(members.heading) % 360,
        np.degrees(members.largest_alpha), np.degrees(members.largest_beta), members.mass,
    )  # fmt: skip
    columns += [_cells(each, digits) for each in figures]
    for name, values in members.inputs.items():
        shown = np.degrees(values) if FLIGHT_INPUTS.get(name) == "angle" else values
        columns.append(column(shown, digits + 2))
    return [list(row) for row in zip(*columns, strict=True)]


def _cells(values: np.ndarray, digits: int) -> list[object]:
    """Numbers of a column; empty where there is none."""
    return [x if np.isfinite(x) else "" for x in column(values, digits)]


def replay_document(replay: Replay, name: str) -> dict[str, Any]:
    """One member flown again, as plain data.

    Returns
    -------
    dict
        `name`; `number`; `outcome`; `inputs`: value of each input, with its unit; `glide_begins_with`: those
        that a late member glides from instead; `ending`: how its glide ended, null where it only fell;
        `touchdown`: `ground_speed_m_s`, `sink_m_s` (null where they are not known), `north_m`, `east_m`,
        `time_aloft_s`; `cautions`: sentences. Places are from the point below the nominal release.
    """
    drop, fallen = replay.drop, replay.fallen
    begun = {**replay.inputs, **replay.glided}
    touchdown: dict[str, float | None]
    if drop is None:
        touchdown = {
            "ground_speed_m_s": float(fallen.ground_speed[0]),
            "sink_m_s": float(fallen.sink[0]),
            "north_m": float(fallen.north[0]),
            "east_m": float(fallen.east[0]),
            "time_aloft_s": float(fallen.time_aloft[0]),
        }
    else:
        landing = drop.touchdown
        touchdown = {
            "ground_speed_m_s": landing.ground_speed if landing else None,
            "sink_m_s": landing.sink if landing else None,
            "north_m": drop.end.north + begun["release_north"],
            "east_m": drop.end.east + begun["release_east"],
            "time_aloft_s": drop.time_aloft + float(fallen.time_aloft[0]),
        }
    return {
        "name": name,
        "number": replay.number,
        "outcome": OUTCOMES[replay.outcome],
        "inputs": _keyed(replay.inputs),
        "glide_begins_with": _keyed(replay.glided),
        "ending": drop and drop.end.ending,
        "touchdown": touchdown,
        "cautions": list(CAUTIONS),
    }


def _keyed(inputs: Mapping[str, float]) -> dict[str, float]:
    return {
        input_key(name): in_degrees(value) if FLIGHT_INPUTS.get(name) == "angle" else value
        for name, value in inputs.items()
    }
