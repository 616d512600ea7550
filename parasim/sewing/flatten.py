"""Skin between two ribs laid flat: edge lengths kept, width along the arc, extra width for the bulge.

Everything in millimetres.
"""

import numpy as np

from parasim.geometry.canopy import Canopy
from parasim.rotations import FloatArray

_SAME = 1e-9  # chords


def arc_length(points: FloatArray) -> FloatArray:
    """Distance along a line through points, shape (n, 2), from its start: shape (n,)."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def at_distance(points: FloatArray, distance: FloatArray | float) -> FloatArray:
    """Points at distances along a line through points, shape (..., 2)."""
    along = arc_length(points)
    return np.stack([np.interp(distance, along, points[:, i]) for i in (0, 1)], axis=-1)


def developed_strip(
    *, left: FloatArray, right: FloatArray, width: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Lay the strip between two ribs flat.

    Parameters
    ----------
    left, right : ndarray, shape (n, 2)
        Edge of either rib, from front to rear: aft and up, in the plane of the rib. [mm]
    width : ndarray, shape (n,)
        Cloth across at each station, square to the ribs. [mm]

    Returns
    -------
    left, right : ndarray, shape (n, 2)
        The two edges laid flat: x aft along the middle line, y from left to right, symmetric about the x axis
        where the ribs are alike. Each piece of an edge is as long as on its rib. [mm]

    Notes
    -----
    Station by station two triangles are laid down, of the two pieces of edge, the station's width and one
    diagonal. The diagonal d from left i to right i + 1 has d² = w² + r² + 2 (D·e + b (b' - b) / 2), with w
    the distance between the ribs' points, r and e the length and direction of the right edge's piece, D the
    offset of the two points in the ribs' plane, b and b' the widths here and behind. Between like ribs of a
    fan this is the exact development.
    """
    offset = right - left
    across = np.hypot(width, np.hypot(*offset.T))
    step_left, step_right = (np.hypot(*np.diff(edge, axis=0).T) for edge in (left, right))
    skew = np.einsum("ij,ij->i", offset[:-1], np.diff(right, axis=0))
    diagonal = np.sqrt(across[:-1] ** 2 + step_right**2 + 2 * skew + width[:-1] * np.diff(width))
    on_left, on_right = [np.zeros(2)], [np.array([0.0, across[0]])]
    for i in range(len(step_left)):
        ahead = _third_corner(on_left[-1], diagonal[i], on_right[-1], step_right[i])
        on_left.append(_third_corner(on_left[-1], step_left[i], ahead, across[i + 1]))
        on_right.append(ahead)
    return _on_axis(np.array(on_left), np.array(on_right))


def _third_corner(p: FloatArray, from_p: float, q: FloatArray, from_q: float) -> FloatArray:
    """Corner of a triangle over p and q, to the right of the way from p to q."""
    base = float(np.hypot(*(q - p)))
    along = (from_p**2 - from_q**2 + base**2) / (2 * base)
    off = np.sqrt(max(from_p**2 - along**2, 0.0))
    u = (q - p) / base
    return np.asarray(p + along * u + off * np.array([u[1], -u[0]]))


def _on_axis(left: FloatArray, right: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Both edges moved and turned: middles of front and rear on the x axis, the front at x = 0."""
    front, rear = (left[0] + right[0]) / 2, (left[-1] + right[-1]) / 2
    c, s = (rear - front) / np.hypot(*(rear - front))
    turn = np.array([[c, -s], [s, c]])
    return (left - front) @ turn, (right - front) @ turn


def strip_width(
    canopy: Canopy, *, left: FloatArray, right: FloatArray, arc_angle: float, billow: FloatArray | float
) -> FloatArray:
    """Cloth between two ribs at each station: (R + z) times the arc angle between them, plus the billow.

    Parameters
    ----------
    canopy : Canopy
        For the arc radius R.
    left, right : ndarray, shape (n, 2)
        As in `developed_strip`. [mm]
    arc_angle : float
        From rib to rib. [rad]
    billow : float or ndarray, shape (n,)
        Extra width over width. [-]

    Returns
    -------
    ndarray, shape (n,)
        [mm]
    """
    height = (left[:, 1] + right[:, 1]) / 2
    return np.asarray((1e3 * canopy.arc_radius + height) * arc_angle * (1 + billow))
