"""`parasim lines` on the demonstration designs: documents, files, measured lines, refusals."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from parasim.cli.main import main
from parasim.flight import lines as flight
from parasim.flight.line_loads import CAUTIONS

KEYS = {
    "parasim", "name", "rigging_angle_deg", "measuring_tension_n", "loop_allowance_mm", "tie_allowance_mm",
    "brake_tail_mm", "zero_points", "material", "diameter_mm", "linear_density_g_m", "lines", "totals",
    "total_cut_m", "differentials", "junction_residual_fraction", "tolerance", "loads", "measured", "caveats",
    "cautions", "warnings", "brake_ring",
}  # fmt: skip
FILES = {"lines.csv", "lines.json", "line_tags.txt", "line_sheet.pdf", "lines_plan.png", "lines_plan.pdf"}


@pytest.fixture(scope="module", autouse=True)
def _each_tolerance_once() -> Iterator[None]:
    """Effects of row errors are kept by design: they take most of the time, and every run works them out."""
    kept: dict[str, Any] = {}
    real = flight.row_effects

    def remembered(vehicle: Any) -> Any:
        name = vehicle.design.name
        if name not in kept:
            kept[name] = real(vehicle)
        return kept[name]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(flight, "row_effects", remembered)
        yield


@pytest.fixture(scope="module", params=["heron", "wren"])
def done(request, configs: Path, tmp_path_factory) -> tuple[dict[str, Any], Path]:
    """Document and directory of one run."""
    directory = tmp_path_factory.mktemp("out")
    design = configs / f"{request.param}.yaml"
    assert main(["lines", str(design), "--out", str(directory)]) == 0
    (file,) = directory.glob("*_lines.json")
    return json.loads(file.read_text(encoding="utf-8")), directory


def lengths_of(document: dict[str, Any]) -> dict[str, float]:
    return {line["label"]: line["finished_mm"] for line in document["lines"]}


def write(path: Path, lengths: dict[str, float]) -> Path:
    rows = "".join(f"{label},{length:.1f}\n" for label, length in lengths.items())
    path.write_text("label,length_mm\n" + rows, encoding="utf-8")
    return path


def test_files_and_keys(done):
    document, directory = done
    assert {path.name for path in directory.iterdir()} == {f"{document['name']}_{file}" for file in FILES}
    assert set(document) == KEYS - {"warnings"}
    assert document["measured"] is None
    assert document["junction_residual_fraction"] < 1e-9


def test_csv_agrees_with_the_document(done):
    document, directory = done
    with (directory / f"{document['name']}_lines.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["label"] for row in rows] == [line["label"] for line in document["lines"]]
    for row, line in zip(rows, document["lines"], strict=True):
        assert int(row["finished_whole_mm"]) == line["finished_whole_mm"] == round(line["finished_mm"])
        assert float(row["finished_mm"]) == pytest.approx(line["finished_mm"], abs=1e-4)
        assert int(row["cut_mm"]) == line["cut_mm"]


def test_tags_have_a_line_each(done):
    document, directory = done
    tags = (directory / f"{document['name']}_line_tags.txt").read_text(encoding="utf-8").splitlines()
    assert len(tags) == len(document["lines"])
    assert tags[0].startswith(
        f"{document['lines'][0]['label']}  {document['lines'][0]['finished_whole_mm']} mm"
    )


def test_printed_sheet(configs, capsys):
    assert main(["lines", str(configs / "heron.yaml"), "--all"]) == 0
    out, err = capsys.readouterr()
    assert "56 pieces of line" in out
    assert "01L-A+B" in out
    assert "mark the zero; leave the tail to the servo" in out
    assert all(f"caution: {caution}" in " ".join(out.split()) for caution in CAUTIONS)
    assert "strength is not known" in err


def test_inches(configs, capsys):
    assert main(["lines", str(configs / "heron.yaml"), "--units", "imperial", "--all"]) == 0
    out = capsys.readouterr().out
    assert "finished in" in out
    assert "17 1/2" in out
    metric = re.findall(r"\d (?:mm|m|m/s|g/m)\b", out)
    assert not metric, "metric units in an imperial print"
    assert "7 N (1.6 lbf)" in out
    assert "87.4 ft to cut" in out


def test_one_json_document(configs, capsys):
    assert main(["lines", str(configs / "heron.yaml"), "--json", "--opening-factor", "9"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert set(document) == KEYS
    assert document["loads"]["opening_factor"] == 9.0
    highest = document["loads"]
    assert highest["opening_tension_n"] == pytest.approx(9 * highest["highest_tension_n"])


def test_measured_lines(configs, capsys, tmp_path):
    """Row D 8 mm short below and above, the left side 5 mm longer in A."""
    design = str(configs / "heron.yaml")
    assert main(["lines", design, "--json"]) == 0
    lengths = lengths_of(json.loads(capsys.readouterr().out))
    lengths = {
        label: x - 8 * label.endswith("-D") + 5 * label.endswith("L-A") for label, x in lengths.items()
    }
    file = write(tmp_path / "season.csv", lengths)
    assert main(["lines", design, "--measured", str(file), "--json", "--out", str(tmp_path / "out")]) == 0
    document = json.loads(capsys.readouterr().out)
    found = document["measured"]
    assert found["rigging_change_deg"] == pytest.approx(-0.78 - 0.35, abs=0.05)
    assert found["glide_ratio"] > found["designed_glide_ratio"]
    assert (found["turn"], found["turn_row"]) == ("right", "A")
    assert abs(found["adjust"][0]["change_mm"]) == pytest.approx(8.0, abs=0.06)
    heads = (tmp_path / "out" / "heron_lines_adjust.csv").read_text(encoding="utf-8").splitlines()[0]
    assert heads == "label,designed_mm,measured_mm,change_mm,rigging_change_deg"
    assert main(["lines", design, "--measured", str(file)]) == 0
    out = capsys.readouterr().out
    assert re.search(r"07L-D +324 mm +316 mm +8 mm +-", out)  # under "lengthen by"
    assert "nobody steering, it turns right at" in " ".join(out.split())


def test_lines_as_designed_come_back_as_designed(configs, capsys, tmp_path):
    design = str(configs / "wren.yaml")
    assert main(["lines", design, "--json"]) == 0
    file = write(tmp_path / "new.csv", lengths_of(json.loads(capsys.readouterr().out)))
    assert main(["lines", design, "--measured", str(file), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["measured"]
    assert found["rigging_change_deg"] == pytest.approx(0.0, abs=0.02)
    assert found["turn"] is None


BAD = {
    "missing lines": ("label,length_mm\n01L-A+B,444\n", "label: no length for 01L-A, 01L-B"),
    "unknown": ("label,length_mm\nfoo,1\n", 'season.csv:2: label: given "foo", no such line'),
    "absurd": ("label,length_mm\n01L-A+B,44400\n", "given 44400, no line changes so far from 446 mm"),
    "no table": ("hello", "its first line lacks the heads"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_measurements(configs, capsys, tmp_path, case):
    text, told = BAD[case]
    file = tmp_path / "season.csv"
    file.write_text(text, encoding="utf-8")
    arguments = [
        "lines",
        str(configs / "heron.yaml"),
        "--measured",
        str(file),
        "--out",
        str(tmp_path / "out"),
    ]
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert told in err
    assert "Traceback" not in err
    assert all(line.startswith("season.csv") for line in err.splitlines())
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("factor", ["0", "lots", "1000", "nan", "-3"])
def test_bad_opening_factor(configs, capsys, factor):
    assert main(["lines", str(configs / "heron.yaml"), "--opening-factor", factor]) == 2
    err = capsys.readouterr().err
    assert err.startswith("parasim: --opening-factor")
    assert len(err.splitlines()) == 1


BAD_KEYS = {
    "material": ("lines.material", "steel"),
    "through": ("lines.cascades.0.through", "D"),
    "levels": ("brakes.levels", 3),
    "loop": ("lines.loop_allowance", "2 m"),
    "strength": ("lines.strength", "2 m"),
}


@pytest.mark.parametrize("case", BAD_KEYS)
def test_bad_keys(heron, case):
    from parasim.config.loader import override
    from parasim.errors import DesignError

    key, value = BAD_KEYS[case]
    with pytest.raises(DesignError) as caught:
        override(heron, {key: value})
    assert len(caught.value.mistakes) == 1
    assert key.rsplit(".", 1)[-1] in str(caught.value)


def test_help_has_an_example(capsys):
    assert main(["lines", "--help"]) == 0
    assert "Example: parasim lines configs/heron.yaml" in " ".join(capsys.readouterr().out.split())
