"""Calibration: where numbers come from, and how they hang together."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.aerodynamics.factors import build_ranges
from parasim.config.design import Design
from parasim.config.loader import design_document, override, parse_design
from parasim.errors import DesignError


def test_origins_are_told_apart(reference: Design) -> None:
    design = override(
        reference,
        {
            "calibration.lift_factor": {
                "value": 0.9,
                "low": 0.85,
                "high": 0.95,
                "from": "fitted to 3 flights",
            },
            "calibration.extra_drag": 0.004,
        },
    )
    origins = design.calibration.origins()
    assert origins["fitted to 3 flights"] == ["lift_factor"]
    assert origins["typed"] == ["extra_drag"]
    assert "moment_shift" in origins["default"]
    assert reference.calibration.origins().keys() == {"default"}
    assert override(design, {"drop.height": 70}).calibration.origins() == origins


def test_correlations_go_with_the_ranges(reference: Design) -> None:
    design = override(reference, {"calibration.correlations": {"moment_shift": {"lift_factor": -0.6}}})
    ranges = {each.name: dict(each.correlated) for each in build_ranges(design)}
    assert ranges["lift_factor"] == {"moment_shift": -0.6}
    assert ranges["moment_shift"] == {"lift_factor": -0.6}
    assert ranges["extra_drag"] == {}
    assert design_document(design)["calibration"] == {"correlations": {"moment_shift": {"lift_factor": -0.6}}}


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"lift_factor": {"moment": 0.2}}, "calibration.correlations: there is no number moment; use lift"),
        ({"lift_factor": {"moment_shift": 1.2}}, "too large"),
        ({"lift_factor": {"lift_factor": 0.5}}, "with itself, or given twice"),
        ({"lift_factor": {"extra_drag": 0.5}, "extra_drag": {"lift_factor": 0.5}}, "or given twice"),
        ({"lift_factor": {"extra_drag": 1.0}}, "not positive definite"),
        (
            {"lift_factor": {"extra_drag": 0.9, "moment_shift": 0.9}, "extra_drag": {"moment_shift": -0.9}},
            "not positive definite",
        ),
        ({"lift_factor": 0.3}, "not a mapping"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_a_line(reference: Design, given: object, told: str) -> None:
    with pytest.raises(DesignError) as caught:
        override(reference, {"calibration.correlations": given})
    assert told in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_a_file_may_say_where_a_number_comes_from(reference_text: str) -> None:
    text = reference_text + "\ncalibration:\n  lift_factor: {value: 0.9, from: a friend's canopy}\n"
    number = parse_design(text).calibration.lift_factor
    assert number.source == "a friend's canopy"
    assert (number.low, number.high) == (0.8, 1.0)


def test_default_correlation_is_none(reference: Design) -> None:
    names = [each.name for each in build_ranges(reference)]
    matrix = [[reference.calibration.correlation(a, b) for a in names] for b in names]
    np.testing.assert_array_equal(matrix, np.eye(len(names)))
