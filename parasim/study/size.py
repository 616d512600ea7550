"""Inverse sizing: how large a canopy, rigged at what angle, lands as slowly or softly as wanted."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import exp, isclose, log, sqrt
from typing import Literal

import numpy as np

from parasim.aerodynamics.factors import build_factors, build_ranges
from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.errors import DesignError, TrimError
from parasim.flight.glide import (
    GLIDE_FACTORS,
    STALL_RESERVE,
    TUCK_RESERVE,
    margins_lost,
    model_window,
    stall_alpha,
    tuck_margin,
)
from parasim.flight.landing import landing_figures
from parasim.flight.trim import Trim, find_trims
from parasim.flight.uncertainty import Bands, flying_bands
from parasim.geometry.rigging import Rigging

Goal = Literal["sink", "energy"]
Walk = Callable[[Sequence[float]], Iterable[float]]

RIGGING_ANGLES = np.radians(np.arange(-6.0, 8.1, 2.0))
"""Rigging angles of the map. [rad]"""

AREAS = 9
"""Areas of the map."""

AREA_ROOM = 1.6
"""How far the map reaches beyond the design's own area and the one looked for, as a factor. [-]"""

WIDEST = 6.0
"""How many times smaller or larger than the design's own the canopy may get. [-]"""

TOLERANCE = 1e-3
"""Of the figure aimed at. [-]"""

MOST_STEPS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class SizePoint:
    """A canopy of one size and rigging, brakes released in still air at the ground.

    Attributes
    ----------
    area : float
        Flat. [m²]
    span, chord : float
        [m]
    scale : float
        Lengths over those of the design. [-]
    rigging_angle : float
        Nose-down positive. [rad]
    line_length : float
        Confluence to the quarter chord of the centre rib. [m]
    mass : float
        All of it. [kg]
    trim : Trim or None
        None where there is no stable steady glide.
    tuck_margin, stall_margin : float
        Of angle of attack; nan without trim. [rad]
    lost : tuple of float
        What both may be smaller at the low end of the bands, as they are of the design as it is. [rad]
    """

    area: float
    span: float
    chord: float
    scale: float
    rigging_angle: float
    line_length: float
    mass: float
    trim: Trim | None
    tuck_margin: float
    stall_margin: float
    lost: tuple[float, float] = (0.0, 0.0)

    def figure(self, goal: Goal) -> float:
        """Sink [m/s] or total energy at touchdown [J]; nan without trim."""
        if self.trim is None:
            return np.nan
        return self.trim.sink if goal == "sink" else 0.5 * self.mass * self.trim.airspeed**2

    @property
    def allowed(self) -> bool:
        """Whether it glides with both margins over their reserve, at the low end of the bands."""
        return self.keeps_tuck and self.keeps_stall

    @property
    def keeps_tuck(self) -> bool:
        """Whether the nose-tuck margin is over its reserve there."""
        return self.tuck_margin - self.lost[0] >= TUCK_RESERVE

    @property
    def keeps_stall(self) -> bool:
        """Whether the stall margin is."""
        return self.stall_margin - self.lost[1] >= STALL_RESERVE


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Sizing(Answer):
    """Answer to `parasim size`.

    Attributes
    ----------
    design : Design
        As it is.
    goal : {"sink", "energy"}
        What is aimed at.
    target : float
        [m/s] or [J]
    as_designed : SizePoint
        The design's own size and rigging.
    grid : tuple of tuple of SizePoint
        By rigging angle, then by rising area.
    answers : tuple of SizePoint
        For each rigging angle that can: the area that meets the target.
    window : (float, float) or None
        The model's window of rigging angles, of the design as it is. [rad]
    chosen : SizePoint or None
        That which is rigged as the design is, if that lies in the window, else for the window's middle.
    bands : Bands or None
        Of its sink [m/s] and energy [J], brakes released in still air.
    warnings : tuple of Caveat
        Guard rails that it lies outside of.
    """

    REPORT = "parasim.report.size:SizeReport"

    design: Design
    goal: Goal
    target: float
    as_designed: SizePoint
    grid: tuple[tuple[SizePoint, ...], ...]
    answers: tuple[SizePoint, ...]
    window: tuple[float, float] | None
    chosen: SizePoint | None
    bands: Bands | None
    warnings: tuple[Caveat, ...]

    @property
    def reached(self) -> tuple[float, float] | None:
        """Minimum and largest value of the figure on the map; None if nothing glides."""
        figures = [point.figure(self.goal) for row in self.grid for point in row if point.trim]
        return (min(figures), max(figures)) if figures else None

    @property
    def as_rigged(self) -> bool:
        """Whether the design's own rigging lies in the window."""
        return _within(self.as_designed.rigging_angle, self.window)

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = [
            Caveat(
                "Span, chord, arc, lines, riser spread, stabilisers and brake travel grow with the square "
                "root of the area; cloth, line stock, riser length and payload stay."
            )
        ]
        if self.chosen is not None and not self.as_rigged:
            found.append(
                Caveat(
                    "The design's own rigging lies outside the model's window: the canopy is rigged for the "
                    "middle of it."
                    if self.window
                    else "No usual rigging angle keeps both margins: the canopy is rigged as the design is.",
                    "fails",
                )
            )
        of_it = (*self.warnings, *(self.bands.caveats("steady glide") if self.bands else ()))
        return (*found, *of_it)


def _within(angle: float, window: tuple[float, float] | None) -> bool:
    return window is not None and window[0] <= angle <= window[1]


def size(design: Design, *, goal: Goal, target: float, walk: Walk = iter) -> Sizing:
    """Canopy area and rigging angle for a wanted landing.

    Parameters
    ----------
    design : Design
        What is scaled; its payload stays.
    goal : {"sink", "energy"}
        Vertical speed, or total energy in still air, brakes released.
    target : float
        [m/s] or [J]
    walk : callable
        Goes through the rigging angles; a place for a progress bar.

    Raises
    ------
    TrimError
        If the design as it is has no stable steady glide.

    Notes
    -----
    The map is coarse; each answer is then closed in on by regula falsi in the logarithms, in which a steady
    glide is nearly straight: sink goes with the root of area, energy with area itself.
    """
    vehicle = assemble(design)
    own = size_point(vehicle, design)
    if own.trim is None:
        find_trims(vehicle, modes=False)  # says what is wrong and what would help
    lost = margins_lost(vehicle)
    own, window = replace(own, lost=lost), model_window(vehicle, lost)
    middle = sum(window) / 2 if window else own.rigging_angle
    rigging = own.rigging_angle if _within(own.rigging_angle, window) else middle
    designs = scaled_designs(design, area_range(own.area, first_guess(own, goal, target)))
    grid, answers = [], []
    for angle in walk(rigging_angles(rigging)):
        row = tuple(replace(point_of(one, angle, design), lost=lost) for one in designs)
        grid.append(row)
        answer = close_in(design, row, goal, target)
        if answer is not None:
            answers.append(replace(answer, lost=lost))
    chosen = next((point for point in answers if isclose(point.rigging_angle, rigging, abs_tol=1e-9)), None)
    return Sizing(
        design=design,
        goal=goal,
        target=target,
        as_designed=own,
        grid=tuple(grid),
        answers=tuple(answers),
        window=window,
        chosen=chosen,
        bands=_bands(chosen, design) if chosen else None,
        warnings=scaled(design, chosen.area, chosen.rigging_angle).warnings() if chosen else (),
    )


def first_guess(own: SizePoint, goal: Goal, target: float) -> float:
    """Area that would meet a target if the glide kept its shape. [m²]"""
    ratio = own.figure(goal) / target
    return own.area * (ratio**2 if goal == "sink" else ratio)


def area_at(design: Design, rigging_angle: float, goal: Goal, target: float) -> SizePoint | None:
    """Smallest canopy that meets a target rigged at an angle [rad]; None if none does."""
    own = point_of(scaled(design, design.canopy.flat_area), rigging_angle, design)
    if own.trim is None:
        return None
    designs = scaled_designs(design, area_range(own.area, first_guess(own, goal, target)))
    row = tuple(point_of(one, rigging_angle, design) for one in designs)
    return close_in(design, row, goal, target)


def rigging_angles(own: float) -> list[float]:
    """Rigging angles of the map, the nearest one moved to that of the answer. [rad]"""
    angles = RIGGING_ANGLES.copy()
    if angles[0] <= own <= angles[-1]:
        angles[int(np.argmin(np.abs(angles - own)))] = own
        return [float(angle) for angle in angles]
    return sorted([*angles.tolist(), own])


def area_range(own: float, wanted: float) -> tuple[float, float]:
    """Areas of the map: the design's own and a first guess of the one wanted, and some room. [m²]

    Examples
    --------
    >>> [round(end, 3) for end in area_range(0.5, 0.8)]
    [0.312, 1.28]
    """
    wanted = min(max(wanted, own / WIDEST), own * WIDEST)
    return min(own, wanted) / AREA_ROOM, max(own, wanted) * AREA_ROOM


def scaled_designs(design: Design, areas: tuple[float, float]) -> tuple[Design, ...]:
    """Designs between two areas, evenly in their ratio; those beyond the limits of a design file left out."""
    found = []
    for area in np.geomspace(*areas, AREAS).tolist():
        try:
            found.append(scaled(design, area))
        except DesignError:
            continue
    return tuple(found)


def scaled(design: Design, area: float, rigging_angle: float | None = None) -> Design:
    """Design with another flat area [m²], all its lengths but those of riser and payload in proportion.

    Its rigging angle [rad] stays if none is given.

    Raises
    ------
    DesignError
        If a length leaves the limits of the design file.
    """
    k = sqrt(area / design.canopy.flat_area)
    vehicle = assemble(design)
    rigging = vehicle.rigging
    angle = rigging.rigging_angle if rigging_angle is None else rigging_angle
    canopy, lines = design.canopy, design.lines
    changes: dict[str, object] = {
        "canopy.span": k * canopy.span,
        "canopy.chord": k * canopy.chord,
        "canopy.arc_radius": k * vehicle.canopy.arc_radius,
        "lines.length": k * rigging.line_length,
        "lines.rigging_angle": f"{angle!r} rad",
        "lines.riser.spread": k * lines.riser.spread,
        "brakes.travel": k * design.brakes.travel,
        "brakes.free_play": k * design.free_play,
    }
    if lines.row_lengths is not None:
        changes["lines.row_lengths"] = None
    if canopy.stabilisers is not None:
        changes["canopy.stabilisers.height"] = k * canopy.stabilisers.height
    return override(design, changes)


def point_of(scaled_design: Design, rigging_angle: float, original: Design) -> SizePoint:
    """How a scaled design glides, rigged at an angle. [rad]"""
    return size_point(_rigged(scaled_design, rigging_angle, original), original)


def _rigged(scaled_design: Design, rigging_angle: float, original: Design) -> Vehicle:
    length = scaled_design.lines.length
    assert length is not None  # `scaled` writes it
    return assemble(
        scaled_design,
        factors=build_factors(original),
        rigging=Rigging(line_length=length, rigging_angle=rigging_angle),
    )


def _bands(point: SizePoint, original: Design) -> Bands:
    """Of the landing out of the glide of one canopy, by the original's ranges."""
    ranges = build_ranges(original, GLIDE_FACTORS)
    vehicle = _rigged(scaled(original, point.area), point.rigging_angle, original)
    return flying_bands(vehicle, ranges, landing_figures)


def size_point(vehicle: Vehicle, original: Design) -> SizePoint:
    """How a vehicle glides, against the design it was scaled from."""
    canopy = vehicle.design.canopy
    try:
        trim = find_trims(vehicle, modes=False).chosen
    except TrimError:
        trim = None
    return SizePoint(
        area=canopy.flat_area,
        span=canopy.span,
        chord=canopy.chord,
        scale=sqrt(canopy.flat_area / original.canopy.flat_area),
        rigging_angle=vehicle.rigging.rigging_angle,
        line_length=vehicle.rigging.line_length,
        mass=vehicle.mass,
        trim=trim,
        tuck_margin=tuck_margin(vehicle, trim) if trim else np.nan,
        stall_margin=stall_alpha(vehicle) - trim.alpha if trim else np.nan,
    )


def close_in(design: Design, row: tuple[SizePoint, ...], goal: Goal, target: float) -> SizePoint | None:
    """Smallest area that meets a target at the rigging of a row of the map; None if none does."""
    for smaller, larger in pairwise(row):
        over, under = smaller.figure(goal) / target, larger.figure(goal) / target
        if over >= 1 >= under:  # never so without a trim at both ends
            return _between(design, smaller, larger, goal, target)
    return None


def _between(design: Design, low: SizePoint, high: SizePoint, goal: Goal, target: float) -> SizePoint | None:
    best = min((low, high), key=lambda point: abs(log(point.figure(goal) / target)))
    for _ in range(MOST_STEPS):
        if abs(log(best.figure(goal) / target)) < TOLERANCE:
            return best
        over, under = (log(point.figure(goal) / target) for point in (low, high))
        area = exp(log(low.area) + over / (over - under) * log(high.area / low.area))
        best = point_of(scaled(design, area), low.rigging_angle, design)
        if best.trim is None:
            return None
        low, high = (best, high) if best.figure(goal) >= target else (low, best)
    return best
