"""A design on one page: what it does, against what it has to keep, what to make, how to fly it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from parasim.answer import Answer
from parasim.dynamics.vehicle import Vehicle
from parasim.flight.drop import Drop, drop
from parasim.flight.glide import Glide, glide
from parasim.flight.landing import Landing, landing
from parasim.flight.opening.opening import Opening, opening
from parasim.flight.release.reach import clear_ground
from parasim.flight.release.release import PlanLimits, plan_limits_or_none, touch_height
from parasim.flight.servo.servo import Servo, servo
from parasim.flight.turn.turn import Turn, turn
from parasim.flight.uncertainty import Band
from parasim.making.cut import cut
from parasim.making.lines import Lines, lines
from parasim.making.rulers import Ruler, first_to_fail, rulers
from parasim.sewing.cut_list import CutList

if TYPE_CHECKING:
    from parasim.learning.predicted import PredictedTrack
    from parasim.logs.track import Track
    from parasim.scatter.scatter import Scatter

WINDS = (0.0, 2.0, 4.0, 6.0)
"""Winds, where they are measured, for which the ground to keep clear is shown. [m/s]"""

LEAST_CERTAIN = 3
"""Calibration numbers that are named as the least certain."""

HOW_TO_MEASURE = {
    "moment_shift": "time a straight descent, brakes released, over a known height in calm air",
    "lift_factor": "time a straight flight over a known distance, there and back",
    "line_drag_coefficient": "measure distance flown from a known height in calm air",
    "extra_drag": "measure distance flown from a known height in calm air",
    "roughness_drag": "measure distance flown from a known height in calm air",
    "inlet_drag_factor": "measure distance flown from a known height in calm air",
    "brake_lift_factor": "time full circles at half brake, left and right",
    "brake_drag_factor": "time full circles at half brake, and the height lost in them",
    "side_force_slope": "film a turn from behind and read its bank",
    "yaw_damping": "time full circles at half brake, left and right",
    "roll_damping": "film how a swing from side to side decays",
}
"""Calibration number to the test that shows it. Common practice, no source."""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Summary(Answer):
    """Answer to `parasim summary`.

    Attributes
    ----------
    vehicle : Vehicle
        What is sewn and flown.
    design_file, digest : str
        Name of its file; beginning of the SHA-256 of the design as read.
    glide, landing, drop, opening, servo, turn, cut, lines
        Answers of the commands of these names.
    scatter : Scatter or None
        Where drops come down, if asked for.
    flown : PredictedTrack or None
        Logged flights beside what the design does, if there are any.
    clear_ground : tuple of Band
        Radius of the ground to keep clear about the point under the release, for each of `WINDS`. [m]
    plan : PlanLimits or None
        Of `parasim release` from the height in the file; None where it makes no plan.
    """

    REPORT = "parasim.report.summary:SummaryReport"

    vehicle: Vehicle
    design_file: str
    digest: str
    glide: Glide
    landing: Landing
    drop: Drop
    opening: Opening
    servo: Servo
    turn: Turn
    cut: CutList
    scatter: Scatter | None = None
    flown: PredictedTrack | None = None
    lines: Lines
    clear_ground: tuple[Band, ...]
    plan: PlanLimits | None

    @cached_property
    def rulers(self) -> tuple[Ruler, ...]:
        """Every limit and margin."""
        return rulers(self.glide, self.landing, self.opening, self.servo)

    @property
    def first_to_fail(self) -> Ruler | None:
        """The limit with least room, or passed farthest; None where no limit is given."""
        return first_to_fail(self.rulers)

    @property
    def half_brake(self) -> Band:
        """Turn rate at half of one brake. [rad/s]"""
        return dict(self.turn.rate_bands)[0.5]

    @property
    def least_certain(self) -> tuple[tuple[str, float], ...]:
        """Calibration numbers by their part of the bands of glide, nose-tuck margin and half turn. [-]"""
        bands = [self.glide.bands.figures[name] for name in ("sink", "glide_ratio", "tuck_margin")]
        bands.append(self.half_brake)
        shares: dict[str, float] = {}
        for band in bands:
            for name, share in band.causes:
                shares[name] = shares.get(name, 0.0) + share / len(bands)
        return tuple(sorted(shares.items(), key=lambda cause: -cause[1])[:LEAST_CERTAIN])

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        every = (
            self.glide, self.landing, self.drop, self.opening, self.servo, self.turn, self.cut, self.scatter,
            self.flown,
        )  # fmt: skip
        parts = [part for part in every if part is not None]
        return tuple(dict.fromkeys(caveat for part in parts for caveat in part.caveats))


def _clear_ground(vehicle: Vehicle) -> tuple[Band, ...]:
    height = vehicle.design.drop.height
    return clear_ground(vehicle, touch=touch_height(vehicle, height), height=height, winds=WINDS)


PARTS: Mapping[str, Callable[[Vehicle], Any]] = {
    "glide": glide, "landing": landing, "drop": drop, "opening": opening, "servo": servo, "turn": turn,
    "cut": cut, "lines": lines, "clear_ground": _clear_ground, "plan": plan_limits_or_none,
}  # fmt: skip
"""What a summary is put together from, and how each is worked out."""


def summary(
    vehicle: Vehicle,
    *,
    design_file: str = "",
    drops: int = 0,
    logs: Track | None = None,
    parts: Mapping[str, Any] | None = None,
) -> Summary:
    """A design on one page.

    Parameters
    ----------
    vehicle : Vehicle
        Assembled from the design.
    design_file : str
        Named on the page; by default called like the design.
    drops : int
        Of a scatter; none if left out, for it takes as long as the rest.
    logs : Track, optional
        Logged flights, to stand beside what the design does.
    parts : mapping, optional
        Those of `PARTS` that are worked out already.

    Raises
    ------
    TrimError
        If there is no stable steady glide with the brakes released.
    DesignError
        If the pack does not fall behind the payload, or the cloth cannot be cut.
    """
    design, flown, scattered = vehicle.design, None, None
    if logs:
        from parasim.learning.predicted import predicted_track

        flown = predicted_track(logs, vehicle)
    known = parts or {}
    every = {name: known[name] if name in known else work(vehicle) for name, work in PARTS.items()}
    if drops:
        from parasim.scatter.scatter import scatter

        scattered = scatter(vehicle, drops=drops)
    return Summary(
        vehicle=vehicle,
        design_file=design_file or f"{design.name}.yaml",
        digest=design.digest,
        scatter=scattered,
        flown=flown,
        **every,
    )
