"""The lines: rigging, rows, cascades, riser and brakes."""

from collections.abc import Mapping
from itertools import pairwise
from math import hypot, isclose
from typing import Annotated, Literal

from pydantic import Field, model_validator

from parasim.config.base import (
    Spec,
    angle_between,
    force_between,
    length_between,
    linear_density_between,
    number_between,
    percent_between,
    whole_between,
)
from parasim.config.quantity import InvalidValue

_LOAD_SLACK = 1e-3
RIGGING_LIMITS = (-8.0, 16.0)
"""Rigging angles that a file may give, directly or by its row lengths. [deg]"""

LineLength = Annotated[float, length_between(0.1, 20.0)]
RowName = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9]{0,7}$")]
Fibre = Literal["polyester", "aramid", "uhmwpe", "nylon"]
"""What line is braided from; uhmwpe is polyethylene of very long molecules."""


class RiserSpec(Spec):
    """From the confluence down to the payload top, and how far apart the two riser ends are. [m]"""

    length: Annotated[float, length_between(0.0, 3.0)]
    """From the confluence down to the top of the payload."""
    spread: Annotated[float, length_between(0.0, 2.0)]
    """Between the two riser ends."""


class CascadeSpec(Spec):
    """Rows that share a lower line: where they join, and how they share the load.

    Height is the ratio of the way up from the riser end; the loads add to one. The row `through` runs
    unbroken from riser to tab, the others are tied into it; left out, the lower line is its own piece.
    """

    rows: tuple[RowName, ...] = Field(min_length=2, max_length=6)
    """Rows that join into one lower line. Leave `cascades` out for none."""
    height: Annotated[float, percent_between(5.0, 95.0)]
    """Where they join, as part of the way up."""
    load: tuple[Annotated[float, percent_between(1.0, 99.0)], ...] = Field(min_length=2, max_length=6)
    """How they share the load, one part each, together 100 %."""
    through: RowName | None = None
    """Row whose line runs through the joint unbroken; the others tie into it. Left out: all of them tie into
    the trunk."""

    @model_validator(mode="after")
    def _shares(self) -> "CascadeSpec":
        if len(set(self.rows)) != len(self.rows):
            raise InvalidValue("names a row twice", "name each row once", key="rows")
        if len(self.load) != len(self.rows):
            raise InvalidValue(
                f"{len(self.rows)} rows but {len(self.load)} loads", "give one load for each row", key="load"
            )
        if not isclose(sum(self.load), 1.0, abs_tol=_LOAD_SLACK):
            raise InvalidValue(
                f"the loads add to {100 * sum(self.load):.4g} %", "let them add to 100 %", key="load"
            )
        if self.through is not None and self.through not in self.rows:
            raise InvalidValue(
                "not a row of this cascade", f"use {', '.join(self.rows)}, or leave it out", key="through"
            )
        return self


class LinesSpec(Spec):
    """The line set, by line length and rigging angle or by the lengths of the rows at the centre rib.

    Length runs from the confluence to the quarter chord of the centre rib. Rigging is nose-down positive,
    against the perpendicular to that line.

    Of the line stock, `material` and `strength` (unknotted) may be left out; then stretch or strength is not
    accounted for. `loop_allowance` is what a loop takes at one end, `tie_allowance` what a knot takes
    of a line running through it; lengths are measured under `measuring_tension`.
    """

    length: LineLength | None = None
    """From the confluence, where the lines meet, to the quarter chord of the centre rib."""
    rigging_angle: Annotated[float, angle_between(*RIGGING_LIMITS)] | None = None
    """Nose-down angle of the chord against the perpendicular to that line."""
    row_lengths: Mapping[RowName, LineLength] | None = None
    """Instead of the two above: straight lengths of two or more rows at the centre rib, up to the
    stitching of the tab, 0.1 to 20 m."""
    rows: Mapping[RowName, Annotated[float, percent_between(0.0, 100.0)]] = Field(min_length=2, max_length=6)
    """Place of each row along the chord, front to rear."""
    diameter: Annotated[float, length_between(0.1, 5.0, "mm")]
    """."""
    linear_density: Annotated[float, linear_density_between(0.01, 20.0)]
    """."""
    material: Fibre | None = None
    """Of the line stock: `polyester`, `aramid`, `uhmwpe` or `nylon`; sets stretch. Left out: no stretch."""
    strength: Annotated[float, force_between(5.0, 20000.0)] | None = None
    """Of the line stock, straight and unknotted. Left out: by material and diameter, or no strength
    check."""
    loop_allowance: Annotated[float, length_between(0.0, 500.0, "mm")] = 0.060
    """Line that a loop takes at one end. Left out: 60 mm."""
    tie_allowance: Annotated[float, length_between(0.0, 200.0, "mm")] = 0.015
    """Line that a knot takes of a line that runs through it. Left out: 15 mm."""
    measuring_tension: Annotated[float, force_between(0.5, 100.0)] = 7.0
    """Under which lengths are measured. Left out: 7 N."""
    riser: RiserSpec
    cascades: tuple[CascadeSpec, ...] = Field(default=(), max_length=6)

    @model_validator(mode="after")
    def _consistent(self) -> "LinesSpec":
        self._check_rows()
        self._check_rigging()
        self._check_cascades()
        return self

    def _check_rows(self) -> None:
        places = list(self.rows.items())
        for (before, x), (row, y) in pairwise(places):
            if y <= x:
                raise InvalidValue(
                    f"row {row} does not lie behind row {before}",
                    "write the rows from front to rear",
                    key="rows",
                    given="",
                )

    def _check_rigging(self) -> None:
        by_angle = [name for name in ("length", "rigging_angle") if getattr(self, name) is not None]
        if self.row_lengths is not None:
            if by_angle:
                raise InvalidValue(
                    "the row lengths fix length and rigging angle",
                    f"remove {by_angle[0]} or row_lengths",
                    key=by_angle[0],
                )
            self._check_row_lengths(self.row_lengths)
        elif len(by_angle) < 2:
            raise InvalidValue(
                "the pose of the canopy is open",
                "give both length and rigging_angle, or row_lengths",
                given=f"only {by_angle[0]}" if by_angle else "neither",
            )

    def _check_row_lengths(self, lengths: Mapping[str, float]) -> None:
        for row in lengths:
            if row not in self.rows:
                raise InvalidValue(
                    f"there is no row {row}", f"use {_names(self.rows)}", key=f"row_lengths.{row}", given=""
                )
        if len(lengths) < 2:
            raise InvalidValue(
                "one row does not fix the rigging", "give at least two rows", key="row_lengths", given=""
            )

    def _check_cascades(self) -> None:
        seen: set[str] = set()
        for place, cascade in enumerate(self.cascades):
            for row in cascade.rows:
                if row not in self.rows:
                    raise InvalidValue(
                        f"there is no row {row}", f"use {_names(self.rows)}", key=f"cascades.{place}.rows"
                    )
                if row in seen:
                    raise InvalidValue(
                        f"row {row} is in two cascades", "put each row in one", key=f"cascades.{place}.rows"
                    )
                seen.add(row)


class BrakeRingSpec(Spec):
    """A ring on each riser that the brake line runs through, and where it goes on to from there."""

    riser: Literal["front", "rear"] | None = None
    """Leave `ring` out for lines straight to the riser ends. Riser that it is sewn to, `front` or `rear`,
    with front and rear hooks. Left out: rear, or the only one."""
    below: Annotated[float, length_between(-500.0, 3000.0, "mm")]
    """Below the riser end, along the riser; negative above it."""
    friction: tuple[
        Annotated[float, number_between(0.0, 1.0)], Annotated[float, number_between(0.0, 1.0)]
    ] = (0.1, 0.3)
    """Coefficient of friction of line on ring, low and high. Left out: [0.1, 0.3], from memory,
    unverified."""
    guide: tuple[
        Annotated[float, length_between(-2.0, 2.0)],
        Annotated[float, length_between(-2.0, 2.0)],
        Annotated[float, length_between(-2.0, 2.0)],
    ] = (0.0, 0.0, 0.0)
    """Where the line is led to from the ring, the servo's guide: ahead of that riser's hook, outward and
    below it. Left out: the hook itself."""
    drag: Annotated[float, force_between(0.0, 50.0)] = 0.05
    """Force that it takes to draw the slack line back through ring and guides. Left out: 0.05 N, our
    choice."""

    def onward(self, riser: float) -> float:
        """Line from the ring to its guide; riser: length of the one that it is on. [m]"""
        forward, outward, down = self.guide
        return hypot(forward, outward, down + riser - self.below)

    @model_validator(mode="after")
    def _in_order(self) -> "BrakeRingSpec":
        if self.friction[0] > self.friction[1]:
            raise InvalidValue(
                "high before low", "write the lower one first, as in [0.1, 0.3]", key="friction"
            )
        return self


class BrakesSpec(Spec):
    """The brakes: braked outer part of each half span, full pull with the free play in it, lines.

    `shares` is the part of the pull that reaches each branch, inner to outer; left out, all of it reaches
    each. The fan opens at `fan_height` of the way from the riser end to the trailing edge; with more `levels`
    its lines join two by two on the way.
    """

    span_fraction: Annotated[float, percent_between(5.0, 100.0)]
    """Outer part of each half span that is braked."""
    travel: Annotated[float, length_between(5.0, 1000.0, "mm")]
    """Full pull."""
    free_play: Annotated[float, length_between(0.0, 500.0, "mm")] | None = None
    """The part of it that only takes up slack, so that a released brake is released. Left out: 2 % of the
    mean chord."""
    branches: Annotated[int, whole_between(1, 12)]
    """Brake lines to the trailing edge on each side, 1 to 12."""
    shares: tuple[Annotated[float, percent_between(0.0, 100.0)], ...] = ()
    """Part of the pull that reaches each of them, inner to outer. Left out: all of it."""
    fan_height: Annotated[float, percent_between(20.0, 95.0)] = 0.7
    """Where the fan of brake lines opens, as part of the way from riser end to trailing edge. Left out: 70
    %."""
    levels: Annotated[int, whole_between(1, 3)] = 1
    """On how many levels they join on the way down, 1 to 3. Left out: 1."""
    ring: BrakeRingSpec | None = None

    @model_validator(mode="after")
    def _one_share_each(self) -> "BrakesSpec":
        if self.shares and len(self.shares) != self.branches:
            raise InvalidValue(
                f"{self.branches} branches but {len(self.shares)} shares",
                "give one share of the pull for each branch, inner to outer, or leave them out",
                key="shares",
            )
        if self.shares and max(self.shares) <= 0:
            raise InvalidValue(
                "no branch gets any pull", "use 100 % for the branch that gets all of it", key="shares"
            )
        return self

    @model_validator(mode="after")
    def _enough_branches(self) -> "BrakesSpec":
        minimum = 2 ** (self.levels - 1) + 1
        if self.levels > 1 and self.branches < minimum:
            raise InvalidValue(
                f"{self.branches} branches do not fill so many levels",
                f"use fewer levels, or {minimum} branches or more",
                key="levels",
            )
        return self


def _names(rows: Mapping[str, float]) -> str:
    return ", ".join(rows)
