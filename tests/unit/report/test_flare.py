"""What `parasim flare` says: blocks, document and CSV files of a flare found by a short search."""

import csv
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import CAUTIONS
from parasim.flight.flare import flare as module
from parasim.flight.flare.descent import Pull
from parasim.flight.flare.flare import Flare
from parasim.report.drop import TOUCHDOWN
from parasim.report.flare import case_columns, paste_words
from parasim.units import System

REAL_COARSE, REAL_STRIDES = module.COARSE, module.STRIDES


OTHER = {"metric": r"\d (ft/s|ft|in)\b", "imperial": r"\d (m/s|mm|m|J|N m)\b"}
"""Units that have no place among the others."""


NEAR = (0.005, 0.01)
"""Short of the stall by less than half a degree, and by more. [rad]"""


@pytest.fixture(scope="module")
def flared(heron: Design) -> Iterator[Flare]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "STRIDES", ())
        patch.setattr(module, "COARSE", [(85, 10)])
        patch.setattr(module, "FLARE_FACTORS", ("brake_drag_factor",))
        yield module.flare(assemble(heron))


def test_the_answer_comes_first(flared: Flare) -> None:
    text = flared.text()
    assert text.startswith(f"heron: at {flared.start_height:.1f} m above ground both brakes to ")
    assert all(f"caution: {caution}" in " ".join(text.split()) for caution in CAUTIONS)
    assert repr(flared) == "<Flare of heron>"


def test_gains_have_the_figures_of_an_arrival(flared: Flare) -> None:
    gains = next(block for block in flared.report.blocks("metric") if not isinstance(block, str)).grid(
        "metric"
    )
    assert [row[0] for row in gains.rows] == [column.words for column in TOUCHDOWN.values()]
    up, down = flared.brakes_released.sink, flared.touchdown.sink
    assert gains.rows[0][1:4] == [f"{up:.2f} m/s", f"{down:.2f} m/s", f"{100 * (down / up - 1):+.0f} %"]
    assert [len(row) for row in gains.rows] == [
        6,
        4,
        4,
        6,
        4,
        4,
        4,
    ]  # worst and band of two


def test_cases_have_the_keys_of_the_columns(flared: Flare) -> None:
    cases = flared.to_dict()["cases"]
    names = {column.name for column in case_columns(flared) if column.name}
    assert all(set(case) == names | {"gust_m_s", "mass_kg"} for case in cases)
    for found, case in zip(cases, flared.cases, strict=True):
        up = flared.brakes_released
        harder = case.touchdown.sink > 1.05 * up.sink or case.touchdown.energy > 1.05 * up.energy
        assert found["harder_than_brakes_released"] == harder
        assert found["sink_m_s"] == case.touchdown.sink


def test_a_verdict_names_its_basis(flared: Flare) -> None:
    """A change of less than 5 % is no gain, in sink and in energy each."""
    up = flared.brakes_released
    slower = replace(up, sink=0.9 * up.sink, ground_speed=up.ground_speed)
    assert flared.compared(slower) == {"sink": "softer", "energy": "no gain"}
    assert flared.compared(replace(up, sink=1.1 * up.sink)) == {"sink": "HARDER", "energy": "no gain"}
    assert flared.compared(replace(up, ground_speed=2 * up.ground_speed))["energy"] == "HARDER"
    nothing = replace(flared, touchdown=up, cases=()).report.failures("metric")
    assert nothing == ["no flare gains 5 % in sink or energy"]


def test_cases_near_the_stall_are_marked(flared: Flare) -> None:
    """Beyond it they stall; half a degree short of it they are close."""
    short = [replace(flared.cases[0], stalled=False, highest_alpha=flared.stall_alpha - x) for x in NEAR]
    (mark,) = [column for column in case_columns(flared) if column.words == "stall"]
    assert [mark.cell(case, "metric") for case in short] == ["close", ""]
    assert mark.cell(replace(short[0], stalled=True), "metric") == "STALL"


def test_cases_that_stall_or_land_harder_are_in_line_one(flared: Flare) -> None:
    up = flared.brakes_released
    planned, *others = (replace(case, stalled=False, touchdown=up) for case in flared.cases)
    kept = replace(flared, cases=(planned, *others))
    assert kept.report.failures("metric") == []
    harder = replace(others[0], touchdown=replace(up, sink=1.1 * up.sink))
    found = replace(flared, cases=(replace(planned, stalled=True), harder, *others[1:]))
    assert found.report.failures("metric") == [
        "stalls in 1 of 7 cases tried, as planned too",
        "lands harder than without it in 1 of 7",
    ]


def test_the_line_to_paste_is_a_brake_command(flared: Flare) -> None:
    for system in ("metric", "imperial"):
        line = paste_words(flared, system).splitlines()[1]
        command = BrakeCommand.model_validate(line.partition('"')[2].rstrip('"'))
        assert command.at_height == pytest.approx(flared.start_height, rel=0.005)
        assert command.left == command.right == pytest.approx(flared.pull.stages[0].fraction, abs=0.005)
    whole = replace(flared.pull.stages[0], fraction=1.0)
    ended = replace(flared, pull=replace(flared.pull, stages=(whole,)))
    assert "The search ended at all the brake there is" in paste_words(ended, "metric")


@pytest.mark.parametrize("name", ["heron", "wren", "pelican", "dipper", "kingfisher"])
def test_shipped_designs_fly_the_flare_that_is_advised(
    name: str, configs: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "FLARE_FACTORS", ())
    monkeypatch.setattr(module, "STRIDES", REAL_STRIDES)
    monkeypatch.setattr(module, "COARSE", REAL_COARSE)
    design = load_design(configs / f"{name}.yaml")
    line = paste_words(module.flare(assemble(design)), "metric").splitlines()[1].partition('"')[2].rstrip('"')
    assert design.drop.brakes[-1] == BrakeCommand.model_validate(line)


def test_no_pull_that_helps(flared: Flare) -> None:
    text = replace(flared, pull=Pull(), cases=()).text()
    assert text.startswith("heron: keep the brakes released; no pull tried lands softer than ")
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


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_nothing_is_wider_than_100_columns(flared: Flare, units: System) -> None:
    assert max(map(len, flared.report.text(units, every=True).splitlines())) <= 100
    said = "\n".join([flared.report.text(units), *flared.report.said_caveats(units)])
    assert not re.search(OTHER[units], said)
