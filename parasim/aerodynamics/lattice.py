"""Vortex lattice on the arced chord strips.

Bound vortices and control points sit at mid-angles of a cosine spacing along the arc; trailing vortices run
along the chord to the trailing edge and leave it along the undisturbed flow. The section's camber, thickness
and viscosity do not live here: they come in strip by strip (`parasim.aerodynamics.strips`) as an incidence
increment that makes the strip lift what its section polar lifts.

Body axes: x forward, y right, z down. Bound vorticity is positive towards the right tip, which lifts.
Source: [KatzPlotkin2001] for the filament formulas.
"""

from dataclasses import dataclass

import numpy as np

from parasim.geometry.surface import Strips
from parasim.rotations import FloatArray

CHORDWISE_PANELS = 4
CORE = 1e-9
"""Softening of a filament's core, over the length scale of the canopy squared: keeps 0/0 out, no more. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lattice:
    """Influence of the bound vortices on the control points, but for the wakes behind the trailing edge.

    Panels are ordered by chordwise row, then strip.

    Attributes
    ----------
    strips : Strips
        What it was built on.
    control : ndarray, shape (n_panels, 3)
        [m]
    normal : ndarray, shape (n_panels, 3)
        Outward unit vectors.
    bound_influence : ndarray, shape (n_panels, n_panels)
        Normal velocity at a control point per unit circulation of a panel, its wake left out. [1/m]
    """

    strips: Strips
    control: FloatArray
    normal: FloatArray
    bound_influence: FloatArray


def segment_velocity(point: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Velocity of a straight vortex filament of unit circulation. Source: [KatzPlotkin2001]

    Parameters
    ----------
    point, start, end : ndarray, shape (..., 3)
        Broadcast against each other. [m]

    Returns
    -------
    ndarray, shape (..., 3)
        Per unit circulation, right-handed about start to end. [1/m]
    """
    r1, r2 = point - start, point - end
    normal = np.cross(r1, r2)
    squared = np.sum(normal**2, axis=-1)
    n1, n2 = np.linalg.norm(r1, axis=-1), np.linalg.norm(r2, axis=-1)
    along = np.sum((r1 - r2) * (r1 / n1[..., None] - r2 / n2[..., None]), axis=-1)
    core = CORE * np.sum((end - start) ** 2, axis=-1) ** 2
    return (along / (4 * np.pi * (squared + core)))[..., None] * normal


def wake_normal_velocity(
    control: FloatArray, normal: FloatArray, start: FloatArray, direction: FloatArray
) -> FloatArray:
    """Normal velocity of half-infinite vortex filaments of unit circulation. Source: [KatzPlotkin2001]

    Parameters
    ----------
    control, normal : ndarray, shape (n_points, 3)
        Where, and along what. [m]
    start : ndarray, shape (n_filaments, 3)
        Where they begin. [m]
    direction : ndarray, shape (n_directions, 3)
        Unit vectors along which they leave.

    Returns
    -------
    ndarray, shape (n_directions, n_points, n_filaments)
        Per unit circulation, right-handed about the direction. [1/m]
    """
    r = control[:, None] - start[None]
    distance = np.linalg.norm(r, axis=-1)
    # n . (e x r) = e . (r x n)
    turned = np.cross(r, normal[:, None])
    above = np.einsum("dk,pfk->dpf", direction, turned)
    along = np.einsum("dk,pfk->dpf", direction, r)
    return above / (4 * np.pi * distance * np.maximum(distance - along, CORE * distance))


def build_lattice(strips: Strips) -> Lattice:
    """Lattice with `CHORDWISE_PANELS` equal panels along each strip."""
    rows = (np.arange(CHORDWISE_PANELS)[:, None]) / CHORDWISE_PANELS
    quarter, three_quarter = 0.25 / CHORDWISE_PANELS, 0.75 / CHORDWISE_PANELS
    to_trail = strips.edge_trail - strips.edge_lead
    bound = (strips.edge_lead + (rows + quarter)[..., None] * to_trail).reshape(CHORDWISE_PANELS, -1, 3)
    chordwise = strips.chord[:, None] * strips.chordwise
    control = (strips.leading_edge + (rows + three_quarter)[..., None] * chordwise).reshape(-1, 3)
    normal = np.tile(strips.outward, (CHORDWISE_PANELS, 1))
    left, right = bound[:, :-1].reshape(-1, 3), bound[:, 1:].reshape(-1, 3)
    trail_left = np.tile(strips.edge_trail[:-1], (CHORDWISE_PANELS, 1))
    trail_right = np.tile(strips.edge_trail[1:], (CHORDWISE_PANELS, 1))
    point = control[:, None]
    velocity = (
        segment_velocity(point, trail_left, left)
        + segment_velocity(point, left, right)
        + segment_velocity(point, right, trail_right)
    )
    return Lattice(
        strips=strips,
        control=control,
        normal=normal,
        bound_influence=np.einsum("pqk,pk->pq", velocity, normal),
    )


def influence(lattice: Lattice, direction: FloatArray) -> FloatArray:
    """Normal velocity at every control point per unit circulation of every panel, wakes included.

    Parameters
    ----------
    lattice : Lattice
        Of n_panels.
    direction : ndarray, shape (n_directions, 3)
        Unit vectors of the undisturbed flow relative to the canopy.

    Returns
    -------
    ndarray, shape (n_directions, n_panels, n_panels)
        [1/m]
    """
    wake = wake_normal_velocity(lattice.control, lattice.normal, lattice.strips.edge_trail, direction)
    horseshoe = wake[..., 1:] - wake[..., :-1]
    return lattice.bound_influence + np.tile(horseshoe, (1, 1, CHORDWISE_PANELS))


def trefftz_downwash(strips: Strips, direction: FloatArray) -> FloatArray:
    """Downwash of the wake at the strips, far downstream, along the strips' own wake normals.

    Half of it, times circulation and width, is the induced drag of a strip. The near field of an arced
    lattice reads several per cent low. Source: [KatzPlotkin2001]

    Parameters
    ----------
    strips : Strips
        Of n_strips.
    direction : ndarray, shape (n_directions, 3)
        Unit vectors of the undisturbed flow relative to the canopy.

    Returns
    -------
    ndarray, shape (n_directions, n_strips, n_strips)
        Downwash at strip i per unit circulation of strip j, positive when it makes drag. [1/m]
    """
    mid = strips.leading_edge + strips.chord[:, None] * strips.chordwise
    r = mid[:, None] - strips.edge_trail[None]
    along = np.einsum("dk,ijk->dij", direction, r)
    flat = np.sum(r**2, axis=-1) - along**2
    # Drag of a unit vortex s in the velocity (e x r)/(2 pi r^2): ((e x r) x s) . e = (r.e)(e.s) - r.s
    across = np.einsum("ik,ijk->ij", strips.spanwise, r)
    strip_along = np.einsum("dk,ik->di", direction, strips.spanwise)
    far_downwash = (strip_along[..., None] * along - across) / (2 * np.pi * np.maximum(flat, 1e-12))
    return far_downwash[..., 1:] - far_downwash[..., :-1]
