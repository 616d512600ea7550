"""What the canopy is as sewn and inflated."""

from dataclasses import dataclass

from parasim.answer import Answer
from parasim.dynamics.vehicle import Vehicle


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Geometry(Answer):
    """Answer to `parasim canopy`.

    Attributes
    ----------
    vehicle : Vehicle
        Whose canopy, lines and masses.
    """

    REPORT = "parasim.report.canopy:CanopyReport"

    vehicle: Vehicle

    @property
    def caveats(self) -> tuple[str, ...]:
        """Where the models are used beyond what they are known for."""
        return self.vehicle.caveats


def canopy(vehicle: Vehicle) -> Geometry:
    """Spans, areas, ribs, lines and masses.

    Parameters
    ----------
    vehicle : Vehicle
        Whose.
    """
    return Geometry(vehicle=vehicle)
