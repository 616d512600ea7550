# ruff: noqa: E501  (a table of messages: one line each)
"""Bad design files: one line for each mistake, exit code 2, no traceback, nothing written."""

import re
from pathlib import Path
from typing import Any

import pytest

# (what to find in heron.yaml, what to put there, the line that is told)
EDITS = [
    # wrong kind of quantity or key
    ("span: 1.10 m ", "mass: 112 g\n  span: 1.10 m ", "canopy.mass: unknown key; a weighed canopy goes into notes, as as_built.canopy_mass"),
    ("span: 1.10 m ", "span: 48 kg ", 'heron.yaml:{n}: canopy.span: given "48 kg", a mass; use a length such as "1.1 m" or "48 in" or "3 ft 8 in", 0.2 to 5 m'),
    ("mass: 1.2 kg", "mass: 1.2 m", 'heron.yaml:{n}: payload.mass: given "1.2 m", a length; use a mass such as "1.2 kg" or "2.5 lb", 0.05 to 20 kg'),
    ("rigging_angle: 6 deg", "rigging_angle: 6", "heron.yaml:{n}: lines.rigging_angle: given 6, an angle without its unit could be degrees or radians; write the unit, such as \"6 deg\""),
    ("rigging_angle: 6 deg", "rigging_angle: 6 %", 'lines.rigging_angle: given "6 %", a ratio; use an angle'),
    ("thickness: 15 %", "thickness: 15 deg", 'canopy.airfoil.thickness: given "15 deg", an angle; use a ratio'),
    ("permeability: 0.5 ft^3/min/ft^2", "permeability: 0.5 ft^3/min", 'canopy.cloth.permeability: given "0.5 ft^3/min", a volume flow; use a permeability such as "3 cfm"'),
    ("temperature_offset: 0 K", "temperature_offset: 12 degC", 'site.temperature_offset: given "12 degC", a temperature, where a difference is wanted'),
    ("areal_weight: 40 g/m^2", "areal_weight: 40 g/m", 'canopy.cloth.areal_weight: given "40 g/m", a linear density; use an areal weight'),
    ("diameter: 0.8 mm", "diameter: 0.8 furlongz", '"furlongz" is not a unit known here'),
    ("diameter: 0.8 mm", "diameter: thin", 'lines.diameter: given "thin", not a length'),
    # no number at all
    ("mass: 1.2 kg", "mass: true", "payload.mass: given true, not a mass"),
    ("mass: 1.2 kg", "mass: .nan", 'payload.mass: given ".nan", not a mass'),
    ("mass: 1.2 kg", "mass: .inf", 'payload.mass: given ".inf", not a mass'),
    ("mass: 1.2 kg", "mass: 1e999 kg", 'payload.mass: given "1e999 kg", not a finite number'),
    ("mass: 1.2 kg", "mass:", "payload.mass: given nothing, not a mass"),
    ("mass: 1.2 kg", "mass: [1.2 kg]", 'payload.mass: given ["1.2 kg"], not a mass'),
    ("mass: 1.2 kg", "mass: 1:20", 'payload.mass: given "1:20", ":20" is not read as a unit'),
    # hard limits
    ("mass: 1.2 kg", "mass: -1.2 kg", 'payload.mass: given "-1.2 kg", too small; use 0.05 to 20 kg'),
    ("mass: 1.2 kg", "mass: 0", "payload.mass: given 0, too small (a number without unit is in kg); use 0.05 to 20 kg"),
    ("diameter: 0.8 mm", "diameter: 0.8", "lines.diameter: given 0.8, too large (a number without unit is in m); use 0.1 to 5 mm"),
    ("thickness: 15 %", "thickness: 15", "canopy.airfoil.thickness: given 15, too large (a number without unit is a plain ratio, 0.15 for 15 %); use 5 to 30 %"),
    ("rigging_angle: 6 deg", "rigging_angle: 20 deg", 'lines.rigging_angle: given "20 deg", too large; use -8 to 16 deg'),
    ("rigging_angle: 6 deg", "rigging_angle: -9 deg", 'lines.rigging_angle: given "-9 deg", too small; use -8 to 16 deg'),
    ("sea_level_pressure: 1013.25 hPa", "sea_level_pressure: 1013.25", "site.sea_level_pressure: given 1013.25, too small (a number without unit is in Pa); use 850 to 1100 hPa"),
    ("  cells: 7", "  cells: 0", "canopy.cells: given 0, not a whole number in range; use a whole number, 3 to 31"),
    ("  cells: 7", "  cells: 7.5", "canopy.cells: given 7.5, not a whole number in range"),
    ("from: 270 deg", "from: 400 deg", 'site.wind.from: given "400 deg", too large; use degrees such as "270 deg", 0 to 360 deg, or N, NNE, NE'),
    # keys
    ("  chord: 0.50 m", "  cord: 0.50 m", "heron.yaml:{n}: canopy.cord: unknown key; did you mean chord?"),
    ("  chord: 0.50 m", "", "canopy.chord: missing; add it, such as chord: 0.50 m"),
    ("name: heron", "name: heron\nspan: 1.1 m", "heron.yaml:6: span: unknown key; did you mean canopy.span?"),
    ("name: heron", "", "name: missing; add it, such as name: heron"),
    ("name: heron", "name: heron\nzzz: 1", "heron.yaml:6: zzz: unknown key; use name, description, payload"),
    ("  chord: 0.50 m", "  chord: 0.50 m\n  span: 1 m", "heron.yaml:18: canopy.span: already given on line 16; remove one"),
    ("name: heron", "name: heron\n<<: {a: 1}", "<<: unknown key"),
    ("name: heron", "name: 7", "name: given 7, not text; put it in quotes"),
    ("name: heron", "name: ../heron", 'name: given "../heron", not a plain name'),
    # choices
    ("kind: rigid", "kind: hard", "payload.kind: given \"hard\", not a choice here; use rigid or soft"),
    ("family: flat-bottomed", "family: flatbottomed", 'canopy.airfoil.family: given "flatbottomed", not a choice here; use flat-bottomed, reflexed, symmetric or naca23015'),
    ("start: steady", "start: no", "drop.start: given false, not a choice here; use steady, rest or velocity"),
    # shapes
    ("size: [0.22 m, 0.12 m, 0.12 m]", "size: [0.22 m, 0.12 m]", "payload.size.2: missing"),
    ("size: [0.22 m, 0.12 m, 0.12 m]", "size: 0.22 m", 'payload.size: given "0.22 m", not a list'),
    ("riser: {length: 0.15 m, spread: 0.10 m}", "riser: 0.15 m", 'lines.riser: given "0.15 m", not a mapping; use keys below it: length, spread'),
    ("rows: {A: 10 %, B: 35 %, C: 60 %, D: 85 %}", "rows: [10 %, 35 %]", "lines.rows: given [\"10 %\", \"35 %\"], not a mapping"),
    ("rows: {A: 10 %, B: 35 %, C: 60 %, D: 85 %}", "rows: {A: 10 %}", "lines.rows: given {\"A\": \"10 %\"}, entries: 1; give at least 2"),
    # keys that do not go together
    ("half_cells: 14", "half_cells: 12", "canopy.half_cells: given 12, the canopy has 7 cells; use 7 or 14, or leave it out"),
    ("arc_radius: 0.75 m", "arc_radius: 0.3 m", 'canopy.arc_radius: given "0.3 m", 0.3 m curls the tips 105 deg down; use an arc radius of at least 0.367 m'),
    ("span: 1.10 m ", "span: 2.8 m ", "canopy.arc_radius: given \"0.75 m\", 0.75 m curls the tips 107 deg down; use an arc radius of at least 0.933 m"),
    ("  arc_radius: 0.75 m", "  span: 2.8 m", "canopy.span: already given"),
    ("  length: 0.75 m ", "  length: 0.75 m\n  row_lengths: {A: 746 mm, D: 836 mm} ", "lines.length: given \"0.75 m\", the row lengths fix length and rigging angle; remove length or row_lengths"),
    ("  rigging_angle: 6 deg ", "", "lines: given only length, the pose of the canopy is open; give both length and rigging_angle, or row_lengths"),
    ("B: 35 %", "B: 5 %", "heron.yaml:{n}: lines.rows: row B does not lie behind row A; write the rows from front to rear"),
    ("rows: [A, B]", "rows: [A, E]", "lines.cascades.0.rows: given [\"A\", \"E\"], there is no row E; use A, B, C, D"),
    ("rows: [C, D]", "rows: [B, D]", "lines.cascades.1.rows: given [\"B\", \"D\"], row B is in two cascades"),
    ("rows: [A, B]", "rows: [A, A]", "lines.cascades.0.rows: given [\"A\", \"A\"], names a row twice"),
    ("rows: [A, B], height: 62 %, load: [60 %, 40 %]", "rows: [A, B], height: 62 %, load: [60 %, 60 %]", "lines.cascades.0.load: given [\"60 %\", \"60 %\"], the loads add to 120 %; let them add to 100 %"),
    ("rows: [A, B], height: 62 %, load: [60 %, 40 %]", "rows: [A, B], height: 62 %, load: [50 %, 25 %, 25 %]", "lines.cascades.0.load: given [\"50 %\", \"25 %\", \"25 %\"], 2 rows but 3 loads"),
    ("spread: 0.10 m", "spread: 0.9 m", 'lines.riser.spread: given "0.9 m", as wide as the lines are long (0.75 m)'),
    ("family: flat-bottomed, thickness: 15 %", "thickness: 15 %", "canopy.airfoil: given neither, needs exactly one of family and coordinates"),
    ("family: flat-bottomed, thickness: 15 %", "family: reflexed", "canopy.airfoil.thickness: missing; add the thickness in chord, such as thickness: 15 %"),
    ("family: flat-bottomed, thickness: 15 %", "family: naca23015, thickness: 12 %", "canopy.airfoil.thickness: given \"12 %\", naca23015 is 15 % thick"),
    ("family: flat-bottomed, thickness: 15 %", "coordinates: no/such.dat", 'canopy.airfoil.coordinates: given "no/such.dat", no such file'),
    ("height: 4 %", "height: 16 %", "canopy.inlet.height: given \"16 %\", the rib is only 15.0% thick"),
    ("travel: 120 mm", "travel: 600 mm", "brakes.travel: given \"600 mm\", longer than the chord (0.5 m)"),
    ("free_play: 5 mm", "free_play: 120 mm", "brakes.free_play: given \"120 mm\", eats up the whole brake travel"),
    ("start: steady", "start: velocity", "drop.velocity: given none, start: velocity needs one; add velocity: [3 m/s, 0 m/s, 1 m/s]"),
    ("start: steady", "start: rest\n  velocity: [1, 0, 0]", "drop.velocity: given [1, 0, 0], only read with start: velocity, not start: rest"),
    ('"3s: L 0.3 R 0 over 1s"', "left a bit", 'drop.brakes.0: given "left a bit", not a brake command; write "2s: L 0.3 R 0"'),
    ('"3s: L 0.3 R 0 over 1s"', "3s: L 0.3 R 0 over 1s", 'without quotes the colon makes a key of it; write it as "3s: L 0.3 R 0 over 1s"'),
    ('"3s: L 0.3 R 0 over 1s"', '"3 kg: L 0.3 R 0"', "drop.brakes.0: given \"3 kg: L 0.3 R 0\", begins with neither a time nor a height"),
    ('"3s: L 0.3 R 0 over 1s"', '"3s: L 1.3 R 0"', "drop.brakes.0.left: given \"1.3\", too large"),
    ('"3s: L 0.3 R 0 over 1s"', '"9s: L 0.3 R 0"', "drop.brakes: brake commands out of order; let each be later than the one before"),
    ("site:", "calibration: {lift_factor: 5}\nsite:", "calibration.lift_factor: given 5, out of range; use a number, 0.3 to 1.5"),
    ("site:", "calibration: {lift_factor: {value: 0.9, low: 0.95}}\nsite:", "calibration.lift_factor: given low 0.95, value 0.9, high 1, value lies outside low to high"),
    ("site:", "calibration: {lift_factor: {value: much}}\nsite:", "calibration.lift_factor.value: given \"much\", not a number"),
    ("site:", "calibration: {lift: 0.9}\nsite:", "calibration.lift: unknown key; did you mean lift_factor?"),
    # YAML
    ("payload:\n  mass", "payload:\n  joint: {}\n  mass", "heron.yaml:9: payload.joint: no longer a key: a payload that swings is what there is; remove it, or rename it to suspension"),
    ("{hooks: stiff}", "{hooks: pole}", "payload.suspension.hooks: given"),
    ("{hooks: stiff}", "{hooks: stiff, damping: 5 %}", "payload.suspension.damping: given \"5 %\", has no meaning with hooks: stiff; remove it"),
    ("{hooks: stiff}", "{height: 50 mm}", "has no meaning with hooks: one point; remove it, or write hooks: front and rear"),
    ("{hooks: stiff}", "{hooks: front and rear, front: 50 mm}", "payload.suspension.rear: missing with hooks: front and rear; write rear"),
    ("{hooks: stiff}", "{hooks: front and rear, front: -50 mm, rear: 50 mm, height: 60 mm, front_rows: [A, B]}", "the front hooks do not lie ahead of the rear ones"),
    ("  kind: rigid ", "  center_of_mass: {up: 90 mm}\n  kind: rigid ", "payload.center_of_mass.up: given \"90 mm\", lies outside the box; use -0.06 to 0.06 m"),
    ("payload:\n  mass", "payload:\n\tmass", "heron.yaml:9: a tab; indent with spaces"),
    ("name: heron", "name: heron: one", "heron.yaml:5: a second colon on the line, or wrong indentation; put text with a colon in quotes"),
    ("name: heron", "name: 'heron", "not YAML"),
    ("name: heron", "name: !!python/object/apply:os.system [ls]", "heron.yaml:5: tags (!) are not used in design files"),
    ("name: heron", "name: &x heron", "heron.yaml:5: anchors and aliases (& and *) are not used in design files; write the value out"),
    ("name: heron", "name: heron\n---\nname: wren", "holds a second document (---)"),
    ("name: heron", "? [a, b]\n: 1\nname: heron", "heron.yaml:5: a key that is no plain word"),
    ("name: heron", "name: her\x07on", "heron.yaml:5: holds a control character"),
    ("thickness: 15 %}", "thickness: %15}", "a value cannot begin with %"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("find", "put", "told"), EDITS, ids=[re.sub(r"\W+", "-", put)[:40] for _, put, _ in EDITS]
)
def test_one_clear_line(
    find: str, put: str, told: str, run: Any, reference_text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert find in reference_text
    line = reference_text[: reference_text.index(find)].count("\n") + 1
    _refused(reference_text.replace(find, put, 1).encode(), told.replace("{n}", str(line)), run, capsys)


FILES = [
    (b"", "heron.yaml: is empty; start one with \"parasim new\""),
    (b"# only a comment\n", "heron.yaml: is empty"),
    (b"- a\n- b\n", "heron.yaml:1: holds no keys at the top; begin with name: and payload:"),
    (b"just text\n", "heron.yaml:1: holds no keys at the top"),
    (b"name: \xff\xfe\n", "heron.yaml: not UTF-8 text (byte 6); save it as UTF-8"),
    ("name: heron\n".encode("utf-16"), "not UTF-8 text"),
    (b"name: a\x00b\n", "holds a control character"),
    (b"name: " + b"x" * 70_000, "heron.yaml: larger than 64 kB"),
    (b"a: " + b"[" * 5000, "heron.yaml:1: nested too deeply"),
    (b"a: &a [x]\nb: [*a, *a]\n", "anchors and aliases"),
]  # fmt: skip


@pytest.mark.parametrize(("content", "told"), FILES, ids=[told[:30] for _, told in FILES])
def test_files_that_are_no_design(
    content: bytes, told: str, run: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    _refused(content, told, run, capsys)


def test_a_missing_file_and_a_directory(run: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "heron.yaml").write_text("name: heron\n")
    assert run("probe", "herom.yaml") == 2
    assert capsys.readouterr().err == "herom.yaml: no such file; did you mean heron.yaml?\n"
    assert run("probe", tmp_path) == 2
    assert "a directory; give the path of a YAML file in it" in capsys.readouterr().err
    assert run("probe", "x" * 5000) == 2
    assert "cannot be read (File name too long)" in capsys.readouterr().err


def test_of_thousands_of_mistakes_ten_are_shown(
    run: Any, reference_text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("heron.yaml").write_text(reference_text + "".join(f"key_{i}: 1\n" for i in range(600)))
    assert run("probe", "heron.yaml") == 2
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 11
    assert told[-1] == "and 590 mistakes more"


def test_escape_sequences_are_not_echoed(run: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("probe", "--\x1b[31mred") == 2
    assert "\x1b" not in capsys.readouterr().err


def test_short_help(run: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("probe", "-h") == run("-h") == 0
    assert "Usage" in capsys.readouterr().out


def test_a_byte_order_mark_is_no_mistake(run: Any, tmp_path: Path, reference_text: str) -> None:
    (tmp_path / "heron.yaml").write_bytes(reference_text.encode("utf-8-sig"))
    assert run("probe", "heron.yaml") == 0


def test_windows_line_ends_are_no_mistake(run: Any, tmp_path: Path, reference_text: str) -> None:
    (tmp_path / "heron.yaml").write_bytes(reference_text.replace("\n", "\r\n").encode())
    assert run("probe", "heron.yaml") == 0


def _refused(content: bytes, told: str, run: Any, capsys: pytest.CaptureFixture[str]) -> None:
    Path("heron.yaml").write_bytes(content)
    assert run("probe", "heron.yaml", "--out", "out", "--json") == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert told in printed.err
    assert "Traceback" not in printed.err
    assert all(line.startswith("heron.yaml") for line in printed.err.splitlines())
    assert [path.name for path in Path().iterdir()] == ["heron.yaml"]
