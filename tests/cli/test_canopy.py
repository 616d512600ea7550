"""`parasim canopy` on the three demonstration designs: figures, documents, files, units."""

import csv
import json
from math import sin
from pathlib import Path

import pytest

from parasim.cli.main import main

KEYS = {
    "parasim", "name", "flat_span_m", "flat_area_m2", "projected_span_m", "projected_area_m2", "aspect_ratio",
    "definitions", "root_chord_m", "mean_chord_m", "thickness_ratio", "arc_radius_m", "half_arc_deg", "cells",
    "half_cells", "ribs", "loaded_ribs", "line_length_m", "rigging_angle_deg", "inlet", "cloth", "volume_m3",
    "loaded_rib_numbers", "row_lengths_mm", "line_pieces", "total_line_length_m", "mass_budget_kg", "mass_kg",
    "air_density_kg_m3", "enclosed_air_kg", "apparent_mass_kg", "caveats",
}  # fmt: skip
FILES = {"canopy.json", "canopy_ribs.csv", "canopy_lines.csv", "canopy.png"}


@pytest.mark.parametrize("name", ["heron", "wren", "pelican"])
def test_document_and_files(
    name: str, configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["canopy", str(configs / f"{name}.yaml"), "--json", "--out", str(tmp_path)]) == 0
    document = json.loads(capsys.readouterr().out)
    assert set(document) == KEYS | {"warnings", "files"}
    assert set(document["definitions"]) == {
        "flat_span", "flat_area", "projected_span", "projected_area", "aspect_ratio",
    }  # fmt: skip
    assert sum(document["mass_budget_kg"].values()) == pytest.approx(document["mass_kg"])
    assert {path.name for path in tmp_path.iterdir()} == {f"{name}_{file}" for file in FILES}
    assert (tmp_path / f"{name}_canopy.png").read_bytes().startswith(b"\x89PNG")
    ribs = list(csv.DictReader((tmp_path / f"{name}_canopy_ribs.csv").read_text().splitlines()))
    assert len(ribs) == document["ribs"]
    assert [int(rib["rib"]) for rib in ribs if rib["loaded"] == "yes"] == document["loaded_rib_numbers"]
    lines = list(csv.DictReader((tmp_path / f"{name}_canopy_lines.csv").read_text().splitlines()))
    assert len(lines) == sum(document["line_pieces"].values())
    total = sum(float(line["length_mm"]) for line in lines) / 1000
    assert total == pytest.approx(document["total_line_length_m"], abs=1e-4 * len(lines))


def test_heron_by_hand(configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["canopy", str(configs / "heron.yaml"), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["flat_area_m2"] == pytest.approx(1.10 * 0.50)
    assert document["projected_span_m"] == pytest.approx(2 * 0.75 * sin(1.10 / 1.5))
    assert document["loaded_rib_numbers"] == [1, 3, 5, 7, 9, 11, 13, 15]
    # Two cascades of two rows on eight ribs; a trunk and three branches of brake line on each side.
    assert document["line_pieces"] == {"trunk": 16, "branch": 32, "brake": 8}
    assert document["inlet"]["height_mm"] == pytest.approx(20.0)
    left, right = document["row_lengths_mm"]["A"], document["row_lengths_mm"]["A"][::-1]
    assert left == pytest.approx(right)


def test_text_in_both_units(configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(configs / "heron.yaml")
    assert main(["canopy", path]) == 0
    metric = capsys.readouterr().out
    assert "0.550 m² (bottom-skin span along the arc x mean chord)" in metric
    assert "16 cascade trunks, 32 cascade branches, 8 brake line pieces" in metric
    assert main(["canopy", path, "--units", "imperial"]) == 0
    imperial = capsys.readouterr().out
    # 0.55 m² / 0.3048² = 5.92 ft²; 20 mm / 25.4 = 0.79 in
    assert "5.92 ft²" in imperial
    assert "13/16 in high" in imperial
    assert " mm" not in imperial


def test_a_file_in_place_of_the_directory(
    configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taken = tmp_path / "taken"
    taken.write_text("")
    assert main(["canopy", str(configs / "heron.yaml"), "--out", str(taken)]) == 2
    assert capsys.readouterr().err == f"parasim: --out: {taken} is a file; give the name of a directory\n"
