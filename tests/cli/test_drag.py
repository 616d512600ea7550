"""`parasim drag` on the three demonstration designs: figures, documents, files, units."""

import csv
import json
from pathlib import Path

import pytest

from parasim.cli.main import main

KEYS = {
    "parasim", "name", "alpha_deg", "airspeed_m_s", "flat_area_m2", "lift_coefficient", "drag_coefficient",
    "items", "caveats",
}  # fmt: skip
ITEM = {"item", "drag_coefficient", "counts", "share_percent", "force_n"}


@pytest.mark.parametrize("name", ["heron", "wren", "pelican"])
def test_document_and_files(
    name: str, configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["drag", str(configs / f"{name}.yaml"), "--json", "--out", str(tmp_path)]) == 0
    document = json.loads(capsys.readouterr().out)
    assert set(document) == KEYS | {"warnings", "files"}
    items = document["items"]
    assert all(set(item) == ITEM for item in items)
    assert sum(item["drag_coefficient"] for item in items) == pytest.approx(document["drag_coefficient"])
    assert sum(item["share_percent"] for item in items) == pytest.approx(100.0)
    assert {"payload", "lines", "induced", "inlet"} <= {item["item"] for item in items}
    assert {path.name for path in tmp_path.iterdir()} == {
        f"{name}_drag.{kind}" for kind in ("csv", "json", "png")
    }
    assert (tmp_path / f"{name}_drag.png").read_bytes().startswith(b"\x89PNG")
    rows = list(csv.DictReader((tmp_path / f"{name}_drag.csv").read_text().splitlines()))
    for row, item in zip(rows, items, strict=True):
        assert row["item"] == item["item"]
        assert float(row["counts"]) == pytest.approx(item["counts"], abs=0.006)


def test_payload_by_hand(configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The heron's payload has a drag area of 0.017 m² under 0.55 m² of canopy: 309 counts."""
    assert main(["drag", str(configs / "heron.yaml"), "--json"]) == 0
    items = {item["item"]: item for item in json.loads(capsys.readouterr().out)["items"]}
    assert items["payload"]["counts"] == pytest.approx(1e4 * 0.017 / 0.55, rel=1e-6)


def test_text_in_both_units(configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(configs / "heron.yaml")
    assert main(["drag", path]) == 0
    metric = capsys.readouterr().out
    assert "0.550 m²" in metric
    assert "####" in metric
    assert "100.0 %" in metric
    assert main(["drag", path, "--units", "imperial"]) == 0
    imperial = capsys.readouterr().out
    assert "5.92 ft²" in imperial
    assert "ft/s" in imperial


def test_a_file_in_place_of_the_directory(
    configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taken = tmp_path / "taken"
    taken.write_text("")
    assert main(["drag", str(configs / "heron.yaml"), "--out", str(taken)]) == 2
    assert capsys.readouterr().err == f"parasim: --out: {taken} is a file; give the name of a directory\n"
