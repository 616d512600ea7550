"""Effective angles of all strips at which sections and lattice agree, as a compiled function."""

from math import cos, floor, pi, radians, sin

from parasim.compiled import compiled, inlined
from parasim.rotations import FloatArray

NEWTON_STEPS = 24
WHOLE_STEPS = 8
"""Newton steps taken whole; later ones are shortened, for a kink of the polar can make whole ones go to and
fro.
"""
SHORTENED = 0.6
"""Part of a later step that is taken. [-]"""
SEARCH = radians(60)
"""Range of effective angles searched. [rad]"""
STEP_LIMIT = radians(6)
"""Longest step of an effective angle. [rad]"""
TOLERANCE = 1e-4
"""Mismatch of effective angles at which a state counts as settled. [rad]"""


@inlined
def place(value: float, last: int) -> tuple[int, float]:
    """Cell of a grid of even steps that holds a place counted in steps, and how far it is on in it."""
    cell = min(max(floor(value), 0), last)
    return cell, value - cell


@inlined
def section_at(table: FloatArray, row: int, v: float, column: int, u: float) -> tuple[float, float]:
    """Bilinear value in a cell of a section's table, and its rise to the next column."""
    f = table[row, column]
    du, dv = table[row, column + 1] - f, table[row + 1, column] - f
    twist = table[row + 1, column + 1] - table[row, column + 1] - dv
    rise = du + v * twist
    return f + v * dv + u * rise, rise


@inlined
def solve(rows: FloatArray) -> None:
    """Solve n linear equations, shape (n, n + 1) with the right sides last; these become the solution."""
    n = len(rows)
    for k in range(n):
        pivot = k
        for i in range(k + 1, n):
            if abs(rows[i, k]) > abs(rows[pivot, k]):
                pivot = i
        if pivot != k:
            for j in range(k, n + 1):
                rows[k, j], rows[pivot, j] = rows[pivot, j], rows[k, j]
        for i in range(k + 1, n):
            part = rows[i, k] / rows[k, k]
            for j in range(k + 1, n + 1):
                rows[i, j] -= part * rows[k, j]
    for k in range(n - 1, -1, -1):
        for j in range(k + 1, n):
            rows[k, n] -= rows[k, j] * rows[j, n]
        rows[k, n] /= rows[k, k]


@compiled
def settle(
    lift: FloatArray,
    moment: FloatArray,
    slope_step: float,
    geometric: FloatArray,
    downwash: FloatArray,
    by_moment: FloatArray,
    deflection: FloatArray,
    alpha: FloatArray,
    cl: FloatArray,
    cm: FloatArray,
    settled: FloatArray,
    rows: FloatArray,
) -> None:
    """Find effective angles that meet sections and lattice at once, by Newton's method.

    sin(alpha) = geometric - downwash cl(alpha, deflection) + by_moment cm(alpha, deflection).

    Parameters
    ----------
    lift, moment : ndarray, shape (n_deflections, 361)
        Coefficients of the section, a degree and a `slope_step` [rad] apart. [-]
    geometric : ndarray, shape (n_flows, n_strips)
    downwash, by_moment : ndarray, shape (n_flows, n_strips, n_strips)
        Sines of angles, by strip. [-]
    deflection : ndarray, shape (n_brakes, n_strips)
        Of the trailing edge. [rad]
    alpha : ndarray, shape (n_flows, n_brakes, n_strips)
        Where it begins; the angles afterwards. [rad]
    cl, cm : ndarray, shape (n_flows, n_brakes, n_strips)
        Where the coefficients at those angles go. [-]
    settled : ndarray, shape (n_flows, n_brakes)
        1 is written where a state has settled.
    rows : ndarray, shape (n_strips, n_strips + 1)
        Workspace.
    """
    n_flows, n_brakes, n_strips = alpha.shape
    last_row, last_column = lift.shape[0] - 2, lift.shape[1] - 2
    by_degree = last_column + 1.0
    for f in range(n_flows):
        for b in range(n_brakes):
            for count in range(NEWTON_STEPS + 1):
                for s in range(n_strips):
                    turns = (alpha[f, b, s] + pi) * (0.5 / pi)
                    column, u = place((turns - floor(turns)) * by_degree, last_column)
                    bent = min(max(deflection[b, s] / slope_step, 0.0), last_row + 1.0)
                    row, v = place(bent, last_row)
                    cl[f, b, s], rise = section_at(lift, row, v, column, u)
                    cm[f, b, s], _ = section_at(moment, row, v, column, u)
                    gradient = rise * by_degree / (2.0 * pi)
                    for r in range(n_strips):
                        rows[r, s] = downwash[f, r, s] * gradient
                if settled[f, b] or count == NEWTON_STEPS:
                    break
                worst = 0.0
                for s in range(n_strips):
                    miss = sin(alpha[f, b, s]) - geometric[f, s]
                    for t in range(n_strips):
                        miss += downwash[f, s, t] * cl[f, b, t]
                        miss -= by_moment[f, s, t] * cm[f, b, t]
                    rows[s, s] += cos(alpha[f, b, s])
                    rows[s, n_strips] = miss
                    worst = max(worst, abs(miss))
                solve(rows)
                part = 1.0 if count < WHOLE_STEPS else SHORTENED
                for s in range(n_strips):
                    step = min(max(rows[s, n_strips], -STEP_LIMIT), STEP_LIMIT)
                    alpha[f, b, s] = min(max(alpha[f, b, s] - part * step, -SEARCH), SEARCH)
                settled[f, b] = 1.0 if worst < TOLERANCE else 0.0
