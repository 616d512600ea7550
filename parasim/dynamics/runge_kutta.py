"""Flights followed to the ground by compiled functions, thousands of them as quickly as one.

Same right-hand side as `parasim.dynamics.simulate`; steps by the pair of Dormand and Prince, orders 5 and 4.
Source: [DormandPrince1980]
"""

from math import asin, atan2, isfinite, sqrt
from typing import NamedTuple

import numpy as np

from parasim.aerodynamics.look_up import Vec3
from parasim.compiled import compiled, inlined
from parasim.dynamics.brakes.control import next_corner
from parasim.dynamics.brakes.flown import flown_moves, space_for_moves
from parasim.dynamics.flight_rates import JOINTED_STATES, Flight, flight_rates, payload_point
from parasim.dynamics.motion import Vec4
from parasim.dynamics.reach import MOST_RISE, is_overturned, is_stuck, most_airspeed, within_reach
from parasim.rotations import FloatArray

LANDED, ALOFT, LOST, STUCK, ON_GROUND, TUMBLED, SLACK, OVERTURNED = range(8)
"""How a flight ended: on the ground; still aloft at the longest time, or carried off; in what is no number;
stuck, in steps too small or too many; released on the ground; beyond what it can reach; where lines would
have to push; with the payload above the canopy (`parasim.dynamics.reach`)."""

FIRST_STEP = 0.02
"""[s]"""

SMALLEST_STEP = 1e-9
"""[s]"""

EVALUATIONS_A_STEP = 6
MINIMUM_ERROR = 1e-4
"""Below which the memory of an error ends. [-] Source: [HairerNorsettWanner1993]"""

SAFETY, GREATEST_CUT, GREATEST_GROWTH = 0.9, 0.2, 5.0
"""Part of the ideal step that is taken, and how far it changes at once. Common practice, no source. [-]"""

TOUCH = 1e-9
"""How near the ground counts as touching. [m]"""


class Workspace(NamedTuple):
    """Arrays that a flight works in.

    Attributes
    ----------
    stages : ndarray, shape (7, n)
        Rates at the stages of a step; the first and last at its ends.
    trial : ndarray, shape (n,)
        State at the end of a step, before it is taken.
    commanded : ndarray, shape (n_moves, 4)
        Moves that the brakes are commanded, those by time and by height.
    moves : ndarray, shape (m, 4)
        That they make, as servos follow.
    """

    stages: FloatArray
    trial: FloatArray
    commanded: FloatArray
    moves: FloatArray


def workspace_for(n_states: int, n_moves: int) -> Workspace:
    """Workspace for a state of that many slots, gust coordinates included, and that many moves."""
    return Workspace(
        stages=np.empty((7, n_states)),
        trial=np.empty(n_states),
        commanded=np.empty((n_moves, 4)),
        moves=space_for_moves(n_moves),
    )


@inlined
def copy(source: FloatArray, target: FloatArray) -> None:
    """Write one array's entries to another of the same length."""
    for i in range(len(source)):
        target[i] = source[i]


NODES = np.array([1 / 5, 3 / 10, 4 / 5, 8 / 9, 1.0, 1.0])
WEIGHTS = np.array(
    [
        [1 / 5, 0, 0, 0, 0, 0],
        [3 / 40, 9 / 40, 0, 0, 0, 0],
        [44 / 45, -56 / 15, 32 / 9, 0, 0, 0],
        [19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729, 0, 0],
        [9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656, 0],
        [35 / 384, 0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84],
    ]
)
ERROR = np.array([71 / 57600, 0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40])
"""When and how each stage is made of those before it, the last being the step itself; and its error.
Source: [DormandPrince1980] table 2"""


@inlined
def step(
    flight: Flight,
    moves: FloatArray,
    count: int,
    time: float,
    h: float,
    y: FloatArray,
    workspace: Workspace,
) -> Vec4:
    """Write the state after a step to `workspace.trial`; the first of `workspace.stages` is known already.

    Parameters
    ----------
    flight, moves, count
        As for `flight_rates`.
    time, h : float
        Start and length of the step. [s]
    y : ndarray, shape (n,)
        State before.
    workspace : Workspace
        To work in.

    Returns
    -------
    tuple of float
        The flow and the pull of the lines at the end, as `Vec4` has them.
    """
    k, trial = workspace.stages, workspace.trial
    felt = (0.0, 0.0, 0.0, 0.0)
    for stage in range(6):
        for i in range(len(y)):
            rate = 0.0
            for j in range(stage + 1):
                rate += WEIGHTS[stage, j] * k[j, i]
            trial[i] = y[i] + h * rate
        at = time + NODES[stage] * h
        felt = flight_rates(flight, moves, count, at, trial, k[stage + 1])
    return felt


@inlined
def step_error(
    y: FloatArray, trial: FloatArray, k: FloatArray, h: float, rtol: float, atol: FloatArray
) -> float:
    """Estimated error of a step over what is allowed, root mean square over the slots."""
    total = 0.0
    for i in range(len(y)):
        error = 0.0
        for j in range(7):
            error += ERROR[j] * k[j, i]
        error *= h / (atol[i] + rtol * max(abs(y[i]), abs(trial[i])))
        total += error * error
    return sqrt(total / len(y))


@inlined
def step_factor(error: float, before: float) -> float:
    """How much longer the next step may be, by the errors of this one and of the last that was taken.

    The memory of the last error keeps steps from growing too far and being refused in turns, where damping or
    turbulence sets their length. Source: [HairerNorsettWanner1993] section II.4, constants of their code for
    this pair.
    """
    if error == 0.0:
        return GREATEST_GROWTH
    return min(GREATEST_GROWTH, max(GREATEST_CUT, SAFETY * error**-0.17 * before**0.04))


@inlined
def keep_unit_length(y: FloatArray, at: int) -> None:
    """Bring the quaternion in slots `at` to `at + 3` back to unit length."""
    length = sqrt(y[at] ** 2 + y[at + 1] ** 2 + y[at + 2] ** 2 + y[at + 3] ** 2)
    for i in range(4):
        y[at + i] /= length


@inlined
def add_move(moves: FloatArray, count: int, move: FloatArray, start: float) -> None:
    """Put a move that starts now among the first `count` ones; those behind it make room."""
    at = count
    while at > 0 and moves[at - 1, 0] > start:
        copy(moves[at - 1], moves[at])
        at -= 1
    copy(move, moves[at])
    moves[at, 0] = start


@inlined
def all_finite(y: FloatArray) -> bool:
    """Whether every slot holds a number."""
    total = 0.0
    for value in y:
        total += 0.0 * value
    return total == 0.0


@inlined
def step_to_level(
    flight: Flight,
    moves: FloatArray,
    count: int,
    time: float,
    h: float,
    y: FloatArray,
    workspace: Workspace,
    place: Vec3,
    level: float,
) -> tuple[float, Vec4]:
    """Shorten a step that ends below a level so that it ends on it; arguments as for `step` and `fly`.

    Newton's method on the length of the step, kept between lengths that end above and below.

    Returns
    -------
    h : float
        Its length. [s]
    felt : tuple of float
        As of `step`.
    """
    above, below, taken, trial = 0.0, h, h, workspace.trial
    felt = (0.0, 0.0, 0.0, 0.0)
    height, velocity = payload_point(flight, trial, place)
    for _ in range(60):
        if height > level:
            above = taken
        else:
            below = taken
        taken += (height - level) / velocity[2] if velocity[2] > 0.0 else h
        if not above < taken < below:
            taken = 0.5 * (above + below)
        felt = step(flight, moves, count, time, taken, y, workspace)
        height, velocity = payload_point(flight, trial, place)
        if abs(height - level) <= TOUCH:
            break
    return taken, felt


@compiled
def fly(
    flight: Flight,
    place: Vec3,
    timed: FloatArray,
    by_height: FloatArray,
    y: FloatArray,
    rtol: float,
    atol: FloatArray,
    longest: float,
    workspace: Workspace,
) -> tuple[int, float, int, float, float]:
    """Fly from a state until a point of the payload touches the ground.

    Parameters
    ----------
    flight : Flight
        Constants.
    place : tuple of float
        Of the point, payload axes. [m]
    timed : ndarray, shape (n, 4)
        What the brakes are commanded by time, as for `brake_position`; `flight.servo` follows.
    by_height : ndarray, shape (m, 4)
        Moves by height of that point [m], highest first; otherwise the same.
    y : ndarray, shape (n_states + 2,)
        State at release; holds the last one afterwards.
    rtol, atol : float, ndarray
        Tolerances, relative and by slot.
    longest : float
        Flight time after which it ends in the air. [s]
    workspace : Workspace
        To work in, for this many states and moves.

    Returns
    -------
    ending : int
        `LANDED`, `ALOFT`, `LOST`, `STUCK`, `ON_GROUND`, `TUMBLED`, `SLACK` or `OVERTURNED`.
    time : float
        [s]
    steps : int
        Taken and refused.
    largest_alpha, largest_beta : float
        Of the confluence, while its airspeed was over 1 m/s. [rad]
    """
    k, trial, commanded, moves = workspace.stages, workspace.trial, workspace.commanded, workspace.moves
    for i in range(len(timed)):
        copy(timed[i], commanded[i])
    n_commanded, waiting = len(timed), 0
    count = flown_moves(commanded, n_commanded, flight.servo, moves)
    time, steps, h = 0.0, 0, FIRST_STEP
    before, refused = MINIMUM_ERROR, False
    alpha = beta = 0.0
    if not all_finite(y):
        return LOST, time, steps, alpha, beta
    height, _ = payload_point(flight, y, place)
    if height <= 0.0:
        return ON_GROUND, time, steps, alpha, beta
    most, highest = most_airspeed(flight, y), height + MOST_RISE
    while time < longest and height < highest:
        while waiting < len(by_height) and height <= by_height[waiting, 0] + TOUCH:
            add_move(commanded, n_commanded, by_height[waiting], time)
            n_commanded, waiting = n_commanded + 1, waiting + 1
            count = flown_moves(commanded, n_commanded, flight.servo, moves)
        level = by_height[waiting, 0] if waiting < len(by_height) else 0.0
        corner = next_corner(moves, count, time, longest)
        felt = flight_rates(flight, moves, count, time, y, k[0])
        if felt[3] < 0.0:
            return SLACK, time, steps, alpha, beta
        at_level = False
        while time < corner and not at_level and height < highest:
            h = min(h, corner - time)
            to_corner = h == corner - time
            felt = step(flight, moves, count, time, h, y, workspace)
            steps += 1
            if is_stuck(EVALUATIONS_A_STEP * steps, time):
                return STUCK, time, steps, alpha, beta
            error = step_error(y, trial, k, h, rtol, atol)
            if not error <= 1.0:
                if not isfinite(error) and not all_finite(k[0]):
                    return LOST, time, steps, alpha, beta
                h *= min(1.0, step_factor(error, 1.0)) if isfinite(error) else GREATEST_CUT
                refused = True
                if h < SMALLEST_STEP:
                    return STUCK, time, steps, alpha, beta
                continue
            taken = h
            height, _ = payload_point(flight, trial, place)
            if height <= level + TOUCH:
                at_level = True
                if height < level - TOUCH:
                    taken, felt = step_to_level(flight, moves, count, time, h, y, workspace, place, level)
            copy(trial, y)
            copy(k[6], k[0])
            if not within_reach(flight, y, most):
                return TUMBLED, time + taken, steps, alpha, beta
            time = corner if to_corner and taken == h else time + taken
            factor = step_factor(error, before)
            h *= min(1.0, factor) if refused else factor
            before, refused = max(error, MINIMUM_ERROR), False
            u, v, w, pull = felt
            if pull < 0.0:
                return SLACK, time, steps, alpha, beta
            if is_overturned(y):
                return OVERTURNED, time, steps, alpha, beta
            airspeed = sqrt(u * u + v * v + w * w)
            if airspeed > 1.0:
                alpha, beta = max(alpha, abs(atan2(w, u))), max(beta, abs(asin(v / airspeed)))
        keep_unit_length(y, 3)
        if len(y) > JOINTED_STATES:
            keep_unit_length(y, 13)
        height, _ = payload_point(flight, y, place)
        if at_level and waiting == len(by_height):
            return LANDED, time, steps, alpha, beta
    return ALOFT, time, steps, alpha, beta
