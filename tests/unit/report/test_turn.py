"""What `parasim turn` says, of turns made up by hand."""

import csv
import re
from dataclasses import replace
from math import inf, nan, pi, radians

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.dynamics.vehicle import assemble
from parasim.flight.trim import find_trims
from parasim.flight.turn.steady import SteadyTurn
from parasim.flight.turn.step import StepResponse
from parasim.flight.turn.turn import TURN_CAUTIONS, Turn
from parasim.flight.uncertainty import Band, Bands
from parasim.report.turn import BAND_COLUMNS, STEP_COLUMNS, TURN_COLUMNS
from parasim.units import System


def steady(brake: float, rate: float, bank: float = 10.0, growth: float = -1.0) -> SteadyTurn:
    """Turn under the right brake of 0.1 m at 5 m/s, 3 down and 4 forward; rate [deg/s], bank [deg]."""
    return SteadyTurn(
        left=0.0, right=brake, rate=radians(rate), bank=radians(bank), pitch=0.0, sideslip=0.0, alpha=0.1,
        airspeed=5.0, sink=3.0, growth=growth, pull=0.1 * brake,
    )  # fmt: skip


def step(brake: float, overshoot: float) -> StepResponse:
    line = np.linspace(0.0, 1.0, 5)
    names = ("time", "heading", "rate", "bank", "sideslip", "height_lost", "north", "east")
    return StepResponse(
        **dict.fromkeys(names, line), left=0.0, right=brake, settled_rate=0.1, rise_time=0.25,
        overshoot=overshoot, adverse_heading=0.0, swing=0.1, twist=0.0, lean=0.0,
    )  # fmt: skip


OTHER = {"metric": r"\d (ft/s|ft|in)\b", "imperial": r"\d (m/s|mm|m|J|N m)\b"}
"""Units that have no place among the others."""


@pytest.fixture(scope="module")
def turning(heron: Design) -> Turn:
    """36 deg/s at full brake: 10 s and 30 m a turn. Spirals at worst from 60 % on."""
    vehicle = assemble(heron)
    figures = {
        f"rate_{brake}": Band(value=0.2, low=0.1, high=0.4, causes=(("yaw_damping", 0.95),))
        for brake in (25, 50, 75, 100)
    }
    figures["reach"] = Band(value=1.0, low=0.6, high=1.0, causes=())
    right = (steady(0.0, 0.0, 0.0), steady(0.05, 2.0), steady(0.5, 9.0, growth=0.2), steady(1.0, 36.0, 50.0))
    return Turn(
        vehicle=vehicle,
        straight=find_trims(vehicle, modes=False).chosen,
        right=right,
        left=right[:1],
        steps=(step(0.25, 0.06), step(0.5, nan)),
        bands=Bands(figures=figures, lost=()),
    )


def grids(turn: Turn) -> dict[str, list[dict[str, str]]]:
    """Printed tables by title: rows by head."""
    blocks = [block.grid("metric") for block in turn.report.blocks("metric") if not isinstance(block, str)]
    return {one.title: [dict(zip(one.heads, row, strict=True)) for row in one.rows] for one in blocks}


def test_the_answer_comes_first(turning: Turn) -> None:
    assert turning.report.first_line("metric").startswith(
        "heron at 100 % of one brake turns at 36 deg/s (6 to a spiral) on a radius of"
    )
    assert "; at 50 % at " in turning.report.first_line("metric")
    assert turning.text().count("caution: ") == len(TURN_CAUTIONS)
    assert repr(turning) == "<Turn of heron>"


def test_steady_turns_are_printed_at_tenths(turning: Turn) -> None:
    rows = grids(turning)["Right brake, steady (right and right wing down positive)"]
    assert [row["brake"] for row in rows] == ["0 %", "50 %", "100 %"]
    assert [row["motion"] for row in rows] == ["decays", "GROWS", "SPIRAL"]
    assert (rows[0]["radius"], rows[0]["lost/turn"]) == ("straight", "-")
    assert (rows[2]["radius"], rows[2]["lost/turn"]) == ("6.4 m", "30 m")  # 40 m / 2 pi


def test_what_fails_is_in_line_one(turning: Turn) -> None:
    assert turning.report.failures("metric") == [
        "does not stay in its turn at 50 % of one brake",
        "spirals from 100 % of one brake on",
    ]
    away = replace(turning, right=(*turning.right[:1], steady(0.1, -1.0), steady(0.3, 3.0), steady(1.0, 9.0)))
    assert away.report.failures("metric") == [
        "turns AWAY from a brake of less than 15 %",  # half way from -1 at 10 % to +3 at 30 %, by a quarter
        "may spiral from 60 % of one brake on",
    ]


def test_a_left_brake_of_its_own_has_its_table(turning: Turn) -> None:
    left = tuple(
        replace(one, left=one.right, right=0.0, rate=-one.rate, bank=-one.bank) for one in turning.right
    )
    assert "Left brake, steady" not in replace(turning, left=left).text()
    uneven = replace(left[2], rate=1.1 * left[2].rate)
    assert "Left brake, steady" in replace(turning, left=(*left[:2], uneven, left[3])).text()


def test_bands_that_may_spiral_are_open(turning: Turn) -> None:
    rows = grids(turning)["How sure that is"]
    assert [row["band"] for row in rows] == ["5.7 to 22.9 deg/s"] * 2 + ["5.7 deg/s to a spiral"] * 2
    assert {row["band mostly from"] for row in rows} == {"yaw damping 95 %"}
    found = turning.to_dict()["turn_bands"]
    assert [one["may_spiral"] for one in found] == [False, False, True, True]
    assert found[2]["high_deg_s"] is None


def test_document_has_the_keys_of_the_columns(turning: Turn) -> None:
    document = turning.to_dict()
    for rows, columns, more in (
        (document["steady_turns"]["right"], TURN_COLUMNS, set()),
        (document["turn_bands"], BAND_COLUMNS, {"causes"}),
        (document["steps"], STEP_COLUMNS, {"pull_mm"}),
    ):
        assert set(rows[0]) == {column.name for column in columns if column.name} | more
    full = document["steady_turns"]["right"][-1]
    assert full["pull_mm"] == pytest.approx(100)
    assert full["turn_time_s"] == pytest.approx(10)
    assert full["radius_m"] == pytest.approx(40 / (2 * pi))
    assert document["steady_turns"]["right"][0]["radius_m"] is None
    assert document["steps"][1]["overshoot_fraction"] is None


def test_csv(turning: Turn) -> None:
    files = turning.to_csv()
    assert list(files) == ["turn.csv", "turn_step.csv"]
    steady_rows, step_rows = (list(csv.DictReader(text.splitlines())) for text in files.values())
    assert len(steady_rows) == len(turning.right) + len(turning.left)
    assert [row["stable"] for row in steady_rows[:3]] == ["True", "True", "False"]
    assert steady_rows[0]["radius_m"] == ""
    assert [row["right_brake_fraction"] for row in step_rows] == ["0.25"] * 3 + ["0.5"] * 3
    assert float(step_rows[-1]["heading_deg"]) == pytest.approx(180 / pi, abs=1e-4)


def test_html_escapes_names(turning: Turn) -> None:
    design = turning.vehicle.design.model_copy(update={"name": "<i>"})
    html = replace(turning, vehicle=replace(turning.vehicle, design=design))._repr_html_()
    assert "&lt;i&gt;" in html
    assert "<i>" not in html
    assert "<th>turn rate</th>" in html


def test_a_radius_without_end_is_none() -> None:
    straight = steady(0.0, 0.0, 0.0)
    assert straight.radius == inf
    radius = next(column for column in TURN_COLUMNS if column.name == "radius_m")
    assert (radius.value(straight), radius.cell(straight, "metric")) == (None, "straight")


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_nothing_is_wider_than_100_columns(turning: Turn, units: System) -> None:
    assert max(map(len, turning.report.text(units, every=True).splitlines())) <= 100
    said = "\n".join([turning.report.text(units), *turning.report.said_caveats(units)])
    assert not re.search(OTHER[units], said)
