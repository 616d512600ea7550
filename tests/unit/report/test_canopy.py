"""What `parasim canopy` answers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from parasim.config.design import Design
from parasim.dynamics.vehicle import assemble
from parasim.making.canopy import Geometry, canopy
from parasim.report.canopy import CLOTH, LINE_COLUMNS, RIB_COLUMNS, SIZES, canopy_document, mass_rows
from tests.unit.report.sheets import check_answer, rows_of


@pytest.fixture(scope="module")
def geometry(heron: Design) -> Geometry:
    return canopy(assemble(heron))


def test_it_keeps_to_the_shape_of_all_answers(geometry: Geometry) -> None:
    check_answer(geometry)


def test_document_has_the_columns(geometry: Geometry) -> None:
    document = canopy_document(geometry.vehicle)
    assert {column.name for column in SIZES} <= set(document)
    assert list(document["cloth"]) == [column.name for column in CLOTH]
    assert document["half_arc_deg"] == pytest.approx(42.017, abs=1e-3)  # 1.10 m / 2 over 0.75 m
    assert set(document["definitions"]) <= {
        size.name.removesuffix("_m").removesuffix("_m2") for size in SIZES
    }


def test_csv_heads_and_rows(geometry: Geometry) -> None:
    files = geometry.to_csv()
    assert list(files) == ["canopy_ribs.csv", "canopy_lines.csv"]
    ribs, lines = (rows_of(text) for text in files.values())
    assert list(ribs[0]) == [column.name for column in RIB_COLUMNS]
    assert list(lines[0]) == [column.name for column in LINE_COLUMNS]
    assert len(ribs) == 15
    assert float(ribs[7]["arc_angle_deg"]) == 0.0
    area = sum(float(rib["cloth_area_m2"]) for rib in ribs)
    assert area == pytest.approx(geometry.to_dict()["cloth"]["ribs_m2"], rel=1e-5)
    assert {line["rib"] for line in lines if line["rows"] == "brake"} == {"0"}


def test_text_gives_each_size_with_what_it_means(geometry: Geometry) -> None:
    text = geometry.text()
    assert all(f"\n{size.words} " in text for size in SIZES)
    assert "(positive nose-down)" in text
    assert "(flat span squared over flat area)" in text


def test_masses_are_those_of_the_document(geometry: Geometry) -> None:
    rows = dict(mass_rows(geometry.vehicle, "metric"))
    assert rows["payload"] == "1200.0 g"
    assert rows["all that has weight"] == f"{1e3 * geometry.to_dict()['mass_kg']:.1f} g"


def test_a_name_is_escaped_in_a_notebook(heron: Design) -> None:
    design = heron.model_copy(update={"name": "a<b> & c"})  # no file may hold such a name
    page = canopy(replace(assemble(heron), design=design))._repr_html_()
    assert "a&lt;b&gt; &amp; c" in page
    assert "<b>" not in page
