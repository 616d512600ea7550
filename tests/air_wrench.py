"""What the air does to a rigid vehicle, for tests that weigh it against something else."""

import numpy as np

from parasim.dynamics.motion import bodies_wrench, canopy_wrench
from parasim.dynamics.rigid_body import RigidBody
from parasim.rotations import FloatArray


def air_wrench(
    body: RigidBody, air_motion: FloatArray, density: float, left: float, right: float
) -> FloatArray:
    """Force and moment about the confluence, shape (6,), body axes, by velocity through the air and rates."""
    velocity, rates = tuple(air_motion[:3].tolist()), tuple(air_motion[3:].tolist())
    canopy = canopy_wrench(body.motion.table, (0.0, 0.0, 0.0), velocity, rates, density, left, right)
    return np.ravel(canopy) + density * np.ravel(bodies_wrench(body.bodies, velocity, rates))
