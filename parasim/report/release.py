"""What `parasim release` answers."""

from collections.abc import Iterator
from math import atan2, floor, hypot
from typing import TYPE_CHECKING, Any

import numpy as np

from parasim.flight.drop import unopened_drift
from parasim.flight.landing import FORWARD_RESERVE
from parasim.flight.release.plan import FINAL_TIME, PACE, Leg
from parasim.flight.release.release import InWind, ReleasePoint
from parasim.flight.turn.turn import TURN_CAUTIONS
from parasim.report.column import Column, Grid, Table, of_array, row_document
from parasim.report.drop import TOUCHDOWN
from parasim.report.limits import not_kept
from parasim.report.report import Block, Report
from parasim.report.words import LONG, causes_in_words, show_bearing, show_long, show_pull, show_typed_wind
from parasim.rotations import FloatArray
from parasim.units import System, convert, in_degrees, show, show_range, unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LEG_COLUMNS: tuple[Column[Leg], ...] = (
    Column(name="name", words="part of the plan", kind="", read=lambda leg: leg.name),
    Column(name="from_m", words="from", kind="length", digits=0, read=lambda leg: leg.top),
    Column(name="to_m", words="to", kind="length", digits=0, read=lambda leg: leg.bottom),
    Column(
        name="share_percent", words="of the height", kind="percent", digits=0, read=lambda leg: leg.share
    ),
    Column(name="lost_m", words="lost", kind="length", digits=0, read=lambda leg: leg.lost),
    Column(name="time_s", words="time", kind="time", read=lambda leg: leg.time, show=show_long),
)  # fmt: skip
"""Of parts of the plan; heights of the payload's lower face above ground."""

WIND_COLUMNS: tuple[Column[InWind], ...] = (
    Column(name="wind_m_s", words="wind", kind="wind_speed", read=lambda row: row.wind),
    Column(name="upwind_m", words="let go upwind", kind="length", digits=0, read=lambda row: row.upwind),
    Column(name="box_radius_m", words="within", kind="length", digits=0, read=lambda row: max(row.box, 0.0)),
    Column(
        name="drift_per_circle_m", words="drift a circle", kind="length", digits=0,
        read=lambda row: row.drift_per_circle,
    ),
    Column(name="time_aloft_s", words="aloft", kind="time", read=lambda row: row.time, show=show_long),
    Column(name="up_m", words="reach upwind", kind="length", digits=0, read=lambda row: row.up),
    Column(name="down_m", words="downwind", kind="length", digits=0, read=lambda row: row.down),
    Column(name="across_m", words="to a side", kind="length", digits=0, read=lambda row: row.across),
)  # fmt: skip
"""To look up by wind, at its measuring height; what lies downwind of the target is below zero."""

REACH_WORDS = {
    "time": ("time aloft", "time", 1),
    "up": ("upwind", "length", 0),
    "down": ("downwind", "length", 0),
    "across": ("to either side", "length", 0),
    "glide_ratio": ("glide ratio", "ratio", 2),
}
"""Figure of the reach: words, kind of quantity, decimals."""

RIGHT_OVER = 2.0
"""Distance of the release from the target that needs no words. [m] Our choice."""


class ReleaseReport(Report[ReleasePoint]):
    """Where to let go, and how far it can land."""

    COMMAND = "release"
    CAUTIONS = TURN_CAUTIONS

    def failures(self, units: System) -> list[str]:
        """What speaks against the plan."""
        point, found = self.result, []
        if not point.advised:
            found.append(
                f"the wind of {show_wind(point.wind.speed, units)}{gusting(point, units)} is over its limit "
                f"of {show_wind(point.limit, units)} {measured(point, units)}"
            )
        elif point.plan.box <= 0:
            found.append("no room to be off: the low end of the band just reaches")
        if point.target is not None:
            found += _off_plan(point, units)
        if point.may_spiral:
            found.append(
                f"may spiral from {show_pull(point.rate_bands.figures['reach'].low)} of one brake on, and "
                f"circles at {show_pull(point.circle.brake)}"
            )
        return [*found, *_flown_failures(point, units), *not_kept(point.verdicts, units)]

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        point = self.result
        yield headline(point, units)
        yield wind_sentences(point, units)
        yield Grid(
            rows=reach_rows(point, units), heads=["gliding straight", "", "band", "band mostly from"],
            title="Reach from the point under the release, brakes released", note=reach_sentence(point),
        )  # fmt: skip
        if point.advised:
            yield Grid(rows=release_rows(point, units), title="For the target")
            yield Table(columns=LEG_COLUMNS, rows=point.legs, note=leg_sentence(point, units))
        yield Grid(rows=circle_rows(point, units), title="Circling with the left brake; right is its mirror")
        if rows := wind_rows(point, units):
            yield Table(
                columns=WIND_COLUMNS, rows=rows, note=table_sentence(point, units),
                title=f"By the wind {measured(point, units)}, up to its limit",
            )  # fmt: skip
        if point.flown is not None:
            yield flown_sentence(point, units)

    def document(self) -> dict[str, Any]:
        """As `release_document`."""
        return release_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        yield "release_winds.csv", Table(columns=WIND_COLUMNS, rows=wind_rows(self.result, "metric")).csv()
        yield "release_reach.csv", reach_csv(self.result)
        if self.result.flown is not None:
            yield "release_path.csv", path_csv(self.result)

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.release import release_figure

        yield "release.png", release_figure(self.result, units)

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """A card to print, where a release point is advised."""
        from parasim.report.release_card import card, card_pdf

        if self.result.advised:
            yield "release_card.pdf", card_pdf(card(self.result, units), units)


def release_document(point: ReleasePoint) -> dict[str, Any]:
    """Release point and reach as plain data.

    Returns
    -------
    dict
        - ``name``; ``height_m`` of the confluence above ground, gliding; ``opening_loss_m``:
          what a packed release loses before (null where the model does not say); ``wind``:
          ``speed_m_s`` and ``from_deg`` at ``measured_at_m``,
          ``at_release_m_s``, ``gust_m_s``, ``limit_m_s`` (all but the last two null in a
          calm), with ``forward_reserve`` of the forward speed in hand.
        - ``reach`` from the point under the release: ``drift_north_m``, ``drift_east_m``;
          ``unopened_drift_m``, with the wind as it falls from rest; ``time_aloft_s``,
          ``up_m``, ``down_m``, ``across_m``, ``glide_ratio``; ``bands`` of these: ``low``, ``high``;
          ``bands_lost``: factors at one end of whose range there is no steady glide; ``no_glide_fraction``:
          then the part of the canopies drawn from all ranges that has none, else null.
        - ``advised``; ``release`` (null if not advised): ``north_m``, ``east_m``, ``distance_m`` and
          ``bearing_deg`` from the target, ``box_radius_m`` (within which it comes home), ``target_radius_m``,
          ``gust_miss_m`` (how far short it lands if the gust blows all through the final).
        - ``target``: null or ``north_m``, ``east_m`` from below the planned release, ``off_plan_m``.
        - ``circle``: ``brake_fraction``, ``pull_mm``, ``turn_rate_deg_s`` with ``low_deg_s`` and
          ``high_deg_s``, ``radius_m``, ``turn_time_s``, ``height_lost_per_turn_m``, ``drift_per_circle_m``,
          ``drift_per_10_m_height_m``, ``steady_to_low_brake_fraction`` (brake from which it may spiral).
        - ``legs`` and ``winds``: the columns of `LEG_COLUMNS` and `WIND_COLUMNS`.
        - ``flown`` (null if not advised): the plan flown once: ``landed``, ``miss_m``, ``ground_speed_m_s``,
          ``sink_m_s``, ``energy_j``; null where it does not land.
        - ``cautions`` and ``caveats``: sentences.
    """
    reach, wind = point.reach, point.wind
    drift = reach.center
    bands = {_reach_key(name): reach.band(name) for name in REACH_WORDS}
    return {
        "name": point.vehicle.design.name,
        "height_m": point.height,
        "opening_loss_m": point.opening_loss,
        "wind": {
            "speed_m_s": wind.speed,
            "from_deg": in_degrees(wind.comes_from) if wind.speed else None,
            "measured_at_m": wind.height,
            "at_release_m_s": hypot(*point.vehicle.wind.velocity(point.height)),
            "gust_m_s": point.gust,
            "limit_m_s": point.limit,
            "forward_reserve": FORWARD_RESERVE,
        },
        "reach": {
            "drift_north_m": float(drift[0]),
            "drift_east_m": float(drift[1]),
            "unopened_drift_m": hypot(*unopened_drift(point.vehicle, point.height)),
            **{key: band.value for key, band in bands.items()},
            "bands": {key: {"low": band.low, "high": band.high} for key, band in bands.items()},
            "bands_lost": list(reach.bands.lost),
            "no_glide_fraction": reach.bands.lost_share,
        },
        "advised": point.advised,
        "release": _release_document(point) if point.advised else None,
        "target": _target_document(point),
        "circle": _circle_document(point),
        "legs": [row_document(LEG_COLUMNS, leg) for leg in point.legs],
        "winds": [row_document(WIND_COLUMNS, row) for row in wind_rows(point, "metric")],
        "flown": _flown_document(point),
        "cautions": list(TURN_CAUTIONS),
        "caveats": list(point.caveats),
    }


def _reach_key(name: str) -> str:
    return {"time": "time_aloft_s", "glide_ratio": name}.get(name, f"{name}_m")


def _release_document(point: ReleasePoint) -> dict[str, Any]:
    north, east = point.plan.release.tolist()
    return {
        "north_m": north,
        "east_m": east,
        "distance_m": hypot(north, east),
        "bearing_deg": in_degrees(atan2(east, north) % (2 * np.pi)),
        "box_radius_m": max(point.plan.box, 0.0),
        "target_radius_m": point.radius,
        "gust_miss_m": point.plan.gust_miss,
    }


def _target_document(point: ReleasePoint) -> dict[str, Any] | None:
    if point.target is None:
        return None
    north, east = point.target.tolist()
    return {"north_m": north, "east_m": east, "off_plan_m": point.off_plan}


def _circle_document(point: ReleasePoint) -> dict[str, Any]:
    circle, rate = point.circle, point.rate_bands.figures["rate"]
    return {
        "brake_fraction": circle.brake,
        "pull_mm": 1e3 * circle.pull,
        "turn_rate_deg_s": in_degrees(abs(circle.rate)),
        "low_deg_s": in_degrees(rate.low),
        "high_deg_s": in_degrees(rate.high),
        "radius_m": circle.radius,
        "turn_time_s": circle.turn_time,
        "height_lost_per_turn_m": circle.height_per_turn,
        "drift_per_circle_m": point.plan.drift_per_circle,
        "drift_per_10_m_height_m": 10 * point.plan.drift_per_height,
        "steady_to_low_brake_fraction": point.rate_bands.figures["reach"].low,
    }


def _flown_document(point: ReleasePoint) -> dict[str, Any] | None:
    if point.flown is None:
        return None
    landing = point.touchdown
    names = ("ground_speed", "sink", "energy")
    return {
        "landed": point.flown.landed,
        "miss_m": point.miss,
        **{TOUCHDOWN[name].name: landing and getattr(landing, name) for name in names},
    }


def reach_csv(point: ReleasePoint) -> str:
    """Outline of the reach by bearing from its middle, places from the point under the release."""
    reach = point.reach
    columns = [of_array("bearing_deg", "angle", reach.bearing % (2 * np.pi))]
    for end in ("low", "middle", "high"):
        for name, values in zip(("north", "east"), reach.outline(end), strict=True):
            columns.append(of_array(f"{end}_{name}_m", "length", values))
    return Table(columns=tuple(columns), rows=range(len(reach.bearing))).csv()


def path_csv(point: ReleasePoint) -> str:
    """The plan as flown, places from the target."""
    assert point.flown is not None
    seen = point.flown.seen
    kinds = {
        "time_s": ("time", "time"), "north_m": ("length", "north"), "east_m": ("length", "east"),
        "height_m": ("length", "height"), "heading_deg": ("angle", "heading"),
        "left_brake_fraction": ("", "left"), "right_brake_fraction": ("", "right"),
    }  # fmt: skip

    def values(name: str) -> FloatArray:
        found = np.array([getattr(each, name) for each in seen])
        return found % (2 * np.pi) if name == "heading" else found

    columns = tuple(of_array(head, kind, values(name)) for head, (kind, name) in kinds.items())
    return Table(columns=columns, rows=range(len(seen))).csv()


def headline(point: ReleasePoint, system: System) -> str:
    """Where to let go and how far it can land, in one sentence."""
    start = (
        f"{point.vehicle.design.name} let go at {show_far(point.height, system)}, gliding, in "
        f"{air_in_words(point, system)}"
    )
    advice = place_in_words(point, system) if point.advised else "no release point"
    packed, loss, least = "", point.opening_loss, point.packed_height
    if loss is not None and least is not None:
        higher = f"{show_far(loss, system)} higher at least"
        packed = f"; packed, let it go {higher}, from {show_far(least, system)} or more"
    return f"{start}: {advice}; gliding straight it can land {_reach_in_words(point, system)}{packed}"


def _reach_in_words(point: ReleasePoint, system: System) -> str:
    up, down = (point.reach.band(name) for name in ("up", "down"))
    far = f"{show_far(down.value, system)} ({_far_range(down.low, down.high, system)}) downwind"
    if not point.wind.speed:
        return f"up to {show_far(up.value, system)} ({_far_range(up.low, up.high, system)}) away"
    if up.value > 0:
        return f"{show_far(up.value, system)} ({_far_range(up.low, up.high, system)}) upwind to {far}"
    near = f"{show_far(-up.value, system)} ({_far_range(-up.high, -up.low, system)})"
    return f"only downwind, {near} to {far}"


def place_in_words(point: ReleasePoint, system: System) -> str:
    """Where to let go, from the target."""
    release, box = point.plan.release, point.plan.box
    bearing = show_bearing(atan2(release[1], release[0]) % (2 * np.pi))
    side = _side(point) if point.wind.speed else "from"
    words = f"{show_far(hypot(*release), system)} {side} the target, bearing {bearing} from it"
    if hypot(*release) < RIGHT_OVER:
        words = "right over the target"
    return words + (f", within {show_far(box, system)} of that point" if box > 0 else "")


def _side(point: ReleasePoint) -> str:
    along = float(point.plan.release @ point.wind.upwind)
    far = hypot(*point.plan.release)
    if abs(along) < 0.7 * far:
        return "across the wind from"
    return "upwind of" if along > 0 else "downwind of"


def air_in_words(point: ReleasePoint, system: System) -> str:
    """The wind, and where it is measured."""
    if not point.wind.speed:
        return "a calm"
    return (
        f"{show_typed_wind(point.wind.speed, system)} of wind from {show_bearing(point.wind.comes_from)} "
        f"{measured(point, system)}"
    )


def wind_sentences(point: ReleasePoint, system: System) -> str:
    """The wind aloft, its limit and what it stands on."""
    aloft = hypot(*point.vehicle.wind.velocity(point.height))
    limit = (
        f"A release point is advised in up to {show_wind(point.limit, system)} {measured(point, system)}: "
        f"{100 * FORWARD_RESERVE:.0f} % of the forward speed kept in hand on the final and over the whole "
        "glide [our choice of reserve, no source]"
    )
    gust = f", {show_wind(point.gust, system)} of gusts on top" if point.gust else ""
    if not point.wind.speed:
        return f"{limit}{gust}."
    advice = (
        ""
        if point.advised
        else f" {at_limit(point, system)}Wait for less wind: more height helps only where the wind is "
        "weaker up there, and another direction not at all, for the final is into the wind whatever that is."
    )
    return (
        f"Measure the wind {measured(point, system)}: at the release it is {show_wind(aloft, system)} then. "
        f"{limit}{gust}.{advice}"
    )


def at_limit(point: ReleasePoint, system: System) -> str:
    """Where to let go in the strongest wind that is advised, a sentence; empty without one."""
    if point.limit <= 0:
        return ""
    row = point.in_wind(point.limit)
    return (
        f"In {show_wind(point.limit, system)} let go {show_far(abs(row.upwind), system)} "
        f"{'upwind' if row.upwind >= 0 else 'downwind'} of the target. "
    )


def reach_rows(point: ReleasePoint, system: System) -> list[list[str]]:
    """Figures of the reach with their bands, and the drift."""
    rows = []
    for name, (words, kind, digits) in REACH_WORDS.items():
        band = point.reach.band(name)
        if name == "time" and band.value >= LONG:
            ends = f"{band.low / 60:.1f} to {band.high / 60:.1f} min"
            rows.append([words, f"{band.value / 60:.1f} min", ends, causes_in_words(band)])
            continue
        low = f"{convert(band.low, kind, system):.{digits}f}"
        rows.append([
            words, show(band.value, kind, system, digits=digits),
            f"{low} to {show(band.high, kind, system, digits=digits)}", causes_in_words(band),
        ])  # fmt: skip
    unopened = unopened_drift(point.vehicle, point.height)
    for words, drift in (("drift of the air", point.reach.center), ("drift unopened", unopened)):
        north, east = drift.tolist()
        bearing = f"towards {show_bearing(atan2(east, north) % (2 * np.pi))}" if point.wind.speed else ""
        rows.append([words, show_far(hypot(north, east), system), "", bearing])
    return rows


def reach_sentence(point: ReleasePoint) -> str:
    """Why up and down the wind are not the glide less and more the drift."""
    if not point.wind.speed:
        return ""
    return (
        "Where the wind falls off on the way down, a glide into it is steeper and one with it flatter: "
        "upwind and downwind are not just the way to the side less and more the drift."
    )


def release_rows(point: ReleasePoint, system: System) -> list[list[str]]:
    """Where to let go, and what is near enough."""
    plan = point.plan
    far, box = hypot(*plan.release), max(plan.box, 0.0)
    bearing = show_bearing(atan2(plan.release[1], plan.release[0]) % (2 * np.pi))
    rows = [
        ["let go from the target", walked(far, system), f"bearing {bearing}"],
        ["within", walked(box, system), "of that point, at the low end of the band"],
        ["near the target is", walked(point.radius, system), ""],
        ["lowest release for the plan", show_far(plan.lowest_release, system), "one circle and the final"],
    ]  # fmt: skip
    if point.gust:
        blowing = f"{show_wind(point.gust, system)} for {FINAL_TIME:.0f} s"
        rows.append(["a gust on the final costs", show_far(plan.gust_miss, system), blowing])
    if point.off_plan is not None:
        rows.append(["the planned release is off by", show_far(point.off_plan, system), ""])
    return rows


def circle_rows(point: ReleasePoint, system: System) -> list[list[str]]:
    """What a circle takes."""
    circle, plan = point.circle, point.plan
    ten = 10.0 if system == "metric" else 10.0 * unit("length", system).size
    return [
        ["brake", show_pull(circle.brake), show(circle.pull, "tape_length", system)],
        ["turn rate", show(abs(circle.rate), "angular_rate", system, digits=0),
         f"band {rate_range(point, system)}"],
        ["radius in the air", show_far(circle.radius, system), ""],
        ["a circle takes", show_far(circle.height_per_turn, system), show(circle.turn_time, "time", system)],
        ["drift in a circle", show_far(plan.drift_per_circle, system), "mean of the hold"],
        [f"drift in {show_far(ten, system)} of height", show_far(ten * plan.drift_per_height, system), ""],
    ]  # fmt: skip


def rate_range(point: ReleasePoint, system: System) -> str:
    """Band of the turn rate in the circle; open above where, within the bands, it may spiral."""
    rate = point.rate_bands.figures["rate"]
    if point.may_spiral:
        return f"{show(rate.low, 'angular_rate', system)} to a spiral"
    return show_range(rate.low, rate.high, "angular_rate", system)


def leg_sentence(point: ReleasePoint, system: System) -> str:
    """What decides when to go on."""
    least = show_far(point.plan.least_height, system)
    return (
        f"Let it go facing {facing(point)}. Pull for the turn rate, not by the per cent: what a pull does is "
        "the least sure figure here. Circle as long as the height left is enough for another circle and the "
        f"final ({least}), then go downwind until what is left is just the half circle home and the way to "
        "the target."
    )


def facing(point: ReleasePoint) -> str:
    """Where it heads when it is let go."""
    into = point.plan.into
    return "into the wind" if point.wind.speed else show_bearing(atan2(into[1], into[0]) % (2 * np.pi))


def wind_rows(point: ReleasePoint, system: System) -> list[InWind]:
    """Rows by whole winds of a system, up to the limit."""
    step = unit("wind_speed", system).size * (1.0 if system == "metric" else 2.0)
    return [point.in_wind(i * step) for i in range(floor(point.limit / step + 1e-9) + 1)]


def table_sentence(point: ReleasePoint, system: System) -> str:
    """What the table stands on."""
    return (
        f"From {show_far(point.height, system)}; below zero is downwind of the target. Within: how far off "
        f"that point it may be let go and still come home. A step is {show(PACE, 'length', system)} [common "
        "practice, no source]."
    )


def flown_sentence(point: ReleasePoint, system: System) -> str:
    """The plan flown once."""
    landing = point.touchdown
    if landing is None or point.miss is None:
        return "The plan flown once in the simulator does not land."
    where = "the planned release" if point.target is not None else "there"
    return (
        f"The plan flown once from {where} lands {show_far(point.miss, system)} from the target at "
        f"{show(landing.ground_speed, 'speed', system)} over the ground and "
        f"{show(landing.sink, 'speed', system)} down: {show(landing.energy, 'energy', system)}."
    )


WALKED = 2000.0
"""Distance beyond which nobody counts steps. [m] Our choice."""


def walked(length: float, system: System, between: str = ", ") -> str:
    """Length as `show_far` prints it, and in steps unless it is too far.

    Examples
    --------
    >>> walked(96.0, "metric"), walked(20822.0, "metric")
    ('96 m, 128 steps', '20822 m')
    """
    far = show_far(length, system)
    return far if length > WALKED else f"{far}{between}{paces(length, system)}"


def paces(length: float, system: System) -> str:
    """Length, as `show_far` prints it, in steps.

    Examples
    --------
    >>> paces(96.0, "metric"), paces(47.6, "metric"), paces(47.6, "imperial")
    ('128 steps', '64 steps', '63 steps')
    """
    printed = round(convert(length, "length", system)) * unit("length", system).size
    return f"{printed / PACE:.0f} steps"


def _off_plan(point: ReleasePoint, system: System) -> list[str]:
    assert point.target is not None
    beyond = point.reach.beyond(point.target, "low")
    if beyond > 0:
        return [f"the target lies {show_far(beyond, system)} beyond the low end of the reach"]
    if point.advised and point.off_plan is not None and point.off_plan > max(point.plan.box, 0.0):
        box = show_far(max(point.plan.box, 0.0), system)
        return [
            f"the planned release is {show_far(point.off_plan, system)} off the point advised (at most {box})"
        ]
    return []


def _flown_failures(point: ReleasePoint, system: System) -> list[str]:
    if point.flown is None:
        return []
    if point.miss is None:
        return ["the plan flown once does not land"]
    if point.miss > point.radius:
        return [f"the plan flown once misses by {show_far(point.miss, system)}"]
    return []


def gusting(point: ReleasePoint, system: System) -> str:
    """Gusts kept in hand, a phrase; empty without."""
    return f", gusts of {show_wind(point.gust, system)}" if point.gust else ""


def measured(point: ReleasePoint, system: System) -> str:
    """Height at which the wind is measured."""
    return f"at {show_far(point.wind.height, system)} above ground"


def show_wind(speed: float, system: System) -> str:
    """Speed of the wind with its unit."""
    return show(speed, "wind_speed", system)


def show_far(length: float, system: System) -> str:
    """Distance or height in whole units."""
    return show(length, "length", system, digits=0)


def _far_range(low: float, high: float, system: System) -> str:
    return f"{convert(low, 'length', system):.0f} to {show_far(high, system)}"
