"""What `parasim cut` answers."""

from __future__ import annotations

from pathlib import Path

import pytest

from parasim.config.loader import load_design
from parasim.dynamics.vehicle import assemble
from parasim.making.cut import cut
from parasim.sewing.cut_list import CutList
from tests.unit.report.sheets import check_answer, check_rows, rows_of


@pytest.fixture(scope="module")
def found(configs: Path) -> CutList:
    return cut(assemble(load_design(configs / "wren.yaml")))


def test_it_keeps_to_the_shape_of_all_answers(found: CutList) -> None:
    check_answer(found)


@pytest.mark.parametrize(
    ("file", "key"),
    [("parts", "parts"), ("shopping", "shopping"), ("lengths", "lengths"), ("mass", "mass_budget")],
)
def test_csv_and_document_are_one_table(found: CutList, file: str, key: str) -> None:
    check_rows(rows_of(found.to_csv()[f"cut_{file}.csv"]), found.to_dict()[key])


def test_seams_have_no_count(found: CutList) -> None:
    seams = [row for row in found.to_dict()["lengths"] if row["item"] == "seam"]
    assert seams
    assert all(row["count"] is None for row in seams)


def test_cloth_is_bought_by_the_metre_or_by_the_yard(found: CutList) -> None:
    """0.9144 m to the yard."""
    row = next(line for line in found.text().splitlines() if line.startswith("cloth, "))
    assert row.count(" m ") == 2
    assert " yd" not in row.partition(" wide")[2]
    metres = float(row.split()[-4])
    row = next(line for line in found.text("imperial").splitlines() if line.startswith("cloth, "))
    assert " m" not in row
    assert float(row.split()[-4]) == pytest.approx(metres / 0.9144, abs=0.011)


def test_which_cloth_to_buy_comes_first(found: CutList) -> None:
    """The same as in the list, for the nest; else for rows."""
    bought = next(each for each in found.shopping if each.item == "cloth")
    text = " ".join(found.text().split())
    assert f"Buy {bought.metres:.1f} m of cloth to cut it so, spare included, or " in text
    assert f"as the templates are ({found.templates.cloth_length:.2f} m)" in text
