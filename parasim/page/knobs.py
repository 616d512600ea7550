"""What can be turned on the page: keys of the design file, each with a field and a handle on the drawing.

A handle sits where its key shows in the drawing. It is drawn along `along`, the way it moves for each unit of
the key, so that whoever pulls it there turns the key by as much.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import cos, sin
from typing import Any

import numpy as np

from parasim.geometry.airfoil import lower_surface, upper_surface
from parasim.geometry.rigging import QUARTER_CHORD
from parasim.page.trial import Built
from parasim.rotations import FloatArray
from parasim.units import DEGREE, INCH, OUNCE, System, show

DOWN = np.array([0.0, 0.0, 1.0])
FORWARD = np.array([1.0, 0.0, 0.0])
LEFT = np.array([0.0, -1.0, 0.0])

MASS_STEM = 0.05
"""Length of the arrow of the payload's mass over span, for each kg/m² on the canopy. [m²/kg]"""

ASIDE = 0.07
"""How far outside the risers the brakes' handle is drawn, over span. [-]"""

STEPS: dict[str, dict[System, tuple[float, int | None]]] = {
    "dimension": {"metric": (1e-3, 3), "imperial": (INCH / 16, None)},
    "small_length": {"metric": (1e-3, None), "imperial": (INCH / 20, None)},
    "angle": {"metric": (DEGREE / 10, None), "imperial": (DEGREE / 10, None)},
    "percent": {"metric": (1e-3, None), "imperial": (1e-3, None)},
    "mass": {"metric": (1e-2, None), "imperial": (OUNCE / 4, 3)},
}
"""Kind of quantity to the step that a key press makes [SI], and the decimals it is shown with."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Knob:
    """One key with its handle.

    Attributes
    ----------
    key, words, kind : str
        Dotted key, what a maker calls it, and its kind of quantity.
    value : float
        SI.
    place, along : ndarray, shape (3,)
        Of the handle, body axes [m]; and how far it moves for each unit of the value.
    root : ndarray, shape (3,)
        Where a line to the handle begins; the handle itself where there is none. [m]
    """

    key: str
    words: str
    kind: str
    value: float
    place: FloatArray
    along: FloatArray
    root: FloatArray

    def text(self, value: float, units: System) -> str:
        """A value of it as it is written in a field, and in a file."""
        return show(value, self.kind, units, digits=STEPS[self.kind][units][1])

    def document(self, units: System) -> dict[str, Any]:
        """For the drawing."""
        return {
            "key": self.key,
            "words": self.words,
            "value": self.value,
            "text": self.text(self.value, units),
            "step": STEPS[self.kind][units][0],
            "place": self.place.tolist(),
            "along": self.along.tolist(),
            "root": self.root.tolist(),
        }


def knobs(built: Built) -> list[Knob]:
    """Those that the design's file has, in the order of its sections."""
    return [knob for group in GROUPS for knob in group(built)]


def _knob(
    key: str, words: str, kind: str, value: float, place: FloatArray, along: FloatArray,
    root: FloatArray | None = None,
) -> Knob:  # fmt: skip
    place = np.asarray(place, dtype=np.float64)
    return Knob(
        key=key, words=words, kind=kind, value=float(value), place=place,
        along=np.asarray(along, dtype=np.float64), root=place if root is None else root,
    )  # fmt: skip


def _payload(built: Built) -> Iterator[Knob]:
    """The payload's mass, as an arrow below it."""
    mass, canopy = built.design.payload.mass, built.canopy
    by_mass = MASS_STEM * canopy.span / canopy.flat_area
    bottom = built.scene.payload[1::2].mean(axis=0)
    down = built.scene.of_payload(DOWN) - built.scene.of_payload(np.zeros(3))
    yield _knob(
        "payload.mass", "payload mass", "mass", mass, bottom + mass * by_mass * down, by_mass * down, bottom
    )


def _hooks(built: Built) -> Iterator[Knob]:
    """Where the payload is hooked: front and rear hooks, or the riser and its spread."""
    design, scene = built.design, built.scene
    at = scene.risers[:, 0]
    if design.payload.suspension.four_hooks:
        suspension = design.payload.suspension
        forward = (scene.of_payload(FORWARD) - scene.of_payload(np.zeros(3))) / 2
        down = scene.of_payload(DOWN) - scene.of_payload(np.zeros(3))
        for name, value, place, along in (
            ("front", suspension.front_place, at[1], forward),
            ("rear", suspension.rear_place, at[3], forward),
            ("height", suspension.hook_height, scene.payload.mean(axis=0), down),
        ):
            words = "hooks over centre" if name == "height" else f"{name} hooks ahead of centre"
            yield _knob(f"payload.suspension.{name}", words, "small_length", value, place, along)
        return
    riser = design.lines.riser
    yield _knob("lines.riser.length", "riser length", "dimension", riser.length, at[1], DOWN)
    yield _knob("lines.riser.spread", "riser spread", "dimension", riser.spread, at[0], LEFT / 2)


def _canopy(built: Built) -> Iterator[Knob]:
    """Span at the right tip, chord at the centre's tail, arc at the left tip."""
    spec, canopy = built.design.canopy, built.canopy
    half, quarter = np.array(canopy.half_arc), np.array(QUARTER_CHORD)
    right, left = (canopy.point(tip, quarter, np.array(0.0)) for tip in (half, -half))
    yield _knob("canopy.span", "span", "dimension", spec.span, right, canopy.spanwise(half) / 2)
    tail = canopy.point(np.array(0.0), np.array(1.0), np.array(0.0))
    yield _knob("canopy.chord", "chord", "dimension", spec.chord, tail, (QUARTER_CHORD - 1) * FORWARD)
    h = canopy.half_arc
    bend = np.array([0.0, -(sin(h) - h * cos(h)), 1 - cos(h) - h * sin(h)])
    yield _knob("canopy.arc_radius", "arc radius", "dimension", canopy.arc_radius, left, bend)


def _inlet(built: Built) -> Iterator[Knob]:
    """The lower lip in the middle of the canopy."""
    spec, canopy = built.design.canopy.inlet, built.canopy
    lip = canopy.inlet.lower_lip
    angle = np.array(canopy.half_arc / canopy.n_half_cells)
    place = canopy.point(angle, np.array(lip), np.asarray(lower_surface(canopy.outline, lip)))
    back = -canopy.root_chord * FORWARD  # a higher inlet has its lip farther back, cut off or slotted
    if spec.height is None:
        yield _knob("canopy.inlet.lower_lip", "inlet, lower lip", "percent", lip, place, back)
    else:
        yield _knob("canopy.inlet.height", "inlet height", "percent", spec.height, place, back)


def _lines(built: Built) -> Iterator[Knob]:
    """Length and rigging angle over the centre rib, or the rows' lengths at their tabs."""
    lines, canopy = built.design.lines, built.canopy
    if lines.row_lengths is not None:
        yield from _row_lengths(built)
        return
    assert lines.length is not None
    assert lines.rigging_angle is not None
    mu, zero = lines.rigging_angle, np.array(0.0)
    top = canopy.point(
        zero, np.array(QUARTER_CHORD), np.asarray(upper_surface(canopy.outline, QUARTER_CHORD))
    )
    nose = canopy.point(zero, zero, zero)
    up = np.array([-sin(mu), 0.0, -cos(mu)])
    yield _knob("lines.length", "line length", "dimension", lines.length, top, up)
    swing = lines.length * np.array([-cos(mu), 0.0, sin(mu)])
    yield _knob("lines.rigging_angle", "rigging angle", "angle", mu, nose, swing)


def _row_lengths(built: Built) -> Iterator[Knob]:
    lines, canopy = built.design.lines, built.canopy
    assert lines.row_lengths is not None
    for row, length in lines.row_lengths.items():
        x = np.array(lines.rows[row])
        tab = canopy.point(np.array(0.0), x, np.asarray(lower_surface(canopy.outline, lines.rows[row])))
        out = tab / np.linalg.norm(tab)
        yield _knob(f"lines.row_lengths.{row}", f"row {row} length", "dimension", length, tab, out)


def _brakes(built: Built) -> Iterator[Knob]:
    """The right brake pulled down by its travel, drawn outside the risers."""
    travel = built.design.brakes.travel
    aside = -ASIDE * built.canopy.span * LEFT
    root = built.line_set.brake_ends[1] + aside
    yield _knob("brakes.travel", "brake travel", "small_length", travel, root + travel * DOWN, DOWN, root)


GROUPS: tuple[Callable[[Built], Iterator[Knob]], ...] = (_payload, _hooks, _canopy, _inlet, _lines, _brakes)
"""In the order of the fields."""
