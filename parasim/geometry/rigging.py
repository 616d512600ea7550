"""Where the lines hold the canopy: line length and rigging angle, or the row lengths that mean the same.

The rigging angle is the nose-down angle of the chord line against the perpendicular to the line from the
confluence to the quarter chord of the centre rib; positive nose-down. Authors differ in sign.
"""

from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, sin

import numpy as np

from parasim.config.canopy import AirfoilSpec
from parasim.config.design import Design
from parasim.config.lines import RIGGING_LIMITS
from parasim.config.loader import override
from parasim.errors import DesignError, Mistake
from parasim.geometry.airfoil import build_outline, lower_surface
from parasim.geometry.coordinates import read_coordinates
from parasim.rotations import FloatArray

QUARTER_CHORD = 0.25

REACHED = 1e-6
"""Misfit of two rows up to which they reach their tabs. [m]"""


def build_section(spec: AirfoilSpec) -> FloatArray:
    """Outline of the design's section, shape (n, 2): of a family, or from a file of coordinates."""
    if spec.coordinates is not None:
        return read_coordinates(spec.coordinates)
    assert spec.family is not None  # the design file gives one or the other
    assert spec.thickness is not None
    return build_outline(spec.family, spec.thickness)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rigging:
    """Pose of the canopy over the confluence.

    Attributes
    ----------
    line_length : float
        Confluence to the quarter chord of the centre rib. [m]
    rigging_angle : float
        Positive nose-down. [rad]
    misfit : float
        Largest difference between the row lengths asked for and those of this pose: more than two rows can
        contradict each other. [m]
    """

    line_length: float
    rigging_angle: float
    misfit: float = 0.0


def row_lengths(
    *, rigging: Rigging, chord: float, chordwise: FloatArray, height: FloatArray | float = 0.0
) -> FloatArray:
    """Straight lengths from the confluence to tabs on the centre rib.

    Parameters
    ----------
    rigging : Rigging
        Pose of the canopy.
    chord : float
        Of the centre rib. [m]
    chordwise, height : ndarray, shape (n_rows,)
        Tab positions over chord, from the leading edge and up from the chord line. [-]

    Returns
    -------
    ndarray, shape (n_rows,)
        [m]

    Examples
    --------
    >>> from math import radians
    >>> pose = Rigging(line_length=0.75, rigging_angle=radians(6))
    >>> rows = np.array([0.10, 0.35, 0.60, 0.85])
    >>> (1000 * row_lengths(rigging=pose, chord=0.5, chordwise=rows)).round().tolist()
    [746.0, 757.0, 788.0, 836.0]
    """
    forward = (QUARTER_CHORD - np.asarray(chordwise)) * chord
    up = np.asarray(height) * chord
    x = -rigging.line_length * sin(rigging.rigging_angle) + forward
    z = rigging.line_length * cos(rigging.rigging_angle) + up
    return np.hypot(x, z)


def rigging_from_rows(
    *, lengths: FloatArray, chord: float, chordwise: FloatArray, height: FloatArray | float = 0.0
) -> Rigging:
    """Pose that gives tabs on the centre rib their lengths: exact for two rows, least squares for more.

    Parameters
    ----------
    lengths : ndarray, shape (n_rows,)
        Confluence to tab, n_rows at least 2. [m]
    chord, chordwise, height
        As in `row_lengths`.
    """
    forward = (QUARTER_CHORD - np.asarray(chordwise)) * chord
    up = np.broadcast_to(np.asarray(height) * chord, forward.shape)
    # Confluence at (x, -z) under the quarter chord: start straight below the middle of the rows.
    x, z = float(forward.mean()), -float(np.min(lengths))
    for _ in range(50):
        dx, dz = x - forward, z - up
        distance = np.hypot(dx, dz)
        jacobian = np.column_stack([dx / distance, dz / distance])
        step = np.linalg.lstsq(jacobian, lengths - distance, rcond=None)[0]
        x, z = x + float(step[0]), z + float(step[1])
        if float(np.abs(step).max()) < 1e-12:
            break
    misfit = float(np.abs(np.hypot(x - forward, z - up) - lengths).max())
    return Rigging(line_length=hypot(x, z), rigging_angle=atan2(x, -z), misfit=misfit)


def build_rigging(design: Design, outline: FloatArray) -> Rigging:
    """Pose from the design: given directly, or worked out from its row lengths.

    Raises
    ------
    DesignError
        If row lengths do not reach their tabs, or give a pose that no file may give directly.
    """
    lines = design.lines
    if lines.length is not None and lines.rigging_angle is not None:
        return Rigging(line_length=lines.length, rigging_angle=lines.rigging_angle)
    assert lines.row_lengths is not None  # the design file gives one or the other
    chordwise = np.array([lines.rows[name] for name in lines.row_lengths])
    pose = rigging_from_rows(
        lengths=np.array(list(lines.row_lengths.values())),
        chord=design.canopy.chord,
        chordwise=chordwise,
        height=lower_surface(outline, chordwise),
    )
    if len(chordwise) == 2 and not pose.misfit < REACHED:
        raise _refused("they do not reach", "let them differ by less than the distance between the rows")
    _told_directly(design, pose)
    return pose


def posed(design: Design) -> Design:
    """The design with its pose given by length and rigging angle, as its row lengths give it.

    Raises
    ------
    DesignError
        As from `build_rigging`.
    """
    if design.lines.row_lengths is None:
        return design
    return _told_directly(design, build_rigging(design, build_section(design.canopy.airfoil)))


def _told_directly(design: Design, pose: Rigging) -> Design:
    angle, (low, high) = degrees(pose.rigging_angle), RIGGING_LIMITS
    if not low <= angle <= high:
        raise _refused(
            f"the rows rig the canopy at {angle:.1f} deg", f"change them to reach {low:g} to {high:g} deg"
        )
    return override(
        design,
        {
            "lines.row_lengths": None,
            "lines.length": pose.line_length,
            "lines.rigging_angle": f"{angle!r} deg",
        },
    )


def _refused(problem: str, hint: str) -> DesignError:
    return DesignError(Mistake(key="lines.row_lengths", problem=problem, hint=hint))
