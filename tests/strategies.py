"""Hypothesis strategies: sane designs, and what they are flown through."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from parasim.config.design import Design


def _rounded(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: float(f"{value:.4g}"))


@st.composite
def design_documents(draw: st.DrawFn, *, calm: bool = True) -> dict[str, Any]:
    """Document of a small canopy that a maker might sew: guard rails kept, but for a few at their ends."""
    area = draw(_rounded(0.25, 1.6))
    aspect = draw(_rounded(1.6, 3.2))
    loading = draw(_rounded(9.0, 32.0))
    taper = draw(st.sampled_from([1.0, 0.8, 0.6]))
    mean_chord = (area / aspect) ** 0.5
    span = area / mean_chord
    cells = draw(st.integers(5, 11))
    length = span * draw(_rounded(0.6, 1.1))
    family = draw(st.sampled_from(["flat-bottomed", "reflexed", "symmetric"]))
    document: dict[str, Any] = {
        "name": "drawn",
        "payload": {
            "mass": loading * area / 9.80665,
            "size": [0.2, 0.12, draw(_rounded(0.05, 0.3))],
            "kind": draw(st.sampled_from(["rigid", "soft"])),
        },
        "canopy": {
            "span": span,
            "chord": 2 * mean_chord / (1 + taper),
            "taper": taper,
            "cells": cells,
            "half_cells": cells * draw(st.sampled_from([1, 2])),
            "arc_radius": span * draw(_rounded(0.6, 1.1)),
            "airfoil": {"family": family, "thickness": draw(_rounded(0.12, 0.18))},
            "inlet": {"kind": draw(st.sampled_from(["flush", "open"])), "height": draw(_rounded(0.02, 0.06))},
            "crossports": {"count": 3, "diameter": 0.05},
            "cloth": {"areal_weight": draw(_rounded(0.03, 0.06)), "permeability": draw(_rounded(0.0, 0.02))},
        },
        "lines": {
            "length": length,
            "rigging_angle": f"{draw(_rounded(2.0, 8.0))} deg",
            "rows": {"A": 0.10, "B": 0.35, "C": 0.60, "D": 0.85},
            "diameter": draw(_rounded(0.0004, 0.0012)),
            "linear_density": 0.0005,
            "riser": {"length": draw(_rounded(0.0, 0.3)), "spread": draw(_rounded(0.0, 0.2))},
        },
        "brakes": {
            "span_fraction": draw(_rounded(0.25, 0.6)),
            "travel": mean_chord * draw(_rounded(0.15, 0.35)),
            "free_play": 0.004,
            "branches": draw(st.integers(1, 4)),
        },
        "site": {"ground_height": draw(_rounded(0.0, 2000.0))},
    }
    if draw(st.booleans()):
        document["lines"]["cascades"] = [
            {"rows": ["A", "B"], "height": draw(_rounded(0.3, 0.8)), "load": [0.6, 0.4]},
            {"rows": ["C", "D"], "height": draw(_rounded(0.3, 0.8)), "load": [0.6, 0.4]},
        ]
    if draw(st.booleans()):
        document["canopy"]["stabilisers"] = {"height": 0.1 * mean_chord, "chord": 0.6}
    if not calm:
        document["site"]["wind"] = {
            "speed": draw(_rounded(0.0, 12.0)),
            "from": f"{draw(st.integers(0, 359))} deg",
            "reference_height": 10.0,
            "exponent": draw(_rounded(0.0, 0.3)),
        }
    return document


def designs(*, calm: bool = True) -> st.SearchStrategy[Design]:
    """Sane designs, read as from a file; in still air unless given."""
    return design_documents(calm=calm).map(Design.model_validate)
