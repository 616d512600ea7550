"""Wind as measured at some heights: a table by balloon, mast or kite."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isfinite, pi, radians
from pathlib import Path

from parasim.config.table import LENGTHS, SPEEDS, heads_of, number_in, read_table, refused
from parasim.errors import DesignError, Mistake
from parasim.units import COMPASS

HIGHEST_HEIGHT, GREATEST_SPEED = 35_000.0, 120.0
"""Above the ground, and of the wind. [m], [m/s]"""

EXAMPLE = "height_m,speed_m_s,from_deg"
"""Heads of a table in SI units."""

FEWEST = 2
"""Measured heights, at least."""


@dataclass(frozen=True, slots=True)
class _Column:
    """What a column can be: name, size of its unit by head [SI], and greatest value. [SI]"""

    name: str
    heads: Mapping[str, float]
    greatest: float


_HEIGHT = _Column("the height above ground", heads_of("height", LENGTHS), HIGHEST_HEIGHT)
_SPEED = _Column("the wind speed", heads_of("speed", SPEEDS), GREATEST_SPEED)
_FROM = _Column("the direction it blows from", {"from_deg": radians(1.0)}, radians(360.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class WindRow:
    """Wind at one height.

    Parameters
    ----------
    height : float
        Above the ground. [m]
    speed : float
        [m/s]
    from_direction : float
        Compass direction it blows from. [rad]
    """

    height: float
    speed: float
    from_direction: float


def read_wind_table(path: str | Path) -> tuple[WindRow, ...]:
    """Read a measured wind.

    Parameters
    ----------
    path : str or Path
        CSV file with one column each for height, speed and direction, in any order; the head of each gives
        its unit. Other columns are left alone.

    Returns
    -------
    tuple of WindRow
        Heights rising, at least two.

    Raises
    ------
    DesignError
        With one line for each mistake.
    """
    path = Path(path)
    heads, rows = read_table(path, EXAMPLE)
    chosen = [(_head_of(column, heads, path), column) for column in (_HEIGHT, _SPEED, _FROM)]
    found: dict[float, WindRow] = {}
    mistakes: list[Mistake] = []
    for line, row in rows:
        read = [_value(row[head], head, column) for head, column in chosen]
        wrong = [replace(value, file=path.name, line=line) for value in read if isinstance(value, Mistake)]
        numbers = [value for value in read if not isinstance(value, Mistake)]
        if not wrong and numbers[0] in found:
            wrong = [_twice(row[chosen[0][0]], chosen[0][0], path, line)]
        if not wrong:
            found[numbers[0]] = WindRow(height=numbers[0], speed=numbers[1], from_direction=numbers[2])
        mistakes += wrong
    if mistakes:
        raise DesignError(*mistakes)
    if len(found) < FEWEST:
        raise refused(
            path, f"measured heights: {len(found)}", "give at least 2, or speed and from in the design file"
        )
    return tuple(found[height] for height in sorted(found))


def _head_of(column: _Column, heads: list[str], path: Path) -> str:
    found = [head for head in heads if head in column.heads]
    choice = " or ".join(column.heads)
    if not found:
        hint = "separate columns by commas" if ";" in "".join(heads) else f"name one column {choice}"
        raise refused(path, f"its first line lacks {column.name}", hint)
    if len(found) > 1:
        raise refused(path, f"columns with {column.name}: {', '.join(found)}", "keep one of them")
    return found[0]


def _value(text: str, head: str, column: _Column) -> float | Mistake:
    """Value in SI, or what is wrong with it."""
    if column is _FROM and text.upper() in COMPASS:
        return COMPASS.index(text.upper()) * 2 * pi / len(COMPASS)
    greatest = column.greatest / column.heads[head]
    hint = f"use 0 to {greatest:.0f}" + (f", or {', '.join(COMPASS)}" if column is _FROM else "")
    given = f'"{text[:40]}"' if text else ""
    try:
        value = number_in(text)
    except ValueError:
        return Mistake(key=head, given=given, problem="not a number" if text else "missing", hint=hint)
    if not isfinite(value):
        return Mistake(key=head, given=given, problem="not a finite number", hint=hint)
    if not 0.0 <= value <= greatest * (1 + 1e-9):
        return Mistake(key=head, given=given, problem="too small" if value < 0 else "too large", hint=hint)
    return value * column.heads[head]


def _twice(text: str, head: str, path: Path, line: int) -> Mistake:
    return Mistake(
        file=path.name,
        line=line,
        key=head,
        given=f'"{text}"',
        problem="listed twice",
        hint="keep one row for each height",
    )
