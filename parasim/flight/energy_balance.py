"""The energy balance of a flight: whether the motion made energy out of nothing.

Told in the air's own frame: kinetic energy E by the velocity through the air, that of the air moved along
too, and potential energy over the ground. There a steady wind does no work. What can add energy is a wind
that changes on board, by gusts or by shear, and air that rises:

    dE <= -P . dW - m g W_down dt,

with P the momentum through the air, W the wind at the vehicle, and m the mass that has weight. All drag, of
canopy, lines and payload, and dampers only take. Springs of a joint are left out of E: what they hold they
have from it.
"""

from dataclasses import dataclass

import numpy as np

from parasim.caveats import Caveat
from parasim.dynamics.rigid_body import RigidBody
from parasim.dynamics.simulate import Trajectory
from parasim.dynamics.state import ATTITUDE, MOTION, PAYLOAD_RATES
from parasim.dynamics.suspension.payload_joint import JointedBody
from parasim.environment.atmosphere import GRAVITY, HIGHEST_HEIGHT, LOWEST_HEIGHT
from parasim.rotations import FloatArray, rotation_matrix

ALLOWED = 0.02
"""Gain that passes, over the largest kinetic energy of the flight: steps and sums are not exact. Our choice;
what flights of the designs shipped show is less. [-]"""

MOST_SAMPLES = 20_000
"""Moments at which a flight is looked at, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyBalance:
    """What a flight's energy did.

    Attributes
    ----------
    gain : float
        Most that it grew, from any moment to any later one, beyond the work of the wind. [J]
    kinetic : float
        Largest kinetic energy through the air. [J]
    time : float
        At which the gain was complete. [s]
    """

    gain: float
    kinetic: float
    time: float

    @property
    def broken(self) -> bool:
        """Whether energy came from nothing."""
        return not self.gain <= ALLOWED * self.kinetic

    @property
    def caveats(self) -> tuple[str, ...]:
        """A sentence if it did."""
        if not self.broken:
            return ()
        return (
            Caveat(
                f"Energy from nothing: {{gain}} more by {self.time:.1f} s than the wind can have given; the "
                "figures of this drop are an error of the model.",
                gain=(self.gain, "energy", 2),
            ),
        )


def energy_balance(body: RigidBody | JointedBody, trajectory: Trajectory) -> EnergyBalance:
    """Balance of a flight, at the integrator's own steps and half-way between."""
    steps = trajectory.time
    time = np.sort(np.concatenate([steps, (steps[1:] + steps[:-1]) / 2]))
    time = time[:: 1 + len(time) // MOST_SAMPLES]
    state = trajectory.at(time)
    wind = trajectory.gust(body, time)
    wind[:2] += body.wind.profile(-state[2])
    return balance(body, time, state, wind)


def balance(
    body: RigidBody | JointedBody, time: FloatArray, state: FloatArray, wind: FloatArray
) -> EnergyBalance:
    """Balance of states along a flight.

    Parameters
    ----------
    body : RigidBody or JointedBody
        What flew.
    time, state, wind : ndarray, shape (n,), (n_states, n), (3, n)
        Of each moment; the wind at the vehicle, gusts with it, north, east, down. [s], [m/s]
    """
    canopy = body.canopy if isinstance(body, JointedBody) else body
    to_earth = rotation_matrix(state[ATTITUDE])
    motion = state[MOTION].copy()
    motion[:3] -= np.einsum("jin,jn->in", to_earth, wind)
    altitude = np.clip(canopy.ground_height - state[2], LOWEST_HEIGHT, HIGHEST_HEIGHT)
    density = np.array([body.atmosphere.density(float(height)) for height in altitude])
    carried = canopy.enclosed_matrix + canopy.air_matrix
    momentum = np.einsum("ij,jn->in", canopy.solid.matrix, motion)
    solid = 0.5 * (momentum * motion).sum(axis=0)
    air = 0.5 * np.einsum("in,ij,jn->n", motion, carried, motion)
    moving = momentum[:3] + density * np.einsum("ij,jn->in", canopy.enclosed_matrix[:3], motion)
    moving = np.einsum("ijn,jn->in", to_earth, moving)
    arm = np.einsum("ijn,j->in", to_earth, canopy.solid.first_moment)
    potential = -GRAVITY * (canopy.mass * state[2] + arm[2])
    if isinstance(body, JointedBody):
        kinetic, payload_momentum, height = _payload(body, state, wind)
        solid, moving = solid + kinetic, moving + payload_momentum
        potential = potential + body.payload_mass * GRAVITY * height
    mean_moving = (moving[:, 1:] + moving[:, :-1]) / 2
    work = -(mean_moving * np.diff(wind, axis=1)).sum(axis=0)
    work -= body.mass * GRAVITY * (wind[2, 1:] + wind[2, :-1]) / 2 * np.diff(time)
    # That the air gets denser on the way down is no gain of the motion.
    change = np.diff(solid + potential) + (density[1:] + density[:-1]) / 2 * np.diff(air)
    unexplained = np.concatenate([[0.0], np.cumsum(change - work)])
    over_minimum = unexplained - np.minimum.accumulate(unexplained)
    worst = int(np.argmax(over_minimum))
    return EnergyBalance(
        gain=float(over_minimum[worst]), kinetic=float((solid + density * air).max()), time=float(time[worst])
    )


def _payload(
    body: JointedBody, state: FloatArray, wind: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Kinetic energy through the air, momentum in earth axes, and height of a payload that swings."""
    position, velocity = body.payload(state, body.payload_center)
    through_air, rates = velocity - wind, state[PAYLOAD_RATES]
    kinetic = 0.5 * body.payload_mass * (through_air**2).sum(axis=0)
    kinetic = kinetic + 0.5 * np.einsum("in,ij,jn->n", rates, body.payload_inertia, rates)
    return kinetic, body.payload_mass * through_air, -position[2]
