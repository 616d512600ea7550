"""A log put in order: times that rise, places in metres, one height, and what was done to it."""

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from scipy.ndimage import median_filter

from parasim.caveats import Caveat
from parasim.config.log_columns import OWN_HEADS, ColumnMap
from parasim.config.table import refused
from parasim.environment.atmosphere import HIGHEST_HEIGHT, LOWEST_HEIGHT, Atmosphere, pressure_height
from parasim.environment.position import FARTHEST, MOST_LATITUDE, SEMI_MAJOR_AXIS, north_east
from parasim.logs.channel import Channel, Mask, quantum_of
from parasim.logs.fixes import Fixes
from parasim.logs.read import read_fixes
from parasim.rotations import FloatArray

FEWEST_FIXES = 10
"""Of a log that can be used. Our choice."""

LONG_GAP = 600.0
"""Gap that parts two logs in one file. Our choice, no source. [s]"""

GAP = 3.0
"""Times the usual step from which a gap counts. Our choice, no source. [-]"""

EVENLY, FEWEST_HELD = 0.8, 4
"""Share of held values that have to last equally long, to a row, and their rows: fewer repeat where the last
digit is coarse. Our choice, no source. [-]"""

FASTEST = 80.0
"""Speed beyond which a fix counts as a jump, and distance it may be off besides. Our choice. [m/s], [m]"""

HELD = 0.5
"""Share of rows that repeat a value from which it counts as held between readings. Our choice. [-]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class Log:
    """A log in order. Channels have times of their own.

    Attributes
    ----------
    file, kind : str
        Name of the file, and its format.
    start : str
        When its first fix was taken, in words; empty where only times after some start are known.
    place : Channel
        North and east, from the middle of the log. [m]
    height : Channel
        Above the ground once touchdown is known, else above what the log has as zero. [m]
    height_from : str
        ``pressure``, ``GNSS`` or ``log``.
    ground : float
        What was taken off the heights. [m]
    velocity, brakes, airspeed, pitch, acceleration : Channel or None
        As logged: north and east [m/s]; left and right [-]; [m/s]; [rad]; forward, side and down, or what of
        them there is [m/s²].
    latitude, longitude : float or None
        Of the middle. [rad]
    counts : dict of str to int
        What was left out or put right.
    remarks : tuple of Caveat
        What else was found about times and heights.
    """

    file: str
    kind: str
    start: str
    place: Channel
    height: Channel
    height_from: str
    ground: float = 0.0
    velocity: Channel | None = None
    brakes: Channel | None = None
    airspeed: Channel | None = None
    pitch: Channel | None = None
    acceleration: Channel | None = None
    latitude: float | None = None
    longitude: float | None = None
    counts: dict[str, int] = field(default_factory=dict)
    remarks: tuple[Caveat, ...] = ()

    @property
    def end(self) -> float:
        """Time of the last fix. [s]"""
        return float(self.place.time[-1])

    @property
    def speeds(self) -> Channel:
        """What ground velocity is taken from: as logged, else places."""
        return self.velocity or self.place

    def above(self, ground: float) -> "Log":
        """The same with heights above a ground. [m]"""
        height = replace(self.height, value=self.height.value - ground)
        return replace(self, height=height, ground=self.ground + ground)

    def density(self, height: float) -> float:
        """Density of standard air at a height of the log, its zero taken as sea level. [kg/m³]"""
        sea = min(max(height + self.ground, LOWEST_HEIGHT), HIGHEST_HEIGHT)
        return float(Atmosphere().density(sea))


def read_log(path: str | Path, columns: ColumnMap = OWN_HEADS) -> Log:
    """Read a log and put it in order.

    Parameters
    ----------
    path : str or Path
        GPX, IGC, NMEA or CSV file.
    columns : ColumnMap
        Heads of a CSV file, where they are not ours.

    Raises
    ------
    DesignError
        When it cannot be used, in one line.
    """
    path = Path(path)
    return ordered(read_fixes(path, columns), path)


def ordered(fixes: Fixes, path: Path) -> Log:
    """A log of fixes.

    Raises
    ------
    DesignError
        When there are too few, or places or heights are missing.
    """
    counts = dict(fixes.counts)
    time, columns = _rising(fixes, counts)
    if len(time) < FEWEST_FIXES:
        most = max(counts, key=lambda name: counts[name], default="")
        why = f" ({most}: {counts[most]})" if most and counts[most] else ""
        problem = f"fixes that can be used: {len(time)}{why}"
        raise refused(path, problem, f"give a log with {FEWEST_FIXES} and more")
    time, columns = _one_log(time, columns, counts)
    start, zero = _start_in_words(fixes, float(time[0])), float(time[0])
    time = time - zero
    place, middle = _place(path, time, columns, counts)
    height, source, remarks = _height(path, time, columns, counts)
    usual = place.step
    gaps = np.diff(place.time)
    counts["gaps"] = int((gaps > GAP * usual).sum())
    if counts["gaps"]:
        remarks.append(Caveat(f"The longest gap is {gaps.max():.0f} s."))
    kept = {name: count for name, count in counts.items() if count}
    return Log(
        file=path.name, kind=fixes.kind, start=start, place=place, height=height, height_from=source,
        velocity=_velocity(time, columns), brakes=_pair(time, columns, "left", "right"),
        airspeed=_channel(time, columns, "airspeed", is_rate=True), pitch=_channel(time, columns, "pitch"),
        acceleration=_acceleration(time, columns), latitude=middle[0], longitude=middle[1], counts=kept,
        remarks=tuple(remarks),
    )  # fmt: skip


def _rising(fixes: Fixes, counts: dict[str, int]) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Rows whose times rise; of two at one time the first is kept."""
    known = np.isfinite(fixes.time)
    counts["fixes without a time"] = int((~known).sum())
    time = fixes.time[known]
    if len(time) > 5:
        off = np.abs(time - median_filter(time, 5, mode="nearest")) > 12 * 3600.0
        known[np.flatnonzero(known)[off]] = False
        counts["times far from their neighbours"] = int(off.sum())
        time = fixes.time[known]
    latest = np.maximum.accumulate(time) if len(time) else time
    before = np.append(-np.inf, latest[:-1])
    counts["duplicate fixes"] = int((time == before).sum())
    counts["fixes out of order"] = int((time < before).sum())
    keep = np.flatnonzero(known)[time > before]
    return fixes.time[keep], {name: values[keep] for name, values in fixes.columns.items()}


def _one_log(
    time: FloatArray, columns: dict[str, FloatArray], counts: dict[str, int]
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """The part with the most height in it, where long gaps part several logs."""
    ends = np.append(np.flatnonzero(np.diff(time) > LONG_GAP) + 1, len(time))
    begins = np.append(0, ends[:-1])
    heights = [columns[name] for name in ("pressure_height", "height", "pressure") if name in columns]

    def range_of(part: slice) -> float:
        found = [values[part][np.isfinite(values[part])] for values in heights]
        return max((float(np.ptp(each)) for each in found if len(each)), default=0.0)

    parts = [slice(int(a), int(b)) for a, b in zip(begins, ends, strict=True)]
    best = max(parts, key=lambda part: (part.stop - part.start >= FEWEST_FIXES, range_of(part)))
    counts["fixes of other logs in the file, more than 10 min apart"] = len(time) - (best.stop - best.start)
    return time[best], {name: values[best] for name, values in columns.items()}


def _start_in_words(fixes: Fixes, first: float) -> str:
    try:
        moment = datetime.fromtimestamp(first, UTC)
    except (OverflowError, ValueError, OSError):
        return ""
    if fixes.dated:
        return f"{moment:%Y-%m-%d %H:%M:%S} UTC"
    return f"{moment:%H:%M:%S} UTC" if fixes.timed else ""


def _place(
    path: Path, time: FloatArray, columns: dict[str, FloatArray], counts: dict[str, int]
) -> tuple[Channel, tuple[float | None, float | None]]:
    """North and east over the flat ground, and latitude and longitude of their zero."""
    if "latitude" in columns and "longitude" in columns:
        time, pair = _known(time, columns["latitude"], columns["longitude"])
        inside = (np.abs(pair[0]) <= MOST_LATITUDE) & (np.abs(pair[1]) <= 2 * np.pi)
        time, pair = time[inside], pair[:, inside]
        if len(time) < FEWEST_FIXES:
            raise refused(path, "too few places between 80 deg north and south", "give a log of one flight")
        time, pair = _fresh(time, pair, counts, "places held between readings")
        phi, lam = float(np.median(pair[0])), float(np.median(pair[1]))
        near = np.hypot(pair[0] - phi, np.cos(phi) * (pair[1] - lam)) < 0.99 * FARTHEST / SEMI_MAJOR_AXIS
        counts["fixes far from all others"] = int((~near).sum())
        time, pair = time[near], pair[:, near]
        place = np.array(north_east(pair[0], pair[1], latitude=phi, longitude=lam))
        quantum = quantum_of(np.round(pair[0] * SEMI_MAJOR_AXIS, 6))
        middle: tuple[float | None, float | None] = phi, lam
    elif "north" in columns and "east" in columns:
        time, place = _fresh(
            *_known(time, columns["north"], columns["east"]), counts, "places held between readings"
        )
        quantum, middle = quantum_of(place[0]), (None, None)
    else:
        raise refused(path, "no places in it", "give lat_deg and lon_deg, or north_m and east_m")
    kept = _no_jumps(time, place)
    counts["fixes that jump"] = int((~kept).sum())
    if kept.sum() < FEWEST_FIXES:
        raise refused(path, "too few fixes that lie together", "give a log of one flight")
    return Channel(time=time[kept], value=place[:, kept], quantum=quantum), middle


def _known(time: FloatArray, *rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    values = np.array(rows)
    known = np.isfinite(values).all(axis=0)
    return time[known], values[:, known]


def _fresh(
    time: FloatArray, values: FloatArray, counts: dict[str, int], words: str
) -> tuple[FloatArray, FloatArray]:
    """Only readings that are new, where rows repeat the last one evenly often."""
    if len(time) < FEWEST_FIXES or float(np.median(np.diff(time))) > 0.6:
        return time, values
    new = np.append(True, (np.diff(values, axis=1) != 0).any(axis=0))
    lasts = np.diff(np.flatnonzero(new))
    if len(lasts) < FEWEST_FIXES or 1 - new.mean() < HELD:
        return time, values
    usual = float(np.median(lasts))
    if usual < FEWEST_HELD or float((np.abs(lasts - usual) <= 1).mean()) < EVENLY:
        return time, values
    counts[words] = int((~new).sum())
    return time[new], values[:, new]


def _no_jumps(time: FloatArray, values: FloatArray) -> Mask:
    """Values that are near the median of their neighbours, in time too. Mask of shape (n,)"""
    if len(time) < 5:
        return np.ones(len(time), dtype=bool)
    middle = np.array([median_filter(row, 5, mode="nearest") for row in values])
    reach = np.abs(time - median_filter(time, 5, mode="nearest")) + np.gradient(time)
    return np.sqrt(((values - middle) ** 2).sum(axis=0)) <= FASTEST * (1.0 + 2 * reach)


def _height(
    path: Path, time: FloatArray, columns: dict[str, FloatArray], counts: dict[str, int]
) -> tuple[Channel, str, list[Caveat]]:
    """The height to go by, where it is from, and remarks."""
    by_pressure = columns.get("pressure_height")
    if "pressure" in columns:
        pressure = columns["pressure"]
        sensible = np.where((pressure > 20_000.0) & (pressure < 120_000.0), pressure, np.nan)
        by_pressure = pressure_height(sensible)
    found: dict[str, Channel] = {}
    for name, values in (("pressure", by_pressure), ("GNSS", columns.get("height"))):
        if values is not None and (channel := _height_channel(time, values, counts)):
            found[name] = channel
    if not found:
        raise refused(path, "no heights in it", "give a log with heights: height_m, pressure_hPa or GNSS")
    remarks: list[Caveat] = []
    if len(found) == 2:
        if _flat(found["pressure"], found["GNSS"]):
            del found["pressure"]
            remarks.append(Caveat("The pressure height never changes; GNSS heights are taken."))
        else:
            remarks.append(_drift_in_words(found["pressure"], found["GNSS"]))
    name, channel = next(iter(found.items()))
    unsaid = name == "pressure" and "pressure" not in columns and "height" not in columns
    return channel, "log" if unsaid else name, remarks


def _height_channel(time: FloatArray, values: FloatArray, counts: dict[str, int]) -> Channel | None:
    time, rows = _known(time, values)
    time, rows = _fresh(time, rows, counts, "heights held between readings")
    kept = _no_jumps(time, rows) & (np.abs(rows[0]) < 2 * HIGHEST_HEIGHT)
    counts["heights that jump"] = counts.get("heights that jump", 0) + int((~kept).sum())
    if kept.sum() < FEWEST_FIXES:
        return None
    return Channel(time=time[kept], value=rows[:, kept], quantum=quantum_of(rows[0, kept]))


def _flat(pressure: Channel, gnss: Channel) -> bool:
    """Whether the pressure height stands still while the GNSS height moves."""
    return float(np.ptp(pressure.value)) < 0.1 * float(np.ptp(gnss.value))


def _drift_in_words(pressure: Channel, gnss: Channel) -> Caveat:
    """How far two heights run apart, by the median of the first and of the last tenth of the log."""
    apart = pressure.value[0] - gnss.at(pressure.time)[0]
    tenth = max(len(apart) // 10, 1)
    first, last = float(np.median(apart[:tenth])), float(np.median(apart[-tenth:]))
    return Caveat(
        "Pressure heights are taken; against GNSS they read {first} at first and {last} at last, a drift of "
        "{drift}.",
        first=(first, "length", 1), last=(last, "length", 1), drift=(last - first, "length", 1),
    )  # fmt: skip


def _channel(
    time: FloatArray, columns: dict[str, FloatArray], name: str, *, is_rate: bool = False
) -> Channel | None:
    if name not in columns:
        return None
    time, values = _fresh(*_known(time, columns[name]), {}, "")
    if len(time) < FEWEST_FIXES:
        return None
    return Channel(time=time, value=values, is_rate=is_rate, quantum=quantum_of(values[0]))


def _velocity(time: FloatArray, columns: dict[str, FloatArray]) -> Channel | None:
    """Ground velocity, where speed and course, or its parts, are logged in most rows."""
    if "v_north" in columns and "v_east" in columns:
        pair = columns["v_north"], columns["v_east"]
    elif "speed" in columns and "course" in columns:
        speed, course = columns["speed"], columns["course"]
        course = np.where(speed < 0.3, 0.0, course)  # receivers give no course at rest
        pair = speed * np.cos(course), speed * np.sin(course)
    else:
        return None
    known, values = _fresh(*_known(time, *pair), {}, "")
    sensible = np.hypot(*values) < 2 * FASTEST
    if sensible.sum() < max(FEWEST_FIXES, 0.5 * len(np.unique(np.floor(time)))):
        return None
    return Channel(time=known[sensible], value=values[:, sensible], is_rate=True)


def _pair(time: FloatArray, columns: dict[str, FloatArray], *names: str) -> Channel | None:
    if any(name not in columns for name in names):
        return None
    known, values = _known(time, *(columns[name] for name in names))
    return Channel(time=known, value=np.clip(values, 0.0, 1.0)) if len(known) >= FEWEST_FIXES else None


def _acceleration(time: FloatArray, columns: dict[str, FloatArray]) -> Channel | None:
    names = [f"{axis}_acceleration" for axis in ("forward", "side", "down")]
    logged = [name for name in names if name in columns]
    if not logged:
        return None
    known, values = _known(time, *(columns[name] for name in logged))
    return Channel(time=known, value=values, is_rate=True) if len(known) >= FEWEST_FIXES else None
