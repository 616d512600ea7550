# ruff: noqa: E501  (the template is laid out for its reader; numbers make its lines shorter than they look)
"""The starter design file: how big its canopy is and why, as comments, and a design that loads."""

import json
from math import degrees

import yaml

from parasim.environment.atmosphere import GRAVITY
from parasim.study.hand_formula import AIR_DENSITY, STEPS, StarterSize, rounded
from parasim.units import FOOT, INCH, OUNCE, POUND, YARD, System

WRITTEN: dict[System, dict[str, tuple[float, str]]] = {
    "metric": {
        "length": (1.0, "m"), "small": (1e-3, "mm"), "mass": (1.0, "kg"), "speed": (1.0, "m/s"),
        "areal": (1e-3, "g/m^2"), "linear": (1e-3, "g/m"), "area": (1.0, "m^2"),
        "height": (1.0, "m"),
    },
    "imperial": {
        "length": (INCH, "in"), "small": (INCH, "in"), "mass": (POUND, "lb"), "speed": (FOOT, "ft/s"),
        "areal": (OUNCE / YARD**2, "oz/yd^2"), "linear": (OUNCE / YARD, "oz/yd"), "area": (FOOT**2, "ft^2"),
        "height": (FOOT, "ft"),
    },
}  # fmt: skip
"""Units of the file: size in SI, and how it is written."""

ROUND: dict[System, tuple[str, str]] = {
    "metric": ("40 g/m^2", "ground_height: 120 m, wind: {speed: 3 m/s, from: 270 deg}"),
    "imperial": ("1.2 oz/yd^2", "ground_height: 400 ft, wind: {speed: 6 kt, from: 270 deg}"),
}
"""Weight of the cloth, a site."""

DROP_HEIGHTS: dict[System, tuple[float, float]] = {
    "metric": (60.0, 10.0),
    "imperial": (200 * FOOT, 50 * FOOT),
}
"""Least height of the drop, and its steps. [m]"""


def starter_text(
    name: str, size: StarterSize, rigging: float, *, units: System = "metric", height: float | None = None
) -> str:
    """Write the design file of a first canopy, with the steady glide and its numbers as comments.

    Parameters
    ----------
    name : str
        Name of the design.
    size : StarterSize
        Its canopy.
    rigging : float
        Positive nose-down. [rad]
    units : {"metric", "imperial"}
        In which its values are written.
    height : float, optional
        Of the drop, else the least of `DROP_HEIGHTS`. [m]

    Returns
    -------
    str
        YAML.
    """
    s, (cloth, site) = size, ROUND[units]

    def w(value: float, kind: str, digits: int = 6) -> str:
        one, unit = WRITTEN[units][kind]
        return f"{value / one:.{digits}g} {unit}"

    x, y, z = (w(edge, "length") for edge in s.box)
    gamma = degrees(s.glide_angle)
    q = 0.5 * AIR_DENSITY * s.airspeed**2
    step = STEPS[units][0]
    return f"""\
# {name}: a first canopy for {w(s.payload_mass, "mass")} at {w(s.sink, "speed", 3)} of sink, written by "parasim new".
# For an editor that knows JSON Schema: "parasim manual schema". Every key: "parasim manual keys".
#
# How big: in a steady glide in still air at sea level the air carries the weight. By the model, in SI:
#   glide ratio {s.glide_ratio:.2f}: glide angle = atan(1 / {s.glide_ratio:.2f}) = {gamma:.1f} deg
#   airspeed    V = sink / sin(glide angle) = {s.sink:.3g} / sin({gamma:.1f} deg) = {s.airspeed:.2f} m/s
#   weight      W = ({s.payload_mass:.4g} + {s.canopy_mass:.3f} kg of canopy) x {GRAVITY:.2f} m/s^2 = {s.weight:.2f} N
#   area        S = W / (1/2 rho V^2 C_R) = {s.weight:.2f} / ({q:.2f} x {s.resultant_coefficient:.3f}) = {s.span * s.chord:.3f} m^2
# with rho = {AIR_DENSITY:g} kg/m^3 and C_R the resultant of lift and drag. "parasim glide" says how sure that is. Change what
# you know better. Lines marked GUESS are proportions, not measurements.
#
# A value carries its unit ("48 in" is as good as "1.22 m"); a plain number is in SI. Angles need their unit.

name: {_yaml_text(name)}

payload:
  mass: {w(s.payload_mass, "mass")}
  size: [{x}, {y}, {z}]   # fore-aft, across, upright; a GUESS unless you gave it with --box
  kind: rigid                        # rigid | soft
  # drag_area: 0.017 m^2             # drag coefficient x frontal area, if you know better than the box

canopy:
  span: {w(s.span, "length")}                      # along the arc of the bottom skin, seams sewn
  chord: {w(s.chord, "length")}                     # {w(s.span * s.chord, "area", 3)} flat area, aspect ratio {s.span / s.chord:.2f}
  cells: {s.cells}
  half_cells: {2 * s.cells}                     # an unloaded rib in the middle of each cell
  arc_radius: {w(s.line_length, "length")}                # equal to the line length: equal lines across the span
  airfoil: {{family: flat-bottomed, thickness: 15 %}}
  inlet: {{kind: flush, height: 4 %}}  # flush | open; height in chord
  crossports: {{count: 3, diameter: 6 %}}
  cloth: {{areal_weight: {cloth}, permeability: 0.5 ft^3/min/ft^2}}   # GUESS: weigh and ask

lines:
  length: {w(s.line_length, "length")}                    # confluence to the quarter chord of the centre rib
  rigging_angle: {degrees(rigging):.3g} deg              # nose-down positive; the middle of the model's window (parasim glide)
  rows: {{A: 10 %, B: 35 %, C: 60 %, D: 85 %}}
  diameter: {w(s.line_diameter, "small", 3)}                   # GUESS: from the payload
  linear_density: {w(s.line_density, "linear", 3)}          # GUESS: weigh a few metres
  riser: {{length: {w(rounded(0.2 * s.line_length, step), "length")}, spread: {w(rounded(0.8 * s.box[1], step), "length")}}}
  cascades:
    - {{rows: [A, B], height: 62 %, load: [60 %, 40 %]}}
    - {{rows: [C, D], height: 62 %, load: [60 %, 40 %]}}

brakes:
  span_fraction: 40 %                # outer part of each half span
  travel: {w(s.brake_travel, "small")}                     # full pull with the free play in it, about a quarter of the chord
  free_play: {w(s.free_play, "small")}                # about 2 % of the chord, so that a released brake is released
  branches: 3

# site: {{{site}}}

drop:
  height: {w(height or DROP_HEIGHTS[units][0], "height")}                      # room to open packed, then for the plan of parasim release
  start: steady                      # steady | rest | velocity
"""


def _yaml_text(name: str) -> str:
    """Quote a name that YAML would read as something else."""
    try:
        is_plain = yaml.safe_load(name) == name
    except yaml.YAMLError:
        is_plain = False
    return name if is_plain else json.dumps(name, ensure_ascii=False)
