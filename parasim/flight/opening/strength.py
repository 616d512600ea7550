"""What lines, tabs and payload make of the loads of an opening."""

from dataclasses import dataclass

from parasim.caveats import Caveat
from parasim.config.opening import OpeningSpec
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY
from parasim.flight.line_loads import MINIMUM_MARGIN, LineLoads, line_loads
from parasim.flight.trim import Trim
from parasim.geometry.line_stock import KNOT_EFFICIENCY, build_line_stock
from parasim.geometry.lines import Hold, LineSet

UNEVEN = 1.5
"""Load of the most loaded line or tab over an even share as the canopy opens: they do not tighten at once.
The steady glide's share counts where it is larger. 1.5 to 2 is common practice, no source. [-]"""

TAB_STRENGTH = 60.0
"""Of a line tab sewn to a rib through a patch, unless given. Common practice, no source:
pull one. [N]"""

FIBRES_IF_UNKNOWN = ("polyester", "nylon", "uhmwpe")
"""Likely, softest and stiffest line where the material is not given."""

SYMBOLS = {"holds": "+", "weak": "!", "may be weak": "!", "over": "x", "may be over": "!", "not known": "?"}
"""Verdicts of `Check`, each as one character too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A load against what holds it.

    Attributes
    ----------
    part, event : str
        What is loaded: line, tab or payload; and when: opening or snatch.
    load : float
        Of the most loaded one. [N]
    strength : float or None
        A line's at a knot; what the payload's limit makes of its weight. None when it is not given. [N]
    wanted : float
        Margin below which it counts as weak. [-]
    efficiency : float
        Part of its strength that is left where it is tied. [-]
    ends : tuple of float or None
        Load at the low and the high end of its band; None where the load is the high end itself. [N]
    """

    part: str
    event: str
    load: float
    strength: float | None
    wanted: float = MINIMUM_MARGIN
    efficiency: float = 1.0
    ends: tuple[float, float] | None = None

    @property
    def wanted_strength(self) -> float:
        """That would do, before it is tied. [N]"""
        return self.wanted * self.load / self.efficiency

    @property
    def margin(self) -> float | None:
        """Strength over load. [-]"""
        return None if self.strength is None else self.strength / self.load

    @property
    def margin_band(self) -> tuple[float, float] | None:
        """At the high and the low end of the load. [-]"""
        if self.strength is None or self.margin is None:
            return None
        low = self.load if self.ends is None else self.ends[0]
        return self.strength / self.worst_load, self.strength / low

    @property
    def worst_load(self) -> float:
        """At the high end of its band. [N]"""
        return self.load if self.ends is None else self.ends[1]

    @property
    def judged_load(self) -> float:
        """Load that its words speak of: the likely one where that is too much already. [N]"""
        return self.load if self.short else self.worst_load

    @property
    def worst_margin(self) -> float | None:
        """At the high end of the load. [-]"""
        return None if self.margin_band is None else self.margin_band[0]

    @property
    def may_be_short(self) -> bool:
        """Whether it is short at the high end of the load at least."""
        return self.worst_margin is not None and self.worst_margin < self.wanted

    @property
    def short(self) -> bool:
        """Whether its margin is known and less than wanted."""
        return self.margin is not None and self.margin < self.wanted

    @property
    def word(self) -> str:
        """Holds, weak, over, either of these at the high end only, or not known."""
        if self.margin is None or self.worst_margin is None:
            return "not known"
        if self.short:
            return "over" if self.margin < 1 else "weak"
        if self.may_be_short:
            return "may be over" if self.worst_margin < 1 else "may be weak"
        return "holds"


def checks(
    vehicle: Vehicle, trim: Trim, *, opening: float, snatch: tuple[float, float, float]
) -> tuple[Check, ...]:
    """Lines, tabs and payload against the highest load of an opening, and a snatch with its band. [N]

    Parameters
    ----------
    vehicle, trim
        What opens, and its steady glide.
    opening : float
        At the upper end of its band. [N]
    snatch : tuple of float
        Likely, with the softest and the stiffest line. [N]
    """
    design = vehicle.design
    loads = line_loads(vehicle, trim)
    lines, tabs = largest_shares(loads, vehicle.line_set, design.payload.mass * GRAVITY)
    holds = loads.stock.knotted_strength
    tab = design.opening.tab_strength or TAB_STRENGTH
    limit = design.landing.max_load
    payload = None if limit is None else limit * design.payload.mass * GRAVITY
    low, high = min(snatch), max(snatch)
    return tuple(
        Check(
            part=part, event=event, load=share * load, strength=strength, wanted=wanted,
            efficiency=efficiency, ends=None if ends is None else (share * ends[0], share * ends[1]),
        )
        for part, share, strength, wanted, efficiency in (
            ("line", lines, holds, MINIMUM_MARGIN, KNOT_EFFICIENCY),
            ("tab", tabs, tab, MINIMUM_MARGIN, 1.0),
            ("payload", 1.0, payload, 1.0, 1.0),
        )
        for event, load, ends in (("opening", opening, None), ("snatch", snatch[0], (low, high)))
    )  # fmt: skip


def weakest(found: tuple[Check, ...]) -> Check | None:
    """Of the parts whose strength is known, the one with the smallest worst margin over that wanted."""
    known = [check for check in found if check.margin is not None]
    return min(known, key=lambda check: (check.worst_margin or 0.0) / check.wanted, default=None)


def weak_parts(found: tuple[Check, ...]) -> list[Caveat]:
    """Each part that is or may be over its strength or has less margin than wanted, in a sentence."""
    return [
        Caveat(
            f"The most loaded {check.part} {'takes' if check.short else 'may take'} {{load}} at the "
            f"{check.event} and holds {{strength}}: a margin of "
            f"{check.strength / check.judged_load:.1f} where {check.wanted:g} is wanted.",
            "fails",
            load=(check.judged_load, "force", 0), strength=(check.strength, "force", 0),
        )
        for check in found
        if check.may_be_short and check.strength is not None
    ]  # fmt: skip


def doubts(spec: OpeningSpec, *, stretch_is_known: bool) -> list[Caveat]:
    """What the loads and strengths rest on that was not given."""
    found = [
        Caveat("The snatch is that of two stiff masses on an elastic line, which errs to the high side.")
    ]
    if spec.tab_strength is None:
        found.append(
            Caveat(
                "Tabs are taken to hold {strength}, common practice without a source: pull one, and give "
                "opening.tab_strength.",
                "lacks",
                strength=(TAB_STRENGTH, "force", 0),
            )
        )
    if not stretch_is_known:
        found.append(
            Caveat(
                "The stretch of the line is not known: the snatch load takes polyester, its band nylon to "
                "uhmwpe. Give lines.material or opening.line_stiffness.",
                "lacks",
            )
        )
    return found


def largest_shares(loads: LineLoads, line_set: LineSet, weight: float) -> tuple[float, float]:
    """Part of the whole force that the most loaded line and the most loaded tab take. [-]

    Parameters
    ----------
    loads : LineLoads
        Of the steady glide.
    line_set : LineSet
        Brake lines are slack.
    weight : float
        Of the payload, which the lines hold then. [N]
    """
    held = {line.label for hold in line_set.holds for line in hold.lines}
    at_tabs = [line.label for hold in line_set.holds for line in hold.uppers]
    line = max(max(loads.tension[label] for label in held) / weight, UNEVEN / len(line_set.holds))
    tab = max(max(loads.tension[label] for label in at_tabs) / weight, UNEVEN / len(at_tabs))
    return min(line, 1.0), min(tab, 1.0)


def line_stiffness(vehicle: Vehicle) -> tuple[bool, tuple[float, float, float]]:
    """Tension over stretch of all lines together, brakes left out.

    Returns
    -------
    given : bool
        Whether it rests on a measured stiffness or a named fibre.
    stiffness : tuple of float
        Likely, low and high; all alike when it is given. [N/m]
    """
    lines, spec = vehicle.design.lines, vehicle.design.opening
    per_line = sum(_hold_stiffness(hold) for hold in vehicle.line_set.holds)
    known = _known_stiffness(vehicle, spec)
    if known is not None:
        return True, (known * per_line,) * 3
    value, low, high = (
        per_line * (build_line_stock(lines.model_copy(update={"material": fibre})).stiffness or 0.0)
        for fibre in FIBRES_IF_UNKNOWN
    )
    return False, (value, low, high)


def _known_stiffness(vehicle: Vehicle, spec: OpeningSpec) -> float | None:
    """Tension over stretch as a ratio, of one line. [N]"""
    return spec.line_stiffness or build_line_stock(vehicle.design.lines).stiffness


def _hold_stiffness(hold: Hold) -> float:
    """Of one hold, over that of its line: branches side by side, on their trunk. [1/m]"""
    side_by_side = sum(1 / line.length for line in hold.uppers)
    return 1 / (hold.lines[0].length + 1 / side_by_side) if hold.is_cascade else side_by_side
