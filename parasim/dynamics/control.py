"""What the brakes are told to do, over time and height."""

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

from parasim.config.scenario import BrakeCommand


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


@dataclass(frozen=True, slots=True, kw_only=True)
class BrakeSchedule:
    """Brakes at any time: the last move begun counts, from wherever the brakes were.

    Attributes
    ----------
    moves : tuple of BrakeMove
        By rising start.
    """

    moves: tuple[BrakeMove, ...] = ()

    def position(self, time: float) -> tuple[float, float]:
        """Left and right brake at a time after release [s], fractions of full travel. [-]"""
        index = bisect_right([move.start for move in self.moves], time)
        if index == 0:
            return 0.0, 0.0
        move = self.moves[index - 1]
        before = BrakeSchedule(moves=self.moves[: index - 1]).position(move.start)
        part = 1.0 if move.over <= 0 else min(1.0, (time - move.start) / move.over)
        left = before[0] + part * (move.left - before[0])
        right = before[1] + part * (move.right - before[1])
        return left, right

    @property
    def corners(self) -> tuple[float, ...]:
        """Times at which the brakes begin or end a move. [s]"""
        return tuple(sorted({t for move in self.moves for t in (move.start, move.start + move.over)}))

    def adding(self, move: BrakeMove) -> "BrakeSchedule":
        """The same schedule with one more move."""
        return BrakeSchedule(moves=tuple(sorted((*self.moves, move), key=lambda m: m.start)))


def timed_moves(commands: Iterable[BrakeCommand]) -> BrakeSchedule:
    """Schedule of the commands that go by time."""
    moves = [
        BrakeMove(start=command.at_time, over=command.over, left=command.left, right=command.right)
        for command in commands
        if command.at_time is not None
    ]
    return BrakeSchedule(moves=tuple(sorted(moves, key=lambda move: move.start)))


def by_height(commands: Iterable[BrakeCommand]) -> tuple[BrakeCommand, ...]:
    """The commands that go by height above ground, highest first."""
    waiting = (command for command in commands if command.at_height is not None)
    return tuple(sorted(waiting, key=lambda command: -(command.at_height or 0.0)))
