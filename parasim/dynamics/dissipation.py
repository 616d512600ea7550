"""What keeps the air from giving a canopy energy out of nothing, as compiled functions.

In air at rest, or in a wind that is the same everywhere and always, a canopy without an engine can only lose
energy to the air. With v the velocity through the air of the point that the forces act at and w the
body rates, this is the inequality that the air's forces keep in every state:

    F . v + M . w + w . (v_c x p) <= 0.

F and M are the canopy's force and moment, p the momentum of its apparent mass and v_c the canopy's own
velocity. The last term is the power of Munk's moment, which the motion leaves out because the lattice's
moment holds it (`parasim.dynamics.motion`). What is left out there and held here has to be counted together:
apart, neither of the two is a loss. Over the ground the wind then does the work F . wind, and no more.

The coefficients keep it by themselves as long as the spin is small beside the airspeed. They do not in a
tumble: rate derivatives are slopes at no spin and no sideslip, the pitch damping of a stalled canopy is
positive by them, and past the stall the lattice's moment is no longer Munk's. There, what they would feed is
taken off again, nearly all of it as a moment against the spin.
"""

from math import sqrt

from parasim.aerodynamics.look_up import Vec3
from parasim.compiled import inlined

MOST_SPIN = 0.3
"""Spin over airspeed to which the rate terms are held, as slope of the helix of a wing tip: by then rolling
alone moves a tip's angle of attack by 17 deg, from zero lift to stall. Our choice. [-]"""

SPIN_ARM = 10.0
"""Length, over span, by which spin counts beside speed where power is taken off: the longer, the more of it
is taken from the spin. Our choice. [-]"""


@inlined
def held_spin(spin: Vec3, airspeed: float) -> Vec3:
    """Spin whose rate terms count: the same up to `MOST_SPIN` times the airspeed, then held there.

    Parameters
    ----------
    spin : tuple of float, length 3
        Roll, pitch and yaw rate times half the span, chord and span. [m/s]
    airspeed : float
        [m/s]
    """
    size, most = sqrt(spin[0] * spin[0] + spin[1] * spin[1] + spin[2] * spin[2]), MOST_SPIN * airspeed
    if size <= most:
        return spin
    part = most / size
    return spin[0] * part, spin[1] * part, spin[2] * part


@inlined
def munk_power(velocity: Vec3, momentum: Vec3, rates: Vec3) -> float:
    """Power w . (v_c x p) of the moment that the motion leaves out. [W]

    Parameters
    ----------
    velocity : tuple of float
        The canopy's own, through the air, body axes. [m/s]
    momentum : tuple of float
        Of its apparent mass. [kg m/s]
    rates : tuple of float
        Of the body. [rad/s]
    """
    u, v, w = velocity
    x, y, z = momentum
    return rates[0] * (v * z - w * y) + rates[1] * (w * x - u * z) + rates[2] * (u * y - v * x)


@inlined
def dissipative(
    force: Vec3, moment: Vec3, velocity: Vec3, rates: Vec3, withheld: float, span: float
) -> tuple[Vec3, Vec3]:
    """Force and moment of the air that keep the inequality: the same ones wherever they keep it already.

    Parameters
    ----------
    force, moment : tuple of float
        Of the air on the canopy about the confluence, body axes. [N], [N m]
    velocity, rates : tuple of float
        Of the confluence through the air, and of the body. [m/s], [rad/s]
    withheld : float
        From `munk_power`. [W]
    span : float
        [m]
    """
    u, v, w = velocity
    p, q, r = rates
    power = force[0] * u + force[1] * v + force[2] * w
    power += moment[0] * p + moment[1] * q + moment[2] * r + withheld
    if not power > 0.0:
        return force, moment
    arm = SPIN_ARM * span
    arm *= arm
    k = power / (u * u + v * v + w * w + arm * (p * p + q * q + r * r))
    m = k * arm
    return (
        (force[0] - k * u, force[1] - k * v, force[2] - k * w),
        (moment[0] - m * p, moment[1] - m * q, moment[2] - m * r),
    )
