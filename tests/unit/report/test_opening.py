"""Report of an opening: its blocks, its document against its columns, its table as CSV, its page as HTML."""

from __future__ import annotations

import csv
from dataclasses import replace
from math import isclose

import pytest

from parasim.config.design import Design
from parasim.dynamics.vehicle import assemble
from parasim.flight.opening.opening import CAUTIONS, Opening, opening
from parasim.report.opening import CHECK_COLUMNS, SPEED_COLUMNS


@pytest.fixture(scope="module")
def found(heron: Design) -> Opening:
    return opening(assemble(heron), release_speed=12.0)


def test_the_first_block_is_the_answer_and_cautions_end_the_text(found: Opening) -> None:
    text = found.text()
    peak = found.now.designed.peak
    assert text.splitlines()[0] == found.report.first_line("metric")
    assert f"opens with {peak:.2f} N" in text.splitlines()[0]
    assert text.endswith("\n".join(f"caution: {caution}" for caution in CAUTIONS))
    # 1 lbf = 4.4482216 N
    assert f"opens with {peak / 4.4482216:.2f} lbf" in found.text("imperial")


def test_rows_of_the_document_are_the_columns(found: Opening) -> None:
    document = found.to_dict()
    assert all(list(row) == [column.name for column in SPEED_COLUMNS] for row in document["speeds"])
    assert all(list(row) == [column.name for column in CHECK_COLUMNS] for row in document["checks"])
    at_rest = found.speeds[0]
    assert document["speeds"][0]["peak_n"] == at_rest.designed.peak
    assert document["speeds"][0]["height_to_full_high_m"] == at_rest.height_band[1]
    assert {row["verdict"] for row in document["checks"]} <= {"holds", "weak", "over", "not known"}


def test_the_csv_holds_the_document_rounded(found: Opening) -> None:
    rows = list(csv.DictReader(found.to_csv()["opening.csv"].splitlines()))
    for row, wanted in zip(rows, found.to_dict()["speeds"], strict=True):
        assert all(isclose(float(row[name]), wanted[name], abs_tol=5.1e-5) for name in wanted)


def test_what_it_is_compared_with_heads_its_column(found: Opening) -> None:
    assert "with slider" in found.text()
    held = replace(found, spec=found.spec.model_copy(update={"slider": True}))
    assert "unheld" in held.text()
    assert "with slider" not in held.text()


def test_html_escapes_what_a_person_wrote(found: Opening) -> None:
    design = found.vehicle.design.model_copy(update={"name": "a <b> & c"})
    page = replace(found, vehicle=replace(found.vehicle, design=design))._repr_html_()
    assert "a &lt;b&gt; &amp; c, packed" in page
    assert "<b>" not in page
    assert page.count("<table>") == 3
