"""What `parasim flare` says: blocks, document and CSV files of a flare found by a short search."""

import csv
from collections.abc import Iterator
from dataclasses import replace

import pytest

from parasim.config.design import Design
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import CAUTIONS
from parasim.flight.flare import flare as module
from parasim.flight.flare.descent import Pull
from parasim.flight.flare.flare import Flare
from parasim.report.drop import TOUCHDOWN
from parasim.report.flare import case_columns


@pytest.fixture(scope="module")
def flared(heron: Design) -> Iterator[Flare]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "EVALUATIONS", {1: 3})
        patch.setattr(module, "COARSE", [(0.85, 0.5)])
        patch.setattr(module, "FLARE_FACTORS", ("brake_drag_factor",))
        yield module.flare(assemble(heron))


def test_the_answer_comes_first(flared: Flare) -> None:
    text = flared.text()
    assert text.startswith(f"heron: at {flared.start_height:.2f} m above ground both brakes to ")
    assert all(f"caution: {caution}" in text for caution in CAUTIONS)
    assert repr(flared) == "<Flare of heron>"


def test_gains_have_the_figures_of_an_arrival(flared: Flare) -> None:
    gains = next(block for block in flared.report.blocks("metric") if not isinstance(block, str)).grid(
        "metric"
    )
    assert [row[0] for row in gains.rows] == [column.words for column in TOUCHDOWN.values()]
    up, down = flared.brakes_released.sink, flared.touchdown.sink
    assert gains.rows[0][1:4] == [f"{up:.2f} m/s", f"{down:.2f} m/s", f"{100 * (down / up - 1):+.0f} %"]
    assert [len(row) for row in gains.rows] == [6, 4, 4, 6, 4, 4]  # worst and band of sink and energy alone


def test_cases_have_the_keys_of_the_columns(flared: Flare) -> None:
    cases = flared.to_dict()["cases"]
    names = {column.name for column in case_columns(flared) if column.name}
    assert all(set(case) == names | {"gust_m_s", "mass_kg"} for case in cases)
    for found, case in zip(cases, flared.cases, strict=True):
        harder = case.touchdown.sink > flared.brakes_released.sink
        assert found["harder_than_brakes_released"] == harder
        assert found["sink_m_s"] == case.touchdown.sink


def test_a_hard_case_says_so(flared: Flare) -> None:
    hard = replace(flared.cases[0], stalled=True, touchdown=replace(flared.touchdown, sink=9.0))
    words = case_columns(flared)[-1].cell(hard, "metric")
    assert words == "STALL, HARDER than with the brakes released"


def test_no_pull_that_helps(flared: Flare) -> None:
    text = replace(flared, pull=Pull(), cases=()).text()
    assert text.startswith("heron: keep the brakes released\n")
    assert "not as planned" not in text


def test_csv(flared: Flare) -> None:
    files = flared.to_csv()
    assert list(files) == ["flare.csv", "flare_heights.csv"]
    history, heights = (list(csv.DictReader(text.splitlines())) for text in files.values())
    assert float(history[0]["height_m"]) == pytest.approx(flared.start_height, abs=1e-4)
    assert all(float(row["height_m"]) >= 0 for row in history)
    assert {row["stalled"] for row in heights} <= {"True", "False"}
    assert float(heights[0]["sink_m_s"]) == pytest.approx(flared.brakes_released.sink, rel=0.01)


def test_html_escapes_names(flared: Flare) -> None:
    design = flared.vehicle.design.model_copy(update={"name": "<u>"})
    html = replace(flared, vehicle=replace(flared.vehicle, design=design))._repr_html_()
    assert "&lt;u&gt;: at" in html
    assert "<u>" not in html
