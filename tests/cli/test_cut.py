"""``parasim cut``: tables, files that can be read back, JSON, and refusals in one line."""

import csv
import json
import re

import pytest

OUT = {
    "heron_cut_parts.csv", "heron_cut_shopping.csv", "heron_cut_lengths.csv", "heron_cut_mass.csv",
    "heron_cut_nest.png", "heron_cut_nest.svg", "heron_cut.json",
}  # fmt: skip


def read(path):
    """Rows of a CSV file, as they were written."""
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_files_read_back_are_the_document(run, configs, tmp_path, capsys):
    assert run("cut", configs / "heron.yaml", "--out", "made") == 0
    made = tmp_path / "made"
    assert {path.name for path in made.iterdir()} == OUT
    document = json.loads((made / "heron_cut.json").read_text())
    for name, key in (("parts", "parts"), ("shopping", "shopping"), ("lengths", "lengths"),
                      ("mass", "mass_budget")):  # fmt: skip
        rows = read(made / f"heron_cut_{name}.csv")
        assert len(rows) == len(document[key])
        for row, ours in zip(rows, document[key], strict=True):
            assert list(row) == list(ours)
            for head, cell in ours.items():
                if isinstance(cell, float):
                    assert float(row[head]) == pytest.approx(cell, rel=1e-4)
                else:
                    assert row[head] == ("" if cell is None else str(cell))
    parts = read(made / "heron_cut_parts.csv")
    assert sum(int(row["count"]) for row in parts) == document["piece_count"] == 75
    assert [int(row["number"]) for row in parts] == list(range(1, 13))
    mass = read(made / "heron_cut_mass.csv")
    assert sum(float(row["pieces_g"]) for row in mass) == pytest.approx(1e3 * document["mass_kg"], abs=0.01)
    said = " ".join(capsys.readouterr().out.split())
    assert "75 pieces nest on" in said
    assert re.search(r"of it used: buy \d\.\d m, spare included", said.partition("Buy ")[0])
    assert "Colours are yours to choose" in said
    assert said.count("caution:") == 2


def test_shopping_adds_up(run, configs, capsys):
    assert run("cut", configs / "wren.yaml", "--json") == 0
    document = json.loads(capsys.readouterr().out)
    shopping = {row["item"]: row for row in document["shopping"]}
    assert list(shopping) == ["cloth", "line", "tape", "thread"]
    for item in ("line", "tape"):
        lengths = [row["length_m"] for row in document["lengths"] if row["item"] == item]
        assert sum(lengths) == pytest.approx(shopping[item]["needed_m"], abs=0.005)
    assert shopping["cloth"]["needed_m"] == pytest.approx(document["cloth"]["length_m"], abs=0.001)
    for row in shopping.values():
        assert row["to_buy_m"] >= 1.1 * row["needed_m"] - 1e-3
        assert row["to_buy_yd"] >= 1.1 * row["needed_m"] / 0.9144 - 1e-3
    assert document["mass_kg"] == pytest.approx(document["simulated_mass_kg"], rel=0.02)


def test_mass_is_the_one_that_flies(run, configs, capsys):
    """The budget of `parasim canopy`, without the payload."""
    assert run("cut", configs / "pelican.yaml", "--json") == 0
    ours = json.loads(capsys.readouterr().out)
    assert run("canopy", configs / "pelican.yaml", "--json") == 0
    theirs = json.loads(capsys.readouterr().out)["mass_budget_kg"]
    simulated = {row["part"]: 1e-3 * row["simulated_g"] for row in ours["mass_budget"]}
    assert simulated == pytest.approx(
        {part: mass for part, mass in theirs.items() if part != "payload"}, abs=1e-6
    )


def test_line_is_that_of_the_line_sheet(run, configs, tmp_path, capsys):
    assert run("cut", configs / "wren.yaml", "--json") == 0
    (line,) = (row for row in json.loads(capsys.readouterr().out)["shopping"] if row["item"] == "line")
    assert run("lines", configs / "wren.yaml", "--out", "made") == 0
    cut = [float(row["cut_mm"]) for row in read(tmp_path / "made" / "wren_lines.csv") if row["cut_mm"]]
    assert line["needed_m"] == pytest.approx(1e-3 * sum(cut), abs=1e-3 * len(cut))


def test_imperial_and_nothing_written(run, configs, tmp_path, capsys):
    assert run("cut", configs / "pelican.yaml", "--units", "imperial") == 0
    said = capsys.readouterr().out
    assert "oz/yd²" in said
    assert "ft³" in said
    assert "tape: tabs of 2 3/8 in " in said
    assert " yd\n" in said
    assert not list(tmp_path.iterdir())


def test_what_does_not_fit_is_warned_of(run, configs, tmp_path, capsys):
    text = (configs / "heron.yaml").read_text(encoding="utf-8")
    (tmp_path / "tight.yaml").write_text(text.replace("tube: 80 mm", "tube: 40 mm"), encoding="utf-8")
    assert run("cut", "tight.yaml") == 0
    assert "design fails: Packed it takes" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("packing: {length: 100 mm}", "needs one of tube, tray, bag and bag_box"),
        ("packing: {tube: 90 mm, tray: [90 mm, 90 mm]}", "needs one of tube and tray"),
        ("packing: {tube: 90 g}", "packing.tube"),
        ("packing: {tray: [90 mm, 9 m]}", "10 to 2000 mm"),
        ("packing: {tube: 90 mm, density: 950 kg/m^3}", "50 to 900 kg/m^3"),
        ("packing: {tin: 90 mm}", "unknown key"),
        ("packing: {tube: 90 mm, fraction: 40 %}", "packing.fraction: no longer a key: packs are counted by"),
        ("sewing: {tape: 30 g/m}", "0 to 20 g/m"),
        ("sewing: {thread: 1 mm}", "sewing.thread"),
    ],
)
def test_bad_keys_take_one_line(run, configs, tmp_path, capsys, line, told):
    text = (configs / "pelican.yaml").read_text(encoding="utf-8")
    kept = "\n".join(row for row in text.splitlines() if not row.startswith("packing:"))
    (tmp_path / "bad.yaml").write_text(f"{kept}\n{line}\n", encoding="utf-8")
    assert run("cut", "bad.yaml", "--out", "made") == 2
    captured = capsys.readouterr()
    assert told in captured.err
    assert captured.err.count("\n") == 1
    assert captured.err.startswith("bad.yaml:")
    assert not (tmp_path / "made").exists()


def test_cloth_too_narrow_takes_one_line(run, configs, tmp_path, capsys):
    """Three cells of 0.23 m of wren, each a panel: with their seams wider than the cloth."""
    text = (configs / "wren.yaml").read_text(encoding="utf-8").replace("cells: 5", "cells: 3")
    text += "\nsewing: {cloth_width: 0.3 m, panel: cell, seam_allowance: 40 mm}\n"
    (tmp_path / "narrow.yaml").write_text(text, encoding="utf-8")
    assert run("cut", "narrow.yaml", "--out", "made") == 2
    captured = capsys.readouterr()
    assert captured.err.startswith("narrow.yaml: sewing.cloth_width: given 300 mm, the widest piece takes")
    assert captured.err.count("\n") == 1
    assert not (tmp_path / "made").exists()


def test_help_has_an_example(run, capsys):
    assert run("cut", "--help") == 0
    assert "Example: parasim cut" in capsys.readouterr().out
