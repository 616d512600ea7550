"""Wind, gust and turbulence as written in a design file: what is read, and what is refused."""

from __future__ import annotations

from math import pi, radians
from typing import Any

import pytest

from parasim.config.design import Design
from parasim.config.loader import design_document, override, parse_design
from parasim.config.wind_table import read_wind_table
from parasim.errors import DesignError

TABLE = "height_m,speed_m_s,from_deg\n2,1.5,250\n10,3,270\n"


def with_site(design: Design, **site: Any) -> Design:
    return override(design, {f"site.{key}": value for key, value in site.items()})


def invalid(design: Design, **site: Any) -> str:
    with pytest.raises(DesignError) as caught:
        with_site(design, **site)
    assert len(caught.value.mistakes) == 1
    return str(caught.value)


def test_roughness_in_place_of_the_exponent(reference):
    wind = with_site(reference, wind={"speed": "3 m/s", "from": "270 deg", "roughness": "3 cm"}).site.wind
    assert wind is not None
    assert (wind.roughness, wind.speed) == (0.03, 3.0)
    assert wind.from_direction == pytest.approx(1.5 * pi)


def test_table_is_found_beside_the_design_file(tmp_path, reference, reference_text):
    (tmp_path / "wind.csv").write_text(TABLE)
    start, _, rest = reference_text.partition("  wind:")
    text = f"{start}  wind: {{table: wind.csv, exponent: 0.2}}\n{rest.partition(chr(10))[2]}"
    wind = parse_design(text, directory=tmp_path).site.wind
    assert wind is not None
    assert wind.table == tmp_path / "wind.csv"
    assert wind.exponent == 0.2
    with pytest.raises(DesignError, match=r'site.wind.table: given "wind.csv", no such file'):
        parse_design(text, directory=tmp_path / "elsewhere")


def test_written_out_and_read_again(tmp_path, reference):
    (tmp_path / "wind.csv").write_text(TABLE)
    given = {
        "wind": {"table": str(tmp_path / "wind.csv")},
        "gust": {"speed": "3 m/s", "length": "30 m", "start": "5 s", "from": "90 deg", "shape": "falls"},
        "turbulence": {"seed": 7, "deviation": "0.4 m/s"},
    }
    design = with_site(reference, **given)
    assert design.site.gust is not None
    assert design.site.gust.from_direction == radians(90)
    assert design.site.turbulence is not None
    assert (design.site.turbulence.seed, design.site.turbulence.deviation) == (7, 0.4)
    assert Design.model_validate(design_document(design)) == design


WIND = {"speed": "3 m/s", "from": "270 deg"}
GUST = {"speed": "3 m/s", "length": "30 m"}

REFUSED: dict[str, tuple[dict[str, Any], str]] = {
    "no speed": ({"wind": {"from": "270 deg"}}, "site.wind.speed: missing; add it, such as speed: 3 m/s"),
    "no direction": ({"wind": {"speed": 3}}, "site.wind.from: missing; add it, such as from: 270 deg"),
    "two laws": (
        {"wind": {**WIND, "exponent": 0.2, "roughness": "3 cm"}},
        "site.wind.exponent: given 0.2, the wind follows the power law or, with a roughness, the logarithmic "
        "law; leave out the exponent or the roughness",
    ),
    "too rough": (
        {"wind": {**WIND, "reference_height": "2 m", "roughness": "0.5 m"}},
        "site.wind.reference_height: given 2 m, too near to ground so rough; use at least 10 roughness "
        "lengths, 5 m",
    ),
    "no roughness": ({"wind": {**WIND, "roughness": 0}}, "site.wind.roughness: given 0, too small"),
    "table no path": (
        {"wind": {"table": 7}},
        "site.wind.table: given 7, not a path; use the path of a table",
    ),
    "table missing": ({"wind": {"table": "no.csv"}}, 'site.wind.table: given "no.csv", no such file'),
    "gust without wind": (
        {"wind": None, "gust": GUST},
        "site.gust.direction: given along, there is no wind to take its direction from; add site.wind, or "
        "write from: 270 deg or direction: up",
    ),
    "gust with two directions": (
        {"gust": {**GUST, "direction": "up", "from": "20 deg"}},
        'site.gust.direction: given "up", needs one of direction and from; leave one of them out',
    ),
    "gust without length": ({"gust": {"speed": 3}}, "site.gust.length: missing; add it"),
    "gust from nowhere": (
        {"gust": {**GUST, "direction": "left"}},
        'site.gust.direction: given "left", not a choice here; use along, across, up or down',
    ),
    "turbulence without wind": (
        {"wind": None, "turbulence": {}},
        "site.turbulence: there is no wind to take its strength from; add site.wind, or write "
        "deviation: 0.4 m/s",
    ),
    "two strengths": (
        {"turbulence": {"intensity": "10 %", "deviation": "1 m/s"}},
        'site.turbulence.intensity: given "10 %", needs one of intensity and deviation; leave one of '
        "them out",
    ),
    "seed": ({"turbulence": {"seed": -1}}, "site.turbulence.seed: given -1, not a whole number in range"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refused_in_one_line(case, reference):
    site, told = REFUSED[case]
    assert told in invalid(reference, **site)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("speed", "3 m/s"),
        ("from", "10 deg"),
        ("reference_height", "5 m"),
        ("roughness", "3 cm"),
        ("turn", "5 deg"),
    ],
)
def test_a_table_stands_alone(key, value, tmp_path, reference):
    (tmp_path / "wind.csv").write_text(TABLE)
    told = invalid(reference, wind={"table": str(tmp_path / "wind.csv"), key: value})
    assert f"site.wind.{key}: given" in told
    assert "the table gives the wind at every height; leave it or the table out" in told


@pytest.mark.parametrize(
    "site",
    [
        {"gust": {**GUST, "direction": "up"}},
        {"gust": {**GUST, "from": "20 deg"}},
        {"turbulence": {"deviation": 0.3}},
    ],
)
def test_what_needs_no_wind(site, reference):
    assert with_site(reference, wind=None, **site).site.wind is None


def test_points_of_the_compass_are_directions(reference, tmp_path):
    """16 points, 22.5 deg apart, clockwise from north, in either case; anything else is refused alike."""
    for point, degrees in {"N": 0.0, "NNE": 22.5, "e": 90.0, "SSW": 202.5, "W": 270.0, "nnw": 337.5}.items():
        design = override(reference, {"site.wind.from": point, "drop.heading": point})
        assert design.site.wind.from_direction == pytest.approx(radians(degrees)), point
        assert design.drop.heading == pytest.approx(radians(degrees)), point
    allowed = 'use degrees such as "270 deg", 0 to 360 deg, or N, NNE, NE, ENE, E, '
    wind = {"speed": "3 m/s", "from": "west"}
    assert invalid(reference, wind=wind).endswith(
        f"not an angle; {allowed}ESE, SE, SSE, S, SSW, SW, WSW, W, WNW, NW, NNW"
    )
    gust = {"speed": "3 m/s", "length": "30 m", "from": 270}
    assert allowed in invalid(reference, gust=gust)
    (tmp_path / "wind.csv").write_text("height_m,speed_m_s,from_deg\n2,1.5,wsw\n10,3,270\n")
    assert read_wind_table(tmp_path / "wind.csv")[0].from_direction == pytest.approx(radians(247.5))
