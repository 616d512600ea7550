"""Section polars: shipped tables near zero lift to stall, a plate law past stall, flap laws for deep brake.

Everything here is two-dimensional and about one section. Angles of attack are measured against the x axis of
the outline (parasim/geometry/airfoil.py), moments about the quarter chord, nose-up positive. Brake enters
as the slope of the trailing edge, positive down.
"""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from parasim.aerodynamics.section_network import (
    TABLE_ALPHA,
    TABLE_REYNOLDS,
    TABLE_SLOPE,
    TRUST_LIMITS,
    table_of_file,
)
from parasim.errors import DesignError, Mistake
from parasim.geometry.airfoil import (
    BEND_FRACTION,
    check_family,
    trailing_edge_advance,
    trailing_edge_drop,
)
from parasim.rotations import FloatArray

TABLE_PATH = Path(__file__).parent / "data" / "sections.npz"

PLATE_NORMAL_FORCE_2D = 1.98
"""Normal force of a plate of endless span across the stream. [-] Source: [Hoerner1965]."""

PLATE_NORMAL_FORCE = 1.17
"""Normal force of a plate of aspect ratio about 2 across the stream. [-] Source: [Hoerner1965]."""

BLEND_WIDTH = np.radians(25.0)
"""Beyond the trusted range the table gives way to the plate law over this angle. [rad] Our choice."""

KNEE_SLOPE = 1.5
"""Lift slope at which the lift curve counts as bent over. [1/rad] Our choice."""

ARC_AS_FLAP = 0.682
"""Plain-flap angle over trailing-edge slope of a bend with the same lift, both 0.3 chord long. [-]

From Glauert's integrals; tests/validation/test_thin_aerofoil.py works them out. Source: [Glauert1926].
"""

STEEPEST_RISE, STEEPEST_FALL = 8.0, 3.0
"""Lift slopes, up and down, beyond which the table is not followed. [1/rad] Our choice.

Thin-aerofoil theory gives 2 pi for attached flow; 3 /rad is a loss of 0.05 a degree.
"""

RANGE_PER_SLOPE = 0.3
"""Most that the ends of the table's range of alpha move with trailing-edge slope. [-] Our choice."""

FLAP_EFFECTIVENESS = ((20.0, 0.68), (30.0, 0.55), (40.0, 0.47), (60.0, 0.38), (80.0, 0.29))
"""Plain-flap angle [deg] and share of thin-flap lift that is reached [-]; from memory, unverified."""

_STALL_DROP = 0.03  # fall of cl that counts as a stall, against ripples of the network
_GRID_STEP = np.radians(1.0)
_SLOPE_STEP = np.radians(5.0)
_GRID_ALPHA = np.radians(np.arange(-180.0, 181.0))
_GRID_SLOPE = np.radians(np.arange(0.0, 121.0, 5.0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionPolar:
    """Coefficients of one section at one Reynolds number, over the full circle and all brake.

    Parameters
    ----------
    alpha : ndarray, shape (361,)
        Angles of attack -pi to pi, one degree apart. [rad]
    slope : ndarray, shape (25,)
        Trailing-edge slopes 0 to 120 degrees, five degrees apart, positive down. [rad]
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
    slope: FloatArray
    cl: FloatArray
    cd: FloatArray
    cm: FloatArray
    reynolds: float
    trusted_alpha: tuple[float, float]
    stall_alpha: float
    caveats: tuple[str, ...] = ()
    _cells: tuple[FloatArray, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Lay the tables out cell by cell for fast look-up."""
        object.__setattr__(self, "_cells", tuple(_bilinear_cells(f) for f in (self.cl, self.cd, self.cm)))
        for array in (self.alpha, self.slope, self.cl, self.cd, self.cm, *self._cells):
            array.flags.writeable = False

    def coefficients(
        self, alpha: FloatArray | float, slope: FloatArray | float = 0.0
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Lift, drag and moment coefficients, bilinear between the grid points.

        Parameters
        ----------
        alpha : float or ndarray
            Angle of attack, any value; wrapped to the circle. [rad]
        slope : float or ndarray, broadcast against alpha
            Trailing-edge slope; held at the ends of the grid (0 and 120 degrees). [rad]

        Returns
        -------
        cl, cd, cm : ndarray, the broadcast shape
        """
        cell, u, v = self._locate(alpha, slope)
        cl, cd, cm = (_bilinear(cells.take(cell, axis=0), u, v) for cells in self._cells)
        return cl, cd, cm

    def lift_and_slope(
        self, alpha: FloatArray | float, slope: FloatArray | float = 0.0
    ) -> tuple[FloatArray, FloatArray]:
        """Lift coefficient and its exact derivative with respect to alpha, per radian.

        Parameters are those of `coefficients`. The derivative is that of the bilinear surface: constant
        along a degree, with steps at the grid points.
        """
        cell, u, v = self._locate(alpha, slope)
        f = self._cells[0].take(cell, axis=0)
        return _bilinear(f, u, v), (f[..., 1] + v * f[..., 3]) / _GRID_STEP

    def _locate(
        self, alpha: FloatArray | float, slope: FloatArray | float
    ) -> tuple[npt.NDArray[np.intp], FloatArray, FloatArray]:
        """Cell number and place within the cell (0 to 1), along alpha and along slope."""
        turns = (np.asarray(alpha, dtype=np.float64) + np.pi) * (0.5 / np.pi)
        along = (turns - np.floor(turns)) * 360.0
        across = np.clip(np.asarray(slope, dtype=np.float64) / _SLOPE_STEP, 0.0, len(self.slope) - 1.0)
        column = np.minimum(along.astype(np.intp), 359)
        row = np.minimum(across.astype(np.intp), len(self.slope) - 2)
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
    degrees of slope the network's brake increment is stretched by the plain-flap effectiveness, and the
    plain-flap drag law is added; see `_beyond_network`.
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
                mend=f"use {t[0]:.2f}" + (f" to {t[-1]:.2f}" if len(t) > 1 else ""),
            )
        )
    at_thickness = {name: _between(t, table[name], thickness) for name in ("cl", "cd", "cm", "trusted")}
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


def _between(grid: FloatArray, values: FloatArray, at: float) -> FloatArray:
    """Linear interpolation along the first axis, held at the ends."""
    place = float(np.interp(at, grid, np.arange(len(grid))))
    low = min(int(place), max(len(grid) - 2, 0))
    high = min(low + 1, len(grid) - 1)
    return np.asarray(values[low] + (place - low) * (values[high] - values[low]))


def _polar_from_table(
    table: dict[str, FloatArray], reynolds: float, plate_normal_force: float
) -> SectionPolar:
    """Polar at one Reynolds number from arrays of shape (n_reynolds, n_slope, n_alpha)."""
    log_re = np.log(TABLE_REYNOLDS)
    names = ("cl", "cd", "cm", "trusted")
    cl, cd, cm, trusted = (_between(log_re, table[name], np.log(reynolds)) for name in names)
    cl, cd, cm, trusted = _on_slope_grid(cl, cd, cm, trusted)
    plate = _plate_law(np.min(cd, axis=1), plate_normal_force)
    full = _full_circle((cl, cd, cm), plate, _used_range(cl, trusted))
    return SectionPolar(
        alpha=_GRID_ALPHA.copy(),
        slope=_GRID_SLOPE.copy(),
        cl=full[0],
        cd=full[1],
        cm=full[2],
        reynolds=reynolds,
        trusted_alpha=(float(trusted[0, 0]), float(trusted[0, 1])),
        stall_alpha=float(_GRID_ALPHA[170:240][np.argmax(full[0][0, 170:240])]),
        caveats=_caveats(reynolds),
    )


def _caveats(reynolds: float) -> tuple[str, ...]:
    notes = [
        "section: trailing-edge slopes over 40 deg are beyond the network's range "
        "(plain-flap lift and drag laws, unvalidated)",
    ]
    if not TABLE_REYNOLDS[0] <= reynolds <= TABLE_REYNOLDS[-1]:
        notes.append(
            f"section: Reynolds number {reynolds:.3g} is outside the tables "
            f"({TABLE_REYNOLDS[0]:.3g} to {TABLE_REYNOLDS[-1]:.3g}); the nearest end is used"
        )
    return tuple(notes)


def _on_slope_grid(
    cl: FloatArray, cd: FloatArray, cm: FloatArray, trusted: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Table rows on the polar's own slopes, with the flap laws above the table's last slope."""
    inside = np.array([[_between(TABLE_SLOPE, f, s) for s in _GRID_SLOPE] for f in (cl, cd, cm)])
    bounds = np.array([_between(TABLE_SLOPE, trusted, s) for s in _GRID_SLOPE])
    stretch, drag = _beyond_network(_GRID_SLOPE)
    cl, cd, cm = inside
    cl = cl[0] + stretch[:, None] * (cl - cl[0])
    cm = cm[0] + stretch[:, None] * (cm - cm[0])
    return cl, cd + drag[:, None], cm, bounds


def _beyond_network(slope: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Stretch of the brake increment and added drag above the table's last slope (40 degrees).

    Lift and moment grow as those of the plain flap with the bend's lift, at ARC_AS_FLAP times the slope,
    multiplied by its FLAP_EFFECTIVENESS. Drag grows by 1.7 (c_f / c)^1.38 sin^2(flap angle) of the plain flap
    that lets the trailing edge down as far, at half the slope. Source: [Young1947], constants from memory.
    """
    last = TABLE_SLOPE[-1]
    angles, shares = np.radians([p[0] for p in FLAP_EFFECTIVENESS]), [p[1] for p in FLAP_EFFECTIVENESS]
    flap = ARC_AS_FLAP * np.maximum(slope, last)
    reach = flap * np.interp(flap, angles, shares)
    stretch = reach / (ARC_AS_FLAP * last * np.interp(ARC_AS_FLAP * last, angles, shares))
    drop_flap = np.maximum(slope, last) / 2
    drag = 1.7 * BEND_FRACTION**1.38 * (np.sin(drop_flap) ** 2 - np.sin(last / 2) ** 2)
    return stretch, drag


def _used_range(cl: FloatArray, trusted: FloatArray) -> FloatArray:
    """Range of alpha in which each row of the table is used, shape (n_slope, 2): trusted, to the knee.

    At deep brake the network doubts itself while its lift still climbs steadily. To hold the lift there
    would invent an early stall, so the table is followed until the lift curve has flattened to KNEE_SLOPE.
    It ends earlier where the network's lift climbs faster than STEEPEST_RISE (a brake's lift lost at once at
    large negative angles) or falls faster than STEEPEST_FALL: thick sections with a rough nose stall gently,
    and a lift that drops within a degree would be an accident of the network's. Where lift has fallen and
    would climb again, the table ends too. From one slope to the next the ends move no faster than
    RANGE_PER_SLOPE.
    """
    used = []
    for row, (low, high) in zip(cl, trusted, strict=True):
        above = _last_used(TABLE_ALPHA, row, high, TRUST_LIMITS[1])
        below = _last_used(-TABLE_ALPHA[::-1], -row[::-1], -low, -TRUST_LIMITS[0])
        used.append([-below, above])
    low, high = np.array(used).T
    reach = RANGE_PER_SLOPE * np.abs(_GRID_SLOPE[:, None] - _GRID_SLOPE)
    return np.column_stack([np.max(low - reach, axis=1), np.min(high + reach, axis=1)])


def _last_used(alpha: FloatArray, cl: FloatArray, trusted: float, limit: float) -> float:
    """Upper end of the range of one row in which the table is used."""
    bent = alpha[(np.gradient(cl, alpha) <= KNEE_SLOPE) & (alpha > trusted - _GRID_STEP)]
    end = max(trusted, min([*bent, limit]))
    ahead = alpha >= 0
    fallen = np.maximum.accumulate(cl[ahead])[:-1] - cl[ahead][:-1] > _STALL_DROP
    rise = np.diff(cl[ahead])
    slope = rise / np.diff(alpha[ahead])
    ends = (fallen & (rise > 0)) | (slope > STEEPEST_RISE) | (slope < -STEEPEST_FALL)
    return float(min([*alpha[ahead][:-1][ends], end]))


def _full_circle(
    table: tuple[FloatArray, ...], plate: tuple[FloatArray, ...], trusted: FloatArray
) -> list[FloatArray]:
    """Lift, drag, moment on the full circle: the table in its trusted range, the plate law far outside.

    Lift is held at its last trusted value and gives way to the plate's; drag and moment follow the plate's
    from there on, and their difference from it fades. So lift falls gently after the stall, with no second
    peak, while drag goes on rising and the centre of pressure goes on moving aft.
    """
    at = np.clip(_GRID_ALPHA, trusted[:, :1], trusted[:, 1:])
    held = [_along_rows(TABLE_ALPHA, rows, at) for rows in table]
    weight = _table_weight(trusted)
    lift = weight * held[0] + (1 - weight) * plate[0]
    others = [
        plate_rows + weight * (held_rows - _along_rows(_GRID_ALPHA, plate_rows, at))
        for held_rows, plate_rows in zip(held[1:], plate[1:], strict=True)
    ]
    return [lift, *others]


def _along_rows(grid: FloatArray, rows: FloatArray, at: FloatArray) -> FloatArray:
    """Each row on its own abscissae."""
    return np.array([np.interp(x, grid, row) for x, row in zip(at, rows, strict=True)])


def _table_weight(trusted: FloatArray) -> FloatArray:
    """1 in the trusted range, falling smoothly to 0 over BLEND_WIDTH on either side."""
    outside = np.maximum(_GRID_ALPHA - trusted[:, 1:], trusted[:, :1] - _GRID_ALPHA)
    x = np.clip(outside / BLEND_WIDTH, 0.0, 1.0)
    return np.asarray(1 - x**2 * (3 - 2 * x))


def _plate_law(edge_drag: FloatArray, plate_normal_force: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Lift, drag, moment of a plate along the braked chord line, over the full circle.

    Normal force C_n = C_90 sin a / (0.44 |sin a| + 0.56): Hoerner's 1 / (0.222 + 0.283 / sin a), scaled to
    C_90; centre of pressure moving evenly from the quarter chord at 0 to mid-chord at 90 degrees; the
    section's least drag along the plate. Source: [Hoerner1965].
    """
    turn = np.arctan2(trailing_edge_drop(_GRID_SLOPE), 1 - trailing_edge_advance(_GRID_SLOPE))
    a = _GRID_ALPHA + turn[:, None]
    a = (a + np.pi) % (2 * np.pi) - np.pi
    normal = plate_normal_force * np.sin(a) / (0.44 * np.abs(np.sin(a)) + 0.56)
    along = edge_drag[:, None] * np.cos(a)
    centre = 0.25 + 0.5 * np.abs(a) / np.pi
    cl = normal * np.cos(a) - along * np.sin(a)
    return cl, normal * np.sin(a) + along * np.cos(a), -normal * (centre - 0.25)


def arrays_checksum(arrays: Mapping[str, npt.NDArray[np.generic]]) -> str:
    """SHA-256 over names, types, shapes and bytes, in order of name."""
    digest = hashlib.sha256()
    for name in sorted(arrays):
        array = np.ascontiguousarray(arrays[name])
        digest.update(f"{name} {array.dtype.str} {array.shape}".encode())
        digest.update(array.tobytes())
    return digest.hexdigest()
