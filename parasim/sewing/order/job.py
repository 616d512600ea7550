"""What is to be built, and how its sizes are written: shared by all steps."""

from dataclasses import dataclass
from itertools import groupby

from parasim.config.design import Design
from parasim.geometry.canopy import Canopy
from parasim.geometry.lines import LineSet
from parasim.sewing.line_sheet import LineSheet
from parasim.sewing.templates import Templates
from parasim.units import System, show

CLOTH_TOLERANCE = 0.002
"""Of a piece's sewing line. [m] Common practice, no source."""

SPAN_TOLERANCE = 0.005
"""Of the sewn span, over the span. [-] Common practice, no source."""

LINE_TOLERANCE = 0.002
"""Of a finished line under the measuring tension. [m] Common practice, no source."""

MASS_TOLERANCE = 0.10
"""Of a weighed canopy, over its computed mass: seams and thread are estimated. [-] Our choice, no source."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Job:
    """What is to be built.

    Attributes
    ----------
    templates : Templates
        Every piece of cloth.
    line_set : LineSet
        As in the geometry.
    line_sheet : LineSheet
        As tied and measured.
    rigging_angle, line_length : float
        Nose-down positive [rad]; confluence to the quarter chord of the centre rib [m].
    cloth_mass, line_mass, payload_mass : float
        Canopy without lines, all lines, payload. [kg]
    left_right : float
        Difference of left and right beyond which a turn is expected. [m]
    system : {"metric", "imperial"}
        In which sizes are written in sentences.
    """

    templates: Templates
    line_set: LineSet
    line_sheet: LineSheet
    rigging_angle: float
    line_length: float
    cloth_mass: float
    line_mass: float
    payload_mass: float
    left_right: float
    system: System = "metric"

    @property
    def design(self) -> Design:
        """As written."""
        return self.templates.design

    @property
    def canopy(self) -> Canopy:
        """As inflated."""
        return self.templates.canopy

    @property
    def all_up_mass(self) -> float:
        """[kg]"""
        return self.cloth_mass + self.line_mass + self.payload_mass

    def size(self, length: float) -> str:
        """Small length in words. [m]"""
        return show(length, "tape_length", self.system)

    def say(self, value: float, kind: str, digits: int | None = None) -> str:
        """Quantity in words, from SI."""
        return show(value, kind, self.system, digits=digits)


def listed(numbers: tuple[int, ...]) -> str:
    """Rising numbers in words; three or more in a row are shortened.

    Examples
    --------
    >>> listed((1, 3, 5)), listed((2,)), listed((1, 2, 4, 5, 6))
    ('1, 3 and 5', '2', '1, 2 and 4 to 6')
    """
    words = []
    for _, group in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0]):
        run = [number for _, number in group]
        words += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(number) for number in run]
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
