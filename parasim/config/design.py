"""Design: one design file, its cross-checks and its guard rails."""

from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from math import degrees, inf
from typing import Annotated, get_args

from pydantic import Field, model_validator

from parasim.caveats import Caveat
from parasim.config.base import Spec
from parasim.config.calibration import DEFAULTS, CalibratedNumber, CalibrationSpec
from parasim.config.canopy import CanopySpec
from parasim.config.lines import BrakesSpec, LinesSpec
from parasim.config.opening import OpeningSpec
from parasim.config.payload import PayloadSpec
from parasim.config.quantity import InvalidValue
from parasim.config.scatter import ScatterSpec
from parasim.config.scenario import DropSpec, LandingSpec
from parasim.config.servo import ServoSpec
from parasim.config.sewing import PackingSpec, SewingSpec
from parasim.config.weather import SiteSpec
from parasim.units import GRAVITY, System, show

_MOST_HALF_ARC = 1.5
FREE_PLAY = 0.02
"""Free play over mean chord where the design names none: a released brake hangs slack in every attitude.
Common practice, no source. [-]"""

_AT_RING = 1e-3  # a guide nearer than this to its ring gives the line no direction [m]


class Design(Spec):
    """One design file."""

    name: Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[\w][\w .()+-]*$")]
    """Printed with every result."""
    description: str = ""
    """A note to yourself; may be left out."""
    payload: PayloadSpec
    canopy: CanopySpec
    lines: LinesSpec
    brakes: BrakesSpec
    calibration: CalibrationSpec = CalibrationSpec()
    site: SiteSpec = SiteSpec()
    drop: DropSpec = DropSpec()
    landing: LandingSpec = LandingSpec()
    opening: OpeningSpec = OpeningSpec()
    servo: ServoSpec | None = None
    sewing: SewingSpec = SewingSpec()
    packing: PackingSpec | None = None
    scatter: ScatterSpec = ScatterSpec()

    @property
    def digest(self) -> str:
        """Beginning of the SHA-256 of the design as read, defaults filled in: two alike are one design."""
        return sha256(self.model_dump_json().encode()).hexdigest()[:12]

    @property
    def arc_radius(self) -> float | None:
        """Radius of the arc of the bottom skin; the line length when not given (equal lines). [m]

        None where neither is given: row lengths give it once they are a pose (`parasim.geometry.rigging`).
        """
        return self.lines.length if self.canopy.arc_radius is None else self.canopy.arc_radius

    @property
    def wing_loading(self) -> float:
        """Weight of the payload over flat area. [N/m²]"""
        return self.payload.mass * GRAVITY / self.canopy.flat_area

    @property
    def riser_lengths(self) -> tuple[float, ...]:
        """Of one side, front to rear: one, or two with front and rear hooks. [m]"""
        common, suspension = self.lines.riser.length, self.payload.suspension
        if not suspension.four_hooks:
            return (common,)
        given = (suspension.front_riser, suspension.rear_riser)
        return tuple(common if length is None else length for length in given)

    @property
    def ring_riser(self) -> int:
        """Riser of a side that its brake line runs down, or its ring is on: place in `riser_lengths`."""
        ring = self.brakes.ring
        return 0 if ring is not None and ring.riser == "front" else len(self.riser_lengths) - 1

    @property
    def free_play(self) -> float:
        """Pull of a brake that only takes up slack; `FREE_PLAY` of the mean chord when not given. [m]"""
        given = self.brakes.free_play
        return FREE_PLAY * self.canopy.mean_chord if given is None else given

    @property
    def inlet_drag_factor(self) -> CalibratedNumber:
        """Inlet drag coefficient over inlet height in chord. [-]"""
        return self.calibration.inlet_drag_factor_or_default(self.canopy.inlet.kind)

    def warnings(self) -> tuple[Caveat, ...]:
        """Guard rails the design lies outside of, each named; none of them stops a calculation."""
        passed = [rail.warning(self) for rail in RAILS]
        kept = tuple(caveat for caveat in passed if caveat)
        return kept + _fin_warnings(self) + _calibration_warnings(self.calibration)

    @model_validator(mode="after")
    def _fits(self) -> "Design":
        self._check_arc()
        self._check_brakes()
        self._check_hooks()
        self._check_ring()
        self._check_fins()
        self._check_bag()
        length = self.lines.length
        if length is not None and self.lines.riser.spread >= length:
            raise InvalidValue(
                f"as wide as the lines are long ({length:.3g} m)",
                "use a smaller spread",
                key="lines.riser.spread",
            )
        return self

    def _check_arc(self) -> None:
        radius, span = self.arc_radius, self.canopy.span
        if radius is None:
            return
        half_arc = 0.5 * span / radius
        if half_arc > _MOST_HALF_ARC:
            left_out = self.canopy.arc_radius is None
            raise InvalidValue(
                ("left out, so it is the line length: " if left_out else "")
                + f"{radius:.3g} m curls the tips {degrees(half_arc):.0f} deg down",
                f"use an arc radius of at least {0.5 * span / _MOST_HALF_ARC:.3g} m",
                key="canopy.arc_radius",
                given="" if left_out else None,
            )

    def _check_hooks(self) -> None:
        """Front rows are the foremost ones, leave rows to the rear risers, and share no cascade with them."""
        front, rows = self.payload.suspension.front_rows, list(self.lines.rows)
        if front is None:
            return
        key = "payload.suspension.front_rows"
        for row in front:
            if row not in rows:
                raise InvalidValue(f"there is no row {row}", f"use {', '.join(rows)}", key=key)
        if set(front) != set(rows[: len(front)]) or len(set(front)) != len(front):
            raise InvalidValue(
                "front rows must be the foremost ones, each named once",
                f"use {', '.join(rows[: len(set(front))])}",
                key=key,
            )
        if len(front) == len(rows):
            raise InvalidValue("no row is left for the rear risers", "leave out the rear rows", key=key)
        for place, cascade in enumerate(self.lines.cascades):
            ahead = [row for row in cascade.rows if row in front]
            if ahead and len(ahead) < len(cascade.rows):
                raise InvalidValue(
                    f"joins rows of different risers ({', '.join(front)} run to the front ones)",
                    "join rows of one riser only, or change payload.suspension.front_rows",
                    key=f"lines.cascades.{place}.rows",
                )

    def _check_fins(self) -> None:
        """Lines of the stabilisers have names of their own, and risers to choose from where they choose."""
        fins = self.canopy.stabilisers
        if fins is None:
            return
        for row in fins.rows:
            if row in self.lines.rows:
                raise InvalidValue(
                    f"lines.rows has a row {row}",
                    "use another name",
                    key=f"canopy.stabilisers.rows.{row}",
                    given="",
                )
        if fins.front_rows is not None and not self.payload.suspension.four_hooks:
            raise InvalidValue(
                "a side has only one riser", "leave it out", key="canopy.stabilisers.front_rows"
            )

    def _check_ring(self) -> None:
        """The ring is on a riser that there is, not below its hook, and not where its line is led to."""
        ring = self.brakes.ring
        if ring is None:
            return
        if ring.riser is not None and not self.payload.suspension.four_hooks:
            raise InvalidValue(
                "a side has only one riser",
                "leave it out, or use front and rear hooks",
                key="brakes.ring.riser",
            )
        length = self.riser_lengths[self.ring_riser]
        if ring.below > length:
            raise InvalidValue(
                f"below the riser, which is {1e3 * length:g} mm long",
                f"use up to {1e3 * length:g} mm",
                key="brakes.ring.below",
            )
        if ring.onward(length) < _AT_RING:
            raise InvalidValue(
                "the ring lies where its line is led to", "move it up the riser, or give brakes.ring.guide",
                key="brakes.ring.below",
            )  # fmt: skip

    def _check_bag(self) -> None:
        if self.opening.pack == "loose" and self.packing is not None and self.packing.has_bag:
            raise InvalidValue(
                "opening.pack is loose: there is no bag",
                "remove it, or write opening: {pack: bag}",
                key="packing.bag" if self.packing.bag is not None else "packing.bag_box",
            )

    def _check_brakes(self) -> None:
        if self.brakes.travel >= self.canopy.chord:
            raise InvalidValue(
                f"longer than the chord ({self.canopy.chord:g} m)",
                "use 15 to 35 % of the chord",
                key="brakes.travel",
            )
        if self.free_play >= self.brakes.travel:
            left_out = self.brakes.free_play is None
            raise InvalidValue(
                ("left out, so 2 % of the mean chord: it " if left_out else "")
                + "eats up the whole brake travel",
                "use about 2 % of the mean chord, and a longer travel",
                key="brakes.free_play",
                given="" if left_out else None,
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Rail:
    """A guard rail: outside it the design is unusual, and the models or the sewing may not hold.

    Parameters
    ----------
    name : str
        What is looked at.
    value : callable
        Its value in the unit given; None when the design does not have it.
    low, high : float
        The usual range.
    about : str
        What part of the design it bears on, as for `parasim.caveats.Caveat`.
    unit : str
        Unit of all three.
    why : str
        What to expect outside.
    kind : str
        Kind of quantity, where it is shown in other units as well.
    size : float
        Of the unit then. [SI]
    """

    name: str
    value: Callable[[Design], float | None]
    about: str
    low: float = -inf
    high: float = inf
    unit: str = ""
    why: str = ""
    kind: str = ""
    size: float = 1.0

    def warning(self, design: Design) -> Caveat | None:
        """Return one sentence when the design lies outside, by what is printed of it, else nothing."""
        value = self.value(design)
        if value is None or self.low <= value <= self.high:
            return None
        side, limit = ("under", self.low) if value < self.low else ("over", self.high)
        words = f"{self.name}: {{value}} is {side} the usual {{limit}}" + (
            f"; {self.why}" if self.why else ""
        )
        if self.kind:
            figures = {"value": (self.size * value, self.kind), "limit": (self.size * limit, self.kind)}
            pairs = [[show(x, self.kind, system) for x, _ in figures.values()] for system in get_args(System)]
            found = Caveat(words, "model", self.about, **figures)
        else:
            unit = f" {self.unit}".rstrip()
            pairs = [[f"{value:.3g}{unit}", f"{limit:g}{unit}"]]
            found = Caveat(words.format(value=pairs[0][0], limit=pairs[0][1]), "model", self.about)
        return None if any(value == limit for value, limit in pairs) else found


def _thickness(design: Design) -> float | None:
    thickness = design.canopy.airfoil.thickness
    return None if thickness is None else 100.0 * thickness


def _arc_in_spans(design: Design) -> float | None:
    return None if design.arc_radius is None else design.arc_radius / design.canopy.span


def _rigging_degrees(design: Design) -> float | None:
    angle = design.lines.rigging_angle
    return None if angle is None else degrees(angle)


CFM = 0.3048 / 60.0
"""One cubic foot a minute through a square foot. [m/s] By definition of the foot."""

RIGGING_RAIL = (-5.0, 8.0)
"""Usual rigging angles. Common practice, no source. [deg]"""

# Common practice, no source, unless said.
RAILS = (
    Rail(
        name="mass",
        about="payload",
        value=lambda d: d.payload.mass,
        low=0.2,
        high=6.0,
        unit="kg",
        kind="mass",
        why="the models were made for small payloads",
    ),
    Rail(
        name="flat area",
        about="canopy",
        value=lambda d: d.canopy.flat_area,
        low=0.2,
        high=2.0,
        unit="m^2",
        kind="area",
        why="the models were made for small canopies",
    ),
    Rail(
        name="wing loading by the payload alone",
        about="flight",
        value=lambda d: d.wing_loading,
        low=8.0,
        unit="N/m^2",
        kind="wing_loading",
        why="a lightly loaded canopy stays limp and is blown about",
    ),
    Rail(
        name="wing loading by the payload alone",
        about="flight",
        value=lambda d: d.wing_loading,
        high=35.0,
        unit="N/m^2",
        kind="wing_loading",
        why="it lands fast",
    ),
    Rail(
        name="aspect ratio",
        about="canopy",
        value=lambda d: d.canopy.aspect_ratio,
        low=1.5,
        why="it glides poorly",
    ),
    Rail(
        name="aspect ratio",
        about="canopy",
        value=lambda d: d.canopy.aspect_ratio if d.canopy.aspect_ratio <= 4.0 else None,
        high=2.5,
        why="hard to open when packed; launch it open or go narrower",
    ),
    Rail(
        name="aspect ratio",
        about="canopy",
        value=lambda d: d.canopy.aspect_ratio,
        high=4.0,
        why="small cloth wings this slender fold easily",
    ),
    Rail(name="cells", about="canopy", value=lambda d: d.canopy.cells, low=5, high=11),
    Rail(name="airfoil thickness", about="canopy", value=_thickness, low=9.0, high=20.0, unit="%"),
    Rail(name="arc radius", about="canopy", value=_arc_in_spans, low=0.55, high=1.2, unit="spans"),
    Rail(
        name="rigging angle",
        about="rigging",
        value=_rigging_degrees,
        low=RIGGING_RAIL[0],
        unit="deg",
        why="it may hang back and stall",
    ),
    Rail(
        name="rigging angle",
        about="rigging",
        value=_rigging_degrees,
        high=RIGGING_RAIL[1],
        unit="deg",
        why="the nose may tuck, and it dives",
    ),
    Rail(
        name="line diameter",
        about="lines",
        value=lambda d: 1e3 * d.lines.diameter,
        low=0.3,
        high=1.5,
        unit="mm",
    ),
    Rail(
        name="brake travel",
        about="brakes",
        value=lambda d: 100.0 * d.brakes.travel / d.canopy.chord,
        low=15.0,
        high=35.0,
        unit="% of the chord",
    ),
    Rail(
        name="free play",
        about="brakes",
        value=lambda d: 100.0 * d.free_play / d.canopy.mean_chord,
        low=1.0,
        unit="% of the mean chord",
        why="a released brake may still pull; 2 % is common practice, no source",
    ),
    Rail(
        name="cloth weight",
        about="cloth",
        value=lambda d: 1e3 * d.canopy.cloth.areal_weight,
        high=60.0,
        unit="g/m^2",
        kind="areal_weight",
        size=1e-3,
        why="stiff cloth opens and shapes badly at this size",
    ),
    Rail(
        name="cloth permeability",
        about="cloth",
        value=lambda d: d.canopy.cloth.permeability / CFM,
        high=10.0,
        unit="cfm/ft^2",
        kind="permeability",
        size=CFM,
        why="cells lose pressure through the cloth",
    ),
)


def _fin_warnings(design: Design) -> tuple[Caveat, ...]:
    """What stabilisers without lines mean."""
    fins = design.canopy.stabilisers
    if fins is None or fins.rows:
        return ()
    words = (
        "stabilisers: without lines (canopy.stabilisers.rows) they flutter and blow in under side flow, and "
        "are fins only by the tension of their own cloth; here they count as flat plates (common practice, "
        "no source)"
    )
    return (Caveat(words, "model", "fins"),)


def _calibration_warnings(calibration: CalibrationSpec) -> tuple[Caveat, ...]:
    found = []
    for key, usual in DEFAULTS.items():
        number: CalibratedNumber = getattr(calibration, key)
        if not usual.low <= number.value <= usual.high:
            found.append(
                Caveat(
                    f"calibration {key}: {number.value:g} is outside the usual {usual.low:g} to "
                    f"{usual.high:g}"
                )
            )
    return tuple(found)
