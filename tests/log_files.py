"""Invented flights written as log files of each kind."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np

from parasim.environment.atmosphere import Atmosphere
from parasim.environment.position import latitude_longitude
from parasim.logs.fixes import Fixes
from parasim.rotations import FloatArray

MIDDAY = datetime(2026, 5, 3, 12, 0, 0, tzinfo=UTC)
LATITUDE, LONGITUDE = np.radians([47.1, 11.2])


def degrees_of(fixes: Fixes) -> FloatArray:
    """Latitude and longitude. Shape (2, n), [deg]"""
    north, east = fixes.columns["north"], fixes.columns["east"]
    return np.degrees(latitude_longitude(north, east, latitude=LATITUDE, longitude=LONGITUDE))


def _moments(fixes: Fixes, start: datetime) -> list[datetime]:
    return [start + timedelta(seconds=float(t)) for t in fixes.time]


def _speed_and_course(fixes: Fixes) -> FloatArray:
    if "v_north" in fixes.columns:
        north, east = fixes.columns["v_north"], fixes.columns["v_east"]
    else:
        north, east = (np.gradient(fixes.columns[name], fixes.time) for name in ("north", "east"))
    return np.array([np.hypot(north, east), np.degrees(np.arctan2(east, north)) % 360])


def csv_text(fixes: Fixes, start: datetime = MIDDAY) -> str:
    """With our heads."""
    pressure = Atmosphere().pressure(fixes.columns["pressure_height"]) / 100
    speed = _speed_and_course(fixes)
    rows = [
        f"{t:.2f},{p:.3f},{lat:.7f},{lon:.7f},{v:.2f},{c:.1f}"
        for t, p, lat, lon, v, c in zip(fixes.time, pressure, *degrees_of(fixes), *speed, strict=True)
    ]
    return "\n".join(["time_s,pressure_hPa,lat_deg,lon_deg,speed_m_s,course_deg", *rows, ""])


def gpx_text(fixes: Fixes, start: datetime = MIDDAY) -> str:
    """GPX 1.1, without speeds."""
    points = [
        f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{h:.2f}</ele>'
        f"<time>{when:%Y-%m-%dT%H:%M:%S.%f}Z</time></trkpt>"
        for lat, lon, h, when in zip(
            *degrees_of(fixes), fixes.columns["pressure_height"], _moments(fixes, start), strict=True
        )
    ]
    head = '<?xml version="1.0"?>\n<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1">'
    return "\n".join([head, "<trk><trkseg>", *points, "</trkseg></trk></gpx>", ""])


def igc_text(fixes: Fixes, start: datetime = MIDDAY) -> str:
    """Fixes in thousandths of a minute and whole metres, all marked A; tenths of a second as an extension."""
    lines = ["AXXX001", f"HFDTE{start:%d%m%y}", "I013636TDS"]
    for lat, lon, h, when in zip(
        *degrees_of(fixes), fixes.columns["pressure_height"], _moments(fixes, start), strict=True
    ):
        tenth = when.microsecond // 100_000
        lines.append(
            f"B{when:%H%M%S}{_minutes(lat, 2)}N{_minutes(lon, 3)}EA{round(h):05d}{round(h) + 40:05d}{tenth}"
        )
    return "\n".join([*lines, ""])


def _minutes(angle: float, digits: int) -> str:
    whole, thousandths = divmod(round(angle * 60_000), 60_000)
    return f"{whole:0{digits}d}{thousandths:05d}"


def nmea_text(fixes: Fixes, start: datetime = MIDDAY) -> str:
    """GGA and RMC, with checksums."""
    lines = []
    for lat, lon, h, v, c, when in zip(
        *degrees_of(fixes), fixes.columns["pressure_height"], *_speed_and_course(fixes),
        _moments(fixes, start), strict=True,
    ):  # fmt: skip
        clock = f"{when:%H%M%S}.{when.microsecond // 10_000:02d}"
        place = f"{int(lat):02d}{lat % 1 * 60:08.5f},N,{int(lon):03d}{lon % 1 * 60:08.5f},E"
        lines.append(with_sum(f"GNGGA,{clock},{place},1,09,0.9,{h:.2f},M,47.0,M,,"))
        lines.append(with_sum(f"GNRMC,{clock},A,{place},{v * 3600 / 1852:.3f},{c:.1f},{when:%d%m%y},,,A"))
    return "\n".join([*lines, ""])


def with_sum(sentence: str) -> str:
    """An NMEA sentence with its dollar sign and checksum."""
    total = 0
    for letter in sentence:
        total ^= ord(letter)
    return f"${sentence}*{total:02X}"


WRITERS: dict[str, Callable[..., str]] = {
    "csv": csv_text, "gpx": gpx_text, "igc": igc_text, "nmea": nmea_text
}  # fmt: skip
"""By the end of a file's name."""
