"""Section outlines read from a file of coordinates, with every mistake given in one line."""

from pathlib import Path

import numpy as np

from parasim.config.table import LARGEST_FILE, number_in
from parasim.errors import DesignError, Mistake
from parasim.rotations import FloatArray

_FEWEST_POINTS = 15
_POINTS_PER_SURFACE = 121
_FARTHEST = 1e6
"""In any unit that a section is listed in."""


def cosine_stations() -> FloatArray:
    """Chord stations from leading to trailing edge, crowded at both."""
    return 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, _POINTS_PER_SURFACE)))


def join_surfaces(
    x_upper: FloatArray, z_upper: FloatArray, x_lower: FloatArray, z_lower: FloatArray
) -> FloatArray:
    """Outline from two surfaces that both run from leading to trailing edge."""
    upper = np.column_stack([x_upper, z_upper])[::-1]
    lower = np.column_stack([x_lower, z_lower])[1:]
    return np.vstack([upper, lower])


def read_coordinates(path: Path | str) -> FloatArray:
    """Read a section outline from a text file of two columns, x and z.

    Parameters
    ----------
    path : Path or str
        A title line (optional), then one point a line: from the trailing edge over the upper surface to the
        leading edge and back, in any unit; or upper and lower surface one after the other, each from the
        leading edge, after a line with the two numbers of points.

    Returns
    -------
    ndarray, shape (241, 2)
        Outline of chord 1: leading edge at x = 0, trailing edge at (1, 0), axes not turned.

    Raises
    ------
    DesignError
        One line that names the file, its line, and how to fix it.
    """
    path = Path(path)
    points = _coordinate_points(path)
    points = _as_one_loop(points)
    chord = np.ptp(points[:, 0])
    if chord <= 0:
        raise _bad_coordinates(path, "all points have the same x", "give x and z of the outline")
    nose = int(np.argmin(points[:, 0]))
    if not 3 <= nose <= len(points) - 4:
        raise _bad_coordinates(
            path,
            "the points do not go from the trailing edge to the leading edge and back",
            "start at the trailing edge, over the upper surface",
        )
    tail = 0.5 * (points[0] + points[-1])
    scaled = (points - [points[nose, 0], tail[1]]) / (tail[0] - points[nose, 0])
    sides = scaled[nose::-1], scaled[nose:]
    if np.mean(sides[0][:, 1]) < np.mean(sides[1][:, 1]):
        sides = sides[1], sides[0]
    return _resampled(path, *sides)


def _coordinate_points(path: Path) -> FloatArray:
    """Rows of two numbers in a file, the title and blank lines left out."""
    try:
        if path.is_file() and path.stat().st_size > LARGEST_FILE:
            raise _bad_coordinates(
                path, f"larger than {LARGEST_FILE // 1000} kB", "give the points of one section"
            )
        lines = path.read_text(encoding="utf-8").splitlines()
    except OSError as error:
        raise _bad_coordinates(path, f"cannot be read ({error.strerror})", "check the path") from error
    except UnicodeDecodeError as error:
        raise _bad_coordinates(path, "is not a text file", "give a .dat of two columns") from error
    rows = []
    for number, line in enumerate(lines, start=1):
        words = line.replace(",", " ").split()
        try:
            values = [number_in(word) for word in words]
        except ValueError:
            values = []
        if len(values) == 2 and np.max(np.abs(values)) <= _FARTHEST:
            rows.append(values)
        elif words and (rows or number > 2):
            raise _bad_coordinates(
                path,
                f"not two finite numbers, {_FARTHEST:g} at most",
                "give x and z on each line",
                line=number,
                given=repr(line.strip()),
            )
    if len(rows) < _FEWEST_POINTS:
        raise _bad_coordinates(
            path,
            f"only {len(rows)} points found",
            f"give at least {_FEWEST_POINTS} points around the section",
        )
    return np.array(rows)


def _as_one_loop(points: FloatArray) -> FloatArray:
    """Put two surfaces listed one after the other, headed by their counts, into one loop."""
    upper, lower = points[0]
    if upper >= 5 and lower >= 5 and upper + lower == len(points) - 1:
        split = 1 + int(upper)
        return np.vstack([points[1:split][::-1], points[split + 1 :]])
    return points


def _resampled(path: Path, upper: FloatArray, lower: FloatArray) -> FloatArray:
    """Outline on our own stations, after checking that the surfaces are single-valued and apart."""
    for name, side in (("upper", upper), ("lower", lower)):
        if np.any(np.diff(side[:, 0]) < -1e-9):
            raise _bad_coordinates(
                path, f"x goes back and forth along the {name} surface", "list the points in order"
            )
    x = cosine_stations()
    z_upper, z_lower = _smooth_height(upper, x), _smooth_height(lower, x)
    if np.any(z_upper[1:-1] < z_lower[1:-1] - 1e-6):
        raise _bad_coordinates(
            path, "upper and lower surface cross", "check the order and signs of the points"
        )
    thickness = float(np.max(z_upper - z_lower))
    if not 0.04 <= thickness <= 0.30:
        raise _bad_coordinates(
            path, f"thickness is {100 * thickness:.1f} % of the chord", "use a section of 4 % to 30 %"
        )
    return join_surfaces(x, z_upper, x, z_lower)


def _smooth_height(surface: FloatArray, x: FloatArray) -> FloatArray:
    """Heights at x by a shape-preserving cubic over sqrt(x), which keeps the nose round."""
    from scipy.interpolate import PchipInterpolator

    stations, first = np.unique(np.sqrt(np.clip(surface[:, 0], 0.0, None)), return_index=True)
    height = PchipInterpolator(stations, surface[first, 1])
    return np.asarray(height(np.minimum(np.sqrt(x), stations[-1])))


def _bad_coordinates(
    path: Path, problem: str, hint: str, *, line: int | None = None, given: str = ""
) -> DesignError:
    key = "canopy.airfoil.coordinates"
    return DesignError(Mistake(key=key, file=path.name, line=line, given=given, problem=problem, hint=hint))
