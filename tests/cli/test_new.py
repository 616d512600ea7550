"""``parasim new``: a starter file that loads, and nothing overwritten by mistake."""

import json
import re
from math import radians
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from parasim.config.loader import load_design, parse_design
from parasim.errors import OptionError
from parasim.study.hand_formula import size_canopy
from parasim.study.new import new
from parasim.study.starter import starter_text

pytestmark = pytest.mark.slow


def test_writes_a_design_that_loads_without_warnings(
    run: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("new", "lark", "--mass", "0.8 kg", "--sink", "2.4 m/s") == 0
    printed = capsys.readouterr()
    assert "lark: a first canopy for 0.800 kg" in printed.out
    design = load_design(tmp_path / "lark.yaml")
    assert f"flat area {design.canopy.flat_area:.3f} m², sinks at" in " ".join(printed.out.split())
    assert "The box is a guess from the mass" in printed.out
    assert "wing loading" not in printed.err
    assert design.name == "lark"
    assert design.payload.mass == 0.8
    assert design.warnings() == ()
    assert design.brakes.free_play == pytest.approx(0.02 * design.canopy.chord, abs=0.3e-3)
    assert [path.name for path in tmp_path.iterdir()] == ["lark.yaml"]


@pytest.mark.parametrize(("mass", "sink"), [(0.8, 3.0), (1.1, 2.74)])
def test_the_whole_band_keeps_the_sink_asked_for(mass: float, sink: float) -> None:
    """Its high end does, and is near: the rigging goes by half degrees. Its middle then is lower."""
    starter = new("lark", mass=mass, sink=sink, whole_band=True)
    band = starter.bands.figures["sink"]
    assert 0.95 * sink < band.high <= sink
    assert band.value < 0.95 * sink
    assert not any("sinks at" in caveat for caveat in starter.caveats)
    said = " ".join(starter.report.text().split())
    assert f"m/s), no faster than {sink:.2f} m/s over its whole band, landing" in said
    assert "--whole-band" not in said


def test_the_hint_names_the_option_that_keeps_the_whole_band(
    run: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ("finch", "--mass", "2 lb 7 oz", "--units", "imperial", "--sink", "9 ft/s")
    assert run("new", *asked) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "The 9.0 ft/s asked for is met in the middle of the band, not at its high end: --whole-band" in said
    )
    assert run("new", *asked, "--force", "--whole-band", "--json") == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["whole_band"]
    assert answer["bands"]["sink_m_s"]["high"] <= 9 * 0.3048


def test_says_where_no_canopy_keeps_the_whole_band(
    run: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A canopy just small enough for the middle of the band."""
    assert run("new", "lark", "--mass", "6 kg", "--sink", "2.5 m/s", "--whole-band") == 2
    said = capsys.readouterr().err
    assert said.startswith("parasim: --whole-band: ")
    assert said.endswith("ask for more sink, or leave --whole-band out\n")
    assert said.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_the_steady_glide_stands_in_the_file_with_its_numbers(run: Any, tmp_path: Path, capsys) -> None:
    """The numbers of the comment keep the law that it states, and are those of `parasim glide`."""
    run("new", "lark", "--mass", "1.1 kg", "--sink", "3 m/s")
    text = (tmp_path / "lark.yaml").read_text()
    weight, pressure, C_R, area = map(
        float, re.search(r"C_R\) = ([\d.]+) / \(([\d.]+) x ([\d.]+)\) = ([\d.]+) m\^2", text).groups()
    )
    assert area == pytest.approx(weight / (pressure * C_R), rel=3e-3)
    capsys.readouterr()
    assert run("glide", "lark.yaml", "--json") == 0
    glide = json.loads(capsys.readouterr().out)
    assert area == pytest.approx(glide["flat_area_m2"], abs=5e-4)
    assert weight == pytest.approx(9.80665 * glide["mass_kg"], abs=0.01)
    assert f"glide ratio {glide['glide_ratio']:.2f}:" in text
    assert glide["sink_m_s"] == pytest.approx(3.0, rel=0.03)
    low, high = glide["rigging_window_deg"]
    assert glide["rigging_angle_deg"] == pytest.approx((low + high) / 2, abs=0.6)


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_release_and_opening_keep_the_height_that_new_wrote(
    units: str, run: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """README's own lark: let go packed there is room for what the opening takes and for the plan too."""
    run("new", "lark", "--mass", "0.8 kg", "--sink", "2.5 m/s", "--units", units)
    printed = capsys.readouterr()
    assert printed.err == ""
    height = load_design(tmp_path / "lark.yaml").drop.height
    step = 10.0 if units == "metric" else 50 * 0.3048
    assert height / step == pytest.approx(round(height / step), abs=1e-4)
    assert run("opening", "lark.yaml", "--json", "--units", units) == 0
    opened = json.loads(capsys.readouterr().out)
    assert opened["heights"]["minimum_release_m"] < height
    assert run("release", "lark.yaml", "--units", units) == 0
    lowest = re.search(r"lowest release for the plan +(\d+) (?:m|ft) ", capsys.readouterr().out)
    unit = 1.0 if units == "metric" else 0.3048
    assert float(lowest[1]) * unit + opened["heights"]["to_glide_m"] < height


def test_size_gives_the_area_that_new_wrote(run: Any, tmp_path: Path, capsys) -> None:
    """One answer to how large: `new`, `size` and `glide` agree."""
    run("new", "lark", "--mass", "0.8 kg", "--sink", "2.5 m/s")
    capsys.readouterr()
    assert run("size", "lark.yaml", "--sink", "2.5 m/s", "--json") == 0
    sized = json.loads(capsys.readouterr().out)
    assert sized["chosen"]["area_m2"] == pytest.approx(sized["as_designed"]["area_m2"], rel=0.04)
    assert sized["chosen"]["rigging_angle_deg"] == sized["as_designed"]["rigging_angle_deg"]


def test_the_payloads_box_is_taken(run: Any, tmp_path: Path, capsys) -> None:
    arguments = ("new", "lark", "--mass", "0.8 kg", "--sink", "2.5 m/s")
    assert run(*arguments, "--box", "300 mm, 100 mm, 90 mm") == 0
    assert load_design(tmp_path / "lark.yaml").payload.size == pytest.approx((0.3, 0.1, 0.09))
    assert "guess from the mass" not in capsys.readouterr().out


def test_a_starter_in_imperial_units(run: Any, tmp_path: Path, capsys) -> None:
    arguments = ("new", "lark", "--mass", "2 lb", "--sink", "8 ft/s", "--units", "imperial")
    assert run(*arguments) == 0
    assert not re.search(r"\d (mm|m|kg|m/s|m²)\b", capsys.readouterr().out)
    text = (tmp_path / "lark.yaml").read_text()
    assert "parasim manual schema" in text
    values = [line.partition("#")[0] for line in text.splitlines()]
    assert not any(re.search(r"\d (mm|m|kg|m/s|g/m|g/m\^2)\b", value) for value in values)
    span = re.search(r"span: ([\d.]+) in", text)
    assert float(span[1]) % 0.25 == 0
    assert load_design(tmp_path / "lark.yaml").payload.mass == pytest.approx(2 * 0.45359237)


def test_does_not_overwrite_unless_forced(
    run: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "lark.yaml").write_text("mine")
    arguments = ("new", "lark", "--mass", "0.8 kg", "--sink", "3 m/s")
    assert run(*arguments) == 2
    assert capsys.readouterr().err == (
        "parasim: lark.yaml is already there; give another name, --out FILE or --force\n"
    )
    assert (tmp_path / "lark.yaml").read_text() == "mine"
    assert run(*arguments, "--force") == 0
    assert (tmp_path / "lark.yaml").read_text() != "mine"


def test_json_is_one_document(run: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("new", "tit", "--mass", "200 g", "--sink", "2.5 m/s", "--out", "sub/t.yaml", "--json") == 0
    printed = capsys.readouterr()
    answer = json.loads(printed.out)
    assert answer["parasim"]["command"] == "new"
    assert answer["file"] == "sub/t.yaml"
    assert answer["area_m2"] == pytest.approx(answer["span_m"] * answer["chord_m"])
    assert any(warning.startswith("flat area: ") for warning in answer["warnings"])
    assert printed.err == ""
    assert Path("sub/t.yaml").is_file()


REFUSED = [
    (["lark", "--mass", "0.8 m", "--sink", "3 m/s"], '--mass: given "0.8 m", a length; use a mass such as'),
    (["lark", "--mass", "0.8 kg", "--sink", "3 kg"], '--sink: given "3 kg", a mass; use a speed such as'),
    (["lark", "--mass", "-1 kg", "--sink", "3 m/s"], '--mass: given "-1 kg", too small; use 0.05 to 20 kg'),
    (["lark", "--mass", "nan", "--sink", "3 m/s"], '--mass: given "nan", not a mass'),
    (["lark", "--mass", "1 kg", "--sink", "3 m/s", "--box", "1 m"], '--box: given "1 m", not three lengths'),
    (["lark", "--mass", "1 kg", "--sink", "3 m/s", "--box", "1, 2, 3 kg"], '--box: given "3 kg", a mass'),
    (
        ["lark", "--mass", "15 kg", "--sink", "3 m/s"],
        "--sink: 3.00 m/s under 15.000 kg makes a canopy of",
    ),
    (["../lark", "--mass", "1 kg", "--sink", "3 m/s"], 'NAME: given "../lark", not a plain name'),
    (["a\nb", "--mass", "1 kg", "--sink", "3 m/s"], 'NAME: given "a\\nb", not a plain name'),
    (["lark", "--mass", "1 kg", "--sink", "3 m/s", "--out", "."], "--out: . is a directory"),
    (["lark", "--mass", "1 kg"], "Missing option '--sink'; try: parasim new --help"),
    (["--mass", "1 kg", "--sink", "3 m/s"], "Missing argument 'NAME'; try: parasim new --help"),
    (["lark", "--mass", "1 kg", "--sink", "3 m/s", "--units", "furlong"], "Invalid value for '--units'"),
]


@pytest.mark.parametrize(("arguments", "told"), REFUSED, ids=[told[:40] for _, told in REFUSED])
def test_refuses_bad_options_in_one_line(
    arguments: list[str], told: str, run: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("new", *arguments) == 2
    printed = capsys.readouterr()
    assert told in printed.err
    assert printed.err.count("\n") == 1
    assert printed.err.startswith("parasim: ")
    assert list(tmp_path.iterdir()) == []


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(
    mass=st.floats(0.05, 20.0),
    sink=st.floats(0.5, 12.0),
    glide=st.floats(1.0, 6.0),
    name=st.sampled_from(["lark", "no", "123", "1e5", "null", "Große Möwe", "a.b", "2024-01-01", "x-y (2)"]),
)
def test_every_starter_loads(mass: float, sink: float, glide: float, name: str) -> None:
    try:
        size = size_canopy(payload_mass=mass, sink=sink, glide_ratio=glide)
    except OptionError:
        return
    design = parse_design(starter_text(name, size, radians(-1.0)))
    assert design.name == name
    assert design.canopy.flat_area == pytest.approx(size.area, rel=0.03)
    assert design.payload.mass == pytest.approx(mass, rel=1e-5)
