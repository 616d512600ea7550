"""GPX tracks, read by gpxpy."""

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from parasim.logs.fixes import Fixes
from parasim.logs.read import UnreadableLogError

if TYPE_CHECKING:
    from gpxpy.gpx import GPX

EXTRAS = ("speed", "course")
"""What points hold by themselves in GPX 1.0, and as extensions in GPX 1.1. [m/s], [deg]"""


def read_gpx(text: str) -> Fixes:
    """Points of all tracks, one after the other; routes and waypoints are no flights.

    Raises
    ------
    UnreadableLogError
        When it is no GPX, or holds no points with times.
    """
    gpx = parsed(text)
    points = [point for track in gpx.tracks for segment in track.segments for point in segment.points]
    if not points:
        raise UnreadableLogError("no track points", "give a GPX file with a track, not a route")
    time = np.array([point.time.timestamp() if point.time else math.nan for point in points])
    if not np.isfinite(time).any():
        raise UnreadableLogError("track points without times", "export it with times")
    columns = {
        "latitude": np.radians([point.latitude for point in points]),
        "longitude": np.radians([point.longitude for point in points]),
        "height": np.array(
            [math.nan if point.elevation is None else point.elevation for point in points], dtype=np.float64
        ),
    }
    extras = np.array([tuple(_extra(point, name) for name in EXTRAS) for point in points])
    columns["speed"], columns["course"] = extras[:, 0], np.radians(extras[:, 1])
    return Fixes(kind="GPX", time=time, columns=columns, dated=True, timed=True)


def parsed(text: str) -> "GPX":
    """GPX of a text, by the library.

    Raises
    ------
    UnreadableLogError
        When the library refuses it, or it would have entities expanded.
    """
    import gpxpy

    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise UnreadableLogError("GPX with a DOCTYPE or entities", "export it as plain GPX")
    try:
        return gpxpy.parse(text)
    except Exception as error:  # the library lets errors of numbers, dates and XML through as they come
        first = " ".join(str(error).split())[:80]
        raise UnreadableLogError(f"not GPX ({first})", "export it anew as GPX 1.0 or 1.1") from None


def _extra(point: Any, name: str) -> float:
    own = getattr(point, name, None)
    if own is not None:
        return float(own)
    return next(_named(point.extensions, name), math.nan) if point.extensions else math.nan


def _named(extensions: Any, name: str) -> Iterator[float]:
    """Numbers of elements of a name, whatever their namespace."""
    for extension in extensions:
        for element in extension.iter():
            if str(element.tag).rpartition("}")[2].rpartition(":")[2] == name and element.text:
                try:
                    yield float(element.text)
                except ValueError:
                    continue
