"""Turning: what one brake does, steadily and at first.

Steady turns are followed from straight flight outwards, a little more brake at a time: root finding from
afar fails for large brakes. Each is checked for stability by its own eigenvalues. The step response is a
simulation. Still air near the ground throughout.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from math import degrees, pi, radians, sqrt

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.payload_joint import build_body
from parasim.dynamics.rigid_body import RigidBody, build_rigid_body
from parasim.dynamics.simulate import simulate
from parasim.dynamics.state import MOTION, VELOCITY, state_vector
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.wind import Wind
from parasim.flight.drop import payload_bottom, sample
from parasim.flight.trim import GROWTH_TOLERANCE, Trim, find_trims
from parasim.flight.uncertainty import Bands, bands
from parasim.rotations import FloatArray, euler_rates, quaternion_from_euler, rotation_matrix

BRAKES = np.linspace(0.0, 1.0, 21)
"""One-sided brakes at which steady turns are looked for, fractions of full travel. [-]"""

BAND_BRAKES = (0.25, 0.5, 0.75, 1.0)
"""One-sided brakes at which the turn rate gets a band. [-]"""

STEP_BRAKES = (0.25, 0.5, 0.75)
"""One-sided brakes whose step response is simulated. [-]"""

TURN_FACTORS = (
    "lift_factor",
    "moment_shift",
    "brake_lift_factor",
    "brake_drag_factor",
    "side_force_slope",
    "yaw_damping",
    "roll_damping",
)
"""Factors that a turn answers to."""

UNCALIBRATED = ("brake_lift_factor", "brake_drag_factor", "side_force_slope", "yaw_damping", "roll_damping")
"""Those of them that nothing but a flight of the maker's own can settle."""

STEEP_BANK = radians(45)
"""Bank from which a turn counts as a spiral. Our choice, no source. [rad]"""

STEP_HEIGHT, STEP_TIME = 400.0, 15.0
"""Height above ground at which a step response begins, and how long it is watched. [m], [s]"""

PULL_TIME = 0.3
"""Time that a step of the brake takes, where no servo says otherwise. [s]"""

RESIDUAL = 1e-6
"""Largest acceleration that counts as steady. [m/s², rad/s²]"""


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
        Of the fastest growing natural motion about it; negative is stable. [1/s]
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

    @property
    def stable(self) -> bool:
        """Whether no natural motion about it grows."""
        return self.growth < GROWTH_TOLERANCE

    @property
    def radius(self) -> float:
        """Of the circle over the air; infinite when straight. [m]"""
        return sqrt(self.airspeed**2 - self.sink**2) / abs(self.rate) if self.rate else np.inf

    @property
    def height_per_turn(self) -> float:
        """Height lost in a full circle; infinite when straight. [m]"""
        return self.sink * 2 * pi / abs(self.rate) if self.rate else np.inf

    @property
    def coordinated_bank(self) -> float:
        """Bank at which this speed and rate would need no side force: tan(bank) = V rate / g. [rad]"""
        return float(np.arctan(self.airspeed * self.rate / GRAVITY))


@dataclass(frozen=True, kw_only=True, eq=False)
class StepResponse:
    """What happens after one brake is pulled in straight flight.

    Attributes
    ----------
    left, right : float
        Brakes pulled to, fractions of full travel. [-]
    time, heading, rate, bank, sideslip, height_lost : ndarray, shape (n,)
        After the pull begins. [s], [rad], [rad/s], [rad], [rad], [m]
    settled_rate : float
        At the end. [rad/s]
    rise_time : float
        Until the rate first reaches nine tenths of that; nan if it never does. [s]
    overshoot : float
        Largest rate over the settled one, less one; never negative. [-]
    adverse_heading : float
        Furthest that the nose first went the other way. [rad]
    """

    left: float
    right: float
    time: FloatArray
    heading: FloatArray
    rate: FloatArray
    bank: FloatArray
    sideslip: FloatArray
    height_lost: FloatArray
    settled_rate: float
    rise_time: float
    overshoot: float
    adverse_heading: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Turn:
    """Answer to `parasim turn`.

    Attributes
    ----------
    vehicle : Vehicle
        What turns.
    straight : Trim
        Where it starts from.
    right, left : tuple of SteadyTurn
        By rising brake of that side; they end where steady turns do.
    steps : tuple of StepResponse
        Of the right brake.
    bands : Bands
        Turn rates by name "rate_25", ... at `BAND_BRAKES` of right brake. [rad/s]
    """

    vehicle: Vehicle
    straight: Trim
    right: tuple[SteadyTurn, ...]
    left: tuple[SteadyTurn, ...]
    steps: tuple[StepResponse, ...]
    bands: Bands

    @property
    def reversal(self) -> float | None:
        """Right brake from which on the turn goes towards it, not away; None if it always does. [-]"""
        rates = [turn.rate for turn in self.right]
        for before, after in zip(self.right[1:], self.right[2:], strict=False):
            if before.rate < 0 <= after.rate:
                part = -before.rate / (after.rate - before.rate)
                return before.right + part * (after.right - before.right)
        return 1.0 if len(rates) > 1 and max(rates[1:]) < 0 else None

    @property
    def spiral(self) -> float | None:
        """Least right brake whose turn is steep, grows or is not steady; None up to full brake. [-]"""
        for turn in self.right:
            if abs(turn.bank) > STEEP_BANK or not turn.stable:
                return turn.right
        last = self.right[-1].right
        return None if last >= 1.0 else last

    @property
    def uncalibrated_share(self) -> Mapping[str, float]:
        """Part of each squared band that rests on factors without calibration. [-]"""
        return {
            name: sum(share for cause, share in band.causes if cause in UNCALIBRATED)
            for name, band in self.bands.figures.items()
        }

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = list(self.vehicle.caveats)
        found.append(
            "Brake lift, brake drag and yaw damping were set by one second-hand figure of a 2 kg design "
            "(15.2 m radius at 7.2 m/s): that is calibration, not validation. Fly your own and set them."
        )
        if self.reversal is not None:
            found.append(
                f"Below {100 * self.reversal:.0f} % of travel a brake turns it the wrong way, by up to "
                f"{degrees(-min(turn.rate for turn in self.right)):.1f} deg/s."
            )
        if self.spiral is not None:
            found.append(
                f"From {100 * self.spiral:.0f} % of one brake on it spirals: it banks beyond "
                f"{degrees(STEEP_BANK):.0f} deg or finds no steady turn, and sinks fast."
            )
        if self.vehicle.design.payload.joint is not None:
            found.append(
                "Steady turns are those of the rigid vehicle; the step responses let the payload swing."
            )
        return tuple(found)


def turn(vehicle: Vehicle) -> Turn:
    """How a vehicle turns.

    Parameters
    ----------
    vehicle : Vehicle
        What turns.

    Raises
    ------
    TrimError
        If it has no stable steady glide hands up.
    """
    rigid = _rigid_in_still_air(vehicle)
    ranges = tuple(r for r in build_ranges(vehicle.design) if r.name in TURN_FACTORS)
    return Turn(
        vehicle=vehicle,
        straight=find_trims(rigid, table=rigid.table).chosen,
        right=steady_turns(rigid, left=0.0, right=1.0),
        left=steady_turns(rigid, left=1.0, right=0.0),
        steps=tuple(step_response(vehicle, left=0.0, right=brake) for brake in STEP_BRAKES),
        bands=bands(rigid, ranges, band_rates),
    )


def _rigid_in_still_air(vehicle: Vehicle) -> Vehicle:
    payload = vehicle.design.payload.model_copy(update={"joint": None})
    design = vehicle.design.model_copy(update={"payload": payload})
    return replace(vehicle, design=design, wind=Wind.calm())


def band_rates(vehicle: Vehicle) -> Mapping[str, float]:
    """Steady turn rates at `BAND_BRAKES` of right brake; where there is none, that of the last. [rad/s]"""
    turns = steady_turns(vehicle, left=0.0, right=1.0, brakes=np.linspace(0, 1, 9), growth=False)
    brakes = [each.right for each in turns]
    rates = [each.rate for each in turns]
    return {f"rate_{100 * brake:.0f}": float(np.interp(brake, brakes, rates)) for brake in BAND_BRAKES}


def steady_turns(
    vehicle: Vehicle,
    *,
    left: float,
    right: float,
    brakes: FloatArray = BRAKES,
    growth: bool = True,
) -> tuple[SteadyTurn, ...]:
    """Steady turns in still air at the ground, by rising brake, as far as they can be followed.

    Parameters
    ----------
    vehicle : Vehicle
        A rigid one.
    left, right : float
        Share of the brake that goes to each side.
    brakes : ndarray
        Rising from nought, fractions of full travel. [-]
    growth : bool
        Whether to work out the stability of each; else it is nan.
    """
    from scipy.optimize import root

    body = build_rigid_body(vehicle)
    trim = find_trims(vehicle, modes=False, table=vehicle.table).chosen
    guess = np.array([*trim.state(height=0.0, heading=0.0)[VELOCITY], 0.0, trim.pitch, 0.0])
    found: list[SteadyTurn] = []
    earlier: list[FloatArray] = []
    for brake in brakes:
        pair = (left * float(brake), right * float(brake))
        if len(earlier) > 1:
            guess = 2 * earlier[-1] - earlier[-2]
        solution = root(partial(_unsteadiness, body, pair), guess, tol=1e-10)
        if np.abs(solution.fun).max() > RESIDUAL:
            break
        if earlier and abs(solution.x[5] - earlier[-1][5]) > radians(60):
            break
        # Rounding noise in place of nought would make the solver's difference steps vanish.
        guess = np.where(np.abs(solution.x) < 1e-9, 0.0, solution.x)
        earlier.append(guess)
        found.append(_steady_turn(body, guess, pair, growth=growth))
    return tuple(found)


def _turning_state(unknown: FloatArray) -> FloatArray:
    """State of a steady turn at the ground, heading north, from velocity, bank, pitch and turn rate."""
    bank, pitch, rate = unknown[3:]
    attitude = quaternion_from_euler(bank, pitch, 0.0)
    return state_vector(
        position=np.zeros(3),
        attitude=attitude,
        velocity=unknown[:3],
        rates=rate * rotation_matrix(attitude)[2],
    )


def _unsteadiness(body: RigidBody, brakes: tuple[float, float], unknown: FloatArray) -> FloatArray:
    """Accelerations, which a steady turn has none of, shape (6,). [m/s²], [rad/s²]"""
    return body.derivative(_turning_state(unknown), *brakes)[MOTION]


def _steady_turn(
    body: RigidBody, unknown: FloatArray, brakes: tuple[float, float], *, growth: bool
) -> SteadyTurn:
    u, v, w, bank, pitch, rate = unknown.tolist()
    airspeed = float(np.linalg.norm(unknown[:3]))
    state = _turning_state(unknown)
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
    )


def _growth(body: RigidBody, unknown: FloatArray, brakes: tuple[float, float]) -> float:
    """Real part of the fastest growing eigenvalue about a steady turn. [1/s]"""
    steady = _turning_state(unknown)
    base = np.array([*steady[MOTION], unknown[3], unknown[4]])

    def rates(x: FloatArray) -> FloatArray:
        state = steady.copy()
        state[MOTION] = x[:6]
        state[3:7] = quaternion_from_euler(x[6], x[7], 0.0)
        roll_rate, pitch_rate, _ = euler_rates(state[3:7], x[3:6])
        return np.array([*body.derivative(state, *brakes)[MOTION], roll_rate, pitch_rate])

    step = 1e-5 * np.eye(8)
    jacobian = np.array([(rates(base + h) - rates(base - h)) / 2e-5 for h in step]).T
    return float(np.linalg.eigvals(jacobian).real.max())


def step_response(
    vehicle: Vehicle, *, left: float, right: float, pull_time: float = PULL_TIME
) -> StepResponse:
    """Pull one brake in straight flight and watch.

    Parameters
    ----------
    vehicle : Vehicle
        Its payload swings if the design says so.
    left, right : float
        Brakes to pull to, fractions of full travel. [-]
    pull_time : float
        How long the pull takes. [s]
    """
    still = replace(vehicle, wind=Wind.calm())
    trim = find_trims(still, height=STEP_HEIGHT, modes=False).chosen
    body = build_body(still)
    start = body.hanging(trim.state(height=STEP_HEIGHT, heading=0.0))
    pull = BrakeCommand(at_time=0.0, left=left, right=right, over=pull_time)
    trajectory = simulate(body, start, (pull,), payload_bottom=payload_bottom(still), longest=STEP_TIME)
    track = sample(body, still, trajectory)
    heading = np.unwrap(track.attitude[2])
    rate = np.gradient(heading, track.time)
    return _read_step(left, right, track.time, heading, rate, track.attitude[0], track.beta, track.height)


def _read_step(
    left: float,
    right: float,
    time: FloatArray,
    heading: FloatArray,
    rate: FloatArray,
    bank: FloatArray,
    sideslip: FloatArray,
    height: FloatArray,
) -> StepResponse:
    settled = float(rate[time > time[-1] - 2.0].mean())
    side = 1.0 if right >= left else -1.0
    towards = 1.0 if settled >= 0 else -1.0
    reached = np.flatnonzero(towards * rate >= 0.9 * abs(settled))
    return StepResponse(
        left=left,
        right=right,
        time=time,
        heading=heading,
        rate=rate,
        bank=bank,
        sideslip=sideslip,
        height_lost=height[0] - height,
        settled_rate=settled,
        rise_time=float(time[reached[0]]) if len(reached) else np.nan,
        overshoot=max(0.0, float((towards * rate).max()) / abs(settled) - 1.0) if settled else 0.0,
        adverse_heading=max(0.0, float((-side * heading)[time < 3.0].max())),
    )
