"""Opening of a packed canopy: fall, line stretch, snatch, filling, and the force that comes of it.

Motion in one upright plane through still air of constant density. Drag only: a canopy that fills makes no
lift worth counting. Force is that between canopy and payload.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin, sqrt

import numpy as np

from parasim.environment.atmosphere import GRAVITY
from parasim.errors import ConvergenceError
from parasim.rotations import FloatArray

RELATIVE_TOLERANCE, ABSOLUTE_TOLERANCE = 1e-8, 1e-8
SAMPLES = 120
"""Points at which each stage of the filling is kept."""
AIR_EXPONENT = 1.5
"""Air carried along grows as the cube of size, drag area as the square: similar shapes. [-]"""
LONGEST_STRETCH = 60.0
"""Time after which lines that are not stretched never will be. [s]"""
MINIMUM_SPEED = 0.1
"""Under this the filling time n D0 / v loses its meaning. [m/s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reefing:
    """Filling held at a part of the full drag area.

    Attributes
    ----------
    area : float
        Part of the growth of the drag area at which it is held. [-]
    time : float
        How long. [s]
    """

    area: float
    time: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Opener:
    """What opens: masses, drag areas and how the canopy fills.

    Attributes
    ----------
    payload_mass, canopy_mass : float
        Canopy with its lines. [kg]
    payload_drag_area, pack_drag_area, open_drag_area : float
        Of the payload, of the packed canopy behind it, of the canopy just full. [m²]
    air_mass : float
        Carried along by the full canopy: inside and around it. [kg]
    filling_distance : float
        Filling constant times nominal diameter, n D0. [m]
    growth_exponent : float
        Of the drag area by time. [-]
    air_density : float
        [kg/m³]
    stretch_distance : float
        Payload to pack with the lines straight. [m]
    reefing : Reefing or None
        Of the filling.
    """

    payload_mass: float
    canopy_mass: float
    payload_drag_area: float
    pack_drag_area: float
    open_drag_area: float
    air_mass: float
    filling_distance: float
    growth_exponent: float
    air_density: float
    stretch_distance: float
    reefing: Reefing | None = None

    @property
    def mass(self) -> float:
        """All that has weight. [kg]"""
        return self.payload_mass + self.canopy_mass

    @property
    def ballistic_parameter(self) -> float:
        """Pflanz's A = 2 m / (rho CDS n D0): large where the speed keeps up, small where it drops. [-]

        Source: [Knacke1992], from memory, unverified.
        """
        return 2 * self.mass / (self.air_density * self.open_drag_area * self.filling_distance)

    @property
    def constant_speed_factor(self) -> float:
        """Peak force over steady drag when the speed does not fall, by the air set moving. [-]

        With the air carried growing as the area to 3/2, d(m_a v)/dt at the end of filling is
        3/2 j m_a v^2 / (n D0): C_X = 1 + 3 j m_a / (rho CDS n D0).
        """
        share = self.air_mass / (self.air_density * self.open_drag_area * self.filling_distance)
        return 1 + 2 * AIR_EXPONENT * self.growth_exponent * share


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """Motion of one body or pair of bodies along its path, sampled; all arrays of shape (n,).

    Attributes
    ----------
    time : ndarray
        From release. [s]
    forward, down : ndarray
        From the point of release. [m]
    forward_speed, sink : ndarray
        [m/s]
    force : ndarray
        Between canopy and payload; zero while it falls packed. [N]
    filled : ndarray
        Part of the growth of the drag area that is done. [-]
    """

    time: FloatArray
    forward: FloatArray
    down: FloatArray
    forward_speed: FloatArray
    sink: FloatArray
    force: FloatArray
    filled: FloatArray

    @property
    def speed(self) -> FloatArray:
        """Along the path. [m/s]"""
        return np.hypot(self.forward_speed, self.sink)

    @property
    def end(self) -> FloatArray:
        """Forward, down and their speeds at the end, shape (4,). [m], [m/s]"""
        return np.array([self.forward[-1], self.down[-1], self.forward_speed[-1], self.sink[-1]])


@dataclass(frozen=True, slots=True, kw_only=True)
class LineStretch:
    """The moment when the lines are straight.

    Attributes
    ----------
    time : float
        From release. [s]
    place, payload, pair : ndarray, shapes (2,), (2,), (2,)
        Forward and down: place of the payload [m], its velocity, and that of both once they move as one.
        [m/s]
    relative_speed : float
        Of payload and pack, just before. [m/s]
    """

    time: float
    place: FloatArray
    payload: FloatArray
    pair: FloatArray
    relative_speed: float


def nominal_diameter(area: float) -> float:
    """Diameter of a disc of the flat area: D0 = sqrt(4 S / pi). [m]

    Source: [Knacke1992], the definition from memory, unverified.

    Examples
    --------
    >>> round(nominal_diameter(0.55), 3)
    0.837
    """
    return sqrt(4 * area / pi)


def snatch_force(*, relative_speed: float, stiffness: float, mass: float, other_mass: float) -> float:
    """Peak tension when two masses run out on an elastic line between them.

    The kinetic energy of their relative motion, half m_eff v^2 with m_eff = m M / (m + M), goes into the
    line, F^2 / 2k: F = v sqrt(k m_eff). The line's own mass, its damping and the air's drag meanwhile are
    left out, which errs to the high side. Conservation of energy; as a formula for parachutes in
    [Knacke1992]: from memory, unverified.

    Parameters
    ----------
    relative_speed : float
        At which they part. [m/s]
    stiffness : float
        Tension over stretch of all lines together. [N/m]
    mass, other_mass : float
        [kg]

    Returns
    -------
    float
        [N]

    Examples
    --------
    >>> snatch_force(relative_speed=2.0, stiffness=900.0, mass=2.0, other_mass=2.0)
    60.0
    """
    return relative_speed * sqrt(stiffness * mass * other_mass / (mass + other_mass))


def fall(opener: Opener, *, velocity: FloatArray, delay: float) -> Motion:
    """Fall of the packed payload from release, for a time.

    Parameters
    ----------
    opener : Opener
        What falls.
    velocity : ndarray, shape (2,)
        At release: forward, down. [m/s]
    delay : float
        [s]
    """
    start = np.array([0.0, 0.0, *velocity])
    if delay <= 0:
        return _motion(np.zeros(1), start[:, None])

    def rate(_: float, y: FloatArray) -> FloatArray:
        return _ballistic(y, opener.payload_drag_area, opener.mass, opener.air_density)

    time, states = _integrate(rate, start, delay)
    return _motion(time, states)


def stretch(opener: Opener, start: FloatArray, *, held: bool) -> LineStretch | None:
    """Payload and pack part until the lines are straight.

    Parameters
    ----------
    opener : Opener
        Of both.
    start : ndarray, shape (4,)
        Forward, down and their speeds as the pack opens. [m], [m/s]
    held : bool
        By a static line: the pack keeps the velocity of what it was dropped from. Else its own drag slows it.

    Returns
    -------
    LineStretch or None
        Time counted from `start`; None if the pack does not fall behind, or overtakes.

    Notes
    -----
    Afterwards both move as one, with the momentum of both. A static line is taken to give way at that
    moment.
    """
    from scipy.integrate import solve_ivp

    def rate(_: float, y: FloatArray) -> FloatArray:
        payload = _ballistic(y[:4], opener.payload_drag_area, opener.payload_mass, opener.air_density)
        if held:
            return np.concatenate([payload, y[6:], np.zeros(2)])
        pack = _ballistic(y[4:], opener.pack_drag_area, opener.canopy_mass, opener.air_density)
        return np.concatenate([payload, pack])

    def taut(_: float, y: FloatArray) -> float:
        return hypot(y[0] - y[4], y[1] - y[5]) - opener.stretch_distance

    taut.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(
        rate, (0.0, LONGEST_STRETCH), np.concatenate([start, start]), events=[taut],
        rtol=RELATIVE_TOLERANCE, atol=ABSOLUTE_TOLERANCE, method="DOP853",
    )  # fmt: skip
    if found.t_events is None or not len(found.t_events[0]):
        return None
    y = found.y[:, -1]
    if (y[:2] - y[4:6]) @ y[2:4] < 0:
        return None
    pair = (opener.payload_mass * y[2:4] + opener.canopy_mass * y[6:]) / opener.mass
    return LineStretch(
        time=float(found.t[-1]),
        place=y[:2],
        payload=y[2:4],
        pair=pair,
        relative_speed=float(hypot(*(y[2:4] - y[6:]))),
    )


def fill(opener: Opener, start: FloatArray) -> Motion:
    """Filling of the canopy from line stretch to full.

    Parameters
    ----------
    opener : Opener
        What opens.
    start : ndarray, shape (4,)
        Forward, down and their speeds at line stretch. [m], [m/s]

    Returns
    -------
    Motion
        Time counted from line stretch.

    Notes
    -----
    The drag area grows as (t/t_f)^j with t_f = n D0 / v, v the speed at line stretch. Source: [Knacke1992],
    from memory, unverified. Reefed, it is held on the way; the rest of the growth then goes on at the pace
    of the speed it has come to. The air carried, m_a, is set moving as it is taken up:

        d[(m + m_a) v]/dt = m g - (rho/2) |v| v (CDS + payload's),   F = m_p (g - dv/dt) - payload's drag.
    """
    j, y, clock = opener.growth_exponent, start, 0.0
    reefing = opener.reefing
    held_at = 1.0 if reefing is None else min(reefing.area ** (1 / j), 1.0)
    filling_time = _filling_time(opener, y)
    stages = [_stage(opener, y, first=0.0, last=held_at, duration=held_at * filling_time)]
    if reefing is not None and held_at < 1:
        if reefing.time > 0:
            y = stages[-1].end
            stages.append(_stage(opener, y, first=held_at, last=held_at, duration=reefing.time))
        y = stages[-1].end
        stages.append(
            _stage(opener, y, first=held_at, last=1.0, duration=(1 - held_at) * _filling_time(opener, y))
        )
    offsets = []
    for stage in stages:
        offsets.append(clock)
        clock += float(stage.time[-1])
    return joined(stages, offsets)


def joined(stages: list[Motion], offsets: list[float]) -> Motion:
    """Motions one after the other, each begun at its offset in time. [s]"""
    return Motion(
        time=np.concatenate([stage.time + offset for stage, offset in zip(stages, offsets, strict=True)]),
        **{
            name: np.concatenate([getattr(stage, name) for stage in stages])
            for name in ("forward", "down", "forward_speed", "sink", "force", "filled")
        },
    )


def _filling_time(opener: Opener, y: FloatArray) -> float:
    return opener.filling_distance / max(hypot(y[2], y[3]), MINIMUM_SPEED)


def _stage(opener: Opener, start: FloatArray, *, first: float, last: float, duration: float) -> Motion:
    """Filling while the root of its degree, r^(1/j), goes evenly from `first` to `last`."""
    j, pace = opener.growth_exponent, (last - first) / duration

    def filled(time: FloatArray | float) -> FloatArray:
        return np.asarray(np.clip(first + pace * np.asarray(time), 0.0, 1.0) ** j)

    def accelerated(time: float, y: FloatArray) -> FloatArray:
        root = min(max(first + pace * time, 0.0), 1.0)
        air = opener.air_mass * root ** (AIR_EXPONENT * j)
        power = AIR_EXPONENT * j - 1
        taken_up = opener.air_mass * AIR_EXPONENT * j * pace * (root**power if root > 0 or power > 0 else 0.0)
        growth = opener.open_drag_area - opener.pack_drag_area
        drag_area = opener.payload_drag_area + opener.pack_drag_area + growth * root**j
        braking = 0.5 * opener.air_density * drag_area * hypot(y[2], y[3]) + taken_up
        inertia = opener.mass + air
        return np.array([-braking * y[2] / inertia, (opener.mass * GRAVITY - braking * y[3]) / inertia])

    def rate(time: float, y: FloatArray) -> FloatArray:
        return np.concatenate([y[2:], accelerated(time, y)])

    time, states = _integrate(rate, start, duration)
    force = np.array(
        [_force(opener, y, accelerated(float(t), y)) for t, y in zip(time, states.T, strict=True)]
    )
    return _motion(time, states, force=force, filled=filled(time))


def _force(opener: Opener, y: FloatArray, acceleration: FloatArray) -> float:
    """Between canopy and payload. [N]"""
    drag = 0.5 * opener.air_density * opener.payload_drag_area * hypot(y[2], y[3])
    forward = -opener.payload_mass * acceleration[0] - drag * y[2]
    down = opener.payload_mass * (GRAVITY - acceleration[1]) - drag * y[3]
    return hypot(forward, down)


def _ballistic(y: FloatArray, drag_area: float, mass: float, density: float) -> FloatArray:
    drag = 0.5 * density * drag_area * hypot(y[2], y[3]) / mass
    return np.array([y[2], y[3], -drag * y[2], GRAVITY - drag * y[3]])


def _integrate(
    rate: Callable[[float, FloatArray], FloatArray], start: FloatArray, duration: float
) -> tuple[FloatArray, FloatArray]:
    from scipy.integrate import solve_ivp

    time = np.linspace(0.0, duration, SAMPLES + 1)
    found = solve_ivp(
        rate, (0.0, duration), start, t_eval=time, rtol=RELATIVE_TOLERANCE, atol=ABSOLUTE_TOLERANCE,
        method="DOP853",
    )  # fmt: skip
    if found.status < 0 or found.y.shape[1] != len(time):
        raise ConvergenceError(f"the opening could not be followed: {found.message}")
    return time, found.y


def _motion(
    time: FloatArray, states: FloatArray, *, force: FloatArray | None = None, filled: FloatArray | None = None
) -> Motion:
    forward, down, forward_speed, sink = states
    nothing = np.zeros_like(time)
    return Motion(
        time=time,
        forward=forward,
        down=down,
        forward_speed=forward_speed,
        sink=sink,
        force=nothing if force is None else force,
        filled=nothing if filled is None else filled,
    )


def release_velocity(speed: float, angle: float) -> FloatArray:
    """Forward and down, shape (2,), of a speed along a path that points below the horizon. [m/s], [rad]"""
    return speed * np.array([cos(angle), sin(angle)])


def path_angle(velocity: FloatArray) -> float:
    """Of forward and down speed below the horizon. [rad]"""
    return atan2(velocity[1], velocity[0])
