"""`parasim opening` on the three demonstration designs: figures, options, files, units, refusals."""

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from parasim.cli.main import main
from parasim.flight.opening.opening import CAUTIONS
from parasim.report.opening import SPEED_COLUMNS
from tests.texts import flowing

KEYS = {
    "parasim", "name", "release", "held_by", "filling_constant", "opening_factor", "constant_speed_factor",
    "ballistic_parameter", "masses_and_areas", "packed",
    "snatch", "opening", "other", "heights", "glide", "checks",
    "speeds", "cautions", "caveats",
}  # fmt: skip
FILES = ("opening.csv", "opening.json", "opening.png")


@pytest.mark.parametrize("name", ["heron", "wren", "pelican"])
def test_document_and_files(
    name: str, configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["opening", str(configs / f"{name}.yaml"), "--json", "--out", str(tmp_path)]) == 0
    document: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert set(document) == KEYS | {"warnings", "files"}
    assert document["cautions"] == list(CAUTIONS)
    found = document["opening"]
    assert found["low_n"] < found["peak_n"] < found["high_n"] < found["bound_n"]
    weight = document["masses_and_areas"]["payload_kg"] * 9.80665
    assert found["peak_g"] == pytest.approx(found["peak_n"] / weight)
    assert document["heights"]["to_glide_m"] > document["heights"]["to_full_m"]
    assert {path.name for path in tmp_path.iterdir()} == {f"{name}_{file}" for file in FILES}
    assert (tmp_path / f"{name}_opening.png").read_bytes().startswith(b"\x89PNG")
    rows = list(csv.DictReader((tmp_path / f"{name}_opening.csv").read_text().splitlines()))
    assert list(rows[0]) == [column.name for column in SPEED_COLUMNS]
    assert [float(row["release_speed_m_s"]) for row in rows] == [0, 5, 10, 15, 20, 25, 30]
    at_rest = document["release"]["speed_m_s"] == 0
    assert at_rest
    assert float(rows[0]["peak_n"]) == pytest.approx(found["peak_n"], abs=1e-4)
    assert json.loads((tmp_path / f"{name}_opening.json").read_text())["heights"] == document["heights"]


def test_text_and_options_in_both_units(configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["opening", str(configs / "heron.yaml"), "--release-speed", "30 kt", "--height", "300 ft"]
    assert main([*arguments, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["release"]["speed_m_s"] == pytest.approx(30 * 1852 / 3600)
    assert document["release"]["height_m"] == pytest.approx(91.44)
    assert main(arguments) == 0
    printed = capsys.readouterr()
    peak = document["opening"]["peak_n"]
    assert f"opening {peak:.0f} N (" in flowing(printed.out)
    assert "? not known" in printed.out
    assert "+ holds" in printed.out
    assert all(f"caution: {caution}" in flowing(printed.out) for caution in CAUTIONS)
    assert "not published at this scale" in flowing(printed.err)
    assert main([*arguments, "--units", "imperial"]) == 0
    # 1 lbf = 4.4482216 N
    assert f"opening {peak / 4.4482216:.1f} lbf (" in flowing(capsys.readouterr().out)


REFUSED = [
    (["--release-speed", "15 m"], '--release-speed: given "15 m", a length; use a speed'),
    (["--release-speed", "99"], '--release-speed: given "99", too large'),
    (["--release-speed", "fast"], '--release-speed: given "fast", not a speed'),
    (["--height", "0"], '--height: given "0", too small'),
    (["--height", "2 kg"], '--height: given "2 kg", a mass; use a length'),
]


@pytest.mark.parametrize(("options", "told"), REFUSED, ids=[" ".join(options) for options, _ in REFUSED])
def test_refusals(
    options: list[str], told: str, configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["opening", str(configs / "heron.yaml"), "--out", str(tmp_path / "out"), *options]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith(f"parasim: {told}")
    assert printed.err.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_a_pack_that_cannot_be_is_refused(
    reference_text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "draggy.yaml"
    path.write_text(reference_text + "\nopening: {drag_area: 4 m^2}\n")
    assert main(["opening", str(path)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "opening.drag_area: given 4 m^2, more than the open canopy has; use less than" in printed.err
    assert printed.err.count("\n") == 1


def test_help_shows_an_example(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["opening", "--help"]) == 0
    assert "Example: parasim opening" in capsys.readouterr().out


def test_a_default_that_will_not_do_is_not_called_given(
    configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A payload so light that the pack does not fall behind it: nobody wrote a drag area."""
    path = tmp_path / "tiny.yaml"
    path.write_text((configs / "wren.yaml").read_text().replace("mass: 0.35 kg", "mass: 0.08 kg", 1))
    assert main(["opening", str(path)]) == 2
    assert "opening.drag_area: given nothing, which counts as" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("units", "length"),
    [("metric", "In its bag: 89 to 111 mm long."), ("imperial", "In its bag: 3 1/2 to")],
)
@pytest.mark.parametrize("command", ["opening", "build"])
def test_the_pack_is_shown_with_its_bag_and_pilot_chute(
    configs: Path, capsys, command, units, length
) -> None:
    """107 g at 250 and 200 kg/m3 in a round bag of 80 mm, 50.3 cm2: 85 and 106 mm."""
    assert main([command, str(configs / "kingfisher.yaml"), "--units", units]) == 0
    said = flowing(capsys.readouterr().out)
    assert "bag " in said.partition("Packed: ")[2][:60]
    assert "pilot chute " in said.partition("Packed: ")[2][:80]
    assert length in said
