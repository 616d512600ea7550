"""What the lines of the stabilisers carry: an estimate, for they run in the plane of the fin.

A line straight below a fin holds no side force until the fin leans: how hard it pulls depends on how far
that is, which no rigid model says. Pressure even over the fin leaves half of its side force to the lower
edge; there the lines hold it once the fin leans by `LEAN`.
"""

from dataclasses import dataclass
from math import radians, sin

import numpy as np

from parasim.aerodynamics.fins import CROSS_FLOW_DRAG, fin_forces
from parasim.aerodynamics.strips import Flow
from parasim.caveats import Caveat
from parasim.dynamics.vehicle import Vehicle
from parasim.flight.trim import Trim
from parasim.geometry.fin_lines import fin_places
from parasim.rotations import FloatArray

LEAN = radians(10.0)
"""Angle between fin and line at which the line holds the fin's lower edge. Our choice, no source. [rad]"""

LOWER_EDGE = 0.5
"""Part of a fin's side force that its lower edge bears, under even pressure. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FinLoads:
    """Of the lines at both stabilisers.

    Attributes
    ----------
    tension : dict of str to float
        Label to tension in the steady glide, by the fin's own force there. [N]
    bound : dict of str to float
        The same with the fin square to the flow at the glide's airspeed. [N]
    pull : ndarray, shape (2, 3)
        Of the lines on the left and the right tip rib, with what they take of the side force. [N]
    """

    tension: dict[str, float]
    bound: dict[str, float]
    pull: FloatArray

    @property
    def most(self) -> float:
        """Largest bound. [N]"""
        return max(self.bound.values(), default=0.0)

    def caveats(self, knotted_strength: float | None, wanted: float) -> list[Caveat]:
        """How far to trust it, and whether the line is too weak for it."""
        if not self.bound:
            return []
        found = [
            Caveat(
                "Lines of the stabilisers: no load is known of cloth that leans; from area and dynamic "
                "pressure one may bear up to {most}, the fin square to the flow and leaning 10 deg (our "
                "choice).",
                about="fins",
                most=(self.most, "force"),
            )
        ]
        if knotted_strength is not None and knotted_strength < wanted * self.most:
            found.append(
                Caveat("The lines of the stabilisers may break in side flow: use stronger line.", "fails")
            )
        return found


def fin_loads(vehicle: Vehicle, trim: Trim) -> FinLoads:
    """Of a steady glide, brakes released; empty without lines to the stabilisers."""
    pressure = 0.5 * trim.air_density * trim.airspeed**2
    share = edge_shares(fin_places(vehicle.design, vehicle.canopy))
    fins = vehicle.model.fins
    forces = pressure * fin_forces(fins, Flow.steady(np.array([trim.alpha])))[0]
    sides = [i for i, name in enumerate(fins.name) if name == "stabilisers"]
    tension, bound, pull = {}, {}, np.zeros((2, 3))
    for line in vehicle.line_set.fins:
        right = int(line.side == "R")
        i, part = sides[right], LOWER_EDGE * share[line.rows[0]]
        across = part * float(forces[i] @ fins.normal[i])
        tension[line.label] = abs(across) / sin(LEAN)
        bound[line.label] = part * CROSS_FLOW_DRAG * pressure * float(fins.area[i]) / sin(LEAN)
        along = (line.start - line.end) / line.length
        pull[right] += tension[line.label] * along - across * fins.normal[i]
    return FinLoads(tension=tension, bound=bound, pull=pull)


def edge_shares(places: dict[str, float]) -> dict[str, float]:
    """Part of the lower edge's load that each tab takes, by the way to its neighbours; adds to one.

    Examples
    --------
    >>> {name: round(share, 3) for name, share in edge_shares({"S": 0.1, "T": 0.3, "U": 0.4}).items()}
    {'S': 0.333, 'T': 0.5, 'U': 0.167}
    """
    if len(places) < 2:
        return dict.fromkeys(places, 1.0)
    names = sorted(places, key=places.__getitem__)
    at = np.array([places[name] for name in names])
    edges = np.concatenate([at[:1], (at[:-1] + at[1:]) / 2, at[-1:]])
    width = np.diff(edges) / (at[-1] - at[0])
    return dict(zip(names, width.tolist(), strict=True))
