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
FILES = {
    "lines_to_measure.csv",
    "lines.csv",
    "lines.json",
    "line_tags.txt",
    "line_sheet.pdf",
    "lines_plan.png",
    "lines_plan.pdf",
}


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
    assert "finish in    cut in" in out
    assert "10 1/4" in out
    metric = re.findall(r"\d (?:mm|m|m/s|g/m)\b", out)
    assert not metric, "metric units in an imperial print"
    assert "under 1.6 lbf, to the sixteenth of an inch (1.1 lbf to 2.2 lbf is" in " ".join(out.split())
    assert "28.3 yd to cut" in out


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
    assert re.search(r"07L-D +304 mm +296 mm +8 mm +-", out)  # under "lengthen by"
    assert "nobody steering, it turns right at" in " ".join(out.split())


def test_lines_as_designed_come_back_as_designed(configs, capsys, tmp_path):
    design = str(configs / "wren.yaml")
    assert main(["lines", design, "--json"]) == 0
    file = write(tmp_path / "new.csv", lengths_of(json.loads(capsys.readouterr().out)))
    assert main(["lines", design, "--measured", str(file), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["measured"]
    assert found["rigging_change_deg"] == pytest.approx(0.0, abs=0.02)
    assert found["turn"] is None


@pytest.fixture(scope="module")
def heron_sheets(configs: Path, tmp_path_factory) -> dict[str, Path]:
    """The table to fill in, in either system."""
    found = {}
    for units in ("metric", "imperial"):
        made = tmp_path_factory.mktemp(units)
        design = str(configs / "heron.yaml")
        assert main(["lines", design, "--out", str(made), "--units", units, "--quiet"]) == 0
        found[units] = made / "heron_lines_to_measure.csv"
    return found


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def filled(path: Path, to: Path, lengths: dict[str, str]) -> Path:
    """The table with some lengths written into it."""
    rows = rows_of(path)
    (measured,) = (head for head in rows[0] if head.startswith("measured"))
    for row in rows:
        row[measured] = lengths.get(row["line"], "")
    with to.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return to


def test_the_sheet_to_fill_in_has_every_line(configs, heron_sheets, capsys):
    assert main(["lines", str(configs / "heron.yaml"), "--json"]) == 0
    lines = json.loads(capsys.readouterr().out)["lines"]
    metric, imperial = (rows_of(heron_sheets[units]) for units in ("metric", "imperial"))
    assert list(metric[0]) == ["line", "designed_mm", "measured_mm", "measure_under"]
    assert list(imperial[0]) == ["line", "designed_in", "measured_in", "measure_under"]
    assert {row["measure_under"] for row in metric} == {"7 N"}
    assert {row["measure_under"] for row in imperial} == {"1.6 lbf"}
    assert [row["line"] for row in metric[: len(lines)]] == [line["label"] for line in lines]
    for line, si, inches in zip(lines, metric, imperial, strict=False):
        assert int(si["designed_mm"]) == line["finished_whole_mm"]
        assert inches["designed_in"] == line["finished_in"]
    assert not any(row["measured_mm"] for row in metric)
    ways = {row["line"]: row["designed_mm"] for row in metric[len(lines) :]}
    lengths = {line["label"]: line["finished_mm"] for line in lines}
    assert len(ways) == 8 * 4 + 2 * 3
    assert int(ways["03L-D to riser"]) == pytest.approx(lengths["03L-C+D"] + lengths["03L-D"], abs=0.51)
    assert int(ways["R-brake-2 to riser"]) == pytest.approx(
        lengths["R-brake-1+2+3"] + lengths["R-brake-2"], abs=0.51
    )


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_an_untouched_sheet_is_all_as_designed(configs, heron_sheets, capsys, units):
    arguments = [
        "lines",
        str(configs / "heron.yaml"),
        "--measured",
        str(heron_sheets[units]),
        "--units",
        units,
    ]
    assert main(arguments) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert out.count("The table has no measured length in it: all lines are taken as designed.") == 1
    assert "as measured" not in out
    assert main([*arguments, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["measured"]
    assert found["given_count"] == 0
    assert found["rigging_change_deg"] == 0.0
    assert found["glide_ratio"] == pytest.approx(found["designed_glide_ratio"], rel=1e-9)
    assert {adjust["change_mm"] for adjust in found["adjust"]} == {0.0}


def test_a_sheet_filled_with_its_own_lengths_changes_nothing(configs, heron_sheets, capsys, tmp_path):
    """But for its rounding: half a millimetre, half a sixteenth of an inch (0.8 mm), in every row."""
    for units, head, most in (("metric", "designed_mm", 0.51), ("imperial", "designed_in", 0.80)):
        rows = rows_of(heron_sheets[units])[:56]
        sheet = filled(heron_sheets[units], tmp_path / f"{units}.csv", {r["line"]: r[head] for r in rows})
        assert main(["lines", str(configs / "heron.yaml"), "--measured", str(sheet), "--json"]) == 0
        document = json.loads(capsys.readouterr().out)
        found = document["measured"]
        assert found["given_count"] == 56
        assert max(abs(adjust["change_mm"]) for adjust in found["adjust"]) < most
        turns = {
            row["row"]: abs(row["rigging_change_deg"] / row["error_mm"]) for row in document["tolerance"]
        }
        assert abs(found["rigging_change_deg"]) < most * sum(turns.values()) < 0.5
        assert found["turn_row"] is None


def season(sheet: Path, to: Path, way: str, unit: str) -> Path:
    """Only the D row typed in, 8 mm short: its lines, or its whole ways to the riser, in mm or inches."""
    designed = {row["line"]: row for row in rows_of(sheet)}
    lengths = {}
    for label, row in designed.items():
        if label.endswith(f"-D{way}"):
            mm = int(row["designed_mm"]) - 8
            lengths[label] = f"{mm}" if unit == "mm" else f"{mm / 25.4:.2f} in"
    assert len(lengths) == 8
    return filled(sheet, to, lengths)


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("way", ["", " to riser"])
def test_after_a_season_the_d_row_alone_is_typed_in(configs, heron_sheets, capsys, tmp_path, way, unit):
    """8 mm at the rear of the chord, 0.75 of 0.5 m behind A: near 1 deg nose-up."""
    sheet = season(heron_sheets["metric"], tmp_path / "season.csv", way, unit)
    arguments = ["lines", str(configs / "heron.yaml"), "--measured", str(sheet)]
    assert main([*arguments, "--json", "--out", str(tmp_path / "out")]) == 0
    found = json.loads(capsys.readouterr().out)["measured"]
    assert found["given_count"] == 8
    assert found["rigging_change_deg"] == pytest.approx(-0.78, abs=0.05)
    changes = {row["row"]: row["change_mm"] for row in found["rows"]}
    assert changes == pytest.approx({"A": 0, "B": 0, "C": 0, "D": -8, "brake": 0}, abs=0.35)
    changed = [each for each in found["adjust"] if abs(each["change_mm"]) > 1]
    assert {each["label"] for each in changed} == {label.removesuffix(way) for label in typed(sheet)}
    assert found["stall_margin_deg"] < found["designed_stall_margin_deg"]
    assert found["tuck_margin_deg"] > found["designed_tuck_margin_deg"]
    assert not (tmp_path / "out" / "heron_lines_to_measure.csv").exists(), "over the one filled in"


def test_a_sheet_that_was_filled_in_is_kept(configs, heron_sheets, tmp_path, capsys) -> None:
    sheet = filled(heron_sheets["metric"], tmp_path / "heron_lines_to_measure.csv", {"RD1": "899"})
    typed_in = sheet.read_bytes()
    for again in range(2):
        assert main(["lines", str(configs / "heron.yaml"), "--out", str(tmp_path), "--quiet"]) == 0
        said = " ".join(capsys.readouterr().err.split())
        assert ("heron_lines_to_measure.csv was filled in" in said) == (again == 0)
        assert (sheet.read_bytes() == typed_in) == (again == 0)
        sheet.unlink()


def typed(sheet: Path) -> list[str]:
    return [row["line"] for row in rows_of(sheet) if row["measured_mm"]]


@pytest.mark.parametrize(
    ("units", "row", "line"),
    [("metric", r"\nD +-8 mm +-?0 mm\n", r"07L-D +304 mm +296 mm +8 mm +-"),
     ("imperial", r"\nD +-5/16 in +0 in\n", r"07L-D +11 15/16 in +11 5/8 in +5/16 in +-")],
)  # fmt: skip
def test_what_the_season_did_is_said(configs, heron_sheets, capsys, tmp_path, units, row, line):
    sheet = season(heron_sheets["metric"], tmp_path / "season.csv", "", "mm")
    design = str(configs / "heron.yaml")
    assert main(["lines", design, "--measured", str(sheet), "--units", units]) == 0
    out = capsys.readouterr().out
    first = " ".join(out.partition("\n\n")[0].split())
    assert first.startswith("heron: on the lines as measured it is rigged at -1.7")
    assert "(designed: -1.00 deg)" in first
    assert "holds its heading, both margins as asked" in first
    said = " ".join(out.split())
    assert "Measured: 8 lengths; whatever is blank is taken as designed." in said
    assert "more nose-up" in said
    assert "Left and right agree" in said
    assert re.search(row, out)
    assert re.search(line, out)  # under "lengthen by"


BAD = {
    "contradiction": (
        "line,measured_mm\n01L-A,280\n01L-A+B,446\n01L-A to riser,740\n",
        "01L-A to riser: given 740 mm (29 1/8 in), its pieces 01L-A+B, 01L-A add to 726 mm",
    ),
    "unknown": ("label,length_mm\nfoo,1\n", 'season.csv:2: line: given "foo", no such line'),
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
