"""Where the lines hold the canopy: line length and rigging angle, or the row lengths that mean the same.

The rigging angle is the nose-down angle of the chord line against the perpendicular to the line from the
confluence to the quarter chord of the centre rib; positive nose-down. Authors differ in sign.
"""

from dataclasses import dataclass
from math import atan2, cos, hypot, sin

import numpy as np

from parasim.config.design import Design
from parasim.geometry.airfoil import lower_surface
from parasim.rotations import FloatArray

QUARTER_CHORD = 0.25


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
    """Pose from the design: given directly, or worked out from its row lengths."""
    lines = design.lines
    if lines.length is not None and lines.rigging_angle is not None:
        return Rigging(line_length=lines.length, rigging_angle=lines.rigging_angle)
    assert lines.row_lengths is not None  # the design file gives one or the other
    chordwise = np.array([lines.rows[name] for name in lines.row_lengths])
    return rigging_from_rows(
        lengths=np.array(list(lines.row_lengths.values())),
        chord=design.canopy.chord,
        chordwise=chordwise,
        height=lower_surface(outline, chordwise),
    )
