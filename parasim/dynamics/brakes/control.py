"""What the brakes are commanded to do, over time and height."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf

import numpy as np

from parasim.compiled import inlined
from parasim.config.scenario import BrakeCommand
from parasim.rotations import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class BrakeMove:
    """From `start` on, both brakes go to new places in `over` seconds.

    Attributes
    ----------
    start, over : float
        After release, and how long it takes. [s]
    left, right : float
        Where to, fractions of full travel. [-]
    """

    start: float
    over: float
    left: float
    right: float


@inlined
def brake_position(moves: FloatArray, count: int, time: float) -> tuple[float, float]:
    """Left and right brake at a time, fractions of full travel: the last move begun counts.

    Parameters
    ----------
    moves : ndarray, shape (n, 4)
        Start and how long it takes [s], left and right brake it goes to [-]; by rising start.
    count : int
        How many rows are in use.
    time : float
        After release. [s]
    """
    left = right = 0.0
    for i in range(count):
        start, over = moves[i, 0], moves[i, 1]
        if time < start:
            break
        until = moves[i + 1, 0] if i + 1 < count and moves[i + 1, 0] <= time else time
        part = 1.0 if over <= until - start else (until - start) / over
        left += part * (moves[i, 2] - left)
        right += part * (moves[i, 3] - right)
    return left, right


@inlined
def next_corner(moves: FloatArray, count: int, time: float, longest: float) -> float:
    """Next time at which the brakes begin or end a move, or the longest time. [s]"""
    corner = longest
    for i in range(count):
        for moment in (moves[i, 0], moves[i, 0] + moves[i, 1]):
            if time + 1e-9 < moment < corner:
                corner = moment
    return corner


@dataclass(frozen=True, kw_only=True)
class BrakeSchedule:
    """Brakes at any time, at rest before the first move.

    Attributes
    ----------
    moves : tuple of BrakeMove
        By rising start.
    rest : tuple of float
        Left and right brake with the servos let out; below zero the line is slack by so much. [-]
    """

    moves: tuple[BrakeMove, ...] = ()
    rest: tuple[float, float] = (0.0, 0.0)

    @cached_property
    def rows(self) -> FloatArray:
        """The moves as `brake_position` needs them, one from minus infinity on before them if not let out."""
        at_rest = [(-inf, 0.0, *self.rest)] if self.rest != (0.0, 0.0) else []
        moves = [(m.start, m.over, m.left, m.right) for m in self.moves]
        return np.array([*at_rest, *moves]).reshape(-1, 4)

    def position(self, time: float) -> tuple[float, float]:
        """Left and right brake at a time after release [s], fractions of full travel. [-]"""
        return brake_position(self.rows, len(self.rows), time)

    @property
    def corners(self) -> tuple[float, ...]:
        """Times at which the brakes begin or end a move. [s]"""
        return tuple(sorted({t for move in self.moves for t in (move.start, move.start + move.over)}))

    def adding(self, move: BrakeMove) -> "BrakeSchedule":
        """The same schedule with one more move."""
        return replace(self, moves=tuple(sorted((*self.moves, move), key=lambda m: m.start)))


def timed_moves(commands: Iterable[BrakeCommand], rest: tuple[float, float] = (0.0, 0.0)) -> BrakeSchedule:
    """Schedule of the commands that go by time; `rest` as in `BrakeSchedule`."""
    moves = [
        BrakeMove(start=command.at_time, over=command.over, left=command.left, right=command.right)
        for command in commands
        if command.at_time is not None
    ]
    return BrakeSchedule(moves=tuple(sorted(moves, key=lambda move: move.start)), rest=rest)


def by_height(commands: Iterable[BrakeCommand]) -> tuple[BrakeCommand, ...]:
    """The commands that go by height above ground, highest first."""
    waiting = (command for command in commands if command.at_height is not None)
    return tuple(sorted(waiting, key=lambda command: -(command.at_height or 0.0)))
