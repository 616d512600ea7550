"""Steady turns under one brake, followed from straight flight outwards.

A little more brake at a time: root finding from afar fails for large brakes. Each is checked for stability by
its own eigenvalues. Still air at the ground; the payload hangs as the design has it.
"""

from dataclasses import dataclass
from functools import partial
from math import cos, pi, radians, sin, sqrt, tan

import numpy as np

from parasim.aerodynamics.model import ALPHA_KNOTS, BETA_KNOTS, AeroModel, build_aero_table
from parasim.aerodynamics.table import AeroTable
from parasim.dynamics.linear import linearised
from parasim.dynamics.simulate import Body
from parasim.dynamics.state import MOTION, PAYLOAD_ATTITUDE, PAYLOAD_RATES, VELOCITY, state_vector
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.wind import Wind
from parasim.flight.trim import GROWTH_TOLERANCE, Trim, find_trims
from parasim.rotations import FloatArray, euler_from_quaternion, quaternion_from_euler, rotation_matrix

BRAKES = np.linspace(0.0, 1.0, 21)
"""One-sided brakes at which steady turns are looked for, fractions of full travel. [-]"""

STEEP_BANK = radians(45)
"""Bank from which a turn counts as a spiral. Our choice, no source. [rad]"""

TURNING_ALPHA = ALPHA_KNOTS[np.abs(ALPHA_KNOTS - radians(10)) < radians(31)]
"""From -20 to 40 deg. [rad]"""

TURNING_BETA = BETA_KNOTS[radians(31) > BETA_KNOTS]
"""[rad]"""

RESIDUAL = 1e-6
"""Largest acceleration that counts as steady. [m/s², rad/s²]"""

CHORDS, SETTLED = 8, 1e-9
"""Chords tried before a root is looked for, and the acceleration that ends them. [-], [m/s², rad/s²]"""

LARGEST_JUMP = radians(60) / 0.05
"""Change of turn rate by brake above which the solver has left the turns it followed. Our choice. [rad/s]"""


def coordinated_radius(*, airspeed: float, bank: float) -> float:
    """Radius of a turn whose bank alone makes it curve.

    Parameters
    ----------
    airspeed : float
        Horizontal. [m/s]
    bank : float
        Not zero. [rad]

    Returns
    -------
    float
        [m]

    Notes
    -----
    R = V²/(g tan bank): the sideways part of the lift is the centripetal force, and there is no side force.

    Examples
    --------
    >>> from math import radians
    >>> round(coordinated_radius(airspeed=6.55, bank=radians(20)), 1)
    12.0
    """
    return airspeed**2 / (GRAVITY * abs(tan(bank)))


def banked_sink_growth(bank: float) -> float:
    """Sink in a banked glide over that in the straight one at the same lift and drag coefficients. [-]

    Lift grows by n = 1/cos(bank), so airspeed by the root of n; drag along the path, which the sink pays
    for, by n: sink by n^(3/2).

    Examples
    --------
    >>> from math import radians
    >>> round(banked_sink_growth(radians(30)), 2)
    1.24
    """
    return float(cos(bank)) ** -1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class SteadyTurn:
    """One steady turn; right is positive.

    Attributes
    ----------
    left, right : float
        Brakes, fractions of full travel. [-]
    rate : float
        Of the heading. [rad/s]
    bank, pitch, sideslip, alpha : float
        Right wing down, nose up; air from the right positive. [rad]
    airspeed, sink : float
        [m/s]
    growth : float
        Of the fastest growing mode about it; negative is stable. [1/s]
    pull : float
        Line pulled on the side of the larger brake, free play included. [m]
    payload : tuple of float
        Bank, pitch and heading over the canopy's of a payload that swings; empty on a pole. [rad]
    """

    left: float
    right: float
    rate: float
    bank: float
    pitch: float
    sideslip: float
    alpha: float
    airspeed: float
    sink: float
    growth: float
    pull: float
    payload: tuple[float, ...] = ()

    @property
    def motion(self) -> FloatArray:
        """Its unknowns, as of `straight_motion`: shape (6,) or (9,)."""
        ahead, v = self.airspeed * cos(self.sideslip), self.airspeed * sin(self.sideslip)
        velocity = (ahead * cos(self.alpha), v, ahead * sin(self.alpha))
        return np.array([*velocity, self.bank, self.pitch, self.rate, *self.payload])

    def state(self, height: float = 0.0) -> FloatArray:
        """State of this turn at a height above ground, heading north, shape (13,) or (20,)."""
        state = turning_state(self.motion)
        state[2] = -height
        return state

    @property
    def stable(self) -> bool:
        """Whether no mode about it grows."""
        return self.growth < GROWTH_TOLERANCE

    @property
    def steep(self) -> bool:
        """Whether it banks so far that it counts as a spiral."""
        return abs(self.bank) > STEEP_BANK

    @property
    def brake(self) -> float:
        """The larger one. [-]"""
        return max(self.left, self.right)

    @property
    def forward_speed(self) -> float:
        """Horizontal airspeed. [m/s]"""
        return sqrt(self.airspeed**2 - self.sink**2)

    @property
    def radius(self) -> float:
        """Of the circle over the air; infinite when straight. [m]"""
        return self.forward_speed / abs(self.rate) if self.rate else np.inf

    @property
    def turn_time(self) -> float:
        """Of a full circle; infinite when straight. [s]"""
        return 2 * pi / abs(self.rate) if self.rate else np.inf

    @property
    def height_per_turn(self) -> float:
        """Height lost in a full circle; infinite when straight. [m]"""
        return self.sink * self.turn_time

    @property
    def coordinated_bank(self) -> float:
        """Bank at which this speed and rate would need no side force: tan(bank) = V rate / g. [rad]"""
        return float(np.arctan(self.forward_speed * self.rate / GRAVITY))


def steady_turns(
    vehicle: Vehicle,
    *,
    left: float,
    right: float,
    brakes: FloatArray = BRAKES,
    growth: bool = True,
    table: AeroTable | None = None,
) -> tuple[SteadyTurn, ...]:
    """Steady turns in still air at the ground, by rising brake, as far as they can be followed.

    Parameters
    ----------
    vehicle : Vehicle
        In a calm or not: it is taken in still air.
    left, right : float
        Share of the brake that goes to each side.
    brakes : ndarray
        Rising from zero, fractions of full travel. [-]
    growth : bool
        Whether to work out the stability of each; else it is nan.
    table : AeroTable, optional
        Instead of the vehicle's whole one. The turns end where they leave the middle of it.
    """
    table = table or vehicle.model.table
    body = build_body(in_wind(vehicle, Wind.calm()), table)
    travel = vehicle.design.brakes.travel
    guess = straight_motion(body, find_trims(vehicle, modes=False).chosen)
    found: list[SteadyTurn] = []
    earlier: list[FloatArray] = []
    for brake in brakes:
        pair = (left * float(brake), right * float(brake))
        if len(earlier) > 1:
            guess = 2 * earlier[-1] - earlier[-2]
        settled = settled_motion(body, table, pair, guess)
        if settled is None:
            break
        if found and abs(settled[5] - found[-1].rate) > LARGEST_JUMP * (brake - found[-1].brake):
            break
        guess = settled
        earlier.append(guess)
        found.append(turn_of(body, guess, pair, growth=growth, pull=travel * float(brake)))
    return tuple(found)


def straight_motion(body: Body, trim: Trim) -> FloatArray:
    """A steady glide as the unknowns of a turn: shape (6,), or (9,) where the payload swings.

    Velocity [m/s], bank, pitch [rad] and turn rate [rad/s]; bank, pitch and heading of the payload. [rad]
    """
    straight = body.hanging(trim.state(height=0.0, heading=0.0))
    return np.array([*straight[VELOCITY], 0.0, trim.pitch, 0.0, *_payload_angles(straight)])


def settled_motion(
    body: Body,
    table: AeroTable,
    brakes: tuple[float, float],
    guess: FloatArray,
    *,
    inverse: FloatArray | None = None,
) -> FloatArray | None:
    """Steady turn near a guess, unknowns as of `straight_motion`; None if none is found inside the table.

    Parameters
    ----------
    body, table
        What moves, and its aerodynamics.
    brakes : tuple of float
        Left and right, fractions of full travel. [-]
    guess : ndarray
        Where to begin.
    inverse : ndarray, optional
        As of `inverse_slopes`, at a turn like it: then a few chords may do.
    """
    from scipy.optimize import root

    found = None if inverse is None else _by_chords(body, brakes, guess, inverse)
    if found is None:
        solution = root(partial(_unsteadiness, body, brakes), guess, tol=1e-10)
        found = solution.x if np.abs(solution.fun).max() <= RESIDUAL else None
    if found is None or not _inside(table, found):
        return None
    # Rounding noise in place of zero would make the solver's difference steps vanish.
    return np.where(np.abs(found) < 1e-9, 0.0, found)


def _by_chords(
    body: Body, brakes: tuple[float, float], guess: FloatArray, inverse: FloatArray
) -> FloatArray | None:
    found = guess
    for _ in range(CHORDS):
        change = _unsteadiness(body, brakes, found)
        if not np.abs(change).max() < 1.0:
            return None
        if np.abs(change).max() < SETTLED:
            return found
        found = found - inverse @ change
    return None


def inverse_slopes(body: Body, brakes: tuple[float, float], motion: FloatArray) -> FloatArray:
    """Inverse of how the accelerations change with the unknowns, shape (n, n)."""
    step = 1e-6 * np.eye(len(motion))
    slopes = [
        (_unsteadiness(body, brakes, motion + h) - _unsteadiness(body, brakes, motion - h)) / 2e-6
        for h in step
    ]
    return np.asarray(np.linalg.pinv(np.array(slopes).T))


def turning_table(model: AeroModel) -> AeroTable:
    """Table that gives what the whole one gives in a steady turn, and takes less than half the time."""
    return build_aero_table(model, alpha=TURNING_ALPHA, beta=TURNING_BETA)


def _inside(table: AeroTable, unknown: FloatArray) -> bool:
    """Whether a motion is a knot away from the ends of a table, where its cubics are the whole one's."""
    u, v, w = unknown[:3]
    alpha, beta = np.arctan2(w, u), np.arcsin(v / np.linalg.norm(unknown[:3]))
    return bool(table.alpha[1] <= alpha <= table.alpha[-2] and abs(beta) <= table.beta[-2])


def _payload_angles(state: FloatArray) -> FloatArray:
    """Bank, pitch and heading of a payload that swings, shape (3,); none of a rigid vehicle. [rad]"""
    attitude = state[PAYLOAD_ATTITUDE]
    return np.array(euler_from_quaternion(attitude)) if len(attitude) else np.empty(0)


def turning_state(unknown: FloatArray) -> FloatArray:
    """State of a steady turn at the ground, heading north.

    Parameters
    ----------
    unknown : ndarray, shape (6,) or (9,)
        Velocity, bank, pitch and turn rate; bank, pitch and heading of a payload that swings.
    """
    bank, pitch, rate = unknown[3:6]
    attitude = quaternion_from_euler(bank, pitch, 0.0)
    state = state_vector(
        position=np.zeros(3),
        attitude=attitude,
        velocity=unknown[:3],
        rates=rate * rotation_matrix(attitude)[2],
    )
    if len(unknown) == 6:
        return state
    held = quaternion_from_euler(*unknown[6:])
    return np.concatenate([state, held, rate * rotation_matrix(held)[2]])


def _unsteadiness(body: Body, brakes: tuple[float, float], unknown: FloatArray) -> FloatArray:
    """Accelerations, which a steady turn has none of, as many as unknowns. [m/s², rad/s²]"""
    derivative = body.derivative(turning_state(unknown), *brakes)
    return np.concatenate([derivative[MOTION], derivative[PAYLOAD_RATES]])


def turn_of(
    body: Body, unknown: FloatArray, brakes: tuple[float, float], *, growth: bool, pull: float
) -> SteadyTurn:
    """Steady turn of its unknowns, as `settled_motion` finds them."""
    u, v, w, bank, pitch, rate = unknown[:6].tolist()
    airspeed = float(np.linalg.norm(unknown[:3]))
    state = turning_state(unknown)
    down = float(rotation_matrix(state[3:7])[2] @ unknown[:3])
    return SteadyTurn(
        left=brakes[0],
        right=brakes[1],
        rate=rate,
        bank=bank,
        pitch=pitch,
        sideslip=float(np.arcsin(v / airspeed)),
        alpha=float(np.arctan2(w, u)),
        airspeed=airspeed,
        sink=down,
        growth=_growth(body, unknown, brakes) if growth else np.nan,
        pull=pull,
        payload=tuple(unknown[6:].tolist()),
    )


def _growth(body: Body, unknown: FloatArray, brakes: tuple[float, float]) -> float:
    """Real part of the fastest growing eigenvalue about a steady turn. [1/s]"""
    return float(np.linalg.eigvals(linearised(body, turning_state(unknown), *brakes)).real.max())
