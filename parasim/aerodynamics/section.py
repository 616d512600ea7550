"""Section polars: the shipped tables of the section families, and fast look-up of lift, drag and moment.

Everything here is two-dimensional and about one section. Angles of attack are measured against the x axis of
the outline (parasim/geometry/airfoil.py), moments about the quarter chord, nose-up positive. Brake enters
as the deflection of the trailing edge, positive down.
"""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from parasim.aerodynamics.section_extension import (
    GRID_ALPHA,
    GRID_SLOPE,
    GRID_STEP,
    PLATE_NORMAL_FORCE,
    SLOPE_STEP,
    between,
    extended,
)
from parasim.aerodynamics.section_network import (
    TABLE_REYNOLDS,
    TABLE_SLOPE,
    table_of_file,
)
from parasim.errors import DesignError, Mistake
from parasim.geometry.airfoil import check_family
from parasim.rotations import FloatArray

TRUSTED_SLOPE = float(TABLE_SLOPE[-1])
"""Trailing-edge deflection up to which the tables hold; plain-flap laws, unvalidated, go on from there.
[rad]"""

TABLE_PATH = Path(__file__).parent / "data" / "sections.npz"


@dataclass(frozen=True, kw_only=True, eq=False)
class SectionPolar:
    """Coefficients of one section at one Reynolds number, over the full circle and all brake.

    Parameters
    ----------
    alpha : ndarray, shape (361,)
        Angles of attack -pi to pi, one degree apart. [rad]
    deflection : ndarray, shape (25,)
        Trailing-edge deflections 0 to 120 degrees, five degrees apart, positive down. [rad]
    cl, cd, cm : ndarray, shape (25, 361)
        Lift, drag and moment about the quarter chord (nose-up positive) on the unbraked chord. [-]
    reynolds : float
        Reynolds number on the chord. [-]
    trusted_alpha : (float, float)
        Range of angle of attack the unbraked table rests on; outside it the plate law takes over. [rad]
    stall_alpha : float
        Angle of attack of the greatest lift without brake. [rad]
    caveats : tuple of str
        Where the polar goes beyond its sources.
    """

    alpha: FloatArray
    deflection: FloatArray
    cl: FloatArray
    cd: FloatArray
    cm: FloatArray
    reynolds: float
    trusted_alpha: tuple[float, float]
    stall_alpha: float
    caveats: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Have the tables stay as they are."""
        for array in (self.alpha, self.deflection, self.cl, self.cd, self.cm):
            array.flags.writeable = False

    @cached_property
    def _cells(self) -> tuple[FloatArray, ...]:
        """The tables laid out cell by cell for fast look-up."""
        return tuple(_bilinear_cells(f) for f in (self.cl, self.cd, self.cm))

    def coefficients(
        self, alpha: FloatArray | float, deflection: FloatArray | float = 0.0
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Lift, drag and moment coefficients, bilinear between the grid points.

        Parameters
        ----------
        alpha : float or ndarray
            Angle of attack, any value; wrapped to the circle. [rad]
        deflection : float or ndarray, broadcast against alpha
            Trailing-edge deflection; held at the ends of the grid (0 and 120 degrees). [rad]

        Returns
        -------
        cl, cd, cm : ndarray, the broadcast shape
        """
        cell, u, v = self._locate(alpha, deflection)
        cl, cd, cm = (_bilinear(cells.take(cell, axis=0), u, v) for cells in self._cells)
        return cl, cd, cm

    def lift_and_slope(
        self, alpha: FloatArray | float, deflection: FloatArray | float = 0.0
    ) -> tuple[FloatArray, FloatArray]:
        """Lift coefficient and its exact derivative with respect to alpha. [-], [1/rad]

        Parameters are those of `coefficients`. The derivative is that of the bilinear surface: constant
        along a degree, with steps at the grid points.
        """
        cell, u, v = self._locate(alpha, deflection)
        f = self._cells[0].take(cell, axis=0)
        return _bilinear(f, u, v), (f[..., 1] + v * f[..., 3]) / GRID_STEP

    def _locate(
        self, alpha: FloatArray | float, deflection: FloatArray | float
    ) -> tuple[npt.NDArray[np.intp], FloatArray, FloatArray]:
        """Cell number and place within the cell (0 to 1), along alpha and along deflection."""
        turns = (np.asarray(alpha, dtype=np.float64) + np.pi) * (0.5 / np.pi)
        along = (turns - np.floor(turns)) * 360.0
        across = np.clip(
            np.asarray(deflection, dtype=np.float64) / SLOPE_STEP, 0.0, len(self.deflection) - 1.0
        )
        column = np.minimum(along.astype(np.intp), 359)
        row = np.minimum(across.astype(np.intp), len(self.deflection) - 2)
        u, v = np.broadcast_arrays(along - column, across - row)
        return row * 360 + column, u, v


def _bilinear_cells(table: FloatArray) -> FloatArray:
    """Per grid cell f, df/du, df/dv and d2f/dudv; shape (cells, 4)."""
    corner, right, up, far = table[:-1, :-1], table[:-1, 1:], table[1:, :-1], table[1:, 1:]
    parts = [corner, right - corner, up - corner, far - right - up + corner]
    return np.stack(parts, axis=-1).reshape(-1, 4)


def _bilinear(f: FloatArray, u: FloatArray, v: FloatArray) -> FloatArray:
    """Value at (u, v) in the cells f, shape (..., 4)."""
    return np.asarray(f[..., 0] + v * f[..., 2] + u * (f[..., 1] + v * f[..., 3]))


@lru_cache(maxsize=8)
def build_section_polar(
    *, family: str, thickness: float, reynolds: float, plate_normal_force: float = PLATE_NORMAL_FORCE
) -> SectionPolar:
    """Polar of a shipped section family.

    Parameters
    ----------
    family : str
        A key of `parasim.geometry.airfoil.FAMILIES`.
    thickness : float
        Thickness ratio, 0.09 to 0.21. [-]
    reynolds : float
        Reynolds number on the chord; held at the ends of the table (55 000 and 1.41 million). [-]
    plate_normal_force : float
        Normal-force coefficient across the stream: 1.98 for an endless plate, 1.17 for aspect ratio
        about 2. [-] Source: [Hoerner1965].

    Raises
    ------
    DesignError
        If the family or thickness is not in the tables.

    Notes
    -----
    The tables were made with a network trained on a panel and boundary-layer method, transition tripped at
    0.05 chord. Outside the trusted range they are blended into a plate law over the full circle. Above 40
    degrees of deflection the network's brake increment is stretched by the plain-flap effectiveness, and the
    plain-flap drag law is added; see parasim/aerodynamics/section_extension.py.
    """
    check_family(family)
    table = _family_table(family)
    t = table["thickness"]
    if not t[0] - 1e-6 <= thickness <= t[-1] + 1e-6:
        raise DesignError(
            Mistake(
                key="canopy.airfoil.thickness",
                given=f"{thickness:.4g}",
                problem=f"outside the {family} table",
                hint=f"use {t[0]:.2f}" + (f" to {t[-1]:.2f}" if len(t) > 1 else ""),
            )
        )
    at_thickness = {name: between(t, table[name], thickness) for name in ("cl", "cd", "cm", "trusted")}
    return _polar_from_table(at_thickness, reynolds, plate_normal_force)


def build_section_polar_from_coordinates(
    path: Path | str,
    reynolds: float,
    *,
    plate_normal_force: float = PLATE_NORMAL_FORCE,
    progress: Callable[[str], object] | None = None,
) -> SectionPolar:
    """Polar of a section of the user's own, from a file of coordinates.

    Parameters
    ----------
    path : Path or str
        File of coordinates; see `parasim.geometry.coordinates.read_coordinates`.
    reynolds : float
        Reynolds number on the chord. [-]
    plate_normal_force : float
        See `build_section_polar`. [-]
    progress : callable, optional
        Told when the network has to be asked; the default writes to stderr.

    Raises
    ------
    DesignError
        If the file is no section outline.
    ParasimError
        If the section is new and neuralfoil, the extra `parasim[sections]`, is not installed.
    """
    table = table_of_file(path, progress=progress)
    arrays = {name: getattr(table, name) for name in ("cl", "cd", "cm", "trusted")}
    return _polar_from_table(arrays, reynolds, plate_normal_force)


@lru_cache(maxsize=8)
def _family_table(family: str) -> dict[str, FloatArray]:
    """One family's arrays from the shipped file: thickness, cl, cd, cm, trusted."""
    with np.load(TABLE_PATH) as file:
        names = ("thickness", "cl", "cd", "cm", "trusted")
        return {name: np.asarray(file[f"{family}/{name}"], dtype=np.float64) for name in names}


def _polar_from_table(
    table: dict[str, FloatArray], reynolds: float, plate_normal_force: float
) -> SectionPolar:
    """Polar at one Reynolds number from arrays of shape (n_reynolds, n_slope, n_alpha)."""
    log_re = np.log(TABLE_REYNOLDS)
    names = ("cl", "cd", "cm", "trusted")
    cl, cd, cm, trusted = (between(log_re, table[name], np.log(reynolds)) for name in names)
    full = extended(cl, cd, cm, trusted, plate_normal_force=plate_normal_force)
    return SectionPolar(
        alpha=GRID_ALPHA.copy(),
        deflection=GRID_SLOPE.copy(),
        cl=full[0],
        cd=full[1],
        cm=full[2],
        reynolds=reynolds,
        trusted_alpha=(float(trusted[0, 0]), float(trusted[0, 1])),
        stall_alpha=float(GRID_ALPHA[170:240][np.argmax(full[0][0, 170:240])]),
        caveats=_caveats(reynolds),
    )


def _caveats(reynolds: float) -> tuple[str, ...]:
    notes = []
    if not TABLE_REYNOLDS[0] <= reynolds <= TABLE_REYNOLDS[-1]:
        notes.append(
            f"Reynolds number {reynolds:.3g} is outside the section tables "
            f"({TABLE_REYNOLDS[0]:.3g} to {TABLE_REYNOLDS[-1]:.3g}); the nearest end is used"
        )
    return tuple(notes)


def arrays_checksum(arrays: Mapping[str, npt.NDArray[np.generic]]) -> str:
    """SHA-256 over names, types, shapes and bytes, in order of name."""
    digest = hashlib.sha256()
    for name in sorted(arrays):
        array = np.ascontiguousarray(arrays[name])
        digest.update(f"{name} {array.dtype.str} {array.shape}".encode())
        digest.update(array.tobytes())
    return digest.hexdigest()
