"""Where the drag comes from: the build-up at trim, item by item."""

from dataclasses import dataclass
from math import cos, sin

import numpy as np

from parasim.aerodynamics.drag import body_forces
from parasim.aerodynamics.fins import fin_forces
from parasim.aerodynamics.strips import Flow
from parasim.answer import Answer
from parasim.dynamics.vehicle import Vehicle
from parasim.flight.trim import Trim, Trims, find_trims


@dataclass(frozen=True, slots=True, kw_only=True)
class DragItem:
    """One part of the drag.

    Attributes
    ----------
    name : str
        Of the item.
    CD : float
        Drag coefficient on flat area. [-]
    share : float
        Of the whole drag. [-]
    """

    name: str
    CD: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DragBuildUp:
    """All parts of the drag of a steady glide, largest first.

    Attributes
    ----------
    items : tuple of DragItem
        They add up to `CD`.
    CD, CL : float
        Of the whole vehicle on flat area. [-]
    """

    items: tuple[DragItem, ...]
    CD: float
    CL: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Drag(Answer):
    """Answer to `parasim drag`.

    Attributes
    ----------
    vehicle : Vehicle
        What flies.
    trims : Trims
        Its steady glides with the brakes released.
    build_up : DragBuildUp
        Of the one that is flown.
    """

    REPORT = "parasim.report.drag:DragReport"

    vehicle: Vehicle
    trims: Trims
    build_up: DragBuildUp

    @property
    def caveats(self) -> tuple[str, ...]:
        """Where the models are used beyond what they are known for."""
        return (*self.vehicle.caveats, *self.trims.notes)


def drag(vehicle: Vehicle) -> Drag:
    """Drag of the glide with the brakes released, item by item.

    Parameters
    ----------
    vehicle : Vehicle
        What flies.

    Raises
    ------
    TrimError
        If it has no stable steady glide with the brakes released.
    """
    trims = find_trims(vehicle, modes=False)
    return Drag(vehicle=vehicle, trims=trims, build_up=drag_build_up(vehicle, trims.chosen))


def drag_build_up(vehicle: Vehicle, trim: Trim) -> DragBuildUp:
    """Drag items of a steady glide, from the model itself, not from the tables.

    Parameters
    ----------
    vehicle : Vehicle
        What flies.
    trim : Trim
        How.
    """
    model = vehicle.model
    flow = Flow.steady(np.array([trim.alpha]))
    along, brake = flow.wind[0], np.array([trim.brake])
    loads = model.loads(flow, brake, brake)
    area = model.area

    def coefficient(forces: np.ndarray) -> float:
        return float((forces @ along).sum()) / area

    skin = {name: cd * _skin_share(vehicle, flow) for name, cd in model.skin_drag.items()}
    parts = {
        "induced": coefficient(loads.induced_drag[0, 0]),
        "canopy profile": coefficient(loads.profile_drag[0, 0]) - sum(skin.values()),
        **skin,
    }
    fins = fin_forces(model.fins, flow)[0]
    for name, force in zip(model.fins.name, fins, strict=True):
        parts[name] = parts.get(name, 0.0) + coefficient(force)
    wind = np.broadcast_to(along, vehicle.bodies.position.shape)
    for name, force in zip(vehicle.bodies.name, body_forces(vehicle.bodies, wind), strict=True):
        parts[name] = parts.get(name, 0.0) + coefficient(force)
    whole = sum(parts.values())
    items = (DragItem(name=name, CD=cd, share=cd / whole) for name, cd in parts.items())
    lift_direction = np.array([sin(trim.alpha), 0.0, -cos(trim.alpha)])
    lift = float((loads.lift[0, 0] @ lift_direction).sum()) / area
    return DragBuildUp(items=tuple(sorted(items, key=lambda item: -item.CD)), CD=whole, CL=lift)


def _skin_share(vehicle: Vehicle, flow: Flow) -> float:
    """Drag on flat area of a section drag coefficient of one on every strip: strip area over flat area."""
    strips = vehicle.model.lattice.strips
    speed = np.linalg.norm(flow.wind_at(strips.quarter_chord)[0], axis=-1)
    return float((strips.chord * strips.width * speed**2).sum()) / vehicle.model.area
