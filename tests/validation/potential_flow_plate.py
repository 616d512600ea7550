"""Potential flow about a thin rigid plate, solved with vortex rings: an independent source of apparent mass.

A plate of no thickness is cut into rings of constant circulation (the same as panels of constant doublet
strength: the circulation is the jump of the potential). The rings must cancel the plate's own normal
velocity at one point each, and the kinetic energy of the air is half the integral of jump times normal
velocity. Nothing here is shared with the package. Source: [KatzPlotkin2001] for the filament, [Lamb1932] for
the energy.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

Shape = Callable[[np.ndarray, np.ndarray], np.ndarray]


def rectangle(*, span: float, chord: float, arc_radius: float = 1e6) -> Shape:
    """Plate bent to a circular arc, tips down; origin at the middle of the centre chord, z down."""

    def points(xi: np.ndarray, eta: np.ndarray) -> np.ndarray:
        theta = 0.5 * span * eta / arc_radius
        z = 2.0 * arc_radius * np.sin(0.5 * theta) ** 2
        return np.stack([0.5 * chord * xi, arc_radius * np.sin(theta), z], axis=-1)

    return points


def disc(*, radius: float) -> Shape:
    """Flat circular plate; the square is mapped on it with its sides to arcs."""

    def points(xi: np.ndarray, eta: np.ndarray) -> np.ndarray:
        x, y = xi * np.sqrt(1.0 - 0.5 * eta**2), eta * np.sqrt(1.0 - 0.5 * xi**2)
        return radius * np.stack([x, y, np.zeros_like(x)], axis=-1)

    return points


def filament(at: np.ndarray, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Velocity of straight filaments of unit circulation."""
    a, b = at - start, at - end
    la, lb = np.linalg.norm(a, axis=-1), np.linalg.norm(b, axis=-1)
    scale = (la + lb) / (4.0 * np.pi * la * lb * (la * lb + (a * b).sum(axis=-1)))
    return np.cross(a, b) * scale[..., np.newaxis]


def apparent_mass(shape: Shape, *, n_chord: int, n_span: int) -> np.ndarray:
    """Apparent mass matrix (6, 6) about the origin per unit of density, for (u, v, w, p, q, r)."""
    corners = shape(*_grid(n_chord, n_span, offset=0.0))
    centres = shape(*_grid(n_chord, n_span, offset=0.5)).reshape(-1, 3)
    ring = [
        side.reshape(-1, 3)
        for side in (corners[:-1, :-1], corners[:-1, 1:], corners[1:, 1:], corners[1:, :-1])
    ]
    twice_area = np.cross(ring[2] - ring[0], ring[1] - ring[3])
    area = 0.5 * np.linalg.norm(twice_area, axis=-1)
    normal = 0.5 * twice_area / area[:, np.newaxis]
    velocity = sum(
        filament(centres[:, np.newaxis], ring[i][np.newaxis], ring[(i + 1) % 4][np.newaxis]) for i in range(4)
    )
    influence = (velocity * normal[:, np.newaxis]).sum(axis=-1)
    motion = np.concatenate([normal, np.cross(centres, normal)], axis=1)
    jump = np.linalg.solve(influence, motion)
    energy = (motion * area[:, np.newaxis]).T @ jump
    return energy * np.sign(energy[2, 2])


def _grid(n_chord: int, n_span: int, *, offset: float) -> list[np.ndarray]:
    """Cosine spacing, edges for offset 0 and mid-angles for offset one half."""
    i = np.arange(n_chord + 1 if offset == 0.0 else n_chord) + offset
    j = np.arange(n_span + 1 if offset == 0.0 else n_span) + offset
    xi, eta = -np.cos(np.pi * i / n_chord), -np.cos(np.pi * j / n_span)
    return np.meshgrid(xi, eta, indexing="ij")
