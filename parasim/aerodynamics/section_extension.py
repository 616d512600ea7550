"""Section tables carried over the full circle and to deep brake: what the network does not give.

Past the table's range of angle of attack a plate law takes over; above its last trailing-edge deflection,
plain-flap laws do. Both are cruder than the table and unvalidated for ram-air sections; a polar's caveats say
so.
"""

import numpy as np

from parasim.aerodynamics.section_network import TABLE_ALPHA, TABLE_SLOPE, TRUST_LIMITS
from parasim.geometry.airfoil import BEND_FRACTION, trailing_edge_advance, trailing_edge_drop
from parasim.rotations import FloatArray

PLATE_NORMAL_FORCE_2D = 1.98
"""Normal force of a plate of endless span across the stream. [-] Source: [Hoerner1965]."""

PLATE_NORMAL_FORCE = 1.17
"""Normal force of a plate of aspect ratio about 2 across the stream. [-] Source: [Hoerner1965]."""

BLEND_WIDTH = np.radians(25.0)
"""Beyond the trusted range the table gives way to the plate law over this angle. [rad] Our choice."""

KNEE_SLOPE = 1.5
"""Lift slope at which the lift curve counts as bent over. [1/rad] Our choice."""

ARC_AS_FLAP = 0.682
"""Plain-flap angle over trailing-edge deflection of a bend with the same lift, both 0.3 chord long. [-]

From Glauert's integrals; tests/validation/test_thin_aerofoil.py works them out. Source: [Glauert1926].
"""

STEEPEST_RISE, STEEPEST_FALL = 8.0, 3.0
"""Lift slopes, up and down, beyond which the table is not followed. [1/rad] Our choice.

Thin-aerofoil theory gives 2 pi for attached flow; 3 /rad is a loss of 0.05 a degree.
"""

RANGE_PER_SLOPE = 0.3
"""Most that the ends of the table's range of alpha move with trailing-edge deflection. [-] Our choice."""

FLAP_EFFECTIVENESS = ((20.0, 0.68), (30.0, 0.55), (40.0, 0.47), (60.0, 0.38), (80.0, 0.29))
"""Plain-flap angle [deg] and share of thin-flap lift that is reached [-]; from memory, unverified."""

_STALL_DROP = 0.03  # fall of cl that counts as a stall, against ripples of the network
GRID_STEP = np.radians(1.0)
SLOPE_STEP = np.radians(5.0)
GRID_ALPHA = np.radians(np.arange(-180.0, 181.0))
GRID_SLOPE = np.radians(np.arange(0.0, 121.0, 5.0))


def extended(
    cl: FloatArray, cd: FloatArray, cm: FloatArray, trusted: FloatArray, *, plate_normal_force: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Lift, drag and moment on the grid of GRID_SLOPE and GRID_ALPHA from the table of one Reynolds number.

    Parameters
    ----------
    cl, cd, cm : ndarray, shape (n_slope, n_alpha)
        The table over TABLE_SLOPE and TABLE_ALPHA. [-]
    trusted : ndarray, shape (n_slope, 2)
        Trusted range of angle of attack at each deflection. [rad]
    plate_normal_force : float
        Normal-force coefficient across the stream. [-]

    Returns
    -------
    cl, cd, cm : ndarray, shape (25, 361)
    """
    cl, cd, cm, trusted = _on_slope_grid(cl, cd, cm, trusted)
    plate = _plate_law(np.min(cd, axis=1), plate_normal_force)
    return _full_circle((cl, cd, cm), plate, _used_range(cl, trusted))


def between(grid: FloatArray, values: FloatArray, at: FloatArray | float) -> FloatArray:
    """Linear interpolation along the first axis to one place or several, held at the ends."""
    place = np.interp(at, grid, np.arange(len(grid)))
    low = np.minimum(place.astype(int), max(len(grid) - 2, 0))
    high = np.minimum(low + 1, len(grid) - 1)
    part = (place - low).reshape(np.shape(at) + (1,) * (values.ndim - 1))
    return np.asarray(values[low] + part * (values[high] - values[low]))


def _on_slope_grid(
    cl: FloatArray, cd: FloatArray, cm: FloatArray, trusted: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Table rows on the polar's own slopes, with the flap laws above the table's last deflection."""
    cl, cd, cm, bounds = (between(TABLE_SLOPE, f, GRID_SLOPE) for f in (cl, cd, cm, trusted))
    stretch, drag = _beyond_network(GRID_SLOPE)
    cl = cl[0] + stretch[:, None] * (cl - cl[0])
    cm = cm[0] + stretch[:, None] * (cm - cm[0])
    return cl, cd + drag[:, None], cm, bounds


def _beyond_network(deflection: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Stretch of the brake increment and added drag above the table's last deflection (40 degrees).

    Lift and moment grow as those of the plain flap with the bend's lift, at ARC_AS_FLAP times the deflection,
    multiplied by its FLAP_EFFECTIVENESS. Drag grows by 1.7 (c_f / c)^1.38 sin^2(flap angle) of the plain flap
    that lets the trailing edge down as far, at half the deflection. Source: [Young1947], constants from
    memory.
    """
    last = TABLE_SLOPE[-1]
    angles, shares = np.radians([p[0] for p in FLAP_EFFECTIVENESS]), [p[1] for p in FLAP_EFFECTIVENESS]
    flap = ARC_AS_FLAP * np.maximum(deflection, last)
    reach = flap * np.interp(flap, angles, shares)
    stretch = reach / (ARC_AS_FLAP * last * np.interp(ARC_AS_FLAP * last, angles, shares))
    drop_flap = np.maximum(deflection, last) / 2
    drag = 1.7 * BEND_FRACTION**1.38 * (np.sin(drop_flap) ** 2 - np.sin(last / 2) ** 2)
    return stretch, drag


def _used_range(cl: FloatArray, trusted: FloatArray) -> FloatArray:
    """Range of alpha in which each row of the table is used, shape (n_slope, 2): trusted, to the knee.

    At deep brake the network doubts itself while its lift still climbs steadily. To hold the lift there
    would invent an early stall, so the table is followed until the lift curve has flattened to KNEE_SLOPE.
    It ends earlier where the network's lift climbs faster than STEEPEST_RISE (a brake's lift lost at once at
    large negative angles) or falls faster than STEEPEST_FALL: thick sections with a rough nose are taken to
    stall gently, though the network lets some drop their lift within a degree. Where lift has fallen and
    would climb again, the table ends too. From one deflection to the next the ends move no faster than
    RANGE_PER_SLOPE.
    """
    high = _last_used(TABLE_ALPHA, cl, trusted[:, 1], TRUST_LIMITS[1])
    low = -_last_used(-TABLE_ALPHA[::-1], -cl[:, ::-1], -trusted[:, 0], -TRUST_LIMITS[0])
    reach = RANGE_PER_SLOPE * np.abs(GRID_SLOPE[:, None] - GRID_SLOPE)
    return np.column_stack([np.max(low - reach, axis=1), np.min(high + reach, axis=1)])


def _last_used(alpha: FloatArray, cl: FloatArray, trusted: FloatArray, limit: float) -> FloatArray:
    """Upper end of the range of each row in which the table is used, shape (n_slope,)."""
    bent = (np.gradient(cl, alpha, axis=1) <= KNEE_SLOPE) & (alpha > trusted[:, None] - GRID_STEP)
    end = np.maximum(trusted, np.where(bent, alpha, limit).min(axis=1, initial=limit))
    alpha, cl = alpha[alpha >= 0], cl[:, alpha >= 0]
    fallen = np.maximum.accumulate(cl, axis=1)[:, :-1] - cl[:, :-1] > _STALL_DROP
    rise = np.diff(cl, axis=1)
    slope = rise / np.diff(alpha)
    ends = (fallen & (rise > 0)) | (slope > STEEPEST_RISE) | (slope < -STEEPEST_FALL)
    return np.minimum(np.where(ends, alpha[:-1], np.inf).min(axis=1), end)


def _full_circle(
    table: tuple[FloatArray, ...], plate: tuple[FloatArray, ...], trusted: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Lift, drag, moment on the full circle: the table in its trusted range, the plate law far outside.

    Lift is held at its last trusted value and gives way to the plate's; drag and moment follow the plate's
    from there on, and their difference from it fades. So lift falls gently after the stall, with no second
    peak, while drag goes on rising and the centre of pressure goes on moving aft.
    """
    at = np.clip(GRID_ALPHA, trusted[:, :1], trusted[:, 1:])
    held = [_along_rows(TABLE_ALPHA, rows, at) for rows in table]
    weight = _table_weight(trusted)
    lift = weight * held[0] + (1 - weight) * plate[0]
    drag, moment = (
        plate_rows + weight * (held_rows - _along_rows(GRID_ALPHA, plate_rows, at))
        for held_rows, plate_rows in zip(held[1:], plate[1:], strict=True)
    )
    return lift, drag, moment


def _along_rows(grid: FloatArray, rows: FloatArray, at: FloatArray) -> FloatArray:
    """Each row on its own abscissae."""
    return np.array([np.interp(x, grid, row) for x, row in zip(at, rows, strict=True)])


def _table_weight(trusted: FloatArray) -> FloatArray:
    """1 in the trusted range, falling smoothly to 0 over BLEND_WIDTH on either side."""
    outside = np.maximum(GRID_ALPHA - trusted[:, 1:], trusted[:, :1] - GRID_ALPHA)
    x = np.clip(outside / BLEND_WIDTH, 0.0, 1.0)
    return np.asarray(1 - x**2 * (3 - 2 * x))


def _plate_law(edge_drag: FloatArray, plate_normal_force: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Lift, drag, moment of a plate along the braked chord line, over the full circle.

    Normal force C_n = C_90 sin a / (0.44 |sin a| + 0.56): Hoerner's 1 / (0.222 + 0.283 / sin a), scaled to
    C_90; centre of pressure moving evenly from the quarter chord at 0 to mid-chord at 90 degrees; the
    section's minimum drag along the plate. Source: [Hoerner1965].
    """
    turn = np.arctan2(trailing_edge_drop(GRID_SLOPE), 1 - trailing_edge_advance(GRID_SLOPE))
    a = GRID_ALPHA + turn[:, None]
    a = (a + np.pi) % (2 * np.pi) - np.pi
    normal = plate_normal_force * np.sin(a) / (0.44 * np.abs(np.sin(a)) + 0.56)
    along = edge_drag[:, None] * np.cos(a)
    centre = 0.25 + 0.5 * np.abs(a) / np.pi
    cl = normal * np.cos(a) - along * np.sin(a)
    return cl, normal * np.sin(a) + along * np.cos(a), -normal * (centre - 0.25)
