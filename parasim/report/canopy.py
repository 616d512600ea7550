"""The geometry of a design as a document, as rows of CSV files and as rows for people."""

from collections import Counter
from typing import Any

import numpy as np

from parasim.dynamics.vehicle import Vehicle
from parasim.geometry.lines import Line
from parasim.geometry.surface import lower_skin, upper_skin
from parasim.report.words import FLAT_AREA, in_degrees
from parasim.units import System, show

DEFINITIONS = {
    "flat_span": "bottom-skin span along the arc, seams sewn",
    "flat_area": FLAT_AREA,
    "projected_span": "tip to tip, seen from above",
    "projected_area": "seen from above",
    "aspect_ratio": "flat span squared over flat area",
}
"""What each of these sizes means."""

RIB_HEADS = (
    "rib",
    "loaded",
    "arc_angle_deg",
    "chord_m",
    "cloth_area_m2",
    "quarter_chord_y_m",
    "quarter_chord_z_m",
)
"""Of canopy_ribs.csv: ribs from the left tip; body axes, y right, z down, origin at the confluence."""

LINE_HEADS = (
    "rib", "kind", "rows", "length_mm",
    "lower_x_m", "lower_y_m", "lower_z_m", "upper_x_m", "upper_y_m", "upper_z_m",
)  # fmt: skip
"""Of canopy_lines.csv: straight pieces; rib 0 for a brake line; body axes, x forward, y right, z down."""

KIND_WORDS = {
    "row": "whole lines",
    "trunk": "cascade trunks",
    "branch": "cascade branches",
    "brake": "brake line pieces",
}


def canopy_document(vehicle: Vehicle) -> dict[str, Any]:
    """Geometry as plain data.

    Returns
    -------
    dict
        - ``name``; ``flat_span_m``, ``flat_area_m2``, ``projected_span_m``, ``projected_area_m2``,
          ``aspect_ratio``, and ``definitions`` of these five; ``root_chord_m``, ``mean_chord_m``,
          ``thickness_ratio``, ``arc_radius_m``, ``half_arc_deg`` (centre rib to tip); ``cells``,
          ``half_cells``, ``ribs``, ``loaded_ribs``; ``line_length_m`` and ``rigging_angle_deg``
          (nose-down positive).
        - ``inlet``: ``kind``, ``height_mm`` (at the root), ``area_m2`` (all cells).
        - ``cloth``: ``upper_skin_m2``, ``lower_skin_m2``, ``ribs_m2``, ``stabilisers_m2``, without seam
          allowance. ``volume_m3``.
        - ``row_lengths_mm``: row to straight lengths, riser end to tab, one for each of
          ``loaded_rib_numbers`` (ribs counted from 1 at the left tip). ``line_pieces``: kind to number;
          ``total_line_length_m``.
        - ``mass_budget_kg``: part to mass; ``mass_kg``; ``enclosed_air_kg`` and ``apparent_mass_kg``
          (``forward``, ``sideways``, ``upright``, without the enclosed air), at ``air_density_kg_m3`` of the
          site's ground.
        - ``caveats``: sentences.
    """
    canopy, lines = vehicle.canopy, vehicle.line_set
    density = vehicle.atmosphere.density(vehicle.ground_height)
    stabiliser = canopy.stabiliser
    return {
        "name": vehicle.design.name,
        "flat_span_m": canopy.span,
        "flat_area_m2": canopy.flat_area,
        "projected_span_m": canopy.projected_span,
        "projected_area_m2": canopy.projected_area,
        "aspect_ratio": canopy.aspect_ratio,
        "definitions": DEFINITIONS,
        "root_chord_m": canopy.root_chord,
        "mean_chord_m": canopy.mean_chord,
        "thickness_ratio": canopy.thickness_ratio,
        "arc_radius_m": canopy.arc_radius,
        "half_arc_deg": in_degrees(canopy.half_arc),
        "cells": canopy.n_cells,
        "half_cells": canopy.n_half_cells,
        "ribs": canopy.n_ribs,
        "loaded_ribs": len(loaded_rib_numbers(vehicle)),
        "line_length_m": vehicle.rigging.line_length,
        "rigging_angle_deg": in_degrees(vehicle.rigging.rigging_angle),
        "inlet": {
            "kind": canopy.inlet.kind,
            "height_mm": 1e3 * canopy.inlet.height * canopy.root_chord,
            "area_m2": canopy.inlet.height * canopy.flat_area,
        },
        "cloth": {
            "upper_skin_m2": upper_skin(canopy).total,
            "lower_skin_m2": lower_skin(canopy).total,
            "ribs_m2": float(canopy.rib_area.sum()),
            "stabilisers_m2": 2 * stabiliser.area if stabiliser else 0.0,
        },
        "volume_m3": canopy.volume,
        "loaded_rib_numbers": loaded_rib_numbers(vehicle),
        "row_lengths_mm": {row: [1e3 * float(x) for x in lengths] for row, lengths in lines.straight.items()},
        "line_pieces": line_pieces(vehicle),
        "total_line_length_m": lines.total_length,
        "mass_budget_kg": {item.name: item.properties.mass for item in vehicle.items},
        "mass_kg": vehicle.mass,
        "air_density_kg_m3": density,
        "enclosed_air_kg": density * float(vehicle.enclosed_matrix[0, 0]),
        "apparent_mass_kg": {
            name: density * float(vehicle.air_matrix[i, i])
            for i, name in enumerate(("forward", "sideways", "upright"))
        },
        "caveats": list(vehicle.caveats),
    }


def loaded_rib_numbers(vehicle: Vehicle) -> list[int]:
    """Numbers of the ribs that carry lines, counted from 1 at the left tip."""
    return list(range(1, vehicle.canopy.n_ribs + 1)[vehicle.canopy.loaded_ribs])


def line_pieces(vehicle: Vehicle) -> dict[str, int]:
    """Number of pieces of each kind of line there is."""
    return dict(Counter(line.kind for line in vehicle.line_set.lines))


def size_rows(vehicle: Vehicle, system: System) -> list[list[str]]:
    """Sizes with their definitions."""
    canopy, inlet = vehicle.canopy, vehicle.canopy.inlet

    def length(value: float) -> str:
        return show(value, "length", system)

    inlet_height = show(inlet.height * canopy.root_chord, "small_length", system)
    inlet_area = show(inlet.height * canopy.flat_area, "area", system)
    ribs = f"{canopy.n_ribs} ribs, {len(loaded_rib_numbers(vehicle))} of them loaded"
    rigging = f"{show(vehicle.rigging.rigging_angle, 'angle')} (positive nose-down)"
    sizes = {
        "flat span": f"{length(canopy.span)} ({DEFINITIONS['flat_span']})",
        "flat area": f"{show(canopy.flat_area, 'area', system)} ({FLAT_AREA})",
        "projected span": f"{length(canopy.projected_span)} ({DEFINITIONS['projected_span']})",
        "projected area": f"{show(canopy.projected_area, 'area', system)} ({DEFINITIONS['projected_area']})",
        "aspect ratio": f"{canopy.aspect_ratio:.2f} ({DEFINITIONS['aspect_ratio']})",
        "chord": f"{length(canopy.root_chord)} root, {length(canopy.mean_chord)} mean",
        "arc": f"radius {length(canopy.arc_radius)}, {show(canopy.half_arc, 'angle')} from centre to tip",
        "cells": f"{canopy.n_cells} of {canopy.n_half_cells} half cells, {ribs}",
        "inlet": f"{inlet.kind}, {inlet_height} high at the root, {inlet_area} in all",
        "volume": show(canopy.volume, "volume", system),
        "rigging": f"{rigging}, {length(vehicle.rigging.line_length)} from confluence to quarter chord",
    }
    return [[name, value] for name, value in sizes.items()]


def cloth_rows(vehicle: Vehicle, system: System) -> list[list[str]]:
    """Cloth areas, without seam allowance."""
    cloth = canopy_document(vehicle)["cloth"]
    words = {
        "upper_skin_m2": "upper skin",
        "lower_skin_m2": "lower skin",
        "ribs_m2": "ribs",
        "stabilisers_m2": "stabilisers",
    }
    return [[words[key], show(area, "area", system)] for key, area in cloth.items() if area]


def row_table(vehicle: Vehicle, system: System) -> list[list[str]]:
    """Straight length of each row on each loaded rib: whole mm, or inches."""
    straight = vehicle.line_set.straight
    return [
        [f"{number}", *(show(float(straight[row][i]), "small_length", system) for row in straight)]
        for i, number in enumerate(loaded_rib_numbers(vehicle))
    ]


def mass_rows(vehicle: Vehicle, system: System) -> list[list[str]]:
    """Mass budget, and the air that moves along."""
    document = canopy_document(vehicle)
    rows = [[name, show(mass, "small_mass", system)] for name, mass in document["mass_budget_kg"].items()]
    rows.append(["all that has weight", show(vehicle.mass, "small_mass", system)])
    rows.append(["air enclosed", show(document["enclosed_air_kg"], "small_mass", system)])
    return rows + [
        [f"apparent mass, {way}", show(mass, "small_mass", system)]
        for way, mass in document["apparent_mass_kg"].items()
    ]


def rib_csv(vehicle: Vehicle) -> list[list[object]]:
    """Rows under `RIB_HEADS`."""
    canopy = vehicle.canopy
    loaded = set(loaded_rib_numbers(vehicle))
    chord = canopy.chord_at(canopy.rib_angle)
    place = canopy.point(canopy.rib_angle, np.array(0.25), np.array(0.0))
    return [
        [
            i + 1,
            "yes" if i + 1 in loaded else "no",
            in_degrees(float(canopy.rib_angle[i])),
            *(round(float(x), 6) for x in (chord[i], canopy.rib_area[i], place[i, 1], place[i, 2])),
        ]
        for i in range(canopy.n_ribs)
    ]


def line_csv(vehicle: Vehicle) -> list[list[object]]:
    """Rows under `LINE_HEADS`."""
    numbers = loaded_rib_numbers(vehicle)
    return [_line_row(line, numbers[line.rib] if line.rib >= 0 else 0) for line in vehicle.line_set.lines]


def _line_row(line: Line, rib: int) -> list[object]:
    ends = (round(float(x), 5) for x in (*line.start, *line.end))
    return [
        rib,
        line.kind,
        "".join(line.rows) if line.kind != "brake" else "brake",
        round(1e3 * line.length, 1),
        *ends,
    ]
