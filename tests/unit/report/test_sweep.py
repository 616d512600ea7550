"""Reports of a sweep and of a search: blocks, documents against columns, CSV, HTML."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import pytest

from parasim.config.variant import DesignFile, read_design_file
from parasim.config.variation import read_variation
from parasim.report.column import MOST_ROWS
from parasim.report.search import SearchReport
from parasim.report.sweep import output_columns, setting_columns, setting_words
from parasim.study.evaluate import Variant
from parasim.study.limits import Limit, read_limit
from parasim.study.search import Search, search
from parasim.study.sweep import Sweep, sweep
from tests.texts import flowing


@pytest.fixture(scope="module")
def file(configs: Path) -> DesignFile:
    return read_design_file(configs / "heron.yaml")


@pytest.fixture(scope="module")
def found(file: DesignFile) -> Sweep:
    varied = [read_variation("lines.rigging_angle=-3..2 deg", file, 2)]
    return sweep(file, varied, names=("sink", "glide"), limits=[read_limit("glide>=4.0")])


@pytest.fixture(scope="module")
def best(file: DesignFile) -> Search:
    varied = [read_variation("canopy.span=1..1.2 m", file, 2)]
    limits = [read_limit("area<=0.55 m^2")]
    return search(file, varied, goal="landing_energy", minimum=True, limits=limits, evaluations=12)


def test_sweep_says_what_was_varied_and_marks_limits(found: Sweep) -> None:
    text = found.text()
    assert text.startswith("heron: 2 designs over lines.rigging_angle")
    kept = [variant.value("glide") >= 4.0 for variant in found.variants]
    sinks = sorted(variant.value("sink") for variant in found.variants)
    first = flowing(found.report.first_line("metric"))
    assert f"sink {sinks[0]:.2f} to {sinks[1]:.2f} m/s, glide ratio" in first
    assert first.endswith(f"NOT KEPT: glide >= 4.00 by {kept.count(False)} of 2")
    rows = [line for line in text.splitlines() if line.startswith(("-3 deg", "2 deg"))]
    assert [row.endswith("+") for row in rows] == kept
    assert "limit, asked for: glide >= 4.00 (+ kept, x not)" in text
    assert all(f"caution: {caution}" in flowing(text) for caution in found.cautions)
    assert repr(found) == "<Sweep of heron>"


def test_designs_of_the_document_are_the_columns(found: Sweep) -> None:
    document = found.to_dict()
    assert document["designs"][0]["settings"] == {"lines_rigging_angle_deg": -3.0}
    assert [design["outputs"]["sink_m_s"] for design in document["designs"]] == [
        variant.value("sink") for variant in found.variants
    ]
    heads = [column.name for column in (*setting_columns(found.variations), *output_columns(found.names))]
    rows = list(csv.DictReader(found.to_csv()["sweep.csv"].splitlines()))
    assert list(rows[0]) == [*heads, "remark"]
    assert float(rows[1]["sink_m_s"]) == pytest.approx(found.variants[1].value("sink"), rel=1e-9)


def test_small_keys_keep_their_digits_in_the_csv(file: DesignFile, found: Sweep) -> None:
    """A metre of line weighs half a gram: four decimals of a kilogram would leave one digit."""
    varied = (read_variation("lines.linear_density=0.4317..0.55 g/m", file, 2),)
    variants = tuple(replace(v, settings=(x,)) for v, x in zip(found.variants, (0.4317, 0.55), strict=True))
    text = replace(found, variations=varied, variants=variants).to_csv()["sweep.csv"]
    rows = list(csv.DictReader(text.splitlines()))
    assert float(rows[0]["lines_linear_density_kg_m"]) == pytest.approx(0.4317e-3, rel=1e-9)


def test_a_gap_is_empty_with_its_reason(found: Sweep) -> None:
    gap = Variant(
        settings=found.variants[0].settings, values={}, reasons={"sink": "no <glide>", "glide": "no <glide>"}
    )
    with_gap = replace(found, variants=(gap, found.variants[1]))
    assert with_gap.to_dict()["designs"][0]["outputs"] == {"sink_m_s": None, "glide": None}
    (row, _) = csv.DictReader(with_gap.to_csv()["sweep.csv"].splitlines())
    assert (row["sink_m_s"], row["glide"], row["remark"]) == ("", "", "no <glide>")
    assert with_gap.text().count("no figure") == 2


def test_a_long_table_is_cut_unless_all_is_asked_for(found: Sweep) -> None:
    many = replace(found, variants=found.variants[:1] * (MOST_ROWS + 1))
    cut, full = many.report.text(), many.report.text(every=True)
    assert "rows more: --all prints them" in cut
    assert full.count("-3 deg") - 1 >= MOST_ROWS
    assert cut.count("-3 deg") < MOST_ROWS


def test_search_gives_the_answer_first(best: Search) -> None:
    text = flowing(best.text())
    assert text.startswith("heron: ")
    assert "designs looked at; still air, at the ground" in text
    assert "area <= 0.550 m²" in text
    document = best.to_dict()
    assert best.best is not None
    assert document["best"]["settings"] == {"canopy_span_m": best.best.settings[0]}
    assert document["as_designed"]["settings"] == {}
    (check,) = document["checks"]
    assert check["best_outputs"] == {"area_m2": best.best.value("area")}
    json.dumps(document, allow_nan=False)


def test_an_answer_at_the_end_of_the_search_is_not_called_best(best: Search) -> None:
    assert best.best is not None
    variation = best.variations[0]
    at_end = replace(best, best=replace(best.best, settings=(variation.high,)))
    line = flowing(at_end.report.first_line("metric"))
    assert "least landing energy found is" in line
    assert "at the end of what was searched of canopy.span: no optimum" in line
    assert "the best" not in flowing(at_end.text()).partition("caution")[0]
    middle = replace(best, best=replace(best.best, settings=((variation.low + variation.high) / 2,)))
    assert flowing(middle.report.first_line("metric")).startswith("heron: minimum landing energy is")


def test_own_limits_that_it_passes_are_in_line_one(best: Search, monkeypatch: pytest.MonkeyPatch) -> None:
    passed = (Limit(name="sink", at_least=False, value=1.0), 1.9)
    monkeypatch.setattr(Search, "passed_own_limits", lambda search: (passed,))
    assert "NOT KEPT: sink <= 1.00 m/s (it has 1.90 m/s)" in flowing(best.report.first_line("metric"))
    assert "NOT KEPT: sink <= 3.3 ft/s (it has 6.2 ft/s)" in flowing(best.report.first_line("imperial"))


def test_search_writes_the_best_as_a_design_file(best: Search) -> None:
    (name, content), *rest = SearchReport(best).others("metric")
    assert (name, rest) == ("sweep_best.yaml", [])
    assert str(content).startswith("# Written by parasim sweep from heron.yaml: minimum landing energy")
    assert list(SearchReport(replace(best, best=None)).others("metric")) == []


def test_html_escapes_limits(best: Search) -> None:
    page = best._repr_html_()
    assert "area &lt;= 0.550 m²" in page
    assert "area <=" not in page


def test_keys_are_said_in_the_units_asked_for(file: DesignFile) -> None:
    """An inch is 25.4 mm, a foot 0.3048 m; angles are degrees in both."""
    span, height, angle = (
        read_variation(text, file, 2)
        for text in ("canopy.span=0.9..1.4 m", "drop.height=40..80 m", "lines.rigging_angle=-3..2 deg")
    )
    assert setting_words(span, 0.9, "metric") == "0.9 m"
    assert setting_words(span, 0.9, "imperial") == "35.43 in"
    assert setting_words(height, 40.0, "imperial") == "131.23 ft"
    assert setting_words(angle, -3.0, "imperial") == "-3 deg"
