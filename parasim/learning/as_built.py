"""The vehicle as it was built: what scale and tape found on the ground, put in the place of the design's.

Weights and line lengths replace what the design assumed, each under the key of the design that it belongs to;
a force in a brake line is weighed against the band in which the force curve lies before.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from math import degrees, exp, hypot, log, sqrt
from pathlib import Path

import numpy as np

from parasim.caveats import Caveat
from parasim.config.as_built import AsBuiltSpec, ReadBrakeForce
from parasim.config.design import Design
from parasim.config.loader import override
from parasim.config.measured import Measured, read_measured
from parasim.config.notes import Notes
from parasim.config.variant import Entry
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.errors import DesignError, Mistake, TrimError
from parasim.flight.line_loads import line_loads
from parasim.flight.lines import ASYMMETRY, BRAKE_ROW, changes_by_row
from parasim.flight.servo.brake_force import ForceCurve, flown_at, force_curve, over_curve
from parasim.flight.trim import Trim, find_trims
from parasim.geometry.airfoil import lower_surface
from parasim.geometry.hang import pose_of_changed_lines, rigging_slopes
from parasim.geometry.line_stock import finished_lengths
from parasim.geometry.lines import LineSet
from parasim.geometry.rigging import Rigging, build_section, row_lengths
from parasim.learning.fit import DEVIATIONS

SHAPE = 0.1
"""What forces at other pulls may be off by, on a curve of the theory's shape through a reading: with the 5 %
of a spring scale it makes the band of a reading without an error. Our judgement, no source. [-]"""

Ends = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A figure that was taken over.

    Attributes
    ----------
    words, key : str
        What it is, and the design's key that holds it.
    kind : str
        Of quantity, a key of `parasim.units.UNITS`.
    before, after : float
        Of the design as it was, and as built. [SI]
    error : float
        One standard deviation; 0 where it follows from others. [SI]
    bands : (Ends, Ends) or None
        Before and after, two deviations each way, of what was fitted; None for what was replaced. [SI]
    digits : int or None
        Decimals shown, in place of the usual ones.
    """

    words: str
    key: str
    kind: str
    before: float
    after: float
    error: float = 0.0
    bands: tuple[Ends, Ends] | None = None
    digits: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What a scale said, beside the design.

    Attributes
    ----------
    words : str
        What was on it.
    kind : str
        Of quantity, a key of `parasim.units.UNITS`.
    mass, designed : float
        [kg]
    """

    words: str
    kind: str
    mass: float
    designed: float


@dataclass(frozen=True, kw_only=True, eq=False)
class AsBuilt:
    """A design with what was measured on the ground in it.

    Attributes
    ----------
    vehicle : Vehicle
        As built.
    changes : dict of str to Entry
        Dotted keys of the design and what stands there now, as written.
    taken : tuple of Taken
        Figures before and after.
    rows : dict of str to float
        Mean change of each row's way from riser end to tab; empty without measured lines. [m]
    beside : tuple of Vehicle
        The same with one weight or the rigging angle off by its error, each in turn.
    weighed : tuple of Weighed
        Weights, as they were given.
    trims : (Trim, Trim) or None
        Steady glides as designed and as built; None where either has none.
    caveats : tuple of Caveat
        What to mind.
    """

    vehicle: Vehicle
    changes: dict[str, Entry]
    taken: tuple[Taken, ...]
    rows: dict[str, float]
    beside: tuple[Vehicle, ...]
    weighed: tuple[Weighed, ...]
    trims: tuple[Trim, Trim] | None
    caveats: tuple[Caveat, ...]


def as_built(vehicle: Vehicle, noted: Sequence[tuple[str, Notes]]) -> AsBuilt | None:
    """Vehicle as built by the notes; None where they say nothing of it.

    Parameters
    ----------
    vehicle : Vehicle
        The design.
    noted : sequence of (str, Notes)
        Name of each file and what is in it.

    Raises
    ------
    DesignError
        When two files say it, or what one says makes no design.
    TrimError
        If a glide is needed for it and there is none.
    """
    said = [(file, notes.as_built) for file, notes in noted if notes.as_built is not None]
    if not said:
        return None
    if len(said) > 1:
        problem = f"already in {said[0][0]}: one canopy is built once"
        raise DesignError(Mistake(file=said[1][0], key="as_built", problem=problem, hint="take one out"))
    file, spec = said[0]
    found = _AsBuilt(file=file, spec=spec, vehicle=vehicle)
    if spec.line_lengths is not None:
        found.take_lines(spec.line_lengths)
    found.take_masses()
    if spec.brake_force:
        found.take_forces()
    return AsBuilt(
        vehicle=found.vehicle, changes=found.changes, taken=tuple(found.taken), rows=found.rows,
        beside=tuple(_beside(found.vehicle.design, found.off)), caveats=tuple(found.caveats),
        weighed=tuple(_weighed(vehicle, spec)), trims=_trims(vehicle, found.vehicle),
    )  # fmt: skip


def _weighed(vehicle: Vehicle, spec: AsBuiltSpec) -> Iterator[Weighed]:
    mass = {item.name: item.properties.mass for item in vehicle.items}
    canopy = vehicle.mass - mass["payload"]
    for given, words, kind, designed in (
        (spec.canopy_mass, "without its lines", "small_mass", canopy - mass["lines"]),
        (spec.finished_mass, "with its lines", "small_mass", canopy),
        (spec.payload_mass, "of payload", "mass", mass["payload"]),
    ):
        if given is not None:
            yield Weighed(words=words, kind=kind, mass=given.mass, designed=designed)


def _trims(designed: Vehicle, built: Vehicle) -> tuple[Trim, Trim] | None:
    try:
        before, after = (find_trims(each, modes=False).chosen for each in (designed, built))
    except TrimError:
        return None
    return before, after


def _beside(design: Design, off: Sequence[Mapping[str, Entry]]) -> Iterator[Vehicle]:
    for changes in off:
        with suppress(DesignError):  # at the limit of a key
            yield assemble(override(design, changes))


@dataclass(kw_only=True)
class _AsBuilt:
    """Takes over one thing after the other."""

    file: str
    spec: AsBuiltSpec
    vehicle: Vehicle
    changes: dict[str, Entry] = field(default_factory=dict)
    taken: list[Taken] = field(default_factory=list)
    rows: dict[str, float] = field(default_factory=dict)
    off: list[dict[str, Entry]] = field(default_factory=list)
    caveats: list[Caveat] = field(default_factory=list)

    def change(self, changes: dict[str, Entry], key: str, given: str, off: dict[str, Entry] | None) -> None:
        """Put something into the design that was measured under a key; beside it, the same with its error."""
        try:
            self.vehicle = assemble(override(self.vehicle.design, changes))
        except DesignError as error:
            raise DesignError(
                Mistake(
                    file=self.file, key=f"as_built.{key}", given=given,
                    problem=f"which makes no design ({error.mistakes[0]!s})",
                    hint="measure it again, or correct the design first",
                )
            ) from None  # fmt: skip
        self.changes |= changes
        self.off += [off] if off else []

    def take_lines(self, path: Path) -> None:
        """Rigging by the lines as measured, and the free play where brake lines are among them."""
        before, line_set = self.vehicle, self.vehicle.line_set
        tension = line_loads(before, find_trims(before, modes=False).chosen).tension
        designed = finished_lengths(before.design.lines, line_set.lines, tension)
        table = read_measured(path, designed, line_set.ways)
        if not table.given:
            raise DesignError(
                Mistake(file=path.name, problem="no length filled in", hint="fill in what was measured")
            )
        change = {label: table.lengths.get(label, length) - length for label, length in designed.items()}
        self.rows, uneven = _by_row(line_set, change)
        pose = pose_of_changed_lines(line_set, before.canopy, change)
        slopes = rigging_slopes(line_set, before.canopy)
        error = self.spec.line_error * hypot(*(slopes[label] for label in table.lengths))
        off = replace(pose, rigging_angle=pose.rigging_angle + error)
        design = before.design
        self.change(_posed(design, pose), "line_lengths", path.name, _posed(design, off) if error else None)
        self._say_pose(before.rigging, pose, error)
        if uneven:
            self.caveats.append(uneven)
        if _has_brakes(line_set, table):
            self._take_brakes(before, path.name)

    def _say_pose(self, before: Rigging, pose: Rigging, error: float) -> None:
        of_rows = self.vehicle.design.lines.row_lengths is not None
        length, angle = ("lines.row_lengths",) * 2 if of_rows else ("lines.length", "lines.rigging_angle")
        self.taken += [
            Taken(
                words="line length", key=length, kind="tape_length", before=before.line_length,
                after=pose.line_length,
            ),
            Taken(
                words="rigging angle, nose-down", key=angle, kind="angle", before=before.rigging_angle,
                after=pose.rigging_angle, error=error, digits=2,
            ),
        ]  # fmt: skip

    def _take_brakes(self, before: Vehicle, given: str) -> None:
        """Free play: what brake lines are longer than the way to where the trailing edge now hangs."""
        way = [_brake_way(each.line_set) for each in (before, self.vehicle)]
        was = before.design.free_play
        play = was + self.rows[BRAKE_ROW] - (way[1] - way[0])
        if play < 0:
            self.caveats.append(
                Caveat(
                    "As measured, the brakes are pulled by {pull} at their zero marks: let their lines out. "
                    "They are taken as just released.",
                    "fails",
                    "brakes",
                    pull=(-play, "small_length"),
                )
            )
        play = max(play, 0.0)
        self.change({"brakes.free_play": f"{1e3 * play:.4g} mm"}, "line_lengths", given, None)
        self.taken.append(
            Taken(
                words="free play of the brakes", key="brakes.free_play", kind="tape_length", before=was,
                after=play,
            )
        )  # fmt: skip

    def take_masses(self) -> None:
        """Cloth, line and payload as weighed."""
        canopy, finished, payload = (getattr(self.spec, f"{name}_mass") for name in WEIGHED)
        mass = {item.name: item.properties.mass for item in self.vehicle.items}
        lines, design = mass["lines"], self.vehicle.design
        if finished is not None and canopy is not None:
            density = design.lines.linear_density * (finished.mass - canopy.mass) / lines
            self._weigh(
                "finished_mass", "lines", "lines.linear_density", lines, finished.mass - canopy.mass,
                hypot(finished.error, canopy.error), f"{1e3 * density:.5g} g/m", None,
            )  # fmt: skip
        if canopy is not None or finished is not None:
            key, sewn = ("canopy_mass", canopy) if canopy is not None else ("finished_mass", finished)
            self._weigh_cloth(mass, key, sewn.mass - (0.0 if canopy is not None else lines), sewn.error)
        if payload is not None:
            self._weigh(
                "payload_mass", "payload", "payload.mass", mass["payload"], payload.mass, payload.error,
                f"{payload.mass:.6g} kg", f"{payload.mass + payload.error:.6g} kg",
            )  # fmt: skip

    def _weigh_cloth(self, mass: Mapping[str, float], key: str, sewn: float, error: float) -> None:
        """Cloth by area so that the sewn canopy weighs so much; tape and thread as computed."""
        whole = sum(mass.values()) - mass["lines"] - mass["payload"]
        cloth = whole - mass.get("tape", 0.0) - mass.get("thread", 0.0)
        areal_weight = self.vehicle.design.canopy.cloth.areal_weight
        written = [
            f"{1e3 * areal_weight * (cloth + more) / cloth:.5g} g/m^2"
            for more in (sewn - whole, sewn - whole + error)
        ]
        self._weigh(key, "canopy without lines", "canopy.cloth.areal_weight", whole, sewn, error, *written)

    def _weigh(
        self, said: str, words: str, key: str, before: float, after: float, error: float, written: str,
        off: str | None,
    ) -> None:  # fmt: skip
        """Put a weight under a key of the design, and beside it what its error makes of that."""
        self.change({key: written}, f"{said}.mass", f"{getattr(self.spec, said).mass:g} kg",
                    {key: off} if off else None)  # fmt: skip
        kind = "mass" if said == "payload_mass" else "small_mass"
        self.taken.append(Taken(words=words, key=key, kind=kind, before=before, after=after, error=error))

    def take_forces(self) -> None:
        """Brake forces, weighed together with the band in which they were expected."""
        servo, travel = self.vehicle.design.servo, self.vehicle.design.brakes.travel
        trim = find_trims(self.vehicle, modes=False).chosen
        curve = force_curve(self.vehicle, trim, servo.measured if servo else None)
        ratios = [self._over(curve, i, trim.airspeed) for i in range(len(self.spec.brake_force))]
        errors = [hypot(float(each.error or 0.0) / each.force, SHAPE) for each in self.spec.brake_force]
        factor, spread = hinge_factor(curve, ratios, errors)
        for ratio, error, reading in zip(ratios, errors, self.spec.brake_force, strict=True):
            self._doubt(curve, ratio, error, reading)
        reading = max(self.spec.brake_force, key=lambda each: each.pull)
        flown, force = flown_at(curve, reading.pull, trim.airspeed)
        airspeed = reading.airspeed or flown
        force *= (airspeed / flown) ** 2
        reach = exp(DEVIATIONS * spread)
        self.taken.append(
            Taken(
                words=f"brake force at {100 * reading.pull / travel:.0f} %",
                key="servo.measured", kind="force",
                before=force, after=factor * force,
                bands=((curve.low * force, curve.high * force),
                       (factor * force / reach, factor * force * reach)),
            )
        )  # fmt: skip
        if servo is None:
            words = (
                "The design has no servo to write the brake force to: give servo.torque and time_per_60_deg."
            )
            self.caveats.append(Caveat(words, "lacks", "brakes"))
            return
        measured: Entry = {
            "pull": f"{1e3 * reading.pull:.6g} mm", "force": f"{factor * force:.5g} N",
            "airspeed": f"{airspeed:.5g} m/s", "error": f"{spread * factor * force:.4g} N",
        }  # fmt: skip
        self.change({"servo.measured": measured}, "brake_force", "", None)

    def _over(self, curve: ForceCurve, place: int, airspeed: float) -> float:
        try:
            return over_curve(curve, self.spec.brake_force[place], airspeed)
        except DesignError as error:
            mistake = error.mistakes[0]
            key = f"as_built.brake_force.{place}.pull"
            raise DesignError(replace(mistake, file=self.file, key=key)) from None

    def _doubt(self, curve: ForceCurve, ratio: float, error: float, reading: ReadBrakeForce) -> None:
        if abs(log(ratio)) > DEVIATIONS * hypot(spread_of(curve), error):
            self.caveats.append(
                Caveat(
                    f"The brake force read at {{pull}} is {ratio:.2g} times the one expected, outside its "
                    "band: check pull, airspeed and the scale.",
                    "fails",
                    "brakes",
                    pull=(reading.pull, "small_length"),
                )
            )


WEIGHED = ("canopy", "finished", "payload")
"""What is weighed, by its key."""


def spread_of(curve: ForceCurve) -> float:
    """One deviation of the logarithm of true force over the curve's, its band two each way. [-]"""
    return log(curve.high / curve.low) / (2 * DEVIATIONS)


def hinge_factor(curve: ForceCurve, ratios: Sequence[float], errors: Sequence[float]) -> tuple[float, float]:
    """True force over the curve's, from readings and the curve's band, and one deviation of its logarithm.

    Parameters
    ----------
    curve : ForceCurve
        Normal in the logarithm about 1, its band two deviations each way.
    ratios, errors : sequence of float
        Readings over the curve's force, and one deviation of each over itself. [-]

    Notes
    -----
    Normal prior and data: weights are one over the squares of the deviations, and add.
    """
    weights = np.array([spread_of(curve), *errors]) ** -2
    mean = float(weights @ np.log([1.0, *ratios]) / weights.sum())
    return exp(mean), float(1 / sqrt(weights.sum()))


def _posed(design: Design, pose: Rigging) -> dict[str, Entry]:
    """A pose in the keys in which the design gives its own."""
    lines = design.lines
    if lines.row_lengths is None:
        return {
            "lines.length": f"{1e3 * pose.line_length:.6g} mm",
            "lines.rigging_angle": f"{round(degrees(pose.rigging_angle), 4) + 0.0:.6g} deg",
        }
    chordwise = np.array([lines.rows[row] for row in lines.row_lengths])
    height = lower_surface(build_section(design.canopy.airfoil), chordwise)
    lengths = row_lengths(rigging=pose, chord=design.canopy.chord, chordwise=chordwise, height=height)
    return {
        "lines.row_lengths": {
            row: f"{1e3 * length:.6g} mm"
            for row, length in zip(lines.row_lengths, lengths.tolist(), strict=True)
        }
    }


def _by_row(line_set: LineSet, change: Mapping[str, float]) -> tuple[dict[str, float], Caveat | None]:
    """Mean change of each row, and a doubt where left and right differ."""
    left, right = (changes_by_row(line_set, change, side) for side in ("L", "R"))
    row = max(left, key=lambda row: abs(left[row] - right[row]))
    rows = {row: (left[row] + right[row]) / 2 for row in left}
    difference = abs(left[row] - right[row])
    if difference <= ASYMMETRY:
        return rows, None
    words = f"Row {row}" if row != BRAKE_ROW else "Brake lines"
    return rows, Caveat(
        f"{words}: left and right differ by {{difference}}, and are taken alike here. That turns the canopy, "
        "and turns then move the wrong numbers: bring them back first (parasim lines --measured).",
        "fails",
        difference=(difference, "tape_length"),
    )


def _has_brakes(line_set: LineSet, table: Measured) -> bool:
    return any(line.label in table.lengths for line in line_set.brakes)


def _brake_way(line_set: LineSet) -> float:
    """Mean way from riser end or ring to the tabs of the trailing edge. [m]"""
    ends = [line for line in line_set.tab_lines if line.kind == "brake"]
    return float(np.mean([sum(line.length for line in line_set.path(end)) for end in ends]))
