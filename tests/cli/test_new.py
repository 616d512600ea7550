"""``parasim new``: a starter file that loads, and nothing overwritten by mistake."""

import json
from math import radians
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from parasim.config.loader import load_design, parse_design
from parasim.errors import OutOfRangeError
from parasim.study.new import size_canopy
from parasim.study.starter import starter_text


def test_writes_a_design_that_loads_without_warnings(
    run: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("new", "lark", "--mass", "0.8 kg", "--sink", "3 m/s") == 0
    printed = capsys.readouterr()
    assert "lark: a first canopy for 0.800 kg" in printed.out
    assert "0.418 m²" in printed.out
    assert printed.err == ""
    design = load_design(tmp_path / "lark.yaml")
    assert design.name == "lark"
    assert design.payload.mass == 0.8
    assert design.warnings() == ()
    assert [path.name for path in tmp_path.iterdir()] == ["lark.yaml"]


def test_the_hand_formula_stands_in_the_file_with_its_numbers(run: Any, tmp_path: Path) -> None:
    run("new", "lark", "--mass", "1.1 kg", "--sink", "3 m/s", "--glide", "2.5")
    text = (tmp_path / "lark.yaml").read_text()
    # 1.1 kg alone asks for 0.5398 m2, or 0.4907 m2 for each kg; canopy of 0.12 kg/m2 carried as well:
    # 0.5398 / (1 - 0.12 x 0.4907) = 0.5736 m2, 0.0688 kg of canopy, 1.1688 kg x 9.80665 = 11.462 N.
    assert "airspeed    V = sink / sin(glide angle) = 3 / sin(21.8 deg) = 8.08 m/s" in text
    assert "W = (1.1 + 0.069 kg of canopy) x 9.81 m/s^2 = 11.46 N" in text
    assert "S = W / (1/2 rho V^2 C_R) = 11.46 / (39.97 x 0.5) = 0.574 m^2" in text


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
    assert run("new", "tit", "--mass", "200 g", "--sink", "3 m/s", "--out", "sub/t.yaml", "--json") == 0
    printed = capsys.readouterr()
    answer = json.loads(printed.out)
    assert answer["parasim"]["command"] == "new"
    assert answer["file"] == "sub/t.yaml"
    assert answer["area_m2"] == pytest.approx(0.1045)
    assert any(warning.startswith("area: ") for warning in answer["warnings"])
    assert printed.err == ""
    assert Path("sub/t.yaml").is_file()


REFUSED = [
    (["lark", "--mass", "0.8 m", "--sink", "3 m/s"], '--mass: given "0.8 m", a length; use a mass such as'),
    (["lark", "--mass", "0.8 kg", "--sink", "3 kg"], '--sink: given "3 kg", a mass; use a speed such as'),
    (["lark", "--mass", "-1 kg", "--sink", "3 m/s"], '--mass: given "-1 kg", too small; use 0.05 to 20 kg'),
    (["lark", "--mass", "nan", "--sink", "3 m/s"], '--mass: given "nan", not a mass'),
    (["lark", "--mass", "1 kg", "--sink", "3 m/s", "--glide", "20"], '--glide: given "20", too large'),
    (["lark", "--mass", "15 kg", "--sink", "3 m/s"], "canopy area for this mass, sink and glide is 7.8"),
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
    except OutOfRangeError:
        return
    design = parse_design(starter_text(name, size, radians(-1.0)))
    assert design.name == name
    assert design.canopy.flat_area == pytest.approx(size.area, rel=0.03)
    assert design.payload.mass == pytest.approx(mass, rel=1e-5)
