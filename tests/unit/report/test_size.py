"""Report of a sizing: blocks, document against columns, CSV, HTML, and a target out of reach."""

from __future__ import annotations

import csv
from dataclasses import replace
from math import degrees

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.flight.drop import CAUTIONS
from parasim.report.size import SIZE_COLUMNS
from parasim.study import size as module
from parasim.study.size import Sizing, size
from tests.texts import flowing

NAMES = [column.name for column in SIZE_COLUMNS if column.name]


@pytest.fixture(scope="module")
def found(heron: Design) -> Sizing:
    patch = pytest.MonkeyPatch()
    patch.setattr(module, "RIGGING_ANGLES", np.radians([-1.0, 2.0]))
    patch.setattr(module, "AREAS", 3)
    result = size(heron, goal="sink", target=2.4)
    patch.undo()
    return result


def test_the_answer_first_and_the_cautions_last(found: Sizing) -> None:
    text = found.text()
    chosen = found.chosen
    assert chosen is not None
    assert text.startswith("heron for a sink of 2.40 m/s")
    told = f"{chosen.area:.3f} m², rigging {degrees(chosen.rigging_angle):.1f} deg (as the file has it)"
    assert told in flowing(text)
    assert flowing(text).endswith(f"caution: {CAUTIONS[-1]}")
    assert "ft²" in flowing(found.report.first_line("imperial"))
    assert repr(found) == "<Sizing of heron>"


def test_margins_carry_their_mark(found: Sizing) -> None:
    (row,) = [line for line in found.text().splitlines() if line.startswith("this answer")]
    assert row.count("+") == 2
    kept = [each for each in found.answers if each.allowed]
    marked = [line for line in found.text().splitlines() if line.count(" deg +") == 2]
    assert len(marked) == len(kept) + found.as_designed.allowed


def test_canopies_of_the_document_are_the_columns(found: Sizing) -> None:
    document = found.to_dict()
    canopies = [document["chosen"], document["as_designed"], *document["answers"], *document["map"]]
    assert all(list(canopy) == NAMES for canopy in canopies)
    assert len(document["map"]) == 6
    assert document["chosen"]["span_m"] * document["chosen"]["chord_m"] == pytest.approx(
        document["chosen"]["area_m2"]
    )
    assert document["chosen"]["margins_kept"] is True


def test_the_csv_holds_map_and_answers(found: Sizing) -> None:
    rows = list(csv.DictReader(found.to_csv()["size.csv"].splitlines()))
    assert list(rows[0]) == NAMES
    assert len(rows) == 6 + len(found.answers)
    assert float(rows[-1]["sink_m_s"]) == pytest.approx(found.answers[-1].figure("sink"), abs=5.1e-5)


def test_a_canopy_without_glide_has_no_figures_but_its_size(found: Sizing) -> None:
    lost = replace(found.as_designed, trim=None, tuck_margin=np.nan, stall_margin=np.nan)
    document = replace(found, as_designed=lost).to_dict()["as_designed"]
    assert document["area_m2"] == lost.area
    assert [document[name] for name in ("sink_m_s", "energy_j", "tuck_margin_deg")] == [None] * 3
    assert document["margins_kept"] is False


def test_line_one_gives_the_band_and_the_limits_that_are_not_kept(found: Sizing, heron: Design) -> None:
    assert found.bands is not None
    band = found.bands.figures["sink"]
    assert f"built, {band.low:.2f} to {band.high:.2f} m/s" in flowing(found.report.first_line("metric"))
    limits = heron.landing.model_copy(update={"max_sink": band.high - 0.01})
    failing = replace(found, design=heron.model_copy(update={"landing": limits}))
    assert f"NOT KEPT: sink may be {band.high:.2f} m/s (at most " in flowing(
        failing.report.first_line("metric")
    )
    assert "ft/s (at most " in flowing(failing.report.first_line("imperial"))


def test_html_escapes_the_name(found: Sizing) -> None:
    page = replace(found, design=found.design.model_copy(update={"name": "<i>x"}))._repr_html_()
    assert "&lt;i&gt;x for a sink" in page
    assert "<i>" not in page


def test_margins_are_marked_by_the_low_end_of_the_bands(found: Sizing) -> None:
    """At 2 deg the nose-tuck margin is over its reserve of 1 deg, what the bands leave of it is not."""
    flat = next(point for point in found.answers if degrees(point.rigging_angle) > 1.9)
    assert degrees(flat.tuck_margin) > 1.0 > degrees(flat.tuck_margin - flat.lost[0])
    assert f"{degrees(flat.tuck_margin):.1f} deg x" in found.text()
    assert not flat.allowed
    assert max(map(len, found.text("imperial").splitlines())) <= 100
