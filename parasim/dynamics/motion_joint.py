"""The equations of motion of a canopy with a payload that swings at the confluence, as compiled functions."""

from math import asin, atan2, cos, sin, sqrt

from parasim.aerodynamics.look_up import Six, Three
from parasim.compiled import compiled
from parasim.dynamics.motion import (
    Constants,
    Matrix,
    Motion,
    add3,
    attitude_matrix,
    attitude_rate,
    cross3,
    push,
    scale3,
    take3,
    turn3,
    turn_back3,
    vector3,
)
from parasim.environment.atmosphere import GRAVITY
from parasim.rotations import FloatArray


@compiled
def dot3(a: Three, b: Three) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@compiled
def column3(m: Matrix, i: int) -> Three:
    """A column of a matrix."""
    return m[0][i], m[1][i], m[2][i]


@compiled
def joint_torque(constants: Constants, to_payload: Matrix, relative_rates: Three) -> Three:
    """Torque on the payload, payload axes. [N m]

    The relative rotation is a swing about the canopy's y axis, then a twist about z, then a roll about x. The
    torque that does the work of the springs on each angle alone comes from the dual of the three axes.
    """
    swung = atan2(-to_payload[0][2], to_payload[0][0])
    twist = asin(max(-1.0, min(1.0, to_payload[0][1])))
    roll = atan2(-to_payload[2][1], to_payload[1][1])
    about_swing, about_twist = column3(to_payload, 1), (0.0, sin(roll), cos(roll))
    about_roll = (1.0, 0.0, 0.0)
    # Dual axes: each turns with one of the three only.
    volume = dot3(about_swing, cross3(about_twist, about_roll))
    dual_swing = scale3(1.0 / volume, cross3(about_twist, about_roll))
    dual_twist = scale3(1.0 / volume, cross3(about_roll, about_swing))
    dual_roll = scale3(1.0 / volume, cross3(about_swing, about_twist))
    stiff, damp = constants.stiffness, constants.damping
    swing_torque = -damp[0] * dot3(dual_swing, relative_rates) - stiff[0] * swung
    twist_torque = -damp[1] * dot3(dual_twist, relative_rates) - stiff[1] * twist
    roll_torque = -damp[2] * dot3(dual_roll, relative_rates) - stiff[2] * roll
    return add3(
        scale3(swing_torque, dual_swing),
        add3(scale3(twist_torque, dual_twist), scale3(roll_torque, dual_roll)),
    )


@compiled
def solve_symmetric(work: FloatArray) -> None:
    """Solve equations with a symmetric, positive definite matrix in place, by Cholesky's method.

    Parameters
    ----------
    work : ndarray, shape (n, n + 1)
        Of the matrix only its lower half is read; the solution takes the place of the last column.
    """
    n = len(work)
    for j in range(n):
        for k in range(j):
            work[j, j] -= work[j, k] * work[j, k]
            work[j, n] -= work[j, k] * work[k, n]
        work[j, j] = sqrt(work[j, j])
        work[j, n] /= work[j, j]
        for i in range(j + 1, n):
            for k in range(j):
                work[i, j] -= work[i, k] * work[j, k]
            work[i, j] /= work[j, j]
    for j in range(n - 1, -1, -1):
        for i in range(j + 1, n):
            work[j, n] -= work[i, j] * work[i, n]
        work[j, n] /= work[j, j]


@compiled
def swinging_rates(
    motion: Motion, y: FloatArray, left: float, right: float, gust: Six, out: FloatArray, work: FloatArray
) -> Three:
    """Write the rate of change of the state to the first 20 slots.

    Parameters
    ----------
    motion : Motion
        Constants; its masses and bodies are those of all but the payload.
    y : ndarray, shape (20,) or more
        State, in the slots of `parasim.dynamics.state`.
    left, right, gust
        As for `parasim.dynamics.motion.push`.
    out : ndarray
        As long as the state.
    work : ndarray, shape (9, 10)
        Room to work in.

    Returns
    -------
    tuple of float
        Velocity of the confluence through the air, body axes. [m/s]
    """
    constants = motion.constants
    to_earth, earth_velocity, through_air, density, wrench = push(motion, y, left, right, gust)
    velocity, canopy_rates = (y[7], y[8], y[9]), (y[10], y[11], y[12])
    rates = (y[17], y[18], y[19])
    payload_to_earth = attitude_matrix(y[13], y[14], y[15], y[16])
    to_payload = (
        turn_back3(to_earth, column3(payload_to_earth, 0)),
        turn_back3(to_earth, column3(payload_to_earth, 1)),
        turn_back3(to_earth, column3(payload_to_earth, 2)),
    )
    torque = joint_torque(constants, to_payload, take3(rates, turn3(to_payload, canopy_rates)))
    mass, center = constants.payload_mass, vector3(constants.payload_center)
    # Acceleration of the confluence is v' + w x v in canopy axes; only v' is sought.
    known = turn3(to_payload, cross3(canopy_rates, velocity))
    swept = cross3(rates, center)
    air = add3(turn3(to_payload, through_air), swept)
    drag = scale3(-0.5 * density * constants.payload_drag_area * sqrt(dot3(air, air)), air)
    load = add3(drag, take3(scale3(mass * GRAVITY, payload_to_earth[2]), scale3(mass, known)))
    force = turn_back3(to_payload, take3(load, scale3(mass, cross3(rates, swept))))
    inertia = constants.payload_inertia
    momentum = turn3(
        (
            (inertia[0, 0], inertia[0, 1], inertia[0, 2]),
            (inertia[1, 0], inertia[1, 1], inertia[1, 2]),
            (inertia[2, 0], inertia[2, 1], inertia[2, 2]),
        ),
        rates,
    )
    moment = take3(add3(cross3(center, load), torque), cross3(rates, momentum))
    back = turn_back3(to_payload, torque)
    # Nine equations: rows of a symmetric matrix, the right-hand side behind it.
    for i in range(6):
        work[i, 9] = wrench[i]
        for j in range(6):
            work[i, j] = constants.solid[i, j] + density * (constants.enclosed[i, j] + constants.air[i, j])
    for j in range(3):
        work[j, j] += mass
        arm = scale3(mass, cross3(center, column3(to_payload, j)))
        for i in range(3):
            work[6 + i, j] = arm[i]
            work[6 + i, 3 + j] = 0.0
            work[6 + i, 6 + j] = inertia[i, j]
        work[j, 9] += force[j]
        work[3 + j, 9] -= back[j]
        work[6 + j, 9] = moment[j]
    solve_symmetric(work)
    out[0], out[1], out[2] = earth_velocity
    attitude_rate(out, 3, y, canopy_rates)
    for i in range(6):
        out[7 + i] = work[i, 9]
    attitude_rate(out, 13, y, rates)
    for i in range(3):
        out[17 + i] = work[6 + i, 9]
    return through_air
