"""The steady glide: how it flies, and what the brakes, the rigging, the lines and the air change."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from math import degrees, radians, sqrt

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.aerodynamics.section import SectionPolar
from parasim.aerodynamics.strips import Flow
from parasim.aerodynamics.table import AeroTable
from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.base import Spec
from parasim.config.design import RIGGING_RAIL
from parasim.dynamics.thin_air import at_height, reynolds_at
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.environment.atmosphere import STANDARD_DENSITY
from parasim.errors import TrimError
from parasim.flight.drag import DragBuildUp, drag_build_up
from parasim.flight.trim import Trim, Trims, find_trims
from parasim.flight.uncertainty import Bands, bands, draw, open_bands
from parasim.geometry.airfoil import ideal_angle, lower_surface, thickness_ratio
from parasim.geometry.rigging import Rigging, rigging_from_rows, row_lengths
from parasim.rotations import FloatArray

GLIDE_FACTORS = (
    "lift_factor",
    "extra_drag",
    "roughness_drag",
    "inlet_drag_factor",
    "moment_shift",
    "line_drag_coefficient",
)
"""Factors that a glide with the brakes released answers to."""

RIGGING_SWEEP = np.radians(np.arange(-8.0, 12.1, 1.0))
"""Rigging angles of the sweep. [rad]"""

STALL_SLOPE = 0.25
"""Part of its attached lift slope at which a section counts as stalled. Our choice, no source. [-]"""

TUCK_PRESSURE_LOSS = 0.25
"""Part of the dynamic pressure that a nose may lose before it is taken to tuck. Our choice, no source. [-]"""

TUCK_RESERVE = radians(1.0)
"""Minimum nose-tuck margin of the rigging window. Our choice, no source. [rad]"""

HANG_STEP = 0.01
"""Step of what moves where the payload hangs. [m]"""

STALL_RESERVE = radians(4.0)
"""Minimum stall margin of the rigging window: about what a 0.5 m/s upward gust takes. Our choice. [rad]"""

LINE_ERROR = 0.005
"""Error of one row whose effect is shown. [m]"""

ALTITUDES = (
    0.0, 500.0, 1000.0, 2000.0, 3000.0,
    5000.0, 8000.0, 10_000.0, 15_000.0, 20_000.0, 25_000.0, 30_000.0, 35_000.0,
)  # fmt: skip
"""Heights above sea level of the altitude table. [m]"""

USUAL_ALTITUDES = 5
"""How many of them are of use to a drop from low down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GlidePoint:
    """A steady glide in short.

    Attributes
    ----------
    setting : float
        What was varied: brake fraction [-], rigging angle [rad], row error [m] or height [m].
    trim : Trim or None
        None where there is no stable steady glide.
    tuck_margin, stall_margin : float
        Angle of attack over that at which the nose tucks, and under that at which it stalls; nan without
        trim. [rad]
    pull : float or None
        Line pulled on each side, free play included, where a brake was varied. [m]
    """

    setting: float
    trim: Trim | None
    tuck_margin: float
    stall_margin: float
    pull: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Aloft:
    """A steady glide at a height.

    Attributes
    ----------
    point : GlidePoint
        Its setting is the height above sea level. [m]
    equivalent_airspeed : float
        With the same dynamic pressure in standard air at sea level; nan without trim. [m/s]
    reynolds : float
        On mean chord; nan likewise. [-]
    """

    point: GlidePoint
    equivalent_airspeed: float
    reynolds: float


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Glide(Answer):
    """Answer to `parasim glide`.

    Attributes
    ----------
    vehicle : Vehicle
        What flies.
    trims : Trims
        The glide with the brakes released, and what other steady glides there are.
    stall_alpha : float
        Angle of attack at which the first strip stalls. [rad]
    tuck_margin, stall_margin : float
        As in `GlidePoint`. [rad]
    bands : Bands
        Of airspeed, forward_speed, sink [m/s], glide_ratio [-], glide_angle, alpha, pitch, stall_margin and
        tuck_margin [rad].
    drag : DragBuildUp
        Where the drag comes from.
    brakes, rigging, lines : tuple of GlidePoint
        Symmetric brake; rigging angle; the rear row too short (negative) or too long.
    altitudes : tuple of Aloft
        Over height above sea level.
    window : (float, float) or None
        Usual rigging angles that keep both margins at the low end of their bands. [rad]
    lost_share : float
        Of canopies drawn from the calibration's ranges, the part that has no steady glide. [-]
    hanging : tuple of (str, GlidePoint)
        What a change of how the payload hangs does: in words, and the glide.
    """

    REPORT = "parasim.report.glide:GlideReport"

    vehicle: Vehicle
    trims: Trims
    stall_alpha: float
    tuck_margin: float
    stall_margin: float
    bands: Bands
    drag: DragBuildUp
    brakes: tuple[GlidePoint, ...]
    rigging: tuple[GlidePoint, ...]
    lines: tuple[GlidePoint, ...]
    altitudes: tuple["Aloft", ...]
    window: tuple[float, float] | None
    lost_share: float
    hanging: tuple[tuple[str, GlidePoint], ...]

    @property
    def trim(self) -> Trim:
        """The glide with the brakes released."""
        return self.trims.chosen

    @property
    def _pole_note(self) -> tuple[str, ...]:
        if not self.vehicle.design.payload.suspension.stiff:
            return ()
        return (
            "The payload is fixed to the canopy by a pole, whose pitch its weight then steadies; a payload "
            "on lines and risers cannot do that.",
        )

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = [*self.vehicle.caveats, *self.trims.notes, *self._pole_note]
        growing = [mode for mode in self.trim.modes if not mode.stable]
        found += [
            Caveat(f"Brakes released it is not stable: {mode.description}.", "fails") for mode in growing
        ]
        found += self.bands.caveats("steady glide")
        if self.tuck_margin < TUCK_RESERVE:
            found.append(
                Caveat(
                    f"Nose-tuck margin is {degrees(self.tuck_margin):.1f} deg: a downward gust may fold the "
                    "nose.",
                    "fails",
                )
            )
        if self.stall_margin < STALL_RESERVE:
            found.append(Caveat(f"Stall margin is only {degrees(self.stall_margin):.1f} deg.", "fails"))
        return (*found, *self._high_up)

    @property
    def _high_up(self) -> tuple[Caveat, ...]:
        """Where a release from high up finds less in reserve than the ground does."""
        design = self.vehicle.design
        top = design.site.ground_height + design.drop.height
        low = [
            row
            for row in self.altitudes
            if row.point.setting <= top and not row.point.stall_margin >= STALL_RESERVE
        ]
        if self.stall_margin < STALL_RESERVE or not low:
            return ()
        words = (
            "From {height} above sea level up the stall margin is under "
            f"{degrees(STALL_RESERVE):.0f} deg, or there is no steady glide: Reynolds number falls."
        )
        return (Caveat(words, "fails", height=(low[0].point.setting, "length", 0)),)


def glide(vehicle: Vehicle) -> Glide:
    """How a vehicle glides.

    Parameters
    ----------
    vehicle : Vehicle
        What flies.

    Raises
    ------
    TrimError
        If it has no stable steady glide with the brakes released.
    """
    trims = find_trims(vehicle)
    ranges = build_ranges(vehicle.design, GLIDE_FACTORS)
    rigging = rigging_sweep(vehicle)
    stall = stall_alpha(vehicle)
    draws = draw(vehicle, ranges, headline_figures)
    found = open_bands(bands(vehicle, ranges, headline_figures), lambda: draws)
    return Glide(
        vehicle=vehicle,
        trims=trims,
        stall_alpha=stall,
        tuck_margin=tuck_margin(vehicle, trims.chosen),
        stall_margin=stall - trims.chosen.alpha,
        bands=found,
        drag=drag_build_up(vehicle, trims.chosen),
        brakes=brake_polar(vehicle),
        rigging=rigging,
        lines=line_errors(vehicle),
        altitudes=altitude_effect(vehicle),
        window=rigging_window(rigging, _lost_margins(found)),
        lost_share=draws.lost_share,
        hanging=hanging_changes(vehicle),
    )


def headline_figures(vehicle: Vehicle) -> Mapping[str, float]:
    """Figures of the glide with the brakes released that carry a band, SI and radians."""
    trim = find_trims(vehicle, modes=False).chosen
    return {
        "airspeed": trim.airspeed,
        "forward_speed": trim.forward_speed,
        "sink": trim.sink,
        "glide_ratio": trim.glide_ratio,
        "glide_angle": trim.glide_angle,
        "alpha": trim.alpha,
        "pitch": trim.pitch,
        "stall_margin": stall_alpha(vehicle) - trim.alpha,
        "tuck_margin": tuck_margin(vehicle, trim),
    }


def stall_alpha(vehicle: Vehicle, brake: float = 0.0) -> float:
    """Angle of attack at which the first strip of the canopy stalls. [rad]

    A strip counts as stalled when its section's lift slope has fallen to `STALL_SLOPE` of what it was: thick
    sections have no sharp peak.

    Parameters
    ----------
    vehicle : Vehicle
        What flies.
    brake : float
        Both brakes, fraction of full travel. [-]
    """
    alpha = np.radians(np.arange(0.0, 36.0, 1.0))
    model, brakes = vehicle.model, np.array([brake])
    effective = model.effective_alpha(Flow.steady(alpha), brakes, brakes)[:, 0]
    slopes = model.brakes.strip_deflections(brakes, brakes)[0]
    stalls = {slope: section_stall(model.polar, slope) for slope in set(slopes.tolist())}
    over = (effective - np.array([stalls[slope] for slope in slopes.tolist()])).max(axis=-1)
    return float(np.interp(0.0, over, alpha))


def section_stall(polar: SectionPolar, slope: float = 0.0) -> float:
    """Angle of attack at which a section's lift slope has fallen to `STALL_SLOPE` of its greatest. [rad]

    Parameters
    ----------
    polar : SectionPolar
        Of the section.
    slope : float
        Of its trailing edge. [rad]
    """
    alpha = np.radians(np.arange(-5.0, 30.0, 1.0) + 0.5)
    _, lift_slope = polar.lift_and_slope(alpha, slope)
    smooth = np.convolve(lift_slope, np.ones(3) / 3, mode="same")
    fallen = (smooth < STALL_SLOPE * smooth.max()) & (alpha > alpha[int(np.argmax(smooth))])
    return float(alpha[int(np.argmax(fallen))])


def tuck_margin(vehicle: Vehicle, trim: Trim) -> float:
    """Angle of attack of the centre section over that at which its nose loses pressure. [rad]"""
    brake = np.array([trim.brake])
    met = vehicle.model.effective_alpha(Flow.steady(np.array([trim.alpha])), brake, brake)[0, 0]
    return float(met[len(met) // 2]) - tuck_alpha(vehicle.canopy.outline)


def tuck_alpha(outline: FloatArray) -> float:
    """Angle of attack at which air at a section's leading edge has lost `TUCK_PRESSURE_LOSS` of its pressure.

    Parameters
    ----------
    outline : ndarray, shape (n, 2)
        Of the section.

    Returns
    -------
    float
        [rad]

    Notes
    -----
    At the ideal angle the air parts right at the leading edge, the inlet's upper lip. Below it the stagnation
    point wanders up the upper skin and air flows past the lip at (alpha_i - alpha) sqrt(2 c/r) of the
    airspeed, r the nose radius, 1.1 t^2/c: thin-aerofoil theory with a rounded nose. What the cells then hold
    falls by that squared. Source: [Theodorsen1931] for the ideal angle, [AbbottDoenhoff1959] for the radius.
    """
    return _tuck_alpha(np.ascontiguousarray(outline, dtype=np.float64).tobytes())


@lru_cache(maxsize=8)
def _tuck_alpha(outline_bytes: bytes) -> float:
    # Kept: it takes 10 ms, every glide of a sweep asks for it, and a design has one section.
    outline = np.frombuffer(outline_bytes).reshape(-1, 2)
    nose_radius = 1.1019 * thickness_ratio(outline) ** 2
    return ideal_angle(outline) - sqrt(TUCK_PRESSURE_LOSS * nose_radius / 2)


def _point(
    vehicle: Vehicle,
    setting: float,
    stall: float,
    *,
    brake: float = 0.0,
    height: float = 0.0,
    table: AeroTable | None = None,
) -> GlidePoint:
    try:
        trim = find_trims(vehicle, brake=brake, height=height, modes=False, table=table).chosen
    except TrimError:
        return GlidePoint(setting=setting, trim=None, tuck_margin=np.nan, stall_margin=np.nan)
    return GlidePoint(
        setting=setting,
        trim=trim,
        tuck_margin=tuck_margin(vehicle, trim),
        stall_margin=stall - trim.alpha,
    )


def brake_polar(vehicle: Vehicle, fractions: FloatArray | None = None) -> tuple[GlidePoint, ...]:
    """Steady glides over symmetric brake, as fractions of full travel."""
    brakes = (np.linspace(0, 1, 11) if fractions is None else fractions).tolist()
    travel = vehicle.design.brakes.travel
    return tuple(
        replace(_point(vehicle, brake, stall_alpha(vehicle, brake), brake=brake), pull=travel * brake)
        for brake in brakes
    )


def rigging_sweep(vehicle: Vehicle, angles: FloatArray = RIGGING_SWEEP) -> tuple[GlidePoint, ...]:
    """Steady glides over rigging angle, line length kept."""
    stall = stall_alpha(vehicle)
    return tuple(_point(_rerigged(vehicle, angle), angle, stall) for angle in angles.tolist())


def _rerigged(vehicle: Vehicle, angle: float, length: float | None = None) -> Vehicle:
    return assemble(
        vehicle.design,
        factors=vehicle.model.factors,
        rigging=Rigging(line_length=length or vehicle.rigging.line_length, rigging_angle=angle),
    )


def model_window(vehicle: Vehicle, lost: tuple[float, float] | None = None) -> tuple[float, float] | None:
    """Rigging angles between which both margins keep their reserve, as in `Glide.window`. [rad]"""
    return rigging_window(rigging_sweep(vehicle), margins_lost(vehicle) if lost is None else lost)


def margins_lost(vehicle: Vehicle) -> tuple[float, float]:
    """What nose-tuck and stall margin lose to the low end of the bands; none without a glide. [rad]"""
    ranges = build_ranges(vehicle.design, GLIDE_FACTORS)
    try:
        return _lost_margins(bands(vehicle, ranges, headline_figures))
    except TrimError:
        return 0.0, 0.0


def _lost_margins(found: Bands) -> tuple[float, float]:
    """What the nose-tuck and the stall margin may be smaller: taken as the same at other rigging angles."""
    tuck, stall = (found.figures[name] for name in ("tuck_margin", "stall_margin"))
    return tuck.value - tuck.low, stall.value - stall.low


def rigging_window(
    sweep: tuple[GlidePoint, ...], lost: tuple[float, float] = (0.0, 0.0)
) -> tuple[float, float] | None:
    """Usual rigging angles between which both margins keep their reserve; None if there are none. [rad]

    Parameters
    ----------
    sweep : tuple of GlidePoint
        Over rigging angle.
    lost : tuple of float
        What the nose-tuck and the stall margin may be smaller than they are computed. [rad]
    """
    low, high = (radians(end) for end in RIGGING_RAIL)
    fine = np.linspace(max(sweep[0].setting, low), min(sweep[-1].setting, high), 641)
    flown = [point for point in sweep if point.trim is not None]
    if len(flown) < 2:
        return None
    setting = [point.setting for point in flown]
    tuck = np.interp(fine, setting, [point.tuck_margin for point in flown], left=-1, right=-1)
    stall = np.interp(fine, setting, [point.stall_margin for point in flown], left=-1, right=-1)
    allowed = fine[(tuck >= TUCK_RESERVE + lost[0]) & (stall >= STALL_RESERVE + lost[1])]
    return (float(allowed[0]), float(allowed[-1])) if len(allowed) else None


def hanging_changes(vehicle: Vehicle) -> tuple[tuple[str, GlidePoint], ...]:
    """Steady glides with the payload's centre of mass, its hooks or its riser moved by `HANG_STEP`."""
    design, stall = vehicle.design, stall_alpha(vehicle)
    suspension = design.payload.suspension

    def hooked(front: float, rear: float) -> dict[str, Spec]:
        """The hooks moved forward by so much. [m]"""
        places = {"front": suspension.front_place + front, "rear": suspension.rear_place + rear}
        moved = suspension.model_copy(update=places)
        return {"payload": design.payload.model_copy(update={"suspension": moved})}

    def centered(forward: float) -> dict[str, Spec]:
        """The payload's centre moved forward by so much. [m]"""
        if suspension.four_hooks:  # their places are measured from the centre
            return hooked(-forward, -forward)
        center = design.payload.center_of_mass
        moved = center.model_copy(update={"forward": center.forward + forward})
        return {"payload": design.payload.model_copy(update={"center_of_mass": moved})}

    changed = [
        ("payload's centre forward", centered(HANG_STEP)),
        ("payload's centre back", centered(-HANG_STEP)),
    ]
    if suspension.four_hooks:
        half = HANG_STEP / 2
        changed.append(("hooks further apart fore and aft", hooked(half, -half)))
        if suspension.front_place - suspension.rear_place > 1.5 * HANG_STEP:
            changed.append(("hooks closer fore and aft", hooked(-half, half)))
    else:
        riser = design.lines.riser.model_copy(update={"length": design.lines.riser.length + HANG_STEP})
        changed.append(("riser longer", {"lines": design.lines.model_copy(update={"riser": riser})}))
    return tuple(
        (words, _point(assemble(design.model_copy(update=update), factors=vehicle.model.factors), 0.0, stall))
        for words, update in changed
    )


def line_errors(vehicle: Vehicle) -> tuple[GlidePoint, ...]:
    """Steady glides with the rear row too short and too long by `LINE_ERROR`, the others as designed.

    Front and rear row alone fix the pose then, as they do on the real canopy when the middle rows go slack.
    """
    canopy, rows = vehicle.canopy, vehicle.design.lines.rows
    chordwise = np.array([min(rows.values()), max(rows.values())])
    height = lower_surface(canopy.outline, chordwise)
    as_designed = row_lengths(
        rigging=vehicle.rigging, chord=canopy.root_chord, chordwise=chordwise, height=height
    )
    stall = stall_alpha(vehicle)
    points = []
    for error in (-LINE_ERROR, 0.0, LINE_ERROR):
        pose = rigging_from_rows(
            lengths=as_designed + np.array([0.0, error]),
            chord=canopy.root_chord,
            chordwise=chordwise,
            height=height,
        )
        points.append(_point(_rerigged(vehicle, pose.rigging_angle, pose.line_length), error, stall))
    return tuple(points)


def altitude_effect(vehicle: Vehicle) -> tuple[Aloft, ...]:
    """Steady glides at heights above sea level: speeds grow as the air thins, and Reynolds number falls."""
    return tuple(_aloft(vehicle, altitude) for altitude in ALTITUDES)


def _aloft(vehicle: Vehicle, altitude: float) -> Aloft:
    height = altitude - vehicle.ground_height
    there = at_height(vehicle, height)
    point = _point(there, altitude, stall_alpha(there), height=height, table=there.model.trim_table)
    if point.trim is None:
        return Aloft(point=point, equivalent_airspeed=np.nan, reynolds=np.nan)
    airspeed = point.trim.airspeed
    return Aloft(
        point=point,
        equivalent_airspeed=airspeed * sqrt(point.trim.air_density / STANDARD_DENSITY),
        reynolds=reynolds_at(there, height, airspeed),
    )
