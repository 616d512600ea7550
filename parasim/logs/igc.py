"""IGC flight recorder files, read by aerofiles."""

import io
from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Any

import numpy as np

from parasim.logs.fixes import Fixes, rolled_over
from parasim.logs.read import UnreadableLogError
from parasim.rotations import FloatArray

KILOMETRE_PER_HOUR = 1 / 3.6
"""[m/s]"""


def read_igc(text: str) -> Fixes:
    """Fixes (B records) of a file; those marked V have no GNSS height, and keep that of pressure.

    Raises
    ------
    UnreadableLogError
        When it holds none.

    Notes
    -----
    Records are decoded one by one by the library's `LowLevelReader`, so that a broken one costs no other. Of
    the extensions, tenths of a second (TDS), decimals of minutes (LAD, LOD), ground speed and track (GSP,
    TRT) and true airspeed (TAS) are read. IGC's marks of validity, A and V, and its extensions are from
    memory, unverified.
    """
    records, extensions, day, broken = _records(text)
    if not records:
        raise UnreadableLogError("no fixes (B records) in it", "give an IGC file of a flight")
    time = rolled_over(
        np.array([_seconds(record["time"]) for record in records]) + _tenths(records, extensions)
    )
    start = datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp() if day else 0.0
    valid = np.array([record["validity"] == "A" for record in records])
    columns = {
        "latitude": _angle(records, extensions, "lat", "LAD"),
        "longitude": _angle(records, extensions, "lon", "LOD"),
        "height": np.where(valid, _column(records, "gps_alt"), np.nan),
        "pressure_height": _column(records, "pressure_alt"),
        "speed": _extension(records, extensions, "GSP") * KILOMETRE_PER_HOUR,
        "course": np.radians(_extension(records, extensions, "TRT")),
        "airspeed": _extension(records, extensions, "TAS") * KILOMETRE_PER_HOUR,
    }
    counts = {"fixes marked V, without a GNSS height": int((~valid).sum()), "broken records": broken}
    return Fixes(
        kind="IGC", time=time + start, columns=columns, dated=day is not None, timed=True, counts=counts
    )


def _records(text: str) -> tuple[list[dict[str, Any]], Sequence[dict[str, Any]], date | None, int]:
    """B records with their extensions, the extensions' places, the day, and how many records are broken."""
    from aerofiles.igc.reader import LowLevelReader

    found: list[dict[str, Any]] = []
    extensions: Sequence[dict[str, Any]] = []
    day: date | None = None
    broken = 0
    for kind, record, error in LowLevelReader(io.StringIO(text)):
        if error is not None:
            broken += kind == "B"
        elif kind == "B":
            found.append(LowLevelReader.process_B_record(record, extensions))
        elif kind == "I":
            extensions = record
        elif kind == "H" and record.get("utc_date"):
            day = day or record["utc_date"]
    return found, extensions, day, broken


def _seconds(time: Any) -> float:
    return 3600.0 * time.hour + 60.0 * time.minute + time.second


def _column(records: Sequence[dict[str, Any]], name: str) -> FloatArray:
    return np.array([record.get(name, np.nan) for record in records], dtype=np.float64)


def _digits(extensions: Sequence[dict[str, Any]], name: str) -> int:
    """Digits of an extension; 0 where there is none."""
    places = next((each["bytes"] for each in extensions if each["extension_type"] == name), (1, 0))
    return int(max(0, min(places[1] - places[0] + 1, 9)))


def _extension(
    records: Sequence[dict[str, Any]], extensions: Sequence[dict[str, Any]], name: str
) -> FloatArray:
    """A speed or an angle; further digits than three are decimals."""
    scale = 10.0 ** max(_digits(extensions, name) - 3, 0)
    return _column(records, name) / scale


def _tenths(records: Sequence[dict[str, Any]], extensions: Sequence[dict[str, Any]]) -> FloatArray:
    """Part of a second of each fix. [s]"""
    parts = _column(records, "TDS") / 10.0 ** _digits(extensions, "TDS")
    return np.nan_to_num(parts)


def _angle(
    records: Sequence[dict[str, Any]], extensions: Sequence[dict[str, Any]], name: str, more: str
) -> FloatArray:
    """Latitude or longitude with its further decimals. [rad]"""
    degrees = _column(records, name)
    minutes = np.nan_to_num(_column(records, more)) / 10.0 ** _digits(extensions, more) / 1000.0
    return np.radians(degrees + np.copysign(minutes / 60.0, degrees))
