"""How the payload hangs below the lines."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from parasim.config.base import Spec, length_between, number_between, percent_between
from parasim.config.quantity import InvalidValue

Hooks = Literal["one point", "front and rear", "stiff"]
Offset = Annotated[float, length_between(-2.0, 2.0)]
RowName = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9]{0,7}$")]

_FOUR_HOOKS_ONLY = ("front", "rear", "height", "front_rows", "front_riser", "rear_riser")
_JOINT_ONLY = ("roll_stiffness", "twist_stiffness", "damping")


class SuspensionSpec(Spec):
    """How the payload hangs: what the canopy's lines can hold it by.

    `hooks` is one of

    - ``one point``: all rows of a side gather in one riser, so the payload is free to pitch below the lines;
    - ``front and rear``: each side has a front and a rear riser, hooked to the payload `front` and `rear` of
      its centre of mass (forward positive) and `height` above it; `front_rows` run to the front risers, all
      others to the rear ones, and `front_riser` and `rear_riser` are their lengths;
    - ``stiff``: a pole joins the payload to the canopy, so it cannot pitch, lean or twist. Nothing that is
      sewn of cloth and line does that.

    The hooks are as far apart across as the riser's spread. Sideways the payload leans against that spread:
    `roll_stiffness` is the torque by angle there; left out, it follows from the weight and the spread. It
    twists against the lines: `twist_stiffness` likewise. `damping` is the share of critical damping of each.
    """

    hooks: Hooks = "one point"
    """`one point`: all rows of a side gather in one riser, so the payload is free to pitch; `front and
    rear`: two risers a side; `stiff`: a pole, which nothing sewn of cloth and line is. Left out: one
    point."""
    front: Offset | None = None
    """Front hooks ahead of the payload's centre of mass; this and the next five with `front and rear`
    only."""
    rear: Offset | None = None
    """Rear hooks ahead of it, so usually negative."""
    height: Annotated[float, length_between(-0.5, 3.0)] | None = None
    """Hooks above it."""
    front_rows: tuple[RowName, ...] | None = Field(default=None, min_length=1, max_length=5)
    """Rows that run to the front risers; the others run to the rear ones."""
    front_riser: Annotated[float, length_between(0.0, 3.0)] | None = None
    """Length of the front risers. Left out: `lines.riser.length`."""
    rear_riser: Annotated[float, length_between(0.0, 3.0)] | None = None
    """Of the rear ones. Left out: `lines.riser.length`."""
    roll_stiffness: Annotated[float, number_between(0.0, 1e4)] | None = None
    """Torque by lean, N m/rad. Left out: from weight and riser spread."""
    twist_stiffness: Annotated[float, number_between(0.0, 1e4)] | None = None
    """Torque by twist, N m/rad. Left out: that of a load on two lines."""
    damping: Annotated[float, percent_between(0.0, 100.0)] = 0.05
    """Of each swing, part of critical. Left out: 5 %."""

    @property
    def stiff(self) -> bool:
        """Whether payload and canopy are one rigid body."""
        return self.hooks == "stiff"

    @property
    def four_hooks(self) -> bool:
        """Whether front and rear rows hang on hooks of their own."""
        return self.hooks == "front and rear"

    @property
    def front_place(self) -> float:
        """Front hooks ahead of the centre of mass; zero without front and rear hooks. [m]"""
        return self.front or 0.0

    @property
    def rear_place(self) -> float:
        """Rear hooks ahead of the centre of mass, so usually negative. [m]"""
        return self.rear or 0.0

    @property
    def hook_height(self) -> float:
        """Hooks above the centre of mass. [m]"""
        return self.height or 0.0

    @model_validator(mode="after")
    def _fits(self) -> "SuspensionSpec":
        given = self.model_fields_set
        if self.four_hooks:
            for key in ("front", "rear", "height", "front_rows"):
                if getattr(self, key) is None:
                    raise InvalidValue(
                        "missing with hooks: front and rear", f"write {key}", key=key, given=""
                    )
            assert self.front is not None
            assert self.rear is not None
            if self.front <= self.rear:
                raise InvalidValue(
                    "the front hooks do not lie ahead of the rear ones",
                    "use a front larger than the rear (forward positive, rear is usually negative)",
                    key="front",
                )
            return self
        for key in _FOUR_HOOKS_ONLY:
            if key in given:
                raise InvalidValue(
                    f"has no meaning with hooks: {self.hooks}",
                    "remove it, or write hooks: front and rear",
                    key=key,
                )
        if self.stiff:
            for key in _JOINT_ONLY:
                if key in given:
                    raise InvalidValue("has no meaning with hooks: stiff", "remove it", key=key)
        return self


def refuse_old_joint(content: Any) -> Any:
    """Pass a payload block on, unless it has the `joint` of earlier versions.

    Raises
    ------
    InvalidValue
        Which says how to write it now.
    """
    if isinstance(content, Mapping) and "joint" in content:
        raise InvalidValue(
            "no longer a key: a payload that swings is what there is",
            "remove it, or rename it to suspension and write hooks: one point in it; "
            "for a payload fixed to the canopy by a pole write suspension: {hooks: stiff}",
            key="joint",
            given="",
        )
    return content
