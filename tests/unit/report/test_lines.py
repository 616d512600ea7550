"""What `parasim lines` answers: the sheet, and lines as measured."""

from __future__ import annotations

from pathlib import Path

import pytest

from parasim.config.design import Design
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.making.lines import Lines, lines
from parasim.report.line_loads import row_loads, trunk_loads
from parasim.report.lines import EFFECT_COLUMNS, LINE_COLUMNS
from tests.unit.report.sheets import check_answer, check_rows, rows_of

SHORTER, LONGER = "01L-D", "01L-A"


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


@pytest.fixture(scope="module")
def designed(vehicle: Vehicle) -> Lines:
    return lines(vehicle)


@pytest.fixture(scope="module")
def measured(designed: Lines, vehicle: Vehicle, tmp_path_factory: pytest.TempPathFactory) -> Lines:
    """One line 9 mm short, one 6 mm long."""
    path: Path = tmp_path_factory.mktemp("season") / "season.csv"
    change = {SHORTER: -9.0, LONGER: 6.0}
    rows = [f"{label},{1e3 * x + change.get(label, 0.0):.4f}" for label, x in designed.sheet.finished.items()]
    path.write_text("\n".join(["label,length_mm", *rows]), encoding="utf-8")
    return lines(vehicle, measured=path)


def test_it_keeps_to_the_shape_of_all_answers(designed: Lines) -> None:
    check_answer(designed)


def test_csv_and_document_are_one_table(designed: Lines) -> None:
    (text,) = designed.to_csv().values()
    rows = rows_of(text)
    assert list(rows[0]) == [column.name for column in LINE_COLUMNS]
    check_rows(rows, designed.to_dict()["lines"])


def test_tolerance_is_a_row_an_error(designed: Lines) -> None:
    tolerance = designed.to_dict()["tolerance"]
    assert all(list(row) == [column.name for column in EFFECT_COLUMNS] for row in tolerance)
    assert [(row["row"], row["error_mm"]) for row in tolerance[:2]] == [("A", -5.0), ("A", 5.0)]


def test_trunks_carry_what_their_rows_do(designed: Lines) -> None:
    share = {load.row: load.share for load in row_loads(designed)}
    assert sum(share.values()) == pytest.approx(1.0)
    trunks = trunk_loads(designed)
    assert [load.row for load in trunks] == ["A+B", "C+D"]
    for load in trunks:
        assert load.share == pytest.approx(sum(share[row] for row in load.row.split("+")))
        assert load.opening == pytest.approx(6 * load.tension)


def test_a_long_sheet_is_cut_unless_all_is_asked_for(designed: Lines) -> None:
    last = [each.label for each in designed.sheet.entries if each.kind != "brake"][-1]
    assert f"\n{last} " not in designed.text()
    brakes = [each.label for each in designed.sheet.entries if each.kind == "brake"]
    assert brakes
    assert all(f"\n{label} " in designed.text() for label in brakes)
    assert "rows more: --all prints them" in designed.text()
    assert f"\n{last} " in designed.report.text(every=True)


def test_measured_lines_are_listed_largest_change_first(measured: Lines) -> None:
    adjust = measured.to_dict()["measured"]["adjust"]
    assert [row["label"] for row in adjust[:2]] == [SHORTER, LONGER]
    assert adjust[0]["change_mm"] == pytest.approx(-9.0, abs=1e-3)
    assert adjust[0]["measured_mm"] - adjust[0]["designed_mm"] == pytest.approx(-9.0, abs=1e-3)
    check_rows(rows_of(measured.to_csv()["lines_adjust.csv"])[:2], adjust[:2])


def test_text_tells_how_to_bring_lines_back(measured: Lines) -> None:
    text = measured.text()
    table = text[text.index("Largest changes first") :].splitlines()
    heads, first, second = table[1], table[3], table[4]
    assert len(table) > 5
    assert heads.split("  ")[0] == "line"
    end = {words: heads.index(words) + len(words) for words in ("shorten by", "lengthen by")}
    assert first.startswith(SHORTER)
    assert first[: end["lengthen by"]].endswith(" 9 mm")
    assert second[: end["shorten by"]].endswith(" 6 mm")


def test_nothing_measured_says_nothing(designed: Lines) -> None:
    assert designed.to_dict()["measured"] is None
    assert list(designed.to_csv()) == ["lines.csv"]
    assert "Largest changes" not in designed.text()


@pytest.mark.parametrize(("by", "short"), [(1.0, False), (40.0, True)])
def test_a_margin_that_measured_lines_take_away_is_not_kept(
    by: float, short: bool, designed: Lines, vehicle: Vehicle, tmp_path: Path
) -> None:
    """Row A, all of it, longer: rigged nose-up, towards the stall."""
    path = tmp_path / "season.csv"
    rows = [
        f"{label},{1e3 * x + (by if label.endswith('-A') else 0.0):.3f}"
        for label, x in designed.sheet.finished.items()
    ]
    path.write_text("\n".join(["label,length_mm", *rows]), encoding="utf-8")
    found = lines(vehicle, measured=path)
    said = " ".join(found.report.text("metric").split())
    assert ("stall margin" in " ".join(found.report.failures("metric"))) == short
    assert ("Bring the lines back before it flies" in said) == short
    assert ("Both margins keep the 1.0 deg and 4.0 deg asked of them" in said) != short
