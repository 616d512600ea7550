"""Report of an opening: its blocks, its document against its columns, its table as CSV, its page as HTML."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from math import isclose
from pathlib import Path

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.dynamics.vehicle import assemble
from parasim.flight.opening.opening import CAUTIONS, Opening, opening
from parasim.flight.opening.strength import SYMBOLS
from parasim.making.rulers import opening_rulers
from parasim.report.opening import CHECK_COLUMNS, SPEED_COLUMNS
from tests.texts import flowing


@pytest.fixture(scope="module")
def found(heron: Design) -> Opening:
    return opening(assemble(heron), release_speed=12.0)


def test_line_one_leads_with_the_worst_load_and_its_band(found: Opening) -> None:
    """On heron the snatch is five times the opening: whoever reads one line must not miss it."""
    case, (low, high) = found.now.designed, found.now.peak_band
    likely, soft, stiff = case.snatch
    line = flowing(found.report.first_line("metric"))
    snatch, opened = (
        f"snatch at line stretch {likely:.0f} N ({soft:.0f} to {stiff:.0f} N)",
        f"opening {case.peak:.0f} N",
    )
    assert f"{snatch}, {opened} ({low:.0f} to {high:.0f} N)" in line
    assert "strength of the line not given" in line
    # 1 lbf = 4.4482216 N
    assert f"snatch at line stretch {likely / 4.4482216:.1f} lbf" in flowing(
        found.report.first_line("imperial")
    )


@pytest.mark.parametrize("name", ["heron", "wren", "pelican"])
def test_line_one_judges_the_snatch_by_the_high_end_of_its_band(name: str, configs: Path) -> None:
    found = opening(assemble(load_design(configs / f"{name}.yaml")), speeds=np.zeros(1))
    likely, soft, stiff = found.now.designed.snatch
    tab = next(check for check in found.checks if (check.part, check.event) == ("tab", "snatch"))
    assert tab.strength is not None
    # margins go as one over the load
    worst, best = (tab.strength / tab.load * likely / end for end in (stiff, soft))
    margin = f"{tab.strength / tab.load:.1f}"
    words = f"tab at snatch, margin at worst {worst:.1f} (likely {margin}; 2 wanted)"
    if tab.short:
        words = f"tab at snatch, margin {margin} ({worst:.1f} to {best:.1f}; 2 wanted)"
    assert worst < 2
    for system in ("metric", "imperial"):
        assert f"NOT KEPT: {words}" in flowing(found.report.first_line(system))
    assert any(caveat.kind == "fails" and "most loaded tab" in caveat for caveat in found.caveats)
    (ruler,) = [each for each in opening_rulers(found) if each.kind == "ratio"]
    assert ruler.low == pytest.approx(worst)
    assert ruler.word == ("not kept" if tab.short else "may not be kept")


def test_a_measured_line_takes_the_band_away(heron: Design) -> None:
    given = opening(assemble(override(heron, {"lines.material": "polyester"})), speeds=np.zeros(1))
    line = flowing(given.report.first_line("metric"))
    assert "NOT KEPT" not in line
    assert "weakest part known: tab at snatch, margin 2.4 (2 wanted)" in line


def test_a_height_that_is_short_is_in_line_one(found: Opening) -> None:
    least = found.minimum_release_height
    assert least is not None
    low = replace(found, release_height=least - 1)
    assert f"released at {least - 1:.0f} m ({least:.0f} m wanted)" in flowing(low.report.first_line("metric"))
    assert " ft wanted)" in flowing(low.report.first_line("imperial"))
    near = replace(found, release_height=least - 0.01)
    said = flowing(near.report.first_line("metric")).partition("NOT KEPT: ")[2]
    shown = re.search(r"released at ([\d.]+) m \(([\d.]+) m wanted\)", said)
    assert shown is not None
    assert float(shown[1]) < float(shown[2])
    ground = replace(found, release_height=found.now.height_band[1] - 1)
    assert "may reach the ground before it is full" in flowing(ground.report.first_line("metric"))


def test_cautions_end_the_text_and_nothing_is_wide(found: Opening) -> None:
    for units in ("metric", "imperial"):
        text = found.text(units)
        assert flowing(text).endswith(" ".join(f"caution: {caution}" for caution in CAUTIONS))
        assert max(map(len, text.splitlines())) <= 100
    caveats = found.report.said_caveats("imperial")
    assert any("Tabs are taken to hold 13 lbf" in caveat for caveat in caveats)


def test_rows_of_the_document_are_the_columns(found: Opening) -> None:
    document = found.to_dict()
    assert all(list(row) == [column.name for column in SPEED_COLUMNS] for row in document["speeds"])
    assert all(list(row) == [column.name for column in CHECK_COLUMNS] for row in document["checks"])
    at_rest = found.speeds[0]
    assert document["speeds"][0]["peak_n"] == at_rest.designed.peak
    assert document["speeds"][0]["height_to_full_high_m"] == at_rest.height_band[1]
    assert {row["verdict"] for row in document["checks"]} <= set(SYMBOLS)


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


def test_line_one_says_what_it_is_packed_in(found: Opening, heron: Design) -> None:
    """heron goes into a tube and does not say how: a bag is taken, and said to be."""
    assert "packed (bag in its tube: opening.pack left out)" in flowing(found.report.first_line("metric"))
    loose = override(heron, {"opening.pack": "loose", "packing": None})
    line = flowing(opening(assemble(loose), speeds=np.zeros(0)).report.first_line("metric"))
    assert "packed (loose), " in line
