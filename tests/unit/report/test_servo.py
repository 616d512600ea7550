"""What `parasim servo` says: blocks, document and CSV files, with a servo and without one."""

import csv
import re
from dataclasses import replace
from math import inf, nan, pi
from pathlib import Path

import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design
from parasim.dynamics.vehicle import assemble
from parasim.flight.servo.servo import SERVO_CAUTIONS, Servo, servo
from parasim.report.servo import force_columns, show_band, sweep_columns
from parasim.units import POUND_FORCE, System

OTHER = {"metric": r"\d (ft/s|ft|in)\b", "imperial": r"\d (m/s|mm|m|J|N m)\b"}
"""Units that have no place among the others."""


@pytest.fixture(scope="module")
def pulled(heron: Design) -> Servo:
    return servo(assemble(heron))


def test_the_answer_comes_first(pulled: Servo) -> None:
    assert pulled.text().startswith("heron: each brake line pulls with up to ")
    assert pulled.text().count("caution: ") == len(SERVO_CAUTIONS)
    assert repr(pulled) == "<Servo of heron>"


def test_what_fails_is_in_line_one(pulled: Servo) -> None:
    assert pulled.report.failures("metric") == []
    weak = replace(pulled, motor=replace(pulled.motor, margin=(1.6, 3.2, 0.8)), angle=pulled.angle[:31])
    assert weak.report.failures("metric") == [
        "torque may be only 0.8 times the peak",
        f"pulls {1e3 * weak.reached:.0f} mm of 126 mm",
    ]
    assert weak.report.failures("imperial")[1] == f"pulls {weak.reached / 0.0254:.2f} in of 4.96 in"
    assert "(0.8 to 3.2)" in " ".join(weak.text().split())


def test_forces_are_printed_by_fifths_of_the_travel(pulled: Servo) -> None:
    table = next(b for b in pulled.report.blocks("imperial") if not isinstance(b, str)).grid("imperial")
    assert [row[1] for row in table.rows] == [f"{share:.1f} %" for share in (0, 20, 40, 60, 80, 100)]
    assert table.heads[-1] == "at most"
    high = pulled.curve.high * pulled.curve.worst[-1] / POUND_FORCE
    assert table.rows[-1][-1] == f"{high:.3f} lbf"


def test_without_a_servo_its_work_is_asked_for(pulled: Servo) -> None:
    text = replace(pulled, motor=None, turn_rate_per_pull=nan).text()
    assert "The design has no servo section" in text
    assert "margin" not in text
    assert "One deg/s of turn" not in text


def test_what_takes_for_ever_stalls() -> None:
    assert show_band((0.5, 0.3, inf), "duration", "metric") == ["0.50 s", "0.30 s to stalls"]
    assert show_band((inf, 2.0, inf), "ratio", "metric") == ["over 1000", "2.00 to over 1000"]


def test_document_and_csv_have_the_columns(pulled: Servo) -> None:
    curve, files = pulled.to_dict()["curve"], pulled.to_csv()
    assert list(files) == ["servo.csv", "servo_force.csv"]
    sweep, force = (list(csv.DictReader(text.splitlines())) for text in files.values())
    assert list(sweep[0]) == [column.name for column in sweep_columns(pulled)]
    assert list(force[0]) == list(curve[0]) == [column.name for column in force_columns(pulled)]
    assert (len(sweep), len(force)) == (len(pulled.angle), len(curve))
    for row, one in zip(force, curve, strict=True):
        for key, value in one.items():
            assert (row[key] == "") if value is None else float(row[key]) == pytest.approx(value, abs=1e-5)
    assert curve[-1]["pull_mm"] == pytest.approx(1e3 * pulled.travel)
    assert curve[-1]["high_n"] == pytest.approx(
        pulled.curve.high * max(curve[-1]["one_n"], curve[-1]["both_n"])
    )


def test_a_glide_that_is_lost_leaves_gaps(pulled: Servo) -> None:
    both = pulled.curve.both.copy()
    both[-1] = nan
    lost = replace(pulled, curve=replace(pulled.curve, both=both))
    assert lost.to_dict()["curve"][-1]["both_n"] is None
    assert lost.to_csv()["servo_force.csv"].splitlines()[-1].split(",")[3] == ""


def test_html_has_its_tables(pulled: Servo) -> None:
    design = pulled.vehicle.design.model_copy(update={"name": "a<b"})
    html = replace(pulled, vehicle=replace(pulled.vehicle, design=design))._repr_html_()
    assert "a&lt;b: each brake line" in html
    assert "<th>this brake alone</th>" in html


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_nothing_is_wider_than_100_columns(pulled: Servo, units: System) -> None:
    assert max(map(len, pulled.report.text(units, every=True).splitlines())) <= 100
    said = "\n".join([pulled.report.text(units), *pulled.report.said_caveats(units)])
    assert not re.search(OTHER[units], said)


def test_what_to_buy_says_how_far_it_turns(pulled: Servo, configs: Path) -> None:
    """Travel over the way round the drum, 171 mm / (pi 38 mm); heron's arm sweeps 60 deg either way."""
    winch = servo(assemble(load_design(configs / "pelican.yaml")))
    assert f"a winch of {0.171 / (pi * 0.038):.2f} turns or more, in " in " ".join(winch.text().split())
    assert "class, turning 120 deg or more, in 0.28 s without load" in " ".join(pulled.text().split())
