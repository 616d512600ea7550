"""What all answers about a vehicle have in common."""

from parasim.dynamics.vehicle import Vehicle


class Answer:
    """Result of a question about a vehicle, in one line at a Python prompt.

    Attributes
    ----------
    vehicle : Vehicle
        What was asked about.
    """

    __slots__ = ()

    vehicle: Vehicle

    def __repr__(self) -> str:
        """What it is, and of which design."""
        return f"<{type(self).__name__} of {self.vehicle.design.name}>"
