"""What happened in a logged flight: release, opening, steady stretches, circles, flare, touchdown."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot, pi, sqrt

import numpy as np

from parasim.config.segments import Kind, PulledBrakes
from parasim.errors import ConvergenceError
from parasim.logs.channel import IntArray, Mask
from parasim.logs.log import Log
from parasim.logs.motion import COARSEST, Motion, motion
from parasim.logs.noise import rates
from parasim.rotations import FloatArray

TURNING = 0.8
"""Change of ground velocity from which it turns: 6 deg/s at 7.5 m/s. Our choice, no source. [m/s²]"""

LONGEST = 36 * 3600.0
"""Log that is looked through. Our choice. [s]"""

SHORTEST = 5.0
"""Of a stretch that is listed. Our choice, no source. [s]"""

SETTLES = 2.0
"""Left out after a turn, an opening or a brake has changed. Our choice, no source. [s]"""

STEADY_TURN = 0.35
"""Part by which the turn rate may leave its median within circles. Our choice, no source. [-]"""

SINKING, LEAST_DESCENT = 0.5, 5.0
"""Sink from which it comes down, and height that a descent has at least. Our choice. [m/s], [m]"""

SLOW_TURN = 3.0
"""Change of ground velocity over a straight stretch from which it is a slow turn. Our choice. [m/s]"""

OPENING_PEAK = 1.3
"""Greatest sink over the steady one from which an opening is seen. Our choice, no source. [-]"""

FLARED = 0.75
"""Sink before touchdown, over the steady one, under which it has flared. Our choice, no source. [-]"""

LONGEST_FLARE, AT_TOUCHDOWN = 12.0, 2.0
"""Time before touchdown in which a flare is looked for, and in which its sink is taken. Our choice. [s]"""

BRAKE_STEP = 0.03
"""Part of the travel by which a steady brake may move. Our choice, no source. [-]"""


LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
"""Of segments, in the table and in the picture."""


def letter(i: int) -> str:
    """Label of a segment by its number.

    Examples
    --------
    >>> letter(2), letter(28)
    ('C', 'C2')
    """
    again = i // len(LETTERS)
    return LETTERS[i % len(LETTERS)] + (str(again + 1) if again else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A stretch of a flight.

    Attributes
    ----------
    kind : str
        ``carried``, ``opening``, ``straight``, ``circles``, ``turn`` or ``flare``.
    start, end : float
        After the log's first fix. [s]
    turned : float
        Heading change, to the right; circles and turns only. [rad]
    left, right : float or None
        Brakes, parts of full travel; None where they are not known.
    """

    kind: Kind
    start: float
    end: float
    turned: float = 0.0
    left: float | None = None
    right: float | None = None

    @property
    def duration(self) -> float:
        """[s]"""
        return self.end - self.start

    @property
    def words(self) -> str:
        """Kind, side and number of circles."""
        side = "right" if self.turned > 0 else "left"
        if self.kind == "circles" and self.turned:
            return f"{abs(self.turned) / (2 * pi):.1f} circles to the {side}"
        return f"turn to the {side}" if self.kind == "turn" and self.turned else self.kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A moment of a flight, and how far it may be off.

    Attributes
    ----------
    time, error : float
        After the log's first fix. [s]
    seen : bool
        Whether the log shows it; else the log begins or ends in the air.
    """

    time: float
    error: float
    seen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What happened.

    Attributes
    ----------
    release, touchdown : Moment
        Ends of the descent.
    segments : tuple of Segment
        In order of time.
    descents : int
        Descents in the log; of several the highest is taken.
    pulls : tuple of PulledBrakes
        Brakes from each moment on at which they have moved, times after release.
    opened : Moment or None
        End of the opening, where the sink shows one.
    """

    release: Moment
    touchdown: Moment
    segments: tuple[Segment, ...]
    descents: int = 1
    pulls: tuple[PulledBrakes, ...] = ()
    opened: Moment | None = None

    @property
    def duration(self) -> float:
        """From release to touchdown. [s]"""
        return self.touchdown.time - self.release.time

    def of_kind(self, *kinds: str) -> tuple[Segment, ...]:
        """Segments of some kinds."""
        return tuple(segment for segment in self.segments if segment.kind in kinds)


def find_course(log: Log, brakes: Sequence[PulledBrakes] = ()) -> Course:
    """What happened in a log.

    Parameters
    ----------
    log : Log
        In order.
    brakes : sequence of PulledBrakes
        Times after release and brakes, where they are not logged.

    Raises
    ------
    ConvergenceError
        If fixes are too far apart, or nothing comes down.
    """
    if log.speeds.step > COARSEST or log.height.step > 2 * COARSEST:
        step = max(log.speeds.step, log.height.step)
        raise ConvergenceError(f"fixes are {step:.0f} s apart; circles and flares need 5 s at most")
    if log.end > LONGEST:
        raise ConvergenceError(f"it lasts {log.end / 3600:.0f} h; cut it down to the flight")
    flown = motion(log)
    first, last, descents = _descent(flown)
    release, touchdown = _release(log, flown, first), _touchdown(log, flown, last)
    inside = (flown.time > release.time) & (flown.time < touchdown.time)
    if inside.sum() < 5:
        raise ConvergenceError("its descent is too short for anything to be said")
    steady = float(np.median(flown.sink[inside]))
    opened = _opening(log, release, touchdown, steady)
    opening = Segment(kind="opening", start=release.time, end=opened.time) if opened else None
    flare = _flare(log, touchdown, steady)
    begin = opening.end if opening else release.time + (SETTLES if release.seen else 0.0)
    end = flare.start if flare else touchdown.time - (1.0 if touchdown.seen else 0.0)
    middle = [*_stretches(flown, begin, end)]
    found = [segment for segment in (opening, *middle, flare) if segment]
    if release.seen and release.time - flown.time[0] > SHORTEST:
        found.insert(0, Segment(kind="carried", start=float(flown.time[0]), end=release.time))
    course = Course(
        release=release, touchdown=touchdown, segments=tuple(found), descents=descents, opened=opened
    )
    return with_brakes(course, log, brakes)


def _descent(flown: Motion) -> tuple[int, int, int]:
    """First and last step of the highest descent, and how many there are."""
    sinking = _filled(flown.sink > SINKING, round(5.0 / flown.step))
    runs = [(a, b, float(flown.height[a] - flown.height[b])) for a, b in _runs(sinking)]
    runs = [run for run in runs if run[2] >= LEAST_DESCENT]
    if not runs:
        raise ConvergenceError("nothing in it comes down by 5 m or more")
    first, last, height = max(runs, key=lambda run: run[2])
    return first, last, sum(run[2] > max(10.0, 0.5 * height) for run in runs)


def _runs(mask: Mask) -> list[tuple[int, int]]:
    """First and last number of every run of true."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(np.int8), [0]))))
    return [(int(a), int(b) - 1) for a, b in edges.reshape(-1, 2)]


def _filled(mask: Mask, longest: int) -> Mask:
    """A mask without breaks up to some length."""
    filled = mask.copy()
    runs = _runs(mask)
    for (_, end), (start, _) in pairwise(runs):
        if start - end - 1 <= longest:
            filled[end:start] = True
    return filled


def _release(log: Log, flown: Motion, first: int) -> Moment:
    at = float(flown.time[first])
    if at - flown.time[0] < 2 * flown.step + 1.0:
        return Moment(time=float(flown.time[0]), error=0.0, seen=False)
    height = log.height.between(at - 8.0, at + max(2.5, 3 * log.height.step))
    ways: list[Columns] = [lambda e, late: [e, late, late**2], lambda e, late: [e + late, late**2, late**3]]
    return _kink(at, [[(height.time, height.value[0], way)] for way in ways], log.height.step)


def _touchdown(log: Log, flown: Motion, last: int) -> Moment:
    """Where height and place come to rest."""
    at = float(flown.time[last])
    if flown.time[-1] - at < 2 * flown.step + 1.0:
        return Moment(time=float(flown.time[-1]), error=0.0, seen=False)
    height, place = (channel.between(at - 5.0, at + 8.0) for channel in (log.height, log.place))
    rows: list[Quantity] = [(height.time, height.value[0], lambda early, late: [early, early**2])]
    rows += [(place.time, row, lambda early, late: [early]) for row in place.value]
    return _kink(at, [rows], min(log.height.step, log.place.step))


Columns = Callable[[FloatArray, FloatArray], list[FloatArray]]
"""What a quantity may be made of before and after a moment, of the time before it and after it."""


Quantity = tuple[FloatArray, FloatArray, Columns]
"""Times and values, shape (n,), and what they are made of besides a level."""


def _kink(about: float, ways: Sequence[Sequence[Quantity]], step: float, within: float = 4.0) -> Moment:
    """The moment at which quantities begin to move, or come to rest.

    Parameters
    ----------
    about : float
        About when. [s]
    ways : sequence of sequences of Quantity
        In which they may do so.
    step : float
        Of the log. [s]
    within : float
        It is looked for so near. [s]

    Notes
    -----
    Each moment, of tenths of a second, is as likely as its least squares to the power -f/2 make it, f degrees
    of freedom, the noise of each quantity unknown. Mean and standard deviation of that, the step over √12 at
    least.
    """
    if any(len(time) < 6 for rows in ways for time, _, _ in rows):
        return Moment(time=about, error=2.0, seen=True)
    times = np.arange(about - within, about + within, 0.1)
    logs = np.array([sum((_log_likely(times, *row) for row in rows), np.zeros(len(times))) for rows in ways])
    likely = np.exp(logs - logs.max()).sum(axis=0)
    mean = float((likely @ times) / likely.sum())
    spread = sqrt(float(likely @ (times - mean) ** 2 / likely.sum()))
    return Moment(time=mean, error=hypot(spread, step / sqrt(12)), seen=True)


def _log_likely(times: FloatArray, time: FloatArray, value: FloatArray, columns: Columns) -> FloatArray:
    squares = np.array([_squares(time - t, value, columns) for t in times])
    found: FloatArray = -(len(time) - 4) / 2 * np.log(squares + 1e-4)
    return found


def _squares(time: FloatArray, value: FloatArray, columns: Columns) -> float:
    X = np.column_stack([np.ones_like(time), *columns(np.minimum(time, 0.0), np.maximum(time, 0.0))])
    left = value - X @ np.linalg.lstsq(X, value, rcond=None)[0]
    return float(left @ left)


def _opening(log: Log, release: Moment, touchdown: Moment, steady: float) -> Moment | None:
    """When the sink has come down from its peak to the steady one; None where no peak is seen.

    Notes
    -----
    The sink is taken to fall evenly, then to stay: our idealisation.
    """
    early = log.height.between(release.time, min(release.time + 12.0, touchdown.time))
    if not release.seen or len(early.time) < 5:
        return None
    of = rates(early, release.time, float(early.time[-1]), shortest=0.6)
    if len(of.time) < 4:
        return None
    sink, time = -of.value[0], of.time
    noise = 1.4826 * float(np.median(np.abs(np.diff(sink))))
    peak = int(sink[: max(1, int((time < release.time + 6.0).sum()))].argmax())
    if sink[peak] < max(OPENING_PEAK * steady, steady + 2 * noise, steady + 0.8):
        return None
    after = np.flatnonzero(sink[peak:] <= 1.15 * steady + 0.2)
    about = float(time[peak + after[0]]) if len(after) else float(time[-1])
    slowing = early.between(float(time[peak]) - of.step / 2, about + 6.0)
    evenly: list[Quantity] = [(slowing.time, slowing.value[0], lambda e, late: [e + late, e**2])]
    found = _kink(about, [evenly], log.height.step, within=2.0)
    return found if found.time > release.time + 0.3 else replace(found, time=about)


def _flare(log: Log, touchdown: Moment, steady: float) -> Segment | None:
    """From where the sink leaves the steady one for the last time to the touchdown."""
    late = log.height.between(touchdown.time - LONGEST_FLARE, touchdown.time)
    if not touchdown.seen or len(late.time) < 5:
        return None
    last = late.between(touchdown.time - AT_TOUCHDOWN - log.height.step, touchdown.time)
    if len(last.time) < 2:
        return None
    sink = -float(np.polyfit(last.time, last.value[0], 1)[0])
    if sink > FLARED * steady:
        return None
    time, value = late.time, late.value[0]
    middle = (time[1:] + time[:-1]) / 2
    width = max(1, round(1.5 / max(log.height.step, 1e-6)))
    smooth = np.convolve(-np.diff(value) / np.diff(time), np.ones(width) / width, mode="same")
    above = np.flatnonzero(smooth[: max(1, len(smooth) - width)] > 0.9 * steady)
    start = float(middle[above[-1]]) if len(above) else float(time[0])
    return Segment(kind="flare", start=min(start, touchdown.time - 1.0), end=touchdown.time)


def _stretches(flown: Motion, begin: float, end: float) -> Iterator[Segment]:
    """Straight stretches, turns and circles between two times."""
    inside = np.flatnonzero((flown.time >= begin) & (flown.time <= end))
    if len(inside) < 3:
        return
    seen = flown.seen[inside]
    turning = _filled((np.hypot(*flown.acceleration[:, inside]) >= TURNING) & seen, round(1.0 / flown.step))
    for first, last in _runs(~seen):
        turning[first : last + 1] = turning[max(first - 1, 0)] and turning[min(last + 1, len(seen) - 1)]
    for first, last in _runs(turning):
        if (last - first) * flown.step < 2.0:
            turning[first : last + 1] = False
    runs = [(a, b, True) for a, b in _runs(turning)] + [(a, b, False) for a, b in _runs(~turning)]
    for first, last, turns in sorted(runs):
        part = inside[first : last + 1]
        yield from _turn(flown, part) if turns else _straight(flown, part, first == 0)


def _turn(flown: Motion, part: IntArray) -> Iterator[Segment]:
    """Circles where a run turns all round, its steadiest part; else a turn."""
    seen, size = flown.seen[part], np.hypot(*flown.acceleration[:, part])
    rate = _hodograph_rate(flown, part)
    if seen.sum() < 4:
        return
    usual = float(np.median(rate[seen]))
    near = (np.abs(rate - usual) < STEADY_TURN * abs(usual)) & (size > 0.8 * np.median(size[seen])) | ~seen
    runs = _runs(_filled(near, round(1.5 / flown.step)))
    first, last = max(runs, key=lambda run: run[1] - run[0], default=(0, 0))
    if last - first < 3:
        return
    start, end = float(flown.time[part[first]]), float(flown.time[part[last]])
    turned = float(np.median(rate[first : last + 1][seen[first : last + 1]])) * (end - start)
    kind: Kind = "circles" if abs(turned) >= 2 * pi else "turn"
    if kind == "circles" or end - start >= SHORTEST:
        yield Segment(kind=kind, start=start, end=end, turned=turned)


def _hodograph_rate(flown: Motion, part: IntArray) -> FloatArray:
    """How fast the change of velocity turns, right positive; 0 where it is not seen. Shape (n,), [rad/s]"""
    rate = np.zeros(len(part))
    for first, last in _runs(flown.seen[part]):
        if last - first < 2:
            continue
        north, east = flown.acceleration[:, part[first : last + 1]]
        rate[first : last + 1] = np.gradient(np.unwrap(np.arctan2(east, north)), flown.step)
    return rate


def _straight(flown: Motion, part: IntArray, follows_nothing: bool) -> Iterator[Segment]:
    """A straight stretch without its ends; a slow turn where the ground velocity changes much over it."""
    start = float(flown.time[part[0]]) + (0.0 if follows_nothing else SETTLES)
    end = float(flown.time[part[-1]]) - SETTLES / 2
    if end - start < SHORTEST:
        return
    inner = part[(flown.time[part] >= start) & (flown.time[part] <= end)]
    velocity = flown.velocity[:, inner]
    drift = np.polyfit(flown.time[inner], velocity.T, 1)[0] * (end - start)
    if np.hypot(*drift) <= SLOW_TURN:
        yield Segment(kind="straight", start=start, end=end)
    else:
        yield Segment(kind="turn", start=start, end=end, turned=_slowly_turned(velocity))


def _slowly_turned(velocity: FloatArray) -> float:
    """Angle of an arc of velocities, shape (2, n): twice that between the chords of its halves. [rad]"""
    third = max(1, velocity.shape[1] // 5)
    middle = velocity.shape[1] // 2
    first, half, last = (
        part.mean(axis=1)
        for part in (velocity[:, :third], velocity[:, middle - third // 2 :][:, :third], velocity[:, -third:])
    )
    (n1, e1), (n2, e2) = half - first, last - half
    return 2 * float(np.arctan2(n1 * e2 - e1 * n2, n1 * n2 + e1 * e2))


def with_brakes(course: Course, log: Log, brakes: Sequence[PulledBrakes]) -> Course:
    """Segments with their brakes, steady stretches parted where a brake moves."""
    if brakes:
        time = np.array([course.release.time + pull.at for pull in brakes])
        values = np.array([[pull.left for pull in brakes], [pull.right for pull in brakes]])
    elif log.brakes is not None:
        time, values = _brake_moves(log.brakes.time, log.brakes.value)
    else:
        return course
    parted = [piece for segment in course.segments for piece in _parted(segment, time, values)]
    return replace(course, segments=tuple(parted), pulls=_pulls(course, time, values))


def _pulls(course: Course, time: FloatArray, values: FloatArray) -> tuple[PulledBrakes, ...]:
    """Where the brakes have moved to between release and touchdown, a move of some steps as one."""
    begun, ended = course.release.time, course.touchdown.time
    found = [
        PulledBrakes(at=float(t) - begun, left=float(left), right=float(right))
        for t, left, right in zip(time, *values, strict=True)
        if begun < t < ended
    ]
    last = [
        pull for pull, after in zip(found, [*found[1:], None], strict=True)
        if after is None or after.at - pull.at > SETTLES
    ]  # fmt: skip
    return tuple(last)


def _brake_moves(time: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Times from which the brakes stand elsewhere, and where; shapes (m,) and (2, m)."""
    keep = [0]
    for i in range(1, len(time)):
        if np.abs(values[:, i] - values[:, keep[-1]]).max() > BRAKE_STEP:
            keep.append(i)
    return time[keep], values[:, keep]


def _parted(segment: Segment, time: FloatArray, values: FloatArray) -> Iterator[Segment]:
    """A segment with its brakes; in pieces where they move in it."""
    at = max(int(np.searchsorted(time, segment.start, side="right")) - 1, 0)
    inner = np.flatnonzero((time > segment.start + 0.5) & (time < segment.end))
    if segment.kind in ("carried", "opening", "flare"):
        at = max(int(np.searchsorted(time, segment.end)) - 1, 0) if segment.kind == "flare" else at
        yield replace(segment, left=float(values[0, at]), right=float(values[1, at]))
        return
    starts, ends = [segment.start, *(time[inner] + SETTLES)], [*time[inner], segment.end]
    for start, end, i in zip(starts, ends, [at, *inner], strict=True):
        share = (end - start) / max(segment.duration, 1e-9)
        turned = segment.turned * share
        kind: Kind = "turn" if segment.kind == "circles" and abs(turned) < 2 * pi else segment.kind
        if end - start >= SHORTEST or not len(inner):
            yield replace(
                segment, kind=kind, start=float(start), end=float(end), turned=turned,
                left=float(values[0, i]), right=float(values[1, i]),
            )  # fmt: skip
