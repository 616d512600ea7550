"""Integrate the motion until the payload touches the ground."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from parasim.config.scenario import BrakeCommand
from parasim.dynamics.control import BrakeMove, BrakeSchedule, by_height, timed_moves
from parasim.dynamics.flight_rates import Flight, flight_rates, gust_met, payload_point, room_to_solve
from parasim.dynamics.flown_brakes import INSTANT, ServoLimits, flown_schedule
from parasim.dynamics.motion import Motion
from parasim.dynamics.state import ATTITUDE, PAYLOAD_ATTITUDE
from parasim.environment.gust import Gusts
from parasim.errors import ConvergenceError
from parasim.rotations import FloatArray

METHOD = "LSODA"
"""Turns to an implicit method where it must: yaw damping alone decays at some 40 per second, and an explicit
method then takes five times the steps that the flight itself wants."""
RELATIVE_TOLERANCE = 1e-6
ABSOLUTE_TOLERANCE = np.array([1e-4] * 3 + [1e-6] * 4 + [1e-5] * 6 + [1e-6] * 4 + [1e-5] * 3)
"""Of position [m], attitude [-], velocity [m/s], rates [rad/s]; then the payload's attitude and rates."""

GUST_TOLERANCE = (1e-5, 1e-5)
"""Absolute tolerance of the two gust coordinates. [-]"""

LONGEST_FLIGHT = 3600.0
"""[s]"""

Event = Callable[[float, FloatArray], float]
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
    told, schedule : BrakeSchedule
        What the brakes were told, heights turned into times, and what they did.
    landed : bool
        Whether it ended on the ground.
    evaluations : int
        Of the right-hand side.
    """

    time: FloatArray
    state: FloatArray
    gusts: Gusts
    told: BrakeSchedule
    schedule: BrakeSchedule
    landed: bool
    evaluations: int
    pieces: tuple[tuple[float, float, Interpolant], ...] = field(repr=False)

    @property
    def duration(self) -> float:
        """From release to touchdown. [s]"""
        return float(self.time[-1])

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
    rtol: float = RELATIVE_TOLERANCE,
    atol: FloatArray | float | None = None,
    method: str = METHOD,
    longest: float = LONGEST_FLIGHT,
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
    rtol, atol, method
        Of `scipy.integrate.solve_ivp`; `ABSOLUTE_TOLERANCE` unless given.
    longest : float
        Flight time after which it ends in the air. [s]

    Raises
    ------
    ConvergenceError
        If the integrator gives up.

    Notes
    -----
    The integration is cut at every corner of the brake schedule, so that no step runs across one.
    """
    from scipy.integrate import solve_ivp

    if atol is None or np.ndim(atol):
        atol = np.append(ABSOLUTE_TOLERANCE[: len(start)] if atol is None else atol, GUST_TOLERANCE)
    gusts = gusts or Gusts.none()
    flight = Flight(motion=body.motion, gusts=gusts)
    told, waiting = timed_moves(commands, rest), list(by_height(commands))
    schedule = flown_schedule(told, servo)
    time, state = 0.0, np.append(start, (0.0, 0.0))
    rates, room, place = np.empty(len(state)), room_to_solve(len(start)), tuple(payload_bottom.tolist())
    times, states, pieces, evaluations, landed = [np.zeros(1)], [state[:, None]], [], 0, False

    def height(_: float, y: FloatArray) -> float:
        return payload_point(flight, y, place)[0]

    height.terminal, height.direction = True, -1  # type: ignore[attr-defined]
    while time < longest and not landed:
        while waiting and height(time, state) <= (waiting[0].at_height or 0.0):
            command = waiting.pop(0)
            told = told.adding(
                BrakeMove(start=time, over=command.over, left=command.left, right=command.right)
            )
            schedule = flown_schedule(told, servo)
        end = min([longest, *(corner for corner in schedule.corners if corner > time + 1e-9)])
        events: list[Event] = [height]
        if waiting:
            events.append(_falls_through(waiting[0].at_height or 0.0, height))

        def rate(t: float, y: FloatArray, moves: FloatArray = schedule.rows) -> FloatArray:
            flight_rates(flight, moves, len(moves), t, y, rates, room)
            return rates.copy()

        found = solve_ivp(  # type: ignore[call-overload]
            rate, (time, end), state, method=method, rtol=rtol, atol=atol, events=events, dense_output=True
        )
        evaluations += found.nfev
        if found.status < 0 or not np.isfinite(found.y[:, -1]).all():
            raise ConvergenceError(
                f"the motion could not be followed beyond {found.t[-1]:.2f} s: {found.message}"
            )
        times.append(found.t[1:])
        states.append(found.y[:, 1:])
        pieces.append((time, float(found.t[-1]), found.sol))
        time, state = float(found.t[-1]), found.y[:, -1].copy()
        for attitude in (ATTITUDE, PAYLOAD_ATTITUDE)[: len(start) // 10]:
            state[attitude] /= np.linalg.norm(state[attitude])
        landed = bool(len(found.t_events[0]))
    return Trajectory(
        time=np.concatenate(times),
        state=np.concatenate(states, axis=1)[:-2],
        gusts=gusts,
        told=told,
        schedule=schedule,
        landed=landed,
        evaluations=evaluations,
        pieces=tuple(pieces),
    )


def _falls_through(level: float, height: Event) -> Event:
    def over_level(time: float, y: FloatArray) -> float:
        # Ends a hair below the level, so that the command's own test finds it passed.
        return height(time, y) - level + 1e-6

    over_level.terminal, over_level.direction = True, -1  # type: ignore[attr-defined]
    return over_level
