"""What each line carries in the steady glide, and what is left of its strength.

The air's load on the canopy is shared out to the loaded ribs; on each rib the lines balance its pull out of
the chord surface and its pitching moment about the quarter chord, the lever balance. Cloth between ribs takes
up what pulls along the span. Lines only pull; where statics leaves a choice, between more than two rows
without cascades, they share as lines of equal stiffness on a stiff rib would.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import cos, sin

import numpy as np

from parasim.aerodynamics.drag import Bodies, body_forces
from parasim.aerodynamics.fins import fin_forces
from parasim.aerodynamics.strips import Flow
from parasim.caveats import Caveat
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY
from parasim.flight.fin_loads import FinLoads, fin_loads
from parasim.flight.trim import Trim
from parasim.geometry.line_stock import LineStock, build_line_stock
from parasim.geometry.lines import Hold, Line
from parasim.rotations import FloatArray

OPENING_FACTOR = 6.0
"""Load at opening over that of the steady glide, unless given. Common practice, no source. [-]"""

MINIMUM_MARGIN = 2.0
"""Strength at a knot over load, under which a line is named as weak. Our choice, no source. [-]"""

HELD = 0.02
"""Chordwise force left over, beyond which the stiff payload of the glide is spoken of. Our choice. [-]"""

SLACK = 0.02
"""Load of a row on a rib, over the mean of all, under which it counts as slack. Our choice, no source. [-]"""

EVEN = 1e-4
"""Weight of sharing evenly beside statics: small, so that it only decides what statics leaves open. [-]"""

BRAID_NOTE = "generic fibre values from memory; ask the maker of the line"
"""Said wherever a fibre's values are used."""

CAUTIONS = (
    "Line loads are computed, not measured; at opening single lines may take several times as much.",
    "A line that breaks lets the payload fall: prove the canopy with dead weight, away from people.",
    "Local rules on dropped objects and airspace apply; ask a licensed practitioner where you are not sure.",
)
"""Said wherever line loads are shown."""

PIECES = 32
"""Pieces into which each strip's load is cut before it is shared out to the ribs."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RibLoads:
    """What the loaded ribs hand on to their lines: air, weight of cloth, drag of the lines' upper parts.

    Body axes.

    Attributes
    ----------
    place : ndarray, shape (n_loaded_ribs, 3)
        Quarter chord of each rib. [m]
    force : ndarray, shape (n_loaded_ribs, 3)
        At the quarter chord. [N]
    moment : ndarray, shape (n_loaded_ribs,)
        About it, along the spanwise direction: positive nose-up. [N m]
    outward, spanwise : ndarray, shape (n_loaded_ribs, 3)
        Unit vectors of each rib.
    chord : ndarray, shape (n_loaded_ribs,)
        [m]
    """

    place: FloatArray
    force: FloatArray
    moment: FloatArray
    outward: FloatArray
    spanwise: FloatArray
    chord: FloatArray

    @property
    def pull(self) -> FloatArray:
        """Out of the chord surface, shape (n_loaded_ribs,). [N]"""
        return np.asarray(np.sum(self.force * self.outward, axis=-1))

    @property
    def confluence_moment(self) -> float:
        """Pitching moment about the confluence, nose-up positive. [N m]

        The glide is that of one stiff body, whose payload stays in line with the lines where a free one would
        hang straight down. What the payload's weight turns it by, the air balances.
        """
        turned = np.cross(self.place, self.force).sum(axis=0)[1]
        return float(turned + self.moment @ self.spanwise[:, 1])

    @property
    def center_of_pressure(self) -> float:
        """Of all ribs together, behind the leading edge over chord. [-]"""
        return float(0.25 - self.moment.sum() / (self.pull @ self.chord))


@dataclass(frozen=True, kw_only=True, eq=False)
class LineLoads:
    """Tension of every line in the steady glide, brakes released, and at opening.

    Attributes
    ----------
    tension : dict of str to float
        Label to tension at 1 g; brake lines are slack then. [N]
    row_share : dict of str to float
        Each row's part of the summed pull on the tabs. [-]
    asked_share : dict of str to float
        The same if every row were free to take what the pressure gives it, cascades or not. [-]
    ribs : RibLoads
        What was balanced.
    misfit : float
        Largest pull out of the chord surface that no line balances, over the mean pull of a rib. [-]
    chordwise_left : float
        Force along the chord that the lines leave over, over all pull: it stands for
        `RibLoads.confluence_moment`, which lines that meet at the riser ends cannot hold. [-]
    pole : bool
        Whether a pole holds the payload.
    stock : LineStock
        Of the design.
    opening_factor : float
        Load at opening over that at 1 g. [-]
    fins : FinLoads
        Of the lines to the stabilisers: an estimate.
    """

    tension: dict[str, float]
    row_share: dict[str, float]
    asked_share: dict[str, float]
    ribs: RibLoads
    misfit: float
    chordwise_left: float
    stock: LineStock
    pole: bool
    opening_factor: float
    fins: FinLoads

    @cached_property
    def highest(self) -> tuple[str, float]:
        """Label and tension at 1 g of the line that carries most. [N]"""
        label = max(self.tension, key=lambda name: round(self.tension[name], 6))
        return label, self.tension[label]

    def opening_of(self, label: str) -> float:
        """Tension of a line at opening; of one to a stabiliser at least what side flow may ask of it. [N]"""
        return max(self.opening_factor * self.tension[label], self.fins.bound.get(label, 0.0))

    @property
    def opening_tension(self) -> float:
        """Of that line at opening. [N]"""
        return self.opening_factor * self.highest[1]

    @property
    def margin(self) -> float | None:
        """Strength at a knot over the highest tension at opening; None when the strength is not known. [-]"""
        strength = self.stock.knotted_strength
        return None if strength is None else strength / self.opening_tension

    @property
    def slack(self) -> tuple[str, ...]:
        """Labels of lines of the rows that carry next to nothing."""
        apart = self.fins.bound.keys()
        held = {label: t for label, t in self.tension.items() if "-brake" not in label and label not in apart}
        mean = sum(held.values()) / len(held)
        return tuple(label for label, pull in held.items() if pull < SLACK * mean)

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = []
        if self.margin is None:
            found.append(
                Caveat("Line strength is not known: give lines.material or lines.strength.", "lacks")
            )
        elif not self.stock.strength_is_given:
            words = "Line strength is estimated from fibre and linear density: break a few lines to know it."
            found.append(Caveat(words))
        if self.margin is not None and self.margin < MINIMUM_MARGIN:
            words = f"Line {self.highest[0]} keeps only {self.margin:.1f} times its load at opening at a knot"
            found.append(Caveat(f"{words}: use stronger line.", "fails"))
        found += self.fins.caveats(self.stock.knotted_strength, MINIMUM_MARGIN)
        if self.pole and abs(self.chordwise_left) > HELD:
            moment = self.ribs.confluence_moment
            found.append(
                Caveat(
                    "A pole holds the payload in line with the lines, by {moment} at the confluence that "
                    "lines meeting there cannot give; without it the canopy pitches nose-"
                    f"{'down' if moment < 0 else 'up'}.",
                    moment=(abs(moment), "moment", 2),
                )
            )
        if self.slack:
            more = f" and {len(self.slack) - 4} more" if len(self.slack) > 4 else ""
            shown = ", ".join(self.slack[:4]) + more
            words = f"Next to no load in the steady glide: {shown}; these lines may hang slack."
            found.append(Caveat(words, "fails"))
        return tuple(found)


def line_loads(vehicle: Vehicle, trim: Trim, *, opening_factor: float = OPENING_FACTOR) -> LineLoads:
    """What every line carries.

    Parameters
    ----------
    vehicle : Vehicle
        What flies.
    trim : Trim
        Its steady glide, brakes released.
    opening_factor : float
        Load at opening over that of the glide. [-]

    Notes
    -----
    Both sides alike. An opening that begins on one side, or a few lines that tighten first, load single lines
    several times more.
    """
    fins = fin_loads(vehicle, trim)
    ribs = rib_loads(vehicle, trim, fins)
    line_set = vehicle.line_set
    pulls, misfit = share_out(ribs, line_set.holds)
    tension = {line.label: 0.0 for line in line_set.lines} | fins.tension
    row_pull = dict.fromkeys(line_set.straight, 0.0)
    on_lines = np.zeros(3)
    for hold, pull in zip(line_set.holds, pulls, strict=True):
        tension |= {
            line.label: float(pull * ratio)
            for line, ratio in zip(hold.lines, hold.tension_ratio, strict=True)
        }
        for line, share in zip(hold.uppers, hold.share, strict=True):
            row_pull[line.rows[0]] += float(pull * share)
        on_lines += pull * hold.pull
    return LineLoads(
        tension=tension,
        row_share=_shares(row_pull),
        asked_share=_asked(ribs, line_set.holds, tuple(line_set.straight)),
        ribs=ribs,
        misfit=misfit,
        chordwise_left=float((ribs.force.sum(axis=0) + on_lines)[0] / ribs.pull.sum()),
        stock=build_line_stock(vehicle.design.lines),
        pole=vehicle.design.payload.suspension.stiff,
        opening_factor=opening_factor,
        fins=fins,
    )


def rib_loads(vehicle: Vehicle, trim: Trim, lines_of_fins: FinLoads) -> RibLoads:
    """Load of the canopy shared out to its ribs, each strip to the two beside it, as a beam would."""
    canopy = vehicle.canopy
    angle = canopy.rib_angle[canopy.loaded_ribs]
    to_ribs = _tributary(vehicle.model.lattice.strips.edge_angle, angle)
    force, moment = _strip_loads(vehicle, trim)
    rib_force = to_ribs @ force
    fins = 0.5 * trim.air_density * trim.airspeed**2 * _fin_forces(vehicle, trim)
    side = np.sign(vehicle.model.fins.center[:, 1])
    rib_force[0] += fins[side < 0].sum(axis=0)
    rib_force[-1] += fins[side > 0].sum(axis=0)
    rib_force[[0, -1]] += lines_of_fins.pull
    for line in vehicle.line_set.fins:
        rib_force[line.rib] += _line_drag(vehicle, trim, (line,))[0] / 2
    quarter, zero = np.full_like(angle, 0.25), np.zeros_like(angle)
    place, spanwise = canopy.point(angle, quarter, zero), canopy.spanwise(angle)
    rib_moment = to_ribs @ moment
    for hold in vehicle.line_set.holds:
        dragged = _drag_on_tabs(vehicle, trim, hold)
        rib_force[hold.rib] += dragged.sum(axis=0)
        turning = np.cross(hold.tabs - place[hold.rib], dragged)
        rib_moment[hold.rib] += float(turning.sum(axis=0) @ spanwise[hold.rib])
    return RibLoads(
        place=place,
        force=rib_force,
        moment=rib_moment,
        outward=canopy.outward(angle),
        spanwise=spanwise,
        chord=canopy.chord_at(angle),
    )


def _drag_on_tabs(vehicle: Vehicle, trim: Trim, hold: Hold) -> FloatArray:
    """Part of the drag of a hold's lines that its tabs bear, shape (n_tabs, 3). [N]

    Half of each line's drag goes to either end; what reaches a joint is borne by both ends of the way, as a
    load on a taut string is.
    """
    drag = _line_drag(vehicle, trim, hold.lines)
    if not hold.is_cascade:
        return drag / 2
    trunk = hold.lines[0].length
    height = trunk / (trunk + float(hold.share @ [line.length for line in hold.uppers]))
    on_joint = drag.sum(axis=0) / 2
    return drag[1:] / 2 + height * hold.share[:, None] * on_joint


def _line_drag(vehicle: Vehicle, trim: Trim, lines: tuple[Line, ...]) -> FloatArray:
    """Drag of each line, shape (n_lines, 3). [N]"""
    along = np.array([line.end - line.start for line in lines])
    length = np.linalg.norm(along, axis=-1)
    factors = vehicle.model.factors
    bodies = Bodies(
        name=("lines",) * len(lines),
        position=np.array([(line.start + line.end) / 2 for line in lines]),
        drag_area=factors.line_drag_coefficient * vehicle.line_set.diameter * length,
        direction=along / length[:, None],
    )
    wind = np.broadcast_to(-np.array([cos(trim.alpha), 0.0, sin(trim.alpha)]), along.shape)
    return 0.5 * trim.air_density * trim.airspeed**2 * body_forces(bodies, wind)


def _fin_forces(vehicle: Vehicle, trim: Trim) -> FloatArray:
    return fin_forces(vehicle.model.fins, Flow.steady(np.array([trim.alpha])))[0]


def _strip_loads(vehicle: Vehicle, trim: Trim) -> tuple[FloatArray, FloatArray]:
    """Force [N] and nose-up moment about the quarter chord [N m] of every strip, by air and cloth weight."""
    free = np.zeros(1)
    loads = vehicle.model.loads(Flow.steady(np.array([trim.alpha])), free, free)
    pressure = 0.5 * trim.air_density * trim.airspeed**2
    strips = vehicle.model.lattice.strips
    moment = pressure * np.sum(loads.moment[0, 0] * strips.spanwise, axis=-1)
    cloth = [item.properties for item in vehicle.items if item.name not in ("lines", "payload")]
    area = strips.chord * strips.width
    weight = GRAVITY * sum(part.mass for part in cloth) * area / area.sum()
    down = np.array([-sin(trim.pitch), 0.0, cos(trim.pitch)])
    balance_x = sum(float(part.first_moment[0]) for part in cloth) / sum(part.mass for part in cloth)
    behind = float(np.average(strips.quarter_chord[:, 0], weights=area)) - balance_x
    # Weight behind the quarter chord lifts the nose by what of it points into the canopy.
    into_canopy = -strips.outward @ down
    return pressure * loads.force[0, 0] + weight[:, None] * down, moment + weight * behind * into_canopy


def _tributary(edges: FloatArray, ribs: FloatArray) -> FloatArray:
    """Part of each strip's load that each rib takes, shape (n_ribs, n_strips); columns add to one."""
    part = (np.arange(PIECES) + 0.5) / PIECES
    at = edges[:-1, None] + np.diff(edges)[:, None] * part
    hats = np.array([np.interp(at, ribs, row) for row in np.eye(len(ribs))])
    return np.asarray(hats.mean(axis=-1))


def share_out(ribs: RibLoads, holds: tuple[Hold, ...]) -> tuple[FloatArray, float]:
    """Pull of every hold that balances the ribs.

    Parameters
    ----------
    ribs : RibLoads
        What is to be balanced.
    holds : tuple of Hold
        What balances it, n_holds.

    Returns
    -------
    pulls : ndarray, shape (n_holds,)
        Summed pull on the tabs of each, zero or more. [N]
    misfit : float
        As in `LineLoads`. [-]

    Notes
    -----
    Least squares over all ribs at once: per rib the pull out of the chord surface, along the span, and the
    moment about the quarter chord; unknown are the holds, which only pull, and the force through the cloth of
    every bay. Inflated cells are taken to bear a little push along the span as well.
    """
    from scipy.optimize import nnls

    n_ribs, n_holds = len(ribs.chord), len(holds)
    n_bays = n_ribs - 1
    force = np.zeros((n_ribs, 3, n_holds + 2 * n_bays))
    moment = np.zeros((n_ribs, n_holds + 2 * n_bays))
    for i, hold in enumerate(holds):
        force[hold.rib, :, i] = hold.pull
        moment[hold.rib, i] = _turning(hold, ribs.place[hold.rib]) @ ribs.spanwise[hold.rib]
    for bay in range(n_bays):
        across = ribs.place[bay + 1] - ribs.place[bay]
        across = across / np.linalg.norm(across)
        for column, sign in ((n_holds + bay, 1.0), (n_holds + n_bays + bay, -1.0)):
            force[bay, :, column], force[bay + 1, :, column] = sign * across, -sign * across
    size = float(np.abs(ribs.pull).mean())
    ways = (ribs.outward, ribs.spanwise)
    statics = np.concatenate(
        [*(np.einsum("rki,rk->ri", force, way) for way in ways), moment / ribs.chord[:, None]]
    )
    wanted = np.concatenate(
        [*(-np.sum(ribs.force * way, axis=-1) for way in ways), -ribs.moment / ribs.chord]
    )
    even = EVEN * np.eye(n_holds, n_holds + 2 * n_bays)
    found, _ = nnls(np.concatenate([statics, even]), np.concatenate([wanted / size, np.zeros(n_holds)]))
    left_over = (statics @ found - wanted / size)[:n_ribs]
    return size * found[:n_holds], float(np.abs(left_over).max())


def _turning(hold: Hold, place: FloatArray) -> FloatArray:
    """Moment about a point over the summed pull on the tabs, shape (3,). [m]"""
    down = np.array([line.start - line.end for line in hold.uppers])
    unit = down / np.linalg.norm(down, axis=-1, keepdims=True)
    return np.asarray(hold.share @ np.cross(hold.tabs - place, unit))


def _asked(ribs: RibLoads, holds: tuple[Hold, ...], rows: tuple[str, ...]) -> dict[str, float]:
    free = tuple(Hold(lines=(line,), share=np.ones(1)) for hold in holds for line in hold.uppers)
    pulls, _ = share_out(ribs, free)
    row_pull = dict.fromkeys(rows, 0.0)
    for hold, pull in zip(free, pulls, strict=True):
        row_pull[hold.lines[0].rows[0]] += float(pull)
    return _shares(row_pull)


def _shares(pull: Mapping[str, float]) -> dict[str, float]:
    total = sum(pull.values())
    return {row: value / total for row, value in pull.items()}
