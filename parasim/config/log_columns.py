"""Columns of a logged flight: what a head means, in which unit, and a file that maps other heads to ours."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from math import radians
from pathlib import Path
from typing import Any

from parasim.config.document import read_document
from parasim.config.loader import read_text
from parasim.config.table import LENGTHS, SPEEDS, heads_of
from parasim.errors import DesignError, Mistake
from parasim.units import GRAVITY

TIME_TEXT = "time_utc"
"""Head of times such as 2026-05-03T14:05:52.4Z; without a zone they count as UTC."""

QUANTITIES: dict[str, dict[str, float]] = {
    "time": {TIME_TEXT: 1.0, "time_s": 1.0, "time_ms": 1e-3, "time_ns": 1e-9},
    "height": heads_of("gnss_height", LENGTHS),
    "pressure_height": heads_of("height", LENGTHS),
    "pressure": {"pressure_hPa": 100.0, "pressure_Pa": 1.0},
    "latitude": {"lat_deg": radians(1.0)},
    "longitude": {"lon_deg": radians(1.0)},
    "north": heads_of("north", LENGTHS),
    "east": heads_of("east", LENGTHS),
    "speed": heads_of("speed", SPEEDS),
    "course": {"course_deg": radians(1.0)},
    "v_north": heads_of("north", SPEEDS),
    "v_east": heads_of("east", SPEEDS),
    "airspeed": heads_of("airspeed", SPEEDS),
    "left": {"left": 1.0, "left_percent": 0.01},
    "right": {"right": 1.0, "right_percent": 0.01},
    "forward_acceleration": {"acceleration_x_m_s2": 1.0, "acceleration_x_g": GRAVITY},
    "side_acceleration": {"acceleration_y_m_s2": 1.0, "acceleration_y_g": GRAVITY},
    "down_acceleration": {"acceleration_z_m_s2": 1.0, "acceleration_z_g": GRAVITY},
    "pitch": {"pitch_deg": radians(1.0)},
}
"""What a column can hold, the heads it may have, and the size of each one's unit. [SI]"""

QUANTITY_OF = {head: name for name, heads in QUANTITIES.items() for head in heads}
SIZE_OF = {head: size for heads in QUANTITIES.values() for head, size in heads.items()}

EXAMPLE = "time_s,height_m,lat_deg,lon_deg"
"""Heads of a short log."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnMap:
    """How the heads of a file map to ours.

    Attributes
    ----------
    heads : dict
        Our head to the file's own; empty where they are the same.
    separator : str
        Between columns.
    decimal : str
        Point or comma.
    """

    heads: Mapping[str, str]
    separator: str = ","
    decimal: str = "."


OWN_HEADS = ColumnMap(heads={})
"""For files with our heads."""

_KEYS = ("columns", "separator", "decimal")
_SEPARATORS = (",", ";", "\t")


def read_column_map(path: str | Path) -> ColumnMap:
    """Read a map such as ``columns: {time_s: "Time (s)", lat_deg: Latitude}``.

    Raises
    ------
    DesignError
        With one line for each mistake.
    """
    path = Path(path)
    document = read_document(read_text(path), path.name)
    data: dict[str, Any] = document.data
    mistakes = [
        Mistake(key=key, problem="unknown key", hint=f"use {', '.join(_KEYS)}") for key in data.keys() - _KEYS
    ]
    columns = data.get("columns")
    if not isinstance(columns, dict) or not columns:
        hint = 'write columns: {time_s: "Time (s)", height_m: Altitude, ...}'
        mistakes.append(Mistake(key="columns", problem="missing, or no mapping", hint=hint))
        columns = {}
    mistakes += [
        _wrong_head(str(key), value)
        for key, value in columns.items()
        if key not in QUANTITY_OF or not isinstance(value, str)
    ]
    separator, decimal = data.get("separator", ","), data.get("decimal", ".")
    if separator not in _SEPARATORS:
        mistakes.append(_choice("separator", separator, '",", ";" or "\\t"'))
    if decimal not in (".", ","):
        mistakes.append(_choice("decimal", decimal, '"." or ","'))
    if mistakes:
        raise DesignError(*(_placed(mistake, document.name, document.line) for mistake in mistakes))
    return ColumnMap(heads=columns, separator=separator, decimal=decimal)


def _placed(mistake: Mistake, file: str, line: Any) -> Mistake:
    return replace(mistake, file=file, line=line(tuple(mistake.key.split("."))))


def _wrong_head(key: str, value: object) -> Mistake:
    if key in QUANTITY_OF:
        return Mistake(key=f"columns.{key}", problem="not the head of a column", hint="put it in quotes")
    close = get_close_matches(key, QUANTITY_OF, n=1)
    hint = f"did you mean {close[0]}?" if close else f"use heads such as {EXAMPLE}; see parasim manual logs"
    return Mistake(key=f"columns.{key[:40]}", problem="not a head known here", hint=hint)


def _choice(key: str, given: object, allowed: str) -> Mistake:
    return Mistake(key=key, given=f'"{str(given)[:20]}"', problem="not a choice here", hint=f"use {allowed}")
