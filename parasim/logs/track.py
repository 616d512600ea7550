"""What logged flights say: segments, wind and figures with their errors."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from parasim.answer import Answer
from parasim.caveats import Caveat, Kind
from parasim.config.log_columns import OWN_HEADS, ColumnMap
from parasim.config.segments import GivenCourse, PulledBrakes, of_log
from parasim.config.table import refused
from parasim.errors import ConvergenceError
from parasim.logs.figures import Figure, Flown, Refused, flare_gain, opening_time, stretch_figures, together
from parasim.logs.log import Log, read_log
from parasim.logs.motion import Motion, motion
from parasim.logs.segments import Course, Moment, Segment, find_course, with_brakes
from parasim.logs.wind import LogWind, Winds, find_wind

STEADY_KINDS = ("straight", "circles", "turn")
"""Stretches that have figures."""

GROUND = 10.0
"""Time after touchdown whose heights give the ground. Our choice. [s]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class LoggedFlight:
    """A logged flight and what it says.

    Attributes
    ----------
    log : Log
        Heights above the ground at touchdown.
    course : Course
        What happened.
    winds : Winds
    each : tuple of Flown
        Figures of every steady stretch.
    alike : tuple of Flown
        The same, stretches that are alike taken together.
    opening_time, flare_gain : Figure or Refused
    density : float
        Of the air, halfway down. [kg/m³]
    density_given : bool
        Whether a person gave it.
    """

    log: Log
    course: Course
    winds: Winds
    each: tuple[Flown, ...]
    alike: tuple[Flown, ...]
    opening_time: Figure | Refused
    flare_gain: Figure | Refused
    density: float
    density_given: bool

    @property
    def name(self) -> str:
        """Of the log, without the end of the file's name."""
        return Path(self.log.file).stem

    @property
    def motion(self) -> Motion:
        """Smoothed motion, for pictures."""
        return motion(self.log)

    @property
    def brakes_known(self) -> bool:
        """Whether every steady stretch has its brakes."""
        return all(None not in (one.first.left, one.first.right) for one in self.each)

    @property
    def height(self) -> float:
        """Of the release above the ground. [m]"""
        return float(self.log.height.at(np.array([self.course.release.time]))[0, 0])

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        return tuple(_caveats(self))


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Track(Answer):
    """Answer to `parasim track`.

    Attributes
    ----------
    flights : tuple of LoggedFlight
        One a log.
    mass : float or None
        All-up, as given. [kg]
    """

    REPORT = "parasim.report.track:TrackReport"

    flights: tuple[LoggedFlight, ...]
    mass: float | None = None

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences; with several logs each begins with its name."""
        if len(self.flights) == 1:
            return self.flights[0].caveats
        said: dict[str, str] = {}
        for flight in self.flights:
            for caveat in flight.caveats:
                said.setdefault(str(caveat), caveat)
        return tuple(said.values())


def track(
    *paths: str | Path,
    columns: ColumnMap = OWN_HEADS,
    segments: Sequence[GivenCourse] = (),
    brakes: Sequence[PulledBrakes] = (),
    wind: LogWind | None = None,
    mass: float | None = None,
    air_density: float | None = None,
) -> Track:
    """What logged flights say.

    Parameters
    ----------
    *paths : str or Path
        GPX, IGC, NMEA or CSV files.
    columns : ColumnMap
        Heads of a CSV file, where they are not ours.
    segments : sequence of GivenCourse
        What happened, by a person; else it is found.
    brakes : sequence of PulledBrakes
        Times after release and brakes, where they are not logged.
    wind : LogWind, optional
        Given; else it is looked for.
    mass : float, optional
        All-up. [kg]
    air_density : float, optional
        Else by standard air. [kg/m³]

    Raises
    ------
    DesignError
        When a log cannot be read, or shows no flight.
    """
    flights = []
    names = [Path(path).name for path in paths]
    for path in map(Path, paths):
        if names.count(path.name) > 1:
            raise refused(path, "given twice, or two logs of one name", "give each a name of its own")
        log = read_log(path, columns)
        try:
            flights.append(
                flown(log, given=_given(segments, path), brakes=brakes, wind=wind, air_density=air_density)
            )
        except ConvergenceError as error:
            raise refused(path, str(error), "give the log of a flight, or --segments FILE") from None
    return Track(flights=tuple(flights), mass=mass)


def _given(segments: Sequence[GivenCourse], path: Path) -> GivenCourse | None:
    return of_log(segments, path.name) if segments else None


def flown(
    log: Log,
    *,
    given: GivenCourse | None = None,
    brakes: Sequence[PulledBrakes] = (),
    wind: LogWind | None = None,
    air_density: float | None = None,
) -> LoggedFlight:
    """What one log says.

    Raises
    ------
    ConvergenceError
        If no flight is found in it.
    """
    course = find_course(log, brakes) if given is None else _course(given, log, brakes)
    log = log.above(_ground(log, course))
    winds = find_wind(log, course, wind)
    each = tuple(stretch_figures(log, segment, winds) for segment in course.of_kind(*STEADY_KINDS))
    alike = tuple(together(each, winds.wind))
    middle = np.array([(course.release.time + course.touchdown.time) / 2])
    density = log.density(float(log.height.at(middle)[0, 0])) if air_density is None else air_density
    straight = [one.get("sink") for one in alike if one.first.kind == "straight"]
    return LoggedFlight(
        log=log, course=course, winds=winds, each=each, alike=alike,
        opening_time=opening_time(course, log),
        flare_gain=flare_gain(course, log, next((sink for sink in straight if sink), None)),
        density=density, density_given=air_density is not None,
    )  # fmt: skip


def _course(given: GivenCourse, log: Log, brakes: Sequence[PulledBrakes]) -> Course:
    """A course as a person wrote it; circles get their turn from the log."""
    end = min(given.touchdown, log.end)
    if given.release >= end:
        raise ConvergenceError(f"the release given lies after the log's end, {log.end:.1f} s")
    flown = motion(log)
    segments = tuple(
        Segment(
            kind=each.kind, start=each.start, end=min(each.end, log.end), left=each.left, right=each.right,
            turned=_turned(flown, each.start, each.end) if each.kind in ("circles", "turn") else 0.0,
        )
        for each in given.segments
        if each.start < log.end
    )  # fmt: skip
    course = Course(
        release=Moment(time=given.release, error=log.height.step / 12**0.5, seen=True),
        touchdown=Moment(time=end, error=log.height.step / 12**0.5, seen=given.touchdown <= log.end),
        segments=segments,
    )
    known = all(None not in (segment.left, segment.right) for segment in segments)
    return course if known else with_brakes(course, log, brakes)


def _turned(flown: Motion, start: float, end: float) -> float:
    """Angle that the change of ground velocity turns through. [rad]"""
    inside = (flown.time >= start) & (flown.time <= end)
    if inside.sum() < 2:
        return 0.0
    angle = np.unwrap(np.arctan2(flown.acceleration[1, inside], flown.acceleration[0, inside]))
    return float(angle[-1] - angle[0])


def _ground(log: Log, course: Course) -> float:
    """Height at rest after touchdown; else that of the last moment. [m]"""
    end = course.touchdown.time
    rest = log.height.between(end + course.touchdown.error + 0.5, end + GROUND)
    if course.touchdown.seen and len(rest.time) >= 3:
        return float(np.median(rest.value))
    return float(log.height.at(np.array([end]))[0, 0])


NO_BRAKES = (
    'Brakes are not known: --brakes "0s: L 0 R 0; 20s: R 50%" or the segments file gives them; until then '
    "the notes have lines to fill in."
)
BY_PRESSURE = (
    "Heights are by pressure in standard air: every 10 K that the air was warmer, heights and sinks were "
    "3.5 % larger."
)
CHANGES = "Wind changes over the circles by more than their errors: see it by height."


def _caveats(flight: LoggedFlight) -> list[str]:
    log, course, wind = flight.log, flight.course, flight.winds.wind
    lacks = {
        NO_BRAKES: not flight.brakes_known,
        f"No wind: {flight.winds.why_not}; --wind and --wind-from give one.": wind is None,
        "Its release is not seen: the log begins in the air.": not course.release.seen,
        "Its touchdown is not seen: heights are above the last fix.": not course.touchdown.seen,
        "Air density takes the logged heights as above sea level.": log.height_from == "log"
        and not flight.density_given,
        f"It holds {course.descents} descents; the highest is taken.": course.descents > 1,
    }
    model = {
        CHANGES: bool(wind and wind.changes),
        BY_PRESSURE: log.height_from == "pressure",
        "A sink is that through the air only where the air itself neither rises nor sinks.": any(
            one.figures for one in flight.each
        ),
    }
    return [
        *(_plain(words, "lacks") for words, holds in lacks.items() if holds),
        *(_plain(words, "model") for words, holds in model.items() if holds),
    ]


def _plain(words: str, kind: Kind) -> Caveat:
    """A caveat without figures."""
    return Caveat(words.replace("{", "(").replace("}", ")"), kind)
