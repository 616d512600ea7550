"""The turn that a canopy takes on lines that differ between left and right.

What lines of uneven length do is put to the model as moments of the steady glide: the load hangs aside of the
canopy's plane of symmetry, and the cloth is twisted. On an arc a twist that grows as the sine of the arc
angle turns the section of every strip by what a sideslip would, so that the lattice gives its loads. Uneven
brake lines are brakes. Then the steady turn is sought as that of `parasim turn` is.
"""

from collections.abc import Mapping
from dataclasses import replace
from math import cos

import numpy as np

from parasim.aerodynamics.strips import Flow
from parasim.aerodynamics.table import AeroTable
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY
from parasim.flight.trim import Trim
from parasim.flight.turn.steady import SteadyTurn, steady_turns
from parasim.geometry.hang import Unevenness
from parasim.mass.inventory import payload_center
from parasim.rotations import FloatArray

STEPS = 9
"""Brakes by which uneven brake lines are followed, so that the turn is the one `parasim turn` finds."""


def uneven_turn(
    vehicle: Vehicle,
    trim: Trim,
    uneven: Unevenness,
    brakes: Mapping[str, float],
    *,
    more: FloatArray | float = 0.0,
    table: AeroTable | None = None,
) -> SteadyTurn | None:
    """Steady turn on uneven lines, nobody steering.

    Parameters
    ----------
    vehicle : Vehicle
        In the pose that both sides share.
    trim : Trim
        Its steady glide, brakes released.
    uneven : Unevenness
        Of its lines.
    brakes : mapping
        "L" and "R" to what the brake lines pull by themselves, fractions of full travel. [-]
    more : ndarray, shape (6,), optional
        Added to the six coefficients of the canopy. [-]
    table : AeroTable, optional
        Instead of the vehicle's whole one, as for `steady_turns`.

    Returns
    -------
    SteadyTurn or None
        None where no steady turn could be followed.
    """
    table = table or vehicle.model.table
    added = more + aside_coefficients(vehicle, trim, uneven)
    if uneven.twist:
        added = added + twist_coefficients(vehicle, trim, uneven.twist)
    pull = max(brakes.values())
    share = {side: brake / pull if pull else 0.0 for side, brake in brakes.items()}
    wanted = np.linspace(0.0, pull, STEPS) if pull else np.zeros(1)
    turns = steady_turns(
        vehicle,
        left=share["L"],
        right=share["R"],
        brakes=wanted,
        growth=False,
        table=replace(table, steady=table.steady + added),
    )
    return turns[-1] if len(turns) == len(wanted) else None


def twist_coefficients(vehicle: Vehicle, trim: Trim, twist: float) -> FloatArray:
    """What a twist adds to the six coefficients of the canopy at a steady glide, shape (6,). [-]

    The strips' loads in a sideslip of as much, turned back by the angle by which the air there comes from
    another way: a twist turns the section, not the air.
    """
    model, none = vehicle.model, np.array([trim.brake])
    strips = model.lattice.strips
    # To the right the chord surface faces right: moving there, the air comes from further above.
    found = []
    for beta in (-twist, 0.0):
        loads = model.loads(Flow.steady(np.array([trim.alpha]), beta), none, none)
        turned = -beta * strips.spanwise[:, 2]  # the sine of the arc angle
        force = loads.force[0, 0] + turned[:, None] * np.cross(strips.spanwise, loads.force[0, 0])
        moment = (np.cross(strips.quarter_chord, force) + loads.moment[0, 0]).sum(axis=0)
        found.append(np.concatenate([force.sum(axis=0) / model.area, moment / (model.area * model.lengths)]))
    return found[0] - found[1]


def aside_coefficients(vehicle: Vehicle, trim: Trim, uneven: Unevenness) -> FloatArray:
    """Moments of a payload that hangs aside, as coefficients of the canopy, shape (6,). [-]

    About the confluence of the canopy, by weight alone: right of the plane of symmetry it rolls right.
    """
    payload = vehicle.design.payload.mass
    roll = payload * GRAVITY * cos(trim.pitch) * uneven.aside(payload_center(vehicle.design))
    pressure = 0.5 * trim.air_density * trim.airspeed**2
    model = vehicle.model
    return np.array([0.0, 0.0, 0.0, roll / (pressure * model.area * model.span), 0.0, 0.0])
