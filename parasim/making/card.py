"""What is looked up in the field, worked out beforehand: release, ground to keep clear, flare, lists."""

from collections.abc import Iterator
from dataclasses import dataclass

from parasim.answer import Answer
from parasim.caveats import kind_of
from parasim.dynamics.vehicle import Vehicle
from parasim.flight.arrival import Touchdown, limits_lacking
from parasim.flight.flare.flare import Flare, flare
from parasim.flight.landing import GROUND, Course, judged
from parasim.flight.landing import Arrival as Landing
from parasim.flight.release.look_up import LookUp, look_up
from parasim.flight.release.release import flare_moves, planning_caveats
from parasim.flight.turn.turn import second_hand
from parasim.making.build import Build, build

HIGHEST = 500.0
"""Release height up to which a card is made unless asked for more. [m] Our choice."""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Card(Answer):
    """Answer to `parasim card`.

    Attributes
    ----------
    vehicle : Vehicle
        What is let go.
    design_file : str
        As it was given.
    look_up : LookUp
        Release points by wind and height.
    flare : Flare
        The best.
    build : Build
        With its checklists, and what the opening takes.
    """

    REPORT = "parasim.report.card:CardReport"

    vehicle: Vehicle
    design_file: str
    look_up: LookUp
    flare: Flare
    build: Build

    @property
    def ground_winds(self) -> tuple[float, ...]:
        """Near the ground, for every wind of the grid. [m/s]"""
        share = self.look_up.wind.share(GROUND)
        return tuple(share * speed for speed in self.look_up.winds.tolist())

    def landings(self, course: Course) -> tuple[Landing, ...]:
        """Arrivals with the brakes released, for every wind of the grid."""
        trim, limits = self.build.flight.trim, self.vehicle.design.landing
        still = Touchdown(ground_speed=trim.forward_speed, sink=trim.sink, mass=self.vehicle.mass)
        return tuple(judged("brakes released", still, wind, course, limits) for wind in self.ground_winds)

    @property
    def minimum_release_height(self) -> float | None:
        """Packed, for the opening and the dive after it; None where the model reaches no glide. [m]"""
        return self.build.flight.opening.minimum_release_height

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        return tuple(
            dict.fromkeys([*self.build.flight.opening.caveats, *self.flare.caveats, *self._of_release()])
        )

    def _of_release(self) -> Iterator[str]:
        design = self.vehicle.design
        yield from second_hand(design)
        yield from limits_lacking(design)
        law, highest = self.look_up.wind.law, float(self.look_up.heights[-1])
        flares, gusts = len(flare_moves(self.vehicle, highest)) > 0, bool(self.look_up.gusts.any())
        yield from law.caveats(highest)
        yield from planning_caveats(law, highest, gust=gusts, flare=flares)

    @property
    def lacking(self) -> tuple[str, ...]:
        """What the file does not say."""
        return tuple(caveat for caveat in self.caveats if kind_of(caveat) == "lacks")


def card(
    vehicle: Vehicle,
    *,
    design_file: str = "",
    highest: float | None = None,
    gust: float | None = None,
    brake: float | None = None,
) -> Card:
    """A card for the field.

    Parameters
    ----------
    vehicle : Vehicle
        Assembled from the design; of its wind only the law by height counts.
    design_file : str
        Named on the card; by default called like the design.
    highest : float, optional
        Release height up to which; else twice the design's, at most `HIGHEST`. [m]
    gust, brake : float, optional
        As for `release`. [m/s], [-]

    Raises
    ------
    DesignError
        If the highest is too low for one circle and the final, or the cloth cannot be cut.
    OptionError
        If it does not turn under that brake.
    TrimError
        If there is no steady glide.
    """
    design = vehicle.design
    height = min(2 * design.drop.height, HIGHEST) if highest is None else highest
    return Card(
        vehicle=vehicle,
        design_file=design_file or f"{design.name}.yaml",
        look_up=look_up(vehicle, highest=height, gust=gust, brake=brake),
        flare=flare(vehicle),
        build=build(vehicle, design_file=design_file),
    )
