"""Integrate the motion until the payload touches the ground."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal, Protocol

import numpy as np

from parasim.compiled import COUNT, NUMBER, ROWS, VECTOR, VECTOR3, kind_of, ready
from parasim.config.scenario import LONGEST_FLIGHT, BrakeCommand
from parasim.dynamics.brakes.control import BrakeMove, BrakeSchedule, by_height, timed_moves
from parasim.dynamics.brakes.flown import INSTANT, ServoLimits, flown_schedule
from parasim.dynamics.flight_rates import Flight, flight_rates, gust_met, payload_point
from parasim.dynamics.motion import Motion
from parasim.dynamics.reach import (
    LEEWAY,
    MOST_RISE,
    airspeed_of,
    is_stuck,
    most_airspeed,
    upright,
    within_reach,
)
from parasim.dynamics.state import ATTITUDE, LATERAL, PAYLOAD_ATTITUDE, RATES
from parasim.environment.gust import Gusts
from parasim.errors import FlightError
from parasim.rotations import FloatArray

METHOD = "LSODA"
"""Turns to an implicit method where it must: yaw damping alone decays at some 40 per second, and an explicit
method then takes five times the steps that the flight itself needs."""
RELATIVE_TOLERANCE = 1e-6
ABSOLUTE_TOLERANCE = np.array([1e-4] * 3 + [1e-6] * 4 + [1e-5] * 6 + [1e-6] * 4 + [1e-5] * 3)
"""Of position [m], attitude [-], velocity [m/s], rates [rad/s]; then the payload's attitude and rates."""

GUST_TOLERANCE = (1e-5, 1e-5)
"""Absolute tolerance of the two gust coordinates. [-]"""


def absolute_tolerances(n_states: int, looser: float) -> FloatArray:
    """Of a state with the gust coordinates behind it, so many times those of the single drop."""
    return np.append(ABSOLUTE_TOLERANCE[:n_states], GUST_TOLERANCE) * looser


REPORTED_EVERY = 500
"""Evaluations of the motion after which progress is reported again. [-]"""

Ending = Literal["landed", "aloft", "slack lines", "overturned"]
"""How a flight ended: on the ground; in the air after the longest time, or carried off; where the lines would
have to push; where the payload came to lie above the canopy."""

ENDING_REASONS: dict[str, str] = {
    "slack lines": "the lines go slack",
    "overturned": "the payload comes to lie above the canopy",
}
"""Words for the endings after which nothing is known."""

BY_EVENT: dict[int | None, Ending] = {0: "landed", 1: "slack lines", 2: "overturned"}
"""Ending by the place of the event that ended the flight."""

CARRIED_OFF = 3
"""Place of the event that it has risen by `MOST_RISE`: still aloft, but no longer followed."""

Events = Callable[[float, FloatArray], list[float]]
"""Figures of a moment and a state, each of which ends a flight as it falls through zero."""

Interpolant = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, kw_only=True, eq=False)
class Trajectory:
    """A flight from release to touchdown.

    Attributes
    ----------
    time : ndarray, shape (n,)
        Steps of the integrator. [s]
    state : ndarray, shape (n_states, n)
        In the slots of `parasim.dynamics.state`.
    gusts : Gusts
        Flown through.
    commanded, schedule : BrakeSchedule
        What the brakes were commanded, heights turned into times, and what they did.
    ending : {"landed", "aloft", "slack lines", "overturned"}
        How it ended.
    evaluations : int
        Of the right-hand side.
    given_up : FlightError or None
        Where lines went slack or the payload came to lie above the canopy, if they did.
    """

    time: FloatArray
    state: FloatArray
    gusts: Gusts
    commanded: BrakeSchedule
    schedule: BrakeSchedule
    ending: Ending
    evaluations: int
    pieces: tuple[tuple[float, float, Interpolant], ...] = field(repr=False)
    given_up: FlightError | None = field(default=None, repr=False)

    @property
    def landed(self) -> bool:
        """Whether it ended on the ground."""
        return self.ending == "landed"

    @property
    def duration(self) -> float:
        """From release to its end. [s]"""
        return float(self.time[-1])

    def followed(self) -> "Trajectory":
        """The same flight.

        Raises
        ------
        FlightError
            If it was given up where the lines went slack or the payload came to lie above the canopy.
        """
        if self.given_up is not None:
            raise self.given_up
        return self

    def at(self, time: FloatArray) -> FloatArray:
        """States between the steps: shape (n,) [s] to (n_states, n), by the integrator's own polynomial.

        Times outside the flight are held to its ends.
        """
        return self._with_gust_coordinates(time)[:-2]

    def gust(self, body: "Body", time: FloatArray) -> FloatArray:
        """Gust that it met: shape (n,) [s] to (3, n), north, east and down. [m/s]"""
        if self.gusts.deviation == 0.0 and self.gusts.speed == 0.0:
            return np.zeros((3, len(time)))
        flight = Flight(motion=body.motion, gusts=self.gusts)
        times = np.clip(np.atleast_1d(time), 0.0, self.duration)
        states = np.ascontiguousarray(self._with_gust_coordinates(times).T)
        return np.array([gust_met(flight, t, y)[0][:3] for t, y in zip(times, states, strict=True)]).T

    def _with_gust_coordinates(self, time: FloatArray) -> FloatArray:
        time = np.clip(np.atleast_1d(np.asarray(time, dtype=np.float64)), 0.0, self.duration)
        state = np.empty((len(self.state) + 2, len(time)))
        for start, end, interpolant in self.pieces:
            inside = (time >= start) & (time <= end)
            if inside.any():
                state[:, inside] = interpolant(time[inside])
        return state


class Body(Protocol):
    """What can be flown: a rigid vehicle, or one whose payload swings."""

    @property
    def motion(self) -> Motion:
        """Constants of its motion."""

    def derivative(self, state: FloatArray, left: float, right: float) -> FloatArray:
        """Rate of change of the state under brakes."""

    def hanging(self, state: FloatArray) -> FloatArray:
        """State of the rigid vehicle with the payload hanging as its weight and drag pull it."""

    def payload(self, state: FloatArray, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Position and velocity over the ground of a point of the payload."""


def simulate(
    body: Body,
    start: FloatArray,
    commands: tuple[BrakeCommand, ...] = (),
    *,
    payload_bottom: FloatArray,
    gusts: Gusts | None = None,
    servo: ServoLimits = INSTANT,
    rest: tuple[float, float] = (0.0, 0.0),
    in_plane: bool = False,
    rtol: float = RELATIVE_TOLERANCE,
    atol: FloatArray | float | None = None,
    method: str = METHOD,
    longest: float = LONGEST_FLIGHT,
    progress: Callable[[float], object] | None = None,
) -> Trajectory:
    """Fly from a state to the ground.

    Parameters
    ----------
    body : Body
        What moves.
    start : ndarray, shape (n_states,)
        State at release, in the slots of `parasim.dynamics.state`.
    commands : tuple of BrakeCommand
        By time or by height above ground of the payload's bottom.
    payload_bottom : ndarray, shape (3,)
        Where it touches first, body axes. [m]
    gusts : Gusts, optional
        Of the air, besides the mean wind; none if left out.
    servo : ServoLimits
        How the brakes follow the commands; at once if left out.
    rest : tuple of float
        Left and right brake with the servos let out, fractions of full travel. [-]
    in_plane : bool
        Whether start, air and brakes are symmetric about the x-z plane, which the flight then never leaves:
        what rates there are across it are rounding, and are dropped.
    rtol, atol, method
        Of `scipy.integrate.solve_ivp`; `ABSOLUTE_TOLERANCE` unless given.
    longest : float
        Flight time after which it ends in the air. [s]
    progress : callable, optional
        Called now and then with how high it is. [m]

    Raises
    ------
    FlightError
        If it tumbles or gets stuck, with the moment and the state.

    Notes
    -----
    The integration is cut at every corner of the brake schedule, so that no step runs across one.
    """
    if atol is None or np.ndim(atol):
        atol = np.append(ABSOLUTE_TOLERANCE[: len(start)] if atol is None else atol, GUST_TOLERANCE)
    gusts = gusts or Gusts.none()
    flight = Flight(motion=body.motion, gusts=gusts)
    commanded, waiting = timed_moves(commands, rest), list(by_height(commands))
    schedule = flown_schedule(commanded, servo)
    time, state = 0.0, np.append(start, (0.0, 0.0))
    rates, place = np.empty(len(state)), tuple(payload_bottom.tolist())
    times, states = [np.zeros(1)], [state[:, None]]
    pieces: list[tuple[float, float, Interpolant]] = []
    ending: Ending = "aloft"
    across = np.array([slot for slot in LATERAL if slot < len(start)] if in_plane else [], dtype=int)
    kind = kind_of(flight)
    net = _Net(flight, state, progress, ready(within_reach, kind, VECTOR, NUMBER))

    moving = ready(flight_rates, kind, ROWS, COUNT, NUMBER, VECTOR, VECTOR)
    point = ready(payload_point, kind, VECTOR, VECTOR3)
    highest = point(flight, state, place)[0] + MOST_RISE
    while time < longest and ending == "aloft":
        while waiting and point(flight, state, place)[0] <= (waiting[0].at_height or 0.0):
            command = waiting.pop(0)
            commanded = commanded.adding(
                BrakeMove(start=time, over=command.over, left=command.left, right=command.right)
            )
            schedule = flown_schedule(commanded, servo)
        end = min([longest, *(corner for corner in schedule.corners if corner > time + 1e-9)])

        def rate(t: float, y: FloatArray, moves: FloatArray = schedule.rows) -> FloatArray:
            moving(flight, moves, len(moves), t, y, rates)
            if in_plane:
                rates[across] = 0.0
            return rates.copy()

        # A command waits until a hair below its height, so that its own test finds it passed.
        levels = [(command.at_height or 0.0) - 1e-6 for command in waiting[:1]]

        def events(
            t: float, y: FloatArray, moves: FloatArray = schedule.rows, levels: list[float] = levels
        ) -> list[float]:
            above, pull = point(flight, y, place)[0], moving(flight, moves, len(moves), t, y, rates)[3]
            return [above, pull, upright(y), highest - above, *(above - level for level in levels)]

        _, pull, cosine, *_ = events(time, state)
        slack = pull < 0.0
        if slack or cosine < 0.0:
            ending = "slack lines" if slack else "overturned"
            pieces.append((time, time, _standing(state)))
            break
        found = _follow(rate, (time, end), state, events, method, rtol, atol, net)
        times.append(found.t[1:])
        states.append(found.y[:, 1:])
        pieces.append((time, float(found.t[-1]), found.sol))
        time, state = float(found.t[-1]), found.y[:, -1].copy()
        for attitude in (ATTITUDE, PAYLOAD_ATTITUDE)[: len(start) // 10]:
            state[attitude] /= np.linalg.norm(state[attitude])
        ending = BY_EVENT.get(found.ended_by, "aloft")
        if found.ended_by == CARRIED_OFF:
            break
    return Trajectory(
        time=np.concatenate(times),
        state=np.concatenate(states, axis=1)[:-2],
        gusts=gusts,
        commanded=commanded,
        schedule=schedule,
        ending=ending,
        evaluations=net.evaluations,
        pieces=tuple(pieces),
        given_up=net.given_up(ending, time, state) if ending in ENDING_REASONS else None,
    )


def _standing(state: FloatArray) -> Interpolant:
    """The same state at all times."""
    return lambda time: np.repeat(state[:, None], len(time), axis=1)


class _Net:
    """Ends a flight that leaves what the design can reach, or that takes too long to follow."""

    def __init__(
        self,
        flight: Flight,
        state: FloatArray,
        progress: Callable[[float], object] | None,
        within: Callable[[Flight, FloatArray, float], bool],
    ) -> None:
        self.flight, self.evaluations, self._within = flight, 0, within
        self.progress, self.reported = progress, 0
        # Once a flight: not worth compiling.
        self.most: float = most_airspeed(flight, state)

    def check(self, time: float, state: FloatArray) -> None:
        """Raise `FlightError` if a step ends out of reach or comes too late."""
        if not np.isfinite(state).all() or not self._within(self.flight, state, self.most):
            why = f"beyond {self.most:.3g} m/s, {LEEWAY:g} times what it can reach, or that at half the span"
            raise self._error("tumbled, not computed", why, time, state)
        if is_stuck(self.evaluations, time):
            why = f"it took {self.evaluations} evaluations of the motion to come so far"
            raise self._error("stuck, not computed", why, time, state)
        if self.progress is not None and self.evaluations >= self.reported + REPORTED_EVERY:
            self.reported = self.evaluations
            self.progress(-float(state[2]))

    def given_up(self, ending: Ending, time: float, state: FloatArray) -> FlightError:
        """Error of a flight after whose ending nothing is known."""
        return self._error(f"{ending}, not computed further", ENDING_REASONS[ending], time, state)

    def stuck(self, why: str, time: float, state: FloatArray) -> FlightError:
        """Error of a solver that cannot go on."""
        return self._error("stuck, not computed", why, time, state)

    def _error(self, outcome: str, why: str, time: float, state: FloatArray) -> FlightError:
        spin = float(np.linalg.norm(state[RATES]))
        return FlightError(outcome, why, time, -float(state[2]), airspeed_of(self.flight, state), spin)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Piece:
    """Steps of the integrator, shapes (n,) and (n_states, n), and which event ended them, or None."""

    t: FloatArray
    y: FloatArray
    sol: Interpolant
    ended_by: int | None


def _follow(
    rate: Callable[[float, FloatArray], FloatArray],
    span: tuple[float, float],
    state: FloatArray,
    events: Events,
    method: str,
    rtol: float,
    atol: FloatArray | float,
    net: _Net,
) -> _Piece:
    """Follow the motion to the end of a span of time or to the first event that falls through zero.

    As `scipy.integrate.solve_ivp` does it, but with a look at the net after every step.
    """
    import scipy.integrate
    from scipy.optimize import brentq

    solver = getattr(scipy.integrate, method)(rate, span[0], state, span[1], rtol=rtol, atol=atol)
    times, states, parts, ended_by = [solver.t], [solver.y.copy()], [], None
    before, counted = events(solver.t, solver.y), net.evaluations
    while solver.status == "running" and ended_by is None:
        message = solver.step()
        net.evaluations = counted + solver.nfev
        if solver.status == "failed" or not solver.t > times[-1]:
            raise net.stuck(message or "no step small enough", times[-1], states[-1])
        net.check(solver.t, solver.y)
        part = solver.dense_output()
        time, reached = solver.t, solver.y.copy()
        after = events(time, reached)
        for i in range(len(after)):
            if before[i] >= 0 and after[i] <= 0 and before[i] != after[i]:
                root = _root(events, i, part, times[-1], solver.t, brentq)
                root = max(root, np.nextafter(times[-1], np.inf))
                if ended_by is None or root < time:
                    ended_by, time, reached = i, root, part(root)
        before = after
        times.append(time)
        states.append(reached)
        parts.append(part)
    return _Piece(
        t=np.array(times),
        y=np.array(states).T,
        sol=scipy.integrate.OdeSolution(times, parts),
        ended_by=ended_by,
    )


def _root(
    events: Events, i: int, part: Interpolant, start: float, end: float, brentq: Callable[..., float]
) -> float:
    """Time within a step at which an event falls through zero; its ends if rounding hides the change."""

    def event(time: float) -> float:
        return events(time, part(np.array(time)))[i]

    if event(start) <= 0:
        return start
    if event(end) >= 0:
        return end
    tolerance = 4 * np.finfo(float).eps
    return brentq(event, start, end, xtol=tolerance, rtol=tolerance)
