"""Figures of a logged flight's segments, each with its error and how it was got; or why there is none."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import atan, cos, hypot, sqrt

import numpy as np

from parasim.errors import ConvergenceError
from parasim.logs.circle import fit_distance
from parasim.logs.log import Log
from parasim.logs.noise import FEWEST_RATES, Rates, fit_line, fit_mean, rates
from parasim.logs.segments import AT_TOUCHDOWN, Course, Segment
from parasim.logs.swing import swing_period
from parasim.logs.wind import STEADY, LogWind, Winds, circle_rates, turn_rate
from parasim.rotations import FloatArray
from parasim.units import GRAVITY

SAME_RATE = 0.15
"""Part by which turn rates may differ that are taken together where brakes are not known. Our choice. [-]"""

SAME_BRAKES = 0.03
"""Part of the travel by which brakes may differ that are taken as the same. Our choice. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Figure:
    """A figure of a flight.

    Attributes
    ----------
    name : str
        ``sink``, ``forward_speed``, ``airspeed``, ``glide_ratio``, ``turn_rate``, ``radius``, ``bank``,
        ``swing_period``, ``opening_time`` or ``flare_gain``.
    value, error : float
        And one standard deviation of it. [SI]; a turn rate is positive to the right.
    how : str
        In words.
    by_wind : ndarray, shape (2,)
        Change with the wind that was taken. [SI per m/s]
    stated : float
        Part of the error that is not the wind's. [SI]
    """

    name: str
    value: float
    error: float
    how: str
    by_wind: FloatArray = field(default_factory=lambda: np.zeros(2))
    stated: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A figure that the data cannot give.

    Attributes
    ----------
    name : str
        As of `Figure`.
    why : str
        In words.
    """

    name: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flown:
    """Figures of one stretch, or of several alike.

    Attributes
    ----------
    segments : tuple of Segment
        Alike in kind, side and brakes.
    figures : tuple of Figure
    refused : tuple of Refused
    """

    segments: tuple[Segment, ...]
    figures: tuple[Figure, ...]
    refused: tuple[Refused, ...]

    @property
    def first(self) -> Segment:
        """First of its segments."""
        return self.segments[0]

    @property
    def duration(self) -> float:
        """Of all. [s]"""
        return sum(segment.duration for segment in self.segments)

    @property
    def lasting(self) -> str:
        """How long and in how many parts, in words: ``18 s straight, 2 legs``."""
        kind = {"straight": "straight", "circles": "in circles"}.get(self.first.kind, "turning")
        parts = "legs" if kind == "straight" else "stretches"
        many = f", {len(self.segments)} {parts}" if len(self.segments) > 1 else ""
        return f"{self.duration:.0f} s {kind}{many}"

    def get(self, name: str) -> Figure | None:
        """A figure by name."""
        return next((figure for figure in self.figures if figure.name == name), None)


def stretch_figures(log: Log, segment: Segment, winds: Winds) -> Flown:
    """Figures of one steady stretch."""
    stretch = _Stretch(log, segment, winds)
    return Flown(segments=(segment,), figures=tuple(stretch.figures), refused=tuple(stretch.refused))


class _Stretch:
    """Works out the figures of a stretch one after the other."""

    def __init__(self, log: Log, segment: Segment, winds: Winds) -> None:
        self.log, self.segment, self.winds = log, segment, winds
        self.figures: list[Figure] = []
        self.refused: list[Refused] = []
        if segment.duration < STEADY:
            self._refuse("sink", f"{segment.duration:.1f} s steady; figures need {STEADY:.0f} s")
            return
        self._try("sink", self._sink)
        self._try("forward_speed", self._forward_speed)
        self._glide_ratio()
        if segment.kind in ("circles", "turn"):
            self._try("turn_rate", self._turn_rate)
            self._radius_and_bank()
        if log.airspeed is not None:
            self._try("airspeed", self._airspeed)
        self._try("swing_period", self._swing)

    def _try(self, name: str, work: Callable[[], Figure]) -> None:
        try:
            self.figures.append(work())
        except ConvergenceError as error:
            self._refuse(name, str(error))

    def _refuse(self, name: str, why: str) -> None:
        self.refused.append(Refused(name=name, why=why))

    def _rates(self, *, of_height: bool = False) -> Rates:
        found = rates(self.log.height if of_height else self.log.speeds, self.segment.start, self.segment.end)
        if len(found.time) < FEWEST_RATES:
            raise ConvergenceError(f"{len(found.time)} rates only; {FEWEST_RATES} are needed")
        return found

    def _sink(self) -> Figure:
        found = fit_mean(self._rates(of_height=True))
        return _figure("sink", -float(found.value[0]), float(found.error[0]), f"slope of the {self._height}")

    @property
    def _height(self) -> str:
        return {"pressure": "pressure height", "GNSS": "GNSS height"}.get(
            self.log.height_from, "logged height"
        )

    def _wind_here(self) -> tuple[FloatArray, FloatArray]:
        if self.winds.wind is None:
            raise ConvergenceError("no wind is known")
        middle = np.array([(self.segment.start + self.segment.end) / 2])
        found = self.winds.wind.at(float(self.log.height.at(middle)[0, 0]))
        if found is None:
            raise ConvergenceError("the wind changes, and here it is not known")
        return found

    def _forward_speed(self) -> Figure:
        fit = self.winds.circles.get(self.segment)
        if fit is not None:
            how = "radius of the circle of ground velocities"
            return _figure("forward_speed", fit.speed, fit.speed_error, how)
        wind, covariance = self._wind_here()
        of = self._rates()
        start = float(np.median(np.hypot(*(of.value - wind[:, None]))))
        found = fit_distance(of, np.array([*wind, start]), wind=wind)
        speed = float(found.value[0]) - found.scatter**2 / (2 * max(float(found.value[0]), 1e-6))
        if self.segment.kind == "turn":
            speed /= of.attenuation(turn_rate(self.segment))
        away = of.value - wind[:, None]
        by_wind = -(away / np.maximum(np.hypot(*away), 1e-9)).mean(axis=1)
        how = "ground velocity less the wind"
        return _with_wind("forward_speed", speed, float(found.error[0]), how, by_wind, covariance)

    def _glide_ratio(self) -> None:
        sink, forward = self._got("sink"), self._got("forward_speed")
        if sink is None or forward is None or sink.value < 0.1:
            self._refuse("glide_ratio", "needs a sink and a speed through the air")
            return
        self.figures.append(glide_of(forward, sink))

    def _turn_rate(self) -> Figure:
        fit = self.winds.circles.get(self.segment)
        wind = fit.wind if fit is not None else self._wind_here()[0]
        of = circle_rates(self.log, self.segment)
        if len(of.time) < FEWEST_RATES:
            raise ConvergenceError("too few velocities")
        away = of.value - wind[:, None]
        heading = _along(of.time, np.arctan2(away[1], away[0]), turn_rate(self.segment))
        across = np.array([-np.sin(heading), np.cos(heading)]) / np.maximum(np.hypot(*away), 1e-6)
        kinds = [(cov * (across.T @ across), weight) for cov, weight in of.kinds()]
        time = of.time - of.time.mean()
        found = fit_line(heading, np.column_stack([np.ones_like(time), time]), kinds)
        how = "heading through the air over time"
        return _figure("turn_rate", float(found.value[1]), float(found.error[1]), how)

    def _radius_and_bank(self) -> None:
        rate, forward = self._got("turn_rate"), self._got("forward_speed")
        if rate is None or forward is None or abs(rate.value) < 1e-3:
            self._refuse("radius", "needs a turn rate and a speed through the air")
            return
        self.figures += radius_and_bank(forward, rate)

    def _airspeed(self) -> Figure:
        channel = self.log.airspeed
        of = rates(channel, self.segment.start, self.segment.end) if channel else self._rates()
        if len(of.time) < FEWEST_RATES:
            raise ConvergenceError("too few airspeeds are logged")
        found = fit_mean(of)
        return _figure("airspeed", float(found.value[0]), float(found.error[0]), "as logged")

    def _swing(self) -> Figure:
        log = self.log
        channel = log.pitch or log.acceleration
        if channel is None:
            raise ConvergenceError("neither attitude nor acceleration is logged")
        period, error = swing_period(channel, self.segment.start, self.segment.end)
        how = "swing of the pitch angle" if log.pitch else "swing of the acceleration; may be half of it"
        return _figure("swing_period", period, error, how)

    def _got(self, name: str) -> Figure | None:
        return next((figure for figure in self.figures if figure.name == name), None)


def _along(time: FloatArray, heading: FloatArray, rate: float) -> FloatArray:
    """Headings that go on past a full turn, over gaps too, where they turn at about some rate. [rad]"""
    steady = rate * (time - time[0])
    off: FloatArray = np.unwrap(heading - steady)
    return off + steady


def _figure(name: str, value: float, error: float, how: str) -> Figure:
    return Figure(name=name, value=value, error=error, how=how, stated=error)


def _with_wind(
    name: str, value: float, error: float, how: str, by_wind: FloatArray, covariance: FloatArray
) -> Figure:
    """A figure whose error takes in that of the wind."""
    whole = sqrt(error**2 + float(by_wind @ covariance @ by_wind))
    return Figure(name=name, value=value, error=whole, how=how, by_wind=by_wind, stated=error)


def glide_of(forward: Figure, sink: Figure) -> Figure:
    """Glide ratio of a forward speed and a sink, whose errors have nothing in common."""
    ratio = forward.value / sink.value
    error = ratio * hypot(forward.error / forward.value, sink.error / sink.value)
    return _figure("glide_ratio", ratio, error, "forward speed over sink")


def radius_and_bank(forward: Figure, rate: Figure) -> tuple[Figure, Figure]:
    """Radius through the air and bank of a steady turn without sideslip.

    Notes
    -----
    R = V/w and tan(bank) = V w/g, with V the horizontal speed: the balance of a level turn, nearly that of a
    glide.

    Examples
    --------
    >>> speed = Figure(name="forward_speed", value=6.55, error=0.1, how="")
    >>> rate = Figure(name="turn_rate", value=0.5464, error=0.01, how="")
    >>> radius, bank = radius_and_bank(speed, rate)
    >>> round(radius.value, 1), round(bank.value * 57.3)
    (12.0, 20)
    """
    V, w = forward.value, rate.value
    apart = hypot(forward.error / V, rate.error / w)
    radius, tangent = V / abs(w), V * w / GRAVITY
    bank = atan(tangent)
    return (
        _figure("radius", radius, radius * apart, "forward speed over turn rate, through the air"),
        _figure("bank", bank, abs(tangent) * apart * cos(bank) ** 2, "tan(bank) = speed x turn rate / g"),
    )


def together(flown: Sequence[Flown], wind: LogWind | None) -> Iterator[Flown]:
    """Stretches that are alike in kind, side and brakes, their figures averaged."""
    waiting = [one for one in flown if one.figures]
    while waiting:
        first = waiting[0]
        alike = [one for one in waiting if _alike(first, one)]
        waiting = [one for one in waiting if one not in alike]
        yield _averaged(alike, wind)


def _alike(one: Flown, other: Flown) -> bool:
    a, b = one.first, other.first
    if a.kind != b.kind or (a.turned > 0) != (b.turned > 0):
        return False
    if None not in (a.left, a.right, b.left, b.right):
        pulls = (a.left or 0.0) - (b.left or 0.0), (a.right or 0.0) - (b.right or 0.0)
        return max(map(abs, pulls)) <= SAME_BRAKES
    if a.kind == "straight":
        return True
    return abs(turn_rate(a) - turn_rate(b)) <= SAME_RATE * abs(turn_rate(a))


def _averaged(alike: Sequence[Flown], wind: LogWind | None) -> Flown:
    if len(alike) == 1:
        return alike[0]
    names = dict.fromkeys(figure.name for one in alike for figure in one.figures)
    figures: list[Figure] = []
    for name in names:
        found = [figure for one in alike if (figure := one.get(name))]
        if name not in ("glide_ratio", "radius", "bank"):
            figures.append(_mean(found, wind))
    whole = Flown(
        segments=tuple(one.first for one in alike), figures=tuple(figures), refused=alike[0].refused
    )
    sink, forward, rate = whole.get("sink"), whole.get("forward_speed"), whole.get("turn_rate")
    if sink and forward:
        figures.append(glide_of(forward, sink))
    if rate and forward:
        figures += radius_and_bank(forward, rate)
    refused = tuple(each for each in whole.refused if each.name not in {figure.name for figure in figures})
    return replace(whole, figures=tuple(figures), refused=refused)


def _mean(found: Sequence[Figure], wind: LogWind | None) -> Figure:
    """Weighted mean; the wind's error is common to all, and legs in opposite directions take it away."""
    if len(found) == 1:
        return found[0]
    weight = np.array([1 / max(figure.stated, 1e-9) ** 2 for figure in found])
    values = np.array([figure.value for figure in found])
    mean = float(weight @ values / weight.sum())
    by_wind = weight @ np.array([figure.by_wind for figure in found]) / weight.sum()
    covariance = wind.covariance if wind is not None else np.zeros((2, 2))
    wider = np.array([sqrt(f.stated**2 + float(f.by_wind @ covariance @ f.by_wind)) for f in found])
    squares = float((((values - mean) / wider) ** 2).sum())
    error = sqrt(max(1.0, squares / (len(found) - 1)) / weight.sum())
    return _with_wind(found[0].name, mean, error, found[0].how, by_wind, covariance)


def opening_time(course: Course, log: Log) -> Figure | Refused:
    """Time from the release to where the sink has come down to the steady one."""
    opening = next(iter(course.of_kind("opening")), None)
    if opening is None or not course.release.seen:
        why = "the release is not in the log" if not course.release.seen else "the sink shows no opening"
        return Refused(name="opening_time", why=f"{why}, fixes {log.height.step:.2g} s apart")
    ended = course.opened.error if course.opened else log.height.step / sqrt(12)
    error = hypot(course.release.error, ended)
    how = "until the sink has come down to the steady one"
    return _figure("opening_time", opening.duration, error, how)


def flare_gain(course: Course, log: Log, sink: Figure | None) -> Figure | Refused:
    """Steady sink less that of the last `AT_TOUCHDOWN` seconds."""
    if not course.of_kind("flare"):
        return Refused(name="flare_gain", why="the sink does not fall off before touchdown")
    if sink is None:
        return Refused(name="flare_gain", why="no steady sink before it to compare with")
    last = course.touchdown.time - course.touchdown.error
    part = log.height.between(last - AT_TOUCHDOWN - log.height.step, last)
    if len(part.time) < 3:
        return Refused(name="flare_gain", why=f"fixes are {log.height.step:.2g} s apart, too far for a flare")
    time = part.time - part.time.mean()
    noise = _height_noise(log, course)
    slope = -float(time @ part.value[0] / (time @ time))
    error = hypot(noise / sqrt(float(time @ time)), sink.error)
    how = f"steady sink less that of the last {AT_TOUCHDOWN:.0f} s"
    return _figure("flare_gain", sink.value - slope, error, how)


def _height_noise(log: Log, course: Course) -> float:
    """Standard deviation of one height about its neighbours, no less than that of rounding. [m]

    Notes
    -----
    Of second differences, whose variance is six times that of the heights.
    """
    part = log.height.between(course.release.time, course.touchdown.time)
    bends = np.abs(np.diff(part.value[0], 2))
    noise = 1.4826 * float(np.median(bends)) / sqrt(6) if len(bends) else 0.0
    return max(noise, log.height.quantum / sqrt(12))
