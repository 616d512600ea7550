"""Mass, centre and inertia, and how they add."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from parasim.rotations import FloatArray, skew


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MassProperties:
    """Of a rigid body, about the origin of the body axes.

    Attributes
    ----------
    mass : float
        [kg]
    first_moment : ndarray, shape (3,)
        Mass times its centre. [kg m]
    inertia : ndarray, shape (3, 3)
        About the origin. [kg m²]
    """

    mass: float
    first_moment: FloatArray
    inertia: FloatArray

    @property
    def center(self) -> FloatArray:
        """Centre of mass, shape (3,). [m]"""
        return self.first_moment / self.mass

    @property
    def matrix(self) -> FloatArray:
        """Momentum, and its moment about the origin, by velocity of the origin and rates: shape (6, 6)."""
        shift = skew(self.first_moment)
        return np.block([[self.mass * np.eye(3), -shift], [shift, self.inertia]])


def of_points(mass: FloatArray, position: FloatArray) -> MassProperties:
    """Of point masses: shapes (n,) [kg] and (n, 3) [m]."""
    squared = np.einsum("n,nk,nk->", mass, position, position)
    return MassProperties(
        mass=float(mass.sum()),
        first_moment=mass @ position,
        inertia=squared * np.eye(3) - np.einsum("n,ni,nj->ij", mass, position, position),
    )


def of_box(mass: float, center: FloatArray, size: tuple[float, float, float]) -> MassProperties:
    """Of a solid box with edges `size` along x, y and z. [kg], [m]"""
    point = of_points(np.array([mass]), center[None])
    x2, y2, z2 = (edge**2 for edge in size)
    own = mass / 12 * np.diag([y2 + z2, x2 + z2, x2 + y2])
    return MassProperties(mass=mass, first_moment=point.first_moment, inertia=point.inertia + own)


def total(parts: Iterable[MassProperties]) -> MassProperties:
    """All parts as one body."""
    parts = tuple(parts)
    return MassProperties(
        mass=sum(part.mass for part in parts),
        first_moment=np.sum([part.first_moment for part in parts], axis=0),
        inertia=np.sum([part.inertia for part in parts], axis=0),
    )
