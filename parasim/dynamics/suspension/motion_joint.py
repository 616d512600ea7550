"""The equations of motion of a canopy with a payload that swings below it, as compiled functions.

The payload hangs by one point H of its own, the middle of its hooks. Below a single riser a side H is the
confluence and the payload is free to pitch about it. On front and rear hooks H goes where the taut lines let
it go at each relative pitch, a path a(swing) in the canopy's plane of symmetry
(`parasim.dynamics.suspension.statics`); the lines do no work along it, so that they never make energy.

Swing, lean and twist are those of the payload's upright against the canopy's, and have no pole until the
payload lies on its side or stands on its head.
"""

from math import atan2, floor, sqrt

from parasim.aerodynamics.look_up import Vec3, Vec6
from parasim.compiled import compiled, inlined
from parasim.dynamics.motion import (
    Constants,
    Matrix,
    Motion,
    Vec4,
    add3,
    attitude_matrix,
    attitude_rate,
    cross3,
    dot3,
    matvec6,
    matvec6_t,
    mode_response,
    net_wrench,
    product6,
    rotate3,
    scale3,
    sub3,
    unrotate3,
    vector3,
)
from parasim.environment.atmosphere import GRAVITY
from parasim.rotations import FloatArray

MINIMUM_UPRIGHT = 1e-3
"""Square of the sine below which a payload on its side, or on its head, counts as just above it. [-]"""

X_AXIS, Y_AXIS, Z_AXIS = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


@inlined
def transposed3(m: Matrix) -> Matrix:
    """Columns of a matrix as rows."""
    return (m[0][0], m[1][0], m[2][0]), (m[0][1], m[1][1], m[2][1]), (m[0][2], m[1][2], m[2][2])


@inlined
def swing_of(upright: Vec3, relative: Vec3) -> tuple[float, Vec3, Vec3]:
    """Pitch of the payload against the canopy, and how it follows the relative rotation.

    Parameters
    ----------
    upright : tuple of float
        The payload's z axis, canopy axes. [-]
    relative : tuple of float
        Rates of the payload over those of the canopy, canopy axes. [rad/s]

    Returns
    -------
    swing : float
        Nose-up positive. [rad]
    by_rates : tuple of float
        Rate of the swing by the relative rates, canopy axes. [-]
    change : tuple of float
        Rate of change of `by_rates`, canopy axes. [1/s]
    """
    x, y, z = upright
    dx, dy, dz = cross3(relative, upright)
    square = max(x * x + z * z, MINIMUM_UPRIGHT)
    growth = 2.0 * (x * dx + z * dz) / square
    by_rates = (-x * y / square, 1.0, -y * z / square)
    change = (
        -(dx * y + x * dy) / square - growth * by_rates[0],
        0.0,
        -(dy * z + y * dz) / square - growth * by_rates[2],
    )
    return atan2(x, z), by_rates, change


@inlined
def hook_place(constants: Constants, swing: float) -> tuple[Vec3, Vec3, Vec3]:
    """Place of the payload's hooks in canopy axes at a swing, and its first and second slope.

    Returns
    -------
    place, slope, bend : tuple of float
        From the confluence. [m], [m/rad], [m/rad²] Beyond the ends of the path it goes on straight.
    """
    step = constants.path_step
    if step <= 0.0:
        return (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    path = constants.path
    last = len(path) - 1
    along = (swing - constants.path_start) / step
    held = min(max(along, 0.0), last + 1.0)
    i = min(floor(held), last)
    s, inside = held - i, held == along
    beyond = (along - held) * step
    x0, x1, x2, x3 = path[i, 0, 0], path[i, 0, 1], path[i, 0, 2], path[i, 0, 3]
    z0, z1, z2, z3 = path[i, 1, 0], path[i, 1, 1], path[i, 1, 2], path[i, 1, 3]
    dx, dz = (x1 + s * (2 * x2 + 3 * s * x3)) / step, (z1 + s * (2 * z2 + 3 * s * z3)) / step
    place = (
        x0 + s * (x1 + s * (x2 + s * x3)) + beyond * dx,
        0.0,
        z0 + s * (z1 + s * (z2 + s * z3)) + beyond * dz,
    )
    if not inside:
        return place, (dx, 0.0, dz), (0.0, 0.0, 0.0)
    square = step * step
    return place, (dx, 0.0, dz), ((2 * x2 + 6 * s * x3) / square, 0.0, (2 * z2 + 6 * s * z3) / square)


@inlined
def relative_matrix(to_earth: Matrix, payload_to_earth: Matrix) -> Matrix:
    """Rotation from canopy to payload axes."""
    x, y, z = transposed3(payload_to_earth)
    return unrotate3(to_earth, x), unrotate3(to_earth, y), unrotate3(to_earth, z)


@inlined
def hanging_point(
    constants: Constants, to_earth: Matrix, payload_to_earth: Matrix, rates: Vec3, payload_rates: Vec3
) -> tuple[Vec3, Vec3, float]:
    """Where the point is that the payload hangs by, and how it moves against the canopy.

    Returns
    -------
    place, slope : tuple of float
        In canopy axes, and by the swing. [m], [m/rad]
    swing_rate : float
        [rad/s]
    """
    to_payload = relative_matrix(to_earth, payload_to_earth)
    relative = sub3(unrotate3(to_payload, payload_rates), rates)
    swing, by_rates, _ = swing_of(to_payload[2], relative)
    place, slope, _ = hook_place(constants, swing)
    return place, slope, dot3(by_rates, relative)


@inlined
def joint_torque(
    constants: Constants, to_payload: Matrix, relative: Vec3, swing: float, by_rates: Vec3
) -> Vec3:
    """Torque of springs and dampers on the payload, canopy axes. [N m]

    Lean: half the stiffness times the square of its sine is the energy. Twist: W a b / h (1 - cos twist), the
    bifilar pendulum's, about the bisector of the two uprights, about which alone a twist turns. Each torque
    does the work of its own angle and no other's.
    """
    upright = to_payload[2]
    lean, twist_sine = upright[1], to_payload[0][1] - to_payload[1][0]
    share = 1.0 / max(1.0 + upright[2], sqrt(MINIMUM_UPRIGHT))
    about_lean = (-upright[2], 0.0, upright[0])
    about_twist = scale3(share, (upright[0], upright[1], 1.0 + upright[2]))
    stiff, damp = constants.stiffness, constants.damping
    swing_torque = -damp[0] * dot3(by_rates, relative) - stiff[0] * swing
    twist_torque = -damp[1] * dot3(about_twist, relative) - stiff[1] * share * twist_sine
    lean_torque = -damp[2] * dot3(about_lean, relative) - stiff[2] * lean
    return add3(
        scale3(swing_torque, by_rates),
        add3(scale3(twist_torque, about_twist), scale3(lean_torque, about_lean)),
    )


@inlined
def inverse3(m: Matrix) -> Matrix:
    """Inverse of a symmetric matrix, by its cofactors."""
    a, b, c = cross3(m[1], m[2]), cross3(m[2], m[0]), cross3(m[0], m[1])
    k = 1.0 / dot3(m[0], a)
    return scale3(k, a), scale3(k, b), scale3(k, c)


@inlined
def solve3(m: Matrix, a: Vec3) -> Vec3:
    """Solution x of m x = a, by Cramer's rule."""
    by_x, by_y, by_z = cross3(m[1], m[2]), cross3(m[2], m[0]), cross3(m[0], m[1])
    found = add3(add3(scale3(a[0], by_x), scale3(a[1], by_y)), scale3(a[2], by_z))
    return scale3(1.0 / dot3(m[0], by_x), found)


@inlined
def dot6(a: Vec6, b: Vec6) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2] + a[3] * b[3] + a[4] * b[4] + a[5] * b[5]


@inlined
def sum6(a: Vec6, b: Vec6, c: Vec6, d: Vec6, parts: Vec3) -> Vec6:
    """The first vector plus parts of the three others."""
    x, y, z = parts
    return (
        a[0] + x * b[0] + y * c[0] + z * d[0],
        a[1] + x * b[1] + y * c[1] + z * d[1],
        a[2] + x * b[2] + y * c[2] + z * d[2],
        a[3] + x * b[3] + y * c[3] + z * d[3],
        a[4] + x * b[4] + y * c[4] + z * d[4],
        a[5] + x * b[5] + y * c[5] + z * d[5],
    )


@compiled
def swinging_rates(
    motion: Motion,
    y: FloatArray,
    left: float,
    right: float,
    gust: Vec6,
    out: FloatArray,
) -> Vec4:
    """Write the rate of change of the state to the first 20 slots.

    Parameters
    ----------
    motion : Motion
        Constants; its masses and bodies are those of all but the payload.
    y : ndarray, shape (20,) or more
        State, in the slots of `parasim.dynamics.state`.
    left, right, gust
        As for `parasim.dynamics.motion.net_wrench`.
    out : ndarray
        As long as the state.

    Returns
    -------
    tuple of float
        The flow and the pull of the lines, as `Vec4` has them.

    Notes
    -----
    Canopy and payload are solved one by one, each under the pull F of the lines on the payload's centre. With
    a the acceleration of that centre as the canopy leads it, B p what its own turning adds, and l what it
    would need to stay, F = l - m (a + B p). The payload's moments give p = A^-1 (M + B' (l - m a)), A = I + m
    B' B, and the canopy's a = a0 + G F: three equations, (1 + m N G) F = N (l - m a0) - m B A^-1 M with N = 1
    - m B A^-1 B', which hold for a payload without size as well.
    """
    constants = motion.constants
    to_earth, earth_velocity, through_air, density, wrench = net_wrench(motion, y, left, right, gust)
    velocity, canopy_rates = (y[7], y[8], y[9]), (y[10], y[11], y[12])
    rates = (y[17], y[18], y[19])
    payload_to_earth = attitude_matrix(y[13], y[14], y[15], y[16])
    to_payload = relative_matrix(to_earth, payload_to_earth)
    # All in canopy axes but the payload's own spin, which stays in its axes.
    turning = unrotate3(to_payload, rates)
    relative = sub3(turning, canopy_rates)
    swing, by_rates, by_rates_change = swing_of(to_payload[2], relative)
    place, slope, bend = hook_place(constants, swing)
    swing_rate = dot3(by_rates, relative)
    mass, center = constants.payload_mass, vector3(constants.payload_center)
    arm = unrotate3(to_payload, center)
    # Velocity of the payload's centre over that of the confluence, and its acceleration but for the nine
    # rates' own.
    hook_swept = scale3(swing_rate, slope)
    swept = add3(add3(cross3(canopy_rates, place), hook_swept), cross3(turning, arm))
    swing_known = dot3(by_rates_change, relative) - dot3(by_rates, cross3(canopy_rates, turning))
    known = add3(cross3(canopy_rates, velocity), cross3(turning, cross3(turning, arm)))
    known = add3(known, cross3(canopy_rates, add3(cross3(canopy_rates, place), scale3(2.0, hook_swept))))
    known = add3(known, add3(scale3(swing_rate * swing_rate, bend), scale3(swing_known, slope)))
    air = add3(through_air, swept)
    drag = scale3(-0.5 * density * constants.payload_drag_area * sqrt(dot3(air, air)), air)
    load = add3(drag, scale3(mass, sub3(scale3(GRAVITY, to_earth[2]), known)))
    torque = joint_torque(constants, to_payload, relative, swing, by_rates)
    wrench = (*wrench[:3], wrench[3] - torque[0], wrench[4] - torque[1], wrench[5] - torque[2])
    payload_torque = rotate3(to_payload, torque)
    tensor = constants.payload_inertia
    inertia = vector3(tensor[0]), vector3(tensor[1]), vector3(tensor[2])
    moment = sub3(payload_torque, cross3(rates, rotate3(inertia, rates)))
    # Velocity of the centre along each axis, by the canopy's motion in its modes of inertia and by the
    # payload's rates.
    by_x, by_y, by_z = cross3(place, X_AXIS), cross3(place, Y_AXIS), cross3(place, Z_AXIS)
    canopy_x = matvec6_t(constants.modes, X_AXIS + sub3(by_x, scale3(slope[0], by_rates)))
    canopy_y = matvec6_t(constants.modes, Y_AXIS + sub3(by_y, scale3(slope[1], by_rates)))
    canopy_z = matvec6_t(constants.modes, Z_AXIS + sub3(by_z, scale3(slope[2], by_rates)))
    axes, sweep = transposed3(to_payload), rotate3(to_payload, by_rates)
    lever = (
        add3(cross3(center, axes[0]), scale3(slope[0], sweep)),
        add3(cross3(center, axes[1]), scale3(slope[1], sweep)),
        add3(cross3(center, axes[2]), scale3(slope[2], sweep)),
    )
    # The payload alone: its turning by a pull, and what is left of the pull when it gives way.
    across = transposed3(lever)
    to_spin = inverse3(
        (
            add3(inertia[0], scale3(mass, unrotate3(lever, across[0]))),
            add3(inertia[1], scale3(mass, unrotate3(lever, across[1]))),
            add3(inertia[2], scale3(mass, unrotate3(lever, across[2]))),
        )
    )
    spin = rotate3(to_spin, moment)
    left_x = sub3(X_AXIS, scale3(mass, rotate3(lever, rotate3(to_spin, lever[0]))))
    left_y = sub3(Y_AXIS, scale3(mass, rotate3(lever, rotate3(to_spin, lever[1]))))
    left_z = sub3(Z_AXIS, scale3(mass, rotate3(lever, rotate3(to_spin, lever[2]))))
    # The canopy alone, and by a pull along each axis.
    response = mode_response(constants, density)
    free = product6(response, matvec6_t(constants.modes, wrench))
    given_x, given_y = product6(response, canopy_x), product6(response, canopy_y)
    given_z = product6(response, canopy_z)
    xy, xz, yz = dot6(canopy_x, given_y), dot6(canopy_x, given_z), dot6(canopy_y, given_z)
    mobility = (
        (dot6(canopy_x, given_x), xy, xz),
        (xy, dot6(canopy_y, given_y), yz),
        (xz, yz, dot6(canopy_z, given_z)),
    )
    led = dot6(canopy_x, free), dot6(canopy_y, free), dot6(canopy_z, free)
    pull = solve3(
        (
            add3(X_AXIS, scale3(mass, rotate3(mobility, left_x))),
            add3(Y_AXIS, scale3(mass, rotate3(mobility, left_y))),
            add3(Z_AXIS, scale3(mass, rotate3(mobility, left_z))),
        ),
        sub3(
            rotate3((left_x, left_y, left_z), sub3(load, scale3(mass, led))),
            scale3(mass, rotate3(lever, spin)),
        ),
    )
    led = add3(led, rotate3(mobility, pull))
    spin = add3(spin, rotate3(to_spin, unrotate3(lever, sub3(load, scale3(mass, led)))))
    accelerations = matvec6(constants.modes, sum6(free, given_x, given_y, given_z, pull))
    out[0], out[1], out[2] = earth_velocity
    out[3], out[4], out[5], out[6] = attitude_rate(y[3], y[4], y[5], y[6], canopy_rates)
    out[7], out[8], out[9], out[10], out[11], out[12] = accelerations
    out[13], out[14], out[15], out[16] = attitude_rate(y[13], y[14], y[15], y[16], rates)
    out[17], out[18], out[19] = spin
    return through_air[0], through_air[1], through_air[2], pull[2]
