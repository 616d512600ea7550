"""Brakes that are commanded more than their servos can do: said in one sentence."""

from collections.abc import Iterable
from dataclasses import dataclass

from parasim.caveats import Caveat
from parasim.config.design import Design
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.brakes.actuators import servo_limits
from parasim.dynamics.brakes.control import BrakeMove, BrakeSchedule, by_height, timed_moves
from parasim.dynamics.brakes.flown import flown_schedule

WORTH_A_WORD = 0.01
"""Fraction of full travel by which a brake may miss what it is commanded without a word. Our choice. [-]"""

APART = 600.0
"""Between commands by height, where nothing is flown: each is asked as if it came by itself. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Miss:
    by: float
    words: str


def too_quick(commanded: BrakeSchedule, flown: BrakeSchedule) -> list[Caveat]:
    """A sentence on the move that the brakes miss by most, as commanded and as done; none if they follow."""
    misses = [miss for i in range(len(commanded.moves)) for miss in _misses(commanded, flown, i)]
    behind = [miss for miss in misses if miss.by > WORTH_A_WORD]
    if not behind:
        return []
    worst = max(behind, key=lambda miss: miss.by)
    return [
        Caveat(
            f"Servo: it is commanded more than it can do without load, brakes {worst.words}; "
            "flown as it can.",
            "fails",
            "brakes",
        )
    ]


def too_quick_commands(design: Design, commands: Iterable[BrakeCommand]) -> list[Caveat]:
    """The same of commands that are not flown yet."""
    commands = tuple(commands)
    commanded = timed_moves(commands)
    for command in by_height(commands):
        start = max(commanded.corners, default=0.0) + APART
        commanded = commanded.adding(
            BrakeMove(start=start, over=command.over, left=command.left, right=command.right)
        )
    return too_quick(commanded, flown_schedule(commanded, servo_limits(design)))


def _misses(commanded: BrakeSchedule, flown: BrakeSchedule, i: int) -> list[_Miss]:
    """Of one move, of either side, at the moment when it should be done, or is cut short by the next."""
    move = commanded.moves[i]
    following = commanded.moves[i + 1].start if i + 1 < len(commanded.moves) else float("inf")
    asked = min(move.start + move.over, following)
    if following <= move.start:
        return []
    wanted, got = _just_before(commanded, asked, following), flown.position(asked)
    return [
        _Miss(by=abs(want - get), words=_words(flown, side, want, move.start, asked, following))
        for side, (want, get) in enumerate(zip(wanted, got, strict=True))
    ]


def _just_before(commanded: BrakeSchedule, asked: float, following: float) -> tuple[float, float]:
    """Where a move leads: read before the next one, which may jump, begins."""
    return commanded.position(asked if asked < following else asked - 1e-9)


def _words(flown: BrakeSchedule, side: int, want: float, start: float, asked: float, following: float) -> str:
    instead = f"{asked - start:.1f} s" if asked - start > 0.05 else "at once"
    end = min(following, max(flown.corners, default=asked))
    later = sorted({*(t for t in flown.corners if asked < t < following), end})
    for time in later:
        get = flown.position(time)[side]
        if abs(want - get) <= 1e-6:
            return f"reach {100 * want:.0f} % after {time - start:.1f} s instead of {instead}"
    return f"reach only {100 * flown.position(later[-1])[side]:.0f} % instead of {100 * want:.0f} %"
