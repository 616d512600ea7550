"""``parasim templates``: files, tables, JSON, and refusals in one line."""

import csv
import json

import pytest

OUT = {
    "heron_templates.svg",
    "heron_templates.dxf",
    "heron_templates_a4.pdf",
    "heron_templates.csv",
    "heron_templates.json",
}


def test_it_writes_everything(run, configs, tmp_path, capsys):
    assert run("templates", configs / "heron.yaml", "--out", "cut") == 0
    assert {path.name for path in (tmp_path / "cut").iterdir()} == OUT
    said = capsys.readouterr().out
    assert "12 templates, 75 pieces to cut" in said
    assert "seam allowance 10 mm" in said
    assert said.count("caution:") == 2
    rows = list(csv.DictReader((tmp_path / "cut" / "heron_templates.csv").read_text().splitlines()))
    assert sum(int(row["count"]) for row in rows) == 75
    document = json.loads((tmp_path / "cut" / "heron_templates.json").read_text())
    assert [piece["piece"] for piece in document["pieces"]] == [row["piece"] for row in rows]


def test_json_is_one_document_with_stable_keys(run, configs, capsys):
    assert run("templates", configs / "wren.yaml", "--json") == 0
    document = json.loads(capsys.readouterr().out)
    assert {
        "name",
        "pieces",
        "piece_count",
        "cut_area_m2",
        "cloth_width_m",
        "cloth_length_m",
        "billow_percent",
    } <= set(document)
    piece = document["pieces"][0]
    assert {
        "piece",
        "count",
        "mirrored",
        "sewn_area_m2",
        "cut_area_m2",
        "edges_mm",
        "cut_perimeter_mm",
    } <= set(piece)
    assert document["piece_count"] == sum(piece["count"] for piece in document["pieces"])
    total = sum(piece["count"] * piece["cut_area_m2"] for piece in document["pieces"])
    assert document["cut_area_m2"] == pytest.approx(total)
    assert document["cautions"]


def test_formats_and_paper_are_chosen(run, configs, tmp_path):
    arguments = ("templates", configs / "wren.yaml", "--out", ".")
    assert run(*arguments, "--paper", "sheet", "--format", "PDF") == 0
    assert {path.name for path in tmp_path.iterdir()} == {
        "wren_templates_sheet.pdf",
        "wren_templates.csv",
        "wren_templates.json",
    }


def test_without_out_nothing_is_written(run, configs, tmp_path):
    assert run("templates", configs / "wren.yaml") == 0
    assert not list(tmp_path.iterdir())


def test_imperial_table(run, configs, capsys):
    assert run("templates", configs / "pelican.yaml", "--units", "imperial") == 0
    said = capsys.readouterr().out
    assert "seam allowance 3/8 in" in said
    assert "ft²" in said


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--paper", "a7"), "a7"),
        (("--format", "svg,plt"), '--format: given "svg,plt", not a list of formats; use svg, dxf, pdf'),
        (("--format", ""), "--format"),
        (("--out", "taken"), "taken is a file"),
        (("--units", "feet"), "feet"),
    ],
)
def test_bad_options_take_one_line(run, configs, tmp_path, capsys, options, told):
    (tmp_path / "taken").write_text("a file")
    assert run("templates", configs / "wren.yaml", *options) == 2
    captured = capsys.readouterr()
    assert told in captured.err
    assert captured.err.count("\n") == 1
    assert not captured.out
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("sewing: {seam_allowance: 10 kg}", "sewing.seam_allowance"),
        ("sewing: {seam_allowance: 1 mm}", "3 to 40 mm"),
        ("sewing: {panel: gore}", "half cell"),
        ("sewing: {seams: 10 mm}", "unknown key"),
        ("sewing: {cloth_width: 50 cm}\ncanopy_note: x", "unknown key"),
        ("sewing: {billow: 40 %}", "0 to 10 %"),
    ],
)
def test_bad_sewing_keys_take_one_line(run, configs, tmp_path, capsys, line, told):
    text = (configs / "wren.yaml").read_text(encoding="utf-8")
    (tmp_path / "bad.yaml").write_text(f"{text}\n{line}\n", encoding="utf-8")
    assert run("templates", "bad.yaml", "--out", "cut") == 2
    captured = capsys.readouterr()
    assert told in captured.err
    assert captured.err.count("\n") == 1
    assert captured.err.startswith("bad.yaml:")
    assert not (tmp_path / "cut").exists()


def test_what_cannot_be_cut_is_refused_before_anything_is_written(run, configs, tmp_path, capsys):
    text = (
        (configs / "wren.yaml")
        .read_text(encoding="utf-8")
        .replace("count: 2, diameter: 7 %", "count: 9, diameter: 9 %")
    )
    (tmp_path / "holes.yaml").write_text(text, encoding="utf-8")
    assert run("templates", "holes.yaml", "--out", "cut") == 2
    captured = capsys.readouterr()
    assert captured.err.startswith("holes.yaml: canopy.crossports: given 9 of 29 mm")
    assert captured.err.count("\n") == 1
    assert not (tmp_path / "cut").exists()


def test_help_has_an_example(run, capsys):
    assert run("templates", "--help") == 0
    assert "Example: parasim templates" in capsys.readouterr().out
