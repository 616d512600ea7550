"""What `parasim scatter` answers."""

from collections.abc import Callable, Iterator, Sequence
from math import atan2, hypot, pi
from typing import TYPE_CHECKING, Any

import numpy as np

from parasim.flight.drop import CAUTIONS
from parasim.report import scatter_words as words
from parasim.report.column import Column, Grid, Table, csv_text, of_pair, row_document
from parasim.report.landing_map import MapError, geojson, kml, shapes
from parasim.report.report import Block, Report
from parasim.report.words import column
from parasim.rotations import FloatArray
from parasim.scatter.inputs import FLIGHT_INPUTS, OUTERMOST, Calibration, Input
from parasim.scatter.members import OUTCOMES, STATUSES, Members
from parasim.scatter.scatter import Scatter
from parasim.scatter.sensitivity import FIGURES as DRIVEN
from parasim.scatter.statistics import QUANTILES, RADIUS_LEVELS, Distribution, Share, failure_shares
from parasim.units import System, in_degrees

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SUFFIX = {"length": "m", "angle": "deg", "wind_speed": "m_s", "mass": "kg", "percent": "fraction"}
"""Of the key of an input, by the kind of quantity; a calibration number has none."""

UNIT_OF_FIGURE = {"speed": "m_s", "energy": "j", "time": "s", "length": "m"}

SPREAD_NUMBERS = {
    "normal": ("mean_offset", "deviation"),
    "uniform": ("low_offset", "high_offset"),
    "triangular": ("low_offset", "likely_offset", "high_offset"),
    "lognormal": ("log_deviation",),
}
"""Keys of the numbers of each kind of spread."""

MEMBER_FIGURES: dict[str, Callable[[Members], FloatArray]] = {
    "north_m": lambda those: those.north,
    "east_m": lambda those: those.east,
    "time_aloft_s": lambda those: those.time_aloft,
    "ground_speed_m_s": lambda those: those.ground_speed,
    "sink_m_s": lambda those: those.sink,
    "speed_m_s": lambda those: those.speed,
    "energy_j": lambda those: those.energy,
    "airspeed_m_s": lambda those: those.airspeed,
    "landing_heading_deg": lambda those: np.degrees(those.heading) % 360,
    "largest_alpha_deg": lambda those: np.degrees(those.largest_alpha),
    "largest_sideslip_deg": lambda those: np.degrees(those.largest_beta),
    "mass_kg": lambda those: those.mass,
}
"""Of landings.csv and failed.csv, before the inputs; places are from the point below the nominal release.
Read for all members at once: there may be millions."""

SHARE_COLUMNS: tuple[Column[Share], ...] = (
    Column(name="count", words="drops", kind="", read=lambda share: share.count),
    Column(name="share_percent", words="share", kind="percent", read=lambda share: share.value),
    Column(name="low_percent", words="from", kind="percent", read=lambda share: share.low),
    Column(
        name="high_percent", words="to (95 of 100 times)", kind="percent", read=lambda share: share.high
    ),
)  # fmt: skip
"""How many of how many, and the interval in which the true share lies."""


def _named(head: str) -> Column[tuple[str, Share]]:
    return Column(name="of", words=head, kind="", read=lambda row: row[0])


class ScatterReport(Report[Scatter]):
    """Where thousands of drops come down, how hard, and what drives it."""

    COMMAND = "scatter"
    BANDED = True
    CAUTIONS = CAUTIONS

    def failures(self, units: System) -> list[str]:
        """Limits of the payload that landings pass, and landings that are not known."""
        scatter, lost = self.result, self.result.members.uncomputed
        whole = next((each for each in scatter.limits if each.name == "any" and each.count), None)
        each_over = ", ".join(
            f"{words.FIGURE_WORDS[each.name]} over {words.limit_words(each, units)} in {each.count}"
            for each in scatter.limits
            if each.name != "any" and each.count
        )
        found = [] if whole is None else [f"{words.show_share(whole)} pass a limit: {each_over}"]
        return found + ([f"{lost} end in the air, their landing not known"] if lost else [])

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        scatter = self.result
        yield f"{'' if scatter.complete else 'PARTIAL: '}{words.headline(scatter, units)}"
        yield words.place_sentence(scatter, units)
        yield Grid(
            rows=words.figure_rows(scatter, units),
            heads=["landings", "mean", "half", "95 %", "99 %", "most"],
        )
        if scatter.limits:
            yield self._over_limits(units)
        outcomes = [(each.name, each) for each in scatter.outcomes]
        lost = [(f"of these {each.name}", each) for each in failure_shares(scatter.members)]
        yield Table(columns=(_named("canopy"), *map(of_pair, SHARE_COLUMNS)), rows=[*outcomes, *lost])
        yield Grid(rows=words.chance_rows(scatter), heads=["chances drawn from", "", "whose number"])
        yield from self._places(units)
        yield from self._sensitivity(units)
        yield Grid(rows=words.input_rows(scatter, units), heads=["input", "nominal", "spread"])

    def _over_limits(self, units: System) -> Table[tuple[str, Share]]:
        limit: Column[tuple[str, Share]] = Column(
            name="limit", words="limit", kind="", read=lambda row: words.limit_words(row[1], units)
        )
        return Table(
            columns=(_named("over the payload's limit"), limit, *map(of_pair, SHARE_COLUMNS)),
            rows=[(words.FIGURE_WORDS[each.name], each) for each in self.result.limits],
        )

    def _places(self, units: System) -> Iterator[Block]:
        if self.result.footprint is not None:
            yield Grid(
                rows=words.region_rows(self.result, units),
                heads=[
                    "region of", "area", "holds", "check on unseen landings", "ellipse", "holds",
                    "circle radius",
                ],
                title="Where they come down",
                note=words.CHECKED,
            )  # fmt: skip
        if self.result.advice is not None:
            yield words.advice_sentence(self.result.advice, units)

    def _sensitivity(self, units: System) -> Iterator[Block]:
        if self.result.sensitivity is not None:
            yield Grid(
                rows=words.driver_rows(self.result),
                heads=["what drives it", "explained", "influence (-1 to +1), strongest first"],
            )
        if self.result.sobol is not None:
            yield Grid(
                rows=words.sobol_rows(self.result),
                heads=["Sobol indices", "alone/with others, largest first"],
            )

    def document(self) -> dict[str, Any]:
        """As `scatter_document`."""
        return scatter_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        yield "landings.csv", member_csv(self.result.landed)
        if len(self.result.failed):
            yield "failed.csv", member_csv(self.result.failed)

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.scatter import landing_figure, map_figure, sensitivity_figure

        yield "scatter_map.png", map_figure(self.result, units)
        yield "scatter_landing.png", landing_figure(self.result, units)
        if self.result.sensitivity is not None:
            yield "scatter_sensitivity.png", sensitivity_figure(self.result)

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """As `Report.others`: the footprint for maps."""
        if not self.unwritten():
            yield "footprint.geojson", geojson(self.result)
            yield "footprint.kml", kml(self.result)

    def unwritten(self) -> Sequence[str]:
        """As `Report.unwritten`."""
        try:
            shapes(self.result)
        except MapError as error:
            return (f"No GeoJSON and no KML: {error}.",)
        return ()


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
        - `spreads` of the inputs that vary, each by the input's name with its unit (heads of landings.csv):
          `nominal`, `distribution` (normal, uniform, triangular, lognormal) and, from the nominal value,
          `mean_offset` and `deviation`, or `low_offset`, `likely_offset` and `high_offset`, with `_fraction`
          behind where they are in parts of it; or `log_deviation`, of the logarithm; or, of a calibration
          number, `low` and `high` of its range.
        - `outcomes`, each with `outcome` and its share among all drops: `count`, `share_percent`,
          `low_percent`, `high_percent` (exact binomial interval at 95 %). `failed_counts` of those that did
          not land, by the reason.
        - `figures` of all that landed, `ground_speed_m_s`, `sink_m_s`, `speed_m_s`, `energy_j`,
          `time_aloft_s` and `distance_m` from the point under the release, each with `mean`, `deviation`,
          `minimum`, `largest`, `p5`, `p25`, `p50`, `p75`, `p95`, `p99`.
        - `over_limits`: `figure`, its limit `limit_m_s`, `limit_j` or `limit_g` (in weights of what lands;
          none for any of them), and the share of the landings and of those that ended in
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
          `touchdown` of that drop.
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
        "spreads": {input_key(each.name): spread_document(each) for each in scatter.inputs},
        "outcomes": [
            {"outcome": each.name, **row_document(SHARE_COLUMNS, each)} for each in scatter.outcomes
        ],
        "failed_counts": dict(scatter.failures),
        "figures": {_figure_key(each): _distribution_document(each) for each in scatter.distributions},
        "over_limits": [
            {"figure": each.name, **_limit_document(each), **row_document(SHARE_COLUMNS, each)}
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


def spread_document(given: Input) -> dict[str, Any]:
    """Nominal value and spread of an input, in the unit of its key; keys as in `scatter_document`."""
    spread, nominal = given.spread, given.nominal
    if isinstance(spread, Calibration):
        low, high = nominal - OUTERMOST * spread.below, nominal + OUTERMOST * spread.above
        return {"nominal": nominal, "distribution": "normal", "low": low, "high": high}
    behind = "_fraction" if spread.relative and spread.kind != "lognormal" else ""
    numbers = spread.numbers if spread.relative else [in_unit(given.name, x) for x in spread.numbers]
    return {
        "nominal": in_unit(given.name, nominal),
        "distribution": spread.kind,
        **{f"{name}{behind}": x for name, x in zip(SPREAD_NUMBERS[spread.kind], numbers, strict=True)},
    }


def in_unit(name: str, value: float) -> float:
    """Value of an input in the unit of its key."""
    return in_degrees(value) if FLIGHT_INPUTS.get(name) == "angle" else value


def _limit_document(over: Share) -> dict[str, float]:
    if over.limit is None:
        return {}
    kind = words.KIND_OF_LIMIT.get(over.name)
    return {f"limit_{UNIT_OF_FIGURE[kind] if kind else 'g'}": over.limit}


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
        "within": row_document(SHARE_COLUMNS, found.now),
        "within_if_moved": row_document(SHARE_COLUMNS, found.moved),
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


def member_csv(members: Members, *, digits: int = 4) -> str:
    """Members as a CSV text: `MEMBER_FIGURES`, then the inputs that vary; empty where there is none."""
    columns: dict[str, Sequence[object]] = {
        "number": members.number.tolist(),
        "outcome": [OUTCOMES[i] for i in members.outcome],
        "status": [STATUSES[i] for i in members.status],
        **{name: _cells(figure(members), digits) for name, figure in MEMBER_FIGURES.items()},
    }
    for name, values in members.inputs.items():
        shown = np.degrees(values) if FLIGHT_INPUTS.get(name) == "angle" else values
        columns[input_key(name)] = column(shown, digits + 2)
    return csv_text([*columns], zip(*columns.values(), strict=True))


def _cells(values: FloatArray, digits: int) -> list[object]:
    """Numbers of a column; empty where there is none."""
    return [x if np.isfinite(x) else "" for x in column(values, digits)]
