"""What `parasim templates` answers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from parasim.config.design import Design
from parasim.report.templates import PIECE_COLUMNS
from parasim.sewing.templates import Templates, templates
from tests.unit.report.sheets import check_answer, check_rows, rows_of


@pytest.fixture(scope="module")
def found(heron: Design) -> Templates:
    return templates(heron)


def test_it_keeps_to_the_shape_of_all_answers(found: Templates) -> None:
    check_answer(found)


def test_csv_and_document_are_the_columns(found: Templates) -> None:
    (text,) = found.to_csv().values()
    rows, pieces = rows_of(text), found.to_dict()["pieces"]
    assert list(rows[0]) == [column.name for column in PIECE_COLUMNS]
    check_rows(rows, pieces, but=("places", "mirrored_places", "edges_mm"))
    for row, piece in zip(rows, pieces, strict=True):
        assert row["places"].split() == [str(place) for place in piece["places"]]
        edges = dict(edge.split("=") for edge in row["edges_mm"].split())
        assert {name: float(size) for name, size in edges.items()} == pytest.approx(
            piece["edges_mm"], abs=0.006
        )


def test_only_the_formats_asked_for_are_drawn(found: Templates) -> None:
    asked = replace(found, formats=("pdf",), paper="letter")
    assert [name for name, _ in asked.report.others("metric")] == ["templates_letter.pdf"]
    assert [name for name, _ in found.report.others("metric")] == [
        "templates.svg", "templates.dxf", "templates_a4.pdf",
    ]  # fmt: skip
