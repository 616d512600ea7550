"""What `parasim landing` says: blocks, document and CSV file, without flare."""

import csv
import re
from dataclasses import replace

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import CAUTIONS
from parasim.flight.landing import COURSES, YARDSTICKS, Landing, landing
from parasim.report.landing import ARRIVAL, LANDING_COLUMNS, wind_rows
from parasim.units import System

OTHER = {"metric": r"\d (ft/s|ft|in)\b", "imperial": r"\d (m/s|mm|m|J|N m)\b"}
"""Units that have no place among the others."""


@pytest.fixture(scope="module")
def landed(heron: Design) -> Landing:
    return landing(assemble(heron), winds=np.array([0.0, 4.0, 9.0]), flared=False)


def grids(landed: Landing) -> list[dict[str, list[str]]]:
    """Printed tables: the rest of each row by its first cell."""
    blocks = [block.grid("metric") for block in landed.report.blocks("metric") if not isinstance(block, str)]
    return [{str(row[0]): list(map(str, row[1:])) for row in one.rows} for one in blocks]


def test_the_answer_comes_first(landed: Landing) -> None:
    text = " ".join(landed.text().split())
    assert text.startswith("heron lands with the brakes released at ")
    assert all(f"caution: {caution}" in text for caution in CAUTIONS)
    assert all(stick.words in text for stick in YARDSTICKS)
    assert repr(landed) == "<Landing of heron>"


def test_still_air_has_every_figure_and_its_band(landed: Landing) -> None:
    still, limits, winds, yardsticks = grids(landed)
    assert list(still) == [column.words for column in ARRIVAL.values()]
    sink, band = landed.still("brakes released").touchdown.sink, landed.bands.figures["sink"]
    assert still["sink"][0] == f"{sink:.2f} m/s"
    assert still["sink"][-1] == f"{band.low:.2f} to {band.high:.2f} m/s"
    assert len(still["fall with same energy"]) == 2  # brakes released and unopened, no band
    assert limits["speed over the ground"][:3] == ["-", "any", "?"]
    assert winds["9.0 m/s"][0].endswith(" back")
    assert set(yardsticks) == {stick.name for stick in YARDSTICKS}


def test_winds_that_carry_it_backwards_are_named(landed: Landing) -> None:
    """It goes back as soon as the wind is faster than it flies."""
    ahead = landed.trim.forward_speed
    assert landed.forward_speed("brakes released") == pytest.approx(ahead)
    words = (
        f"Facing a wind of more than {ahead:.1f} m/s at the canopy it lands going backwards, brakes released."
    )
    assert words in landed.caveats
    knots = f"more than {ahead / 0.514444:.1f} kt"
    assert any(knots in said for said in landed.report.said_caveats("imperial"))


def test_what_fails_is_in_line_one(landed: Landing) -> None:
    """Energy by wind: 0, 4 and 9 m/s; across it 60 J is passed at 9, with it at 4."""
    said = landed.report.failures("metric")
    load = landed.still("brakes released").obstacle_load
    assert said == [
        f"against an obstacle, {load:.0f} times its weight (at most 60 times its weight)",
        "energy over 60.0 J across the wind from 9.0 m/s, with the wind from 4.0 m/s at the canopy",
        f"too little way against winds over {0.8 * landed.trim.forward_speed:.1f} m/s at the canopy",
    ]
    high = landed.bands.figures["energy"].high
    limits = landed.limits.model_copy(update={"max_energy": high - 1.0})
    design = landed.vehicle.design.model_copy(update={"landing": limits})
    close = replace(landed, vehicle=replace(landed.vehicle, design=design))
    still = replace(
        close.arrivals[0],
        verdicts=tuple(
            replace(one, limit=high - 1.0) if one.name == "energy" else one
            for one in close.arrivals[0].verdicts
        ),
    )
    close = replace(close, arrivals=(still, *close.arrivals[1:]))
    assert close.report.failures("metric")[0] == (f"energy may be {high:.1f} J (at most {high - 1:.1f} J)")


def test_no_band_where_the_air_is_not_still(landed: Landing) -> None:
    windy = replace(landed, winds=landed.winds[1:], arrivals=tuple(a for a in landed.arrivals if a.wind > 0))
    measured = 4.0 * 10**0.143  # power law of the site, from 1 m up to the 10 m where it is measured
    assert f"4.0 m/s of wind ahead at the canopy ({measured:.1f} m/s at 10 m): " in " ".join(
        windy.report.first_line("metric").split()
    )
    assert " at 10 m)" not in landed.report.first_line("metric")
    assert "band, brakes released" not in windy.text()
    assert "band, brakes released" in landed.text()


def test_document_and_csv_have_the_columns(landed: Landing) -> None:
    document, (text,) = landed.to_dict(), landed.to_csv().values()
    names = [column.name for column in LANDING_COLUMNS]
    rows = list(csv.DictReader(text.splitlines()))
    found = [*document["arrivals"], *document["unopened"]]
    assert list(rows[0]) == list(found[0]) == names
    for row, one in zip(rows, found, strict=True):
        assert float(row["energy_j"]) == pytest.approx(one["energy_j"], abs=1e-5)
        assert (row["way"], row["energy_verdict"]) == (one["way"], one["energy_verdict"])
        assert row["backwards"] == str(one["backwards"])


def test_html_escapes_names(landed: Landing) -> None:
    design = landed.vehicle.design.model_copy(update={"name": "<s>"})
    html = replace(landed, vehicle=replace(landed.vehicle, design=design))._repr_html_()
    assert "&lt;s&gt; lands" in html
    assert "<s>" not in html


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_nothing_is_wider_than_100_columns(landed: Landing, units: System) -> None:
    assert max(map(len, landed.report.text(units, every=True).splitlines())) <= 100
    said = "\n".join([landed.report.text(units), *landed.report.said_caveats(units)])
    for stick in YARDSTICKS:
        said = said.replace(stick.name, "")  # named by the unit of their rule
    assert not re.search(OTHER[units], said)


def test_usual_winds_are_round_in_knots_and_those_asked_for_are_kept(heron: Design, landed: Landing) -> None:
    """In knots an arrival is that of the same wind in m/s: 8 kt are 4.115 m/s."""
    usual = landing(assemble(heron), flared=False)
    forward = usual.trim.forward_speed
    rows = wind_rows(usual, "brakes released", "imperial")
    assert [row[0] for row in rows] == [f"{knots:.1f} kt" for knots in range(0, 16, 2)]
    assert rows[4][1] == f"{(forward - 8 * 1852 / 3600) / 0.3048:.1f} ft/s"
    assert rows[0][1] == f"{forward / 0.3048:.1f} ft/s"
    assert [row[0] for row in wind_rows(usual, "brakes released", "metric")][:3] == [
        "0.0 m/s",
        "1.0 m/s",
        "2.0 m/s",
    ]
    asked = wind_rows(landed, "brakes released", "imperial")
    assert [row[0] for row in asked] == ["0.0 kt", "7.8 kt", "17.5 kt"]


def test_where_its_winds_blow_is_said_below_their_table(landed: Landing) -> None:
    """heron's site has the power law with 0.143: at 1 m (1/10)^0.143 of the wind at 10 m."""
    share = 100 * 0.1**0.143
    text = " ".join(landed.text().split())
    assert "at the canopy, some 1 m above ground as it lands" in text
    assert f"by the site's profile {share:.0f} % of that at 10 m" in text


def test_another_wind_is_judged_as_the_table_is(landed: Landing) -> None:
    found = landed.in_wind("brakes released", 4.0)
    series = [landed.series("brakes released", course)[1] for course in COURSES]
    assert [one.course for one in found] == list(COURSES)
    for one, other in zip(found, series, strict=True):
        assert one.touchdown.energy == pytest.approx(other.touchdown.energy)
        assert one.backwards == other.backwards
