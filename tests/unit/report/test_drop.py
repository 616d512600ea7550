"""What `parasim drop` says: blocks, document and CSV file of one drop, landed and lost."""

import csv
from dataclasses import replace

import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import CAUTIONS, Drop, drop
from parasim.report.drop import TOUCHDOWN, touchdown_rows


@pytest.fixture(scope="module")
def dropped(heron: Design) -> Drop:
    return drop(assemble(override(heron, {"drop.height": "15 m", "drop.brakes": []})))


def test_the_answer_comes_first(dropped: Drop) -> None:
    text = dropped.text()
    assert text.startswith("heron lands ")
    assert repr(dropped) == "<Drop of heron>"
    assert all(f"caution: {caution}" in text for caution in CAUTIONS)


def test_units_change_the_text_alone(dropped: Drop) -> None:
    assert " ft/s" in dropped.text("imperial")
    assert " m/s" not in dropped.text("imperial")
    assert dropped.to_dict()["touchdown"]["sink_m_s"] == dropped.touchdown.sink


def test_arrivals_have_the_keys_of_the_columns(dropped: Drop) -> None:
    document = dropped.to_dict()
    names = {column.name for column in TOUCHDOWN.values()} | {"mass_kg"}
    assert set(document["touchdown"]) == set(document["unopened"]) == names


def test_a_lost_drop_is_not_known(dropped: Drop) -> None:
    lost = replace(dropped, end=replace(dropped.end, ending="slack lines"))
    assert "how it lands is not known" in lost.report.first_line("metric")
    assert [row[1] for row in touchdown_rows(lost, "metric")] == ["not known"] * len(TOUCHDOWN)
    assert lost.to_dict()["touchdown"] is None


def test_csv_begins_and_ends_where_the_drop_does(dropped: Drop) -> None:
    (name, text), *more = dropped.to_csv().items()
    rows = list(csv.DictReader(text.splitlines()))
    assert (name, more) == ("drop.csv", [])
    assert float(rows[0]["height_m"]) == pytest.approx(15)
    assert float(rows[-1]["time_s"]) == pytest.approx(dropped.time_aloft, abs=1e-4)
    assert all(0 <= float(row["heading_deg"]) <= 360 for row in rows)


def test_html_escapes_names(dropped: Drop) -> None:
    design = dropped.vehicle.design.model_copy(update={"name": "<b>&"})
    html = replace(dropped, vehicle=replace(dropped.vehicle, design=design))._repr_html_()
    assert "&lt;b&gt;&amp;" in html
    assert "<b>" not in html
    assert "<th>canopy open</th>" in html
