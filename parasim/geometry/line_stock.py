"""What the line is made of: how it stretches, breaks and shrinks.

A braid is described by its fibre and its mass per length; the table holds specific values, so no diameter and
no packing enters.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from parasim.config.lines import LinesSpec
from parasim.geometry.lines import Line
from parasim.geometry.seams import TAB_LENGTH

TEX = 1e-6
"""One gram a kilometre. [kg/m] By definition."""

BRAID_STIFFNESS = 0.5
"""Stiffness of a braid over that of its fibres laid straight. Common practice, no source. [-]"""

BRAID_STRENGTH = 0.7
"""Strength of a braid over that of its fibres laid straight. Common practice, no source. [-]"""

KNOT_EFFICIENCY = 0.5
"""Strength left at a knot: 50 to 60 % is usual, the lower end taken. Common practice, no source. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class FibreProperties:
    """Of a fibre, per linear density.

    Attributes
    ----------
    modulus, tenacity : float
        Tension over strain, and at break, over mass per length. [N m/kg]
    shrinkage : float
        Part of its length that a new line may lose as it settles in use. [-]
    note : str
        What a maker should know of it.
    """

    modulus: float
    tenacity: float
    shrinkage: float
    note: str


FIBRES = {
    "polyester": FibreProperties(modulus=10 / TEX, tenacity=0.8 / TEX, shrinkage=0.005,
                                 note="stretches a little, keeps its length"),
    "aramid": FibreProperties(modulus=49 / TEX, tenacity=2.0 / TEX, shrinkage=0.002,
                              note="hardly stretches; sharp bends and sunlight weaken it"),
    "uhmwpe": FibreProperties(modulus=100 / TEX, tenacity=3.0 / TEX, shrinkage=0.010,
                              note="hardly stretches; shrinks in use, knots slip: measure again early"),
    "nylon": FibreProperties(modulus=4.5 / TEX, tenacity=0.8 / TEX, shrinkage=0.010,
                             note="stretches much, and changes length when wet: a poor choice for rigging"),
}  # fmt: skip
"""Generic fibres. Modulus and tenacity: handbook values from memory, unverified; shrinkage and notes: common
practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineStock:
    """The line as bought.

    Attributes
    ----------
    stiffness : float or None
        Tension over strain; None when the material is not given, and then no stretch is estimated. [N]
    strength : float or None
        Of the unknotted line; None when neither strength nor material is reported. [N]
    strength_is_given : bool
        Whether the design gives it; else it is estimated from the fibre.
    shrinkage : float
        Part of its length it may lose in use; zero when the material is not given. [-]
    """

    stiffness: float | None
    strength: float | None
    strength_is_given: bool
    shrinkage: float

    @property
    def knotted_strength(self) -> float | None:
        """At a knot, by `KNOT_EFFICIENCY`. [N]"""
        return None if self.strength is None else KNOT_EFFICIENCY * self.strength

    def stretched(self, length: float, *, at: float, measured_under: float) -> float:
        """Length that a line of this length under tension `at` shows under another tension. [N], [m]

        Examples
        --------
        >>> stock = LineStock(stiffness=1000.0, strength=None, strength_is_given=False, shrinkage=0.0)
        >>> round(stock.stretched(1.0, at=0.0, measured_under=10.0), 6)
        1.01
        """
        if self.stiffness is None:
            return length
        return length * (1 + measured_under / self.stiffness) / (1 + at / self.stiffness)


def finished_lengths(
    spec: LinesSpec, lines: Iterable[Line], tension: Mapping[str, float]
) -> dict[str, float]:
    """Loop end to loop end under the measuring tension, without the tab: label to length. [m]

    Parameters
    ----------
    spec : LinesSpec
        What they are made of.
    lines : iterable of Line
        As they fly.
    tension : mapping
        Label to tension in the glide, for the stretch; lines that are not in it are slack then. [N]
    """
    stock = build_line_stock(spec)
    return {
        line.label: stock.stretched(
            line.length - (TAB_LENGTH if line.at_tab else 0.0),
            at=tension.get(line.label, 0.0),
            measured_under=spec.measuring_tension,
        )
        for line in lines
    }


def build_line_stock(spec: LinesSpec) -> LineStock:
    """Line stock of a design."""
    fibre = None if spec.material is None else FIBRES[spec.material]
    estimate = None if fibre is None else BRAID_STRENGTH * fibre.tenacity * spec.linear_density
    return LineStock(
        stiffness=None if fibre is None else BRAID_STIFFNESS * fibre.modulus * spec.linear_density,
        strength=estimate if spec.strength is None else spec.strength,
        strength_is_given=spec.strength is not None,
        shrinkage=0.0 if fibre is None else fibre.shrinkage,
    )
