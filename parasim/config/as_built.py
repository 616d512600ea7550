"""The canopy as it was sewn and rigged: what scale and tape say of it on the ground."""

from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, ValidationInfo, field_validator, model_validator

from parasim.config.base import Spec, file_beside, length_between, mass_between
from parasim.config.quantity import InvalidValue
from parasim.config.servo import MeasuredBrakeForce


class WeighedSpec(Spec):
    """A weight by the scale."""

    mass: Annotated[float, mass_between(0.005, 20.0)]
    """By the scale."""
    error: Annotated[float, mass_between(0.00001, 1.0)]
    """One standard deviation."""

    @model_validator(mode="before")
    @classmethod
    def _with_error(cls, given: Any) -> Any:
        if isinstance(given, (str, int, float)):
            raise InvalidValue("a weight without its error", "write {mass: 92 g, error: 1 g}")
        return given

    @model_validator(mode="after")
    def _known(self) -> "WeighedSpec":
        if self.error > self.mass / 2:
            raise InvalidValue("more than half of what was weighed", "give the scale's error", key="error")
        return self


class ReadBrakeForce(MeasuredBrakeForce):
    """As `servo.measured` of a design; on the ground `airspeed` is the wind it is kited in."""

    @model_validator(mode="after")
    def _with_error(self) -> "ReadBrakeForce":
        if self.error is None:
            raise InvalidValue("missing", 'add one standard deviation, such as error: "0.2 N"', key="error",
                               given="")  # fmt: skip
        return self


class AsBuiltSpec(Spec):
    """What was measured once on the sewn and rigged canopy, on the ground; in one notes file only.

    Weights and lengths stand in the place of the design's, and all flights are compared with what they make.
    """

    canopy_mass: WeighedSpec | None = None
    """Sewn, without its lines: `{mass: 92 g, error: 1 g}`; sets `canopy.cloth.areal_weight`."""
    finished_mass: WeighedSpec | None = None
    """The same with its lines, brake lines too. With `canopy_mass` it sets `lines.linear_density`; without,
    the lines are taken as computed and the rest as cloth."""
    payload_mass: WeighedSpec | None = None
    """All that hangs below the lines; sets `payload.mass`."""
    line_lengths: Path | None = None
    """Table that `parasim lines DESIGN --out DIR` writes, filled in, as seen from the notes file; sets the
    rigging, and where brake lines are in it `brakes.free_play`."""
    line_error: Annotated[float, length_between(0.0, 20.0, "mm")] = 0.001
    """Of each length in it, one standard deviation. Left out: 1 mm, our choice, no source."""
    brake_force: Annotated[tuple[ReadBrakeForce, ...], Field(max_length=20)] = ()
    """Readings of a scale in a brake line, both brakes alike: `{pull: 60 mm, force: 3 N, airspeed: 7 m/s,
    error: 0.2 N}`, `airspeed` being the wind where it was kited. Sets `servo.measured`."""

    @field_validator("line_lengths", mode="before")
    @classmethod
    def _find_file(cls, given: object, info: ValidationInfo) -> Path | None:
        """Take the path from beside the notes file, and refuse a missing one."""
        if given is None:
            return None
        return file_beside(given, info, "the path of a table, such as heron_lines_to_measure.csv", "notes")

    @model_validator(mode="after")
    def _fits(self) -> "AsBuiltSpec":
        if not any(getattr(self, name) for name in MEASURED):
            raise InvalidValue("nothing was measured", f"give one of {', '.join(MEASURED)}", given="")
        if self.canopy_mass and self.finished_mass and self.finished_mass.mass <= self.canopy_mass.mass:
            raise InvalidValue(
                "no more than the canopy without lines", "weigh both again", key="finished_mass.mass",
                given=f"{self.finished_mass.mass:g} kg",
            )  # fmt: skip
        return self


MEASURED = tuple(name for name in AsBuiltSpec.model_fields if name != "line_error")
"""What can be measured, by its key."""
