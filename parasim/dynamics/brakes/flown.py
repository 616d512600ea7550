"""What brakes do whose servos follow a command: the one place where a schedule becomes the flown.

The single drop and the compiled ensemble both call `flown_moves`, anew when a command begins at its height.
"""

from math import inf
from typing import NamedTuple

import numpy as np

from parasim.compiled import inlined
from parasim.dynamics.brakes.control import BrakeMove, BrakeSchedule, brake_position, next_corner
from parasim.rotations import FloatArray

SHORTEST = 1e-10
"""Time below which pieces of a path are not distinguished. [s]"""

SETTLED = 1e-12
"""Difference of brakes that counts as none, fraction of full travel. [-]"""

PIECES = 16
"""Rows that the path of the brakes takes for each move, at most 14. [-]"""


class ServoLimits(NamedTuple):
    """How quickly and how far a servo pulls.

    Attributes
    ----------
    rate : float
        Greatest speed of a brake, fractions of full travel by time; infinite if it follows at once. [1/s]
    reach : float
        Largest fraction of full travel that it pulls, from where it is let out. [-]
    """

    rate: float
    reach: float


INSTANT = ServoLimits(rate=inf, reach=1.0)
"""Brakes that do what they are commanded, at once."""


@inlined
def commanded_between(
    commanded: FloatArray, count: int, start: float, end: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Where both brakes are commanded to be at a corner, and how fast that moves until the next one."""
    if end == inf:
        return brake_position(commanded, count, start + 1.0), (0.0, 0.0)
    # Read inside, since a command without duration jumps at the corner itself.
    third = (end - start) / 3.0
    early = brake_position(commanded, count, start + third)
    late = brake_position(commanded, count, start + 2.0 * third)
    return (
        (2.0 * early[0] - late[0], 2.0 * early[1] - late[1]),
        ((late[0] - early[0]) / third, (late[1] - early[1]) / third),
    )


@inlined
def stopped(command: float, slope: float, stop: float) -> tuple[float, float, float]:
    """A command held at the end of the servo's travel: where, how fast, and how long that goes on."""
    if command > stop + SETTLED or (command > stop - SETTLED and slope >= 0.0):
        return stop, 0.0, (stop - command) / slope if slope < 0.0 else inf
    return command, slope, (stop - command) / slope if slope > 0.0 else inf


@inlined
def chase(place: float, command: float, slope: float, rate: float) -> tuple[float, float, float]:
    """A brake after a command that moves evenly: where it is, how fast it moves, and for how long."""
    gap = command - place
    if abs(gap) <= SETTLED + 2.0 * rate * SHORTEST:
        return command, min(max(slope, -rate), rate), inf
    speed = rate if gap > 0.0 else -rate
    closing = speed - slope
    return place, speed, gap / closing if gap * closing > 0.0 else inf


@inlined
def write_move(moves: FloatArray, at: int, start: float, over: float, left: float, right: float) -> None:
    """Write one row; entry by entry, since compiled functions make no arrays."""
    moves[at, 0], moves[at, 1], moves[at, 2], moves[at, 3] = start, over, left, right


@inlined
def flown_moves(commanded: FloatArray, count: int, limits: ServoLimits, flown: FloatArray) -> int:
    """Write the moves that the brakes make after those that they are commanded; say how many.

    Parameters
    ----------
    commanded : ndarray, shape (n, 4)
        As for `brake_position`; one from minus infinity on gives where brakes are with the servos let out.
    count : int
        How many rows of it are in use.
    limits : ServoLimits
        Of both servos.
    flown : ndarray, shape (m, 4)
        Where to, likewise; as many rows as `space_for_moves` says.

    Notes
    -----
    Each side turns towards where it is commanded to be at full speed, goes along with it once there, and
    stops at the end of its travel. Nothing depends on moves that have not begun, so moves may be added in
    flight and this be asked again: what was flown up to then stays.
    """
    if limits.rate == inf and limits.reach >= 1.0:
        for i in range(count):
            write_move(flown, i, commanded[i, 0], commanded[i, 1], commanded[i, 2], commanded[i, 3])
        return count
    n, left, right = 0, 0.0, 0.0
    while n < count and commanded[n, 0] == -inf:
        write_move(flown, n, commanded[n, 0], commanded[n, 1], commanded[n, 2], commanded[n, 3])
        left, right = commanded[n, 2], commanded[n, 3]
        n += 1
    if n == count:
        return n
    stops = min(1.0, left + limits.reach), min(1.0, right + limits.reach)
    start = commanded[n, 0]
    while True:
        end = next_corner(commanded, count, start, inf)
        command, slope = commanded_between(commanded, count, start, end)
        time = start
        while time < end:
            since = time - start
            at_left, left_slope, a = stopped(command[0] + slope[0] * since, slope[0], stops[0])
            at_right, right_slope, b = stopped(command[1] + slope[1] * since, slope[1], stops[1])
            left, left_speed, c = chase(left, at_left, left_slope, limits.rate)
            right, right_speed, d = chase(right, at_right, right_slope, limits.rate)
            lasts = max(min(min(a, b), min(c, d), end - time), SHORTEST)
            if lasts == inf or n == len(flown):
                return n
            left, right = left + left_speed * lasts, right + right_speed * lasts
            if left_speed != 0.0 or right_speed != 0.0:
                write_move(flown, n, time, lasts, left, right)
                n += 1
            time = end if time + lasts > end - SHORTEST else time + lasts
        start = end


def space_for_moves(n_moves: int) -> FloatArray:
    """Workspace for what `flown_moves` makes of so many moves, shape (m, 4)."""
    return np.empty((PIECES * (n_moves + 1), 4))


def flown_schedule(commanded: BrakeSchedule, limits: ServoLimits) -> BrakeSchedule:
    """What the brakes do when servos follow a schedule as fast and as far as they can; as `flown_moves`."""
    if limits == INSTANT or not commanded.moves:
        return commanded
    flown = space_for_moves(len(commanded.rows))
    with np.errstate(all="ignore"):  # as in compiled functions
        count = flown_moves(commanded.rows, len(commanded.rows), limits, flown)
    begun = len(commanded.rows) - len(commanded.moves)
    return BrakeSchedule(
        rest=commanded.rest,
        moves=tuple(
            BrakeMove(start=start, over=over, left=left, right=right)
            for start, over, left, right in flown[begun:count].tolist()
        ),
    )
