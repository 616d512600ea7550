# ruff: noqa: E501  (the template is laid out for its reader; numbers make its lines shorter than they look)
"""The starter design file: the hand formula with its numbers as comments, and a design that loads."""

import json
from math import degrees, radians

import yaml

from parasim.config.loader import parse_design
from parasim.dynamics.vehicle import assemble
from parasim.environment.atmosphere import GRAVITY
from parasim.flight.glide import rigging_sweep, rigging_window
from parasim.study.new import AIR_DENSITY, RESULTANT_COEFFICIENT, StarterSize, rounded

FIRST_RIGGING = radians(0.0)
"""Rigging angle about which the model's window is looked for, and which is written if there is none. [rad]"""

RIGGING_ROUNDING = radians(0.5)


def starter_rigging(name: str, size: StarterSize) -> float:
    """Rigging angle of a first canopy: the middle of the model's own window, to half a degree. [rad]

    Parameters
    ----------
    name, size
        As for `starter_text`.
    """
    vehicle = assemble(parse_design(starter_text(name, size, FIRST_RIGGING), name=name))
    window = rigging_window(rigging_sweep(vehicle))
    middle = FIRST_RIGGING if window is None else sum(window) / 2
    return RIGGING_ROUNDING * round(middle / RIGGING_ROUNDING)


def starter_text(name: str, size: StarterSize, rigging: float) -> str:
    """Write the design file of a first canopy, with the hand formula and its numbers as comments.

    Parameters
    ----------
    name : str
        Name of the design.
    size : StarterSize
        What `size_canopy` found.
    rigging : float
        Positive nose-down. [rad]

    Returns
    -------
    str
        YAML.
    """
    s = size
    x, y, z = s.box
    weight = (s.payload_mass + s.canopy_mass) * GRAVITY
    C_R, rho = RESULTANT_COEFFICIENT, AIR_DENSITY
    gamma = degrees(s.glide_angle)
    q = 0.5 * rho * s.airspeed**2
    return f"""\
# {name}: a first canopy for {s.payload_mass:g} kg at {s.sink:g} m/s of sink, written by "parasim new".
#
# The hand formula of a steady glide in still air at sea level:
#   glide ratio {s.glide_ratio:g}: glide angle = atan(1 / {s.glide_ratio:g}) = {gamma:.1f} deg
#   airspeed    V = sink / sin(glide angle) = {s.sink:g} / sin({gamma:.1f} deg) = {s.airspeed:.2f} m/s
#   weight      W = ({s.payload_mass:g} + {s.canopy_mass:.3f} kg of canopy) x 9.81 m/s^2 = {weight:.2f} N
#   area        S = W / (1/2 rho V^2 C_R) = {weight:.2f} / ({q:.2f} x {C_R:g}) = {s.area:.3f} m^2
# with rho = {rho:g} kg/m^3 and a resultant coefficient C_R of {C_R:g}. It knows nothing of your section,
# lines or rigging: see what "parasim glide" says, and change what you know better. Lines marked GUESS are
# proportions, not measurements.
#
# A value carries its unit ("48 in" is as good as "1.22 m"); a plain number is in SI. Angles need their unit.

name: {_yaml_text(name)}

payload:
  mass: {s.payload_mass:.6g} kg
  size: [{x:g} m, {y:g} m, {z:g} m]   # GUESS: fore-aft, across, upright
  kind: rigid                        # rigid | soft
  # drag_area: 0.017 m^2             # drag coefficient x frontal area, if you know better than the box

canopy:
  span: {s.span:g} m                      # along the arc of the bottom skin, seams sewn
  chord: {s.chord:g} m                     # {s.span:g} x {s.chord:g} = {s.span * s.chord:.3f} m^2 flat area, aspect ratio {s.span / s.chord:.2f}
  cells: {s.cells}
  half_cells: {2 * s.cells}                     # an unloaded rib in the middle of each cell
  arc_radius: {s.line_length:g} m                # equal to the line length: equal lines across the span
  airfoil: {{family: flat-bottomed, thickness: 15 %}}
  inlet: {{kind: flush, height: 4 %}}  # flush | open; height in chord
  crossports: {{count: 3, diameter: 6 %}}
  cloth: {{areal_weight: 40 g/m^2, permeability: 0.5 ft^3/min/ft^2}}   # GUESS: weigh and ask

lines:
  length: {s.line_length:g} m                    # confluence to the quarter chord of the centre rib
  rigging_angle: {degrees(rigging):.3g} deg              # nose-down positive; the middle of the model's window (parasim glide)
  rows: {{A: 10 %, B: 35 %, C: 60 %, D: 85 %}}
  diameter: {1e3 * s.line_diameter:g} mm                   # GUESS: from the payload
  linear_density: {1e3 * s.line_density:.3g} g/m          # GUESS: weigh a few metres
  riser: {{length: {rounded(0.2 * s.line_length, 5e-3):g} m, spread: {rounded(0.8 * y, 5e-3):g} m}}
  cascades:
    - {{rows: [A, B], height: 62 %, load: [60 %, 40 %]}}
    - {{rows: [C, D], height: 62 %, load: [60 %, 40 %]}}

brakes:
  span_fraction: 40 %                # outer part of each half span
  travel: {1e3 * s.brake_travel:g} mm                     # full pull with the free play in it, about a quarter of the chord
  free_play: {1e3 * s.free_play:g} mm
  branches: 3

# site: {{ground_height: 120 m, wind: {{speed: 3 m/s, from: 270 deg}}}}

drop:
  height: 60 m
  start: steady                      # steady | rest | velocity
"""


def _yaml_text(name: str) -> str:
    """Quote a name that YAML would read as something else."""
    try:
        is_plain = yaml.safe_load(name) == name
    except yaml.YAMLError:
        is_plain = False
    return name if is_plain else json.dumps(name, ensure_ascii=False)
