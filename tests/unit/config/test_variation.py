"""What a person may vary, and how the file is changed."""

import pytest

from parasim.config.keys import all_keys, look_up, near_keys
from parasim.config.loader import parse_design
from parasim.config.variant import DesignFile, read_design_file
from parasim.config.variation import check_together, read_variation
from parasim.errors import DesignError, OptionError


@pytest.fixture(scope="module")
def file(configs) -> DesignFile:
    return read_design_file(configs / "heron.yaml")


READ = [
    ("canopy.span=0.9..1.3 m", (0.9, 1.0, 1.1, 1.2, 1.3), ("0.9 m", "1 m", "1.1 m", "1.2 m", "1.3 m")),
    ("canopy.span = 40 in..44 in", (40, 41, 42, 43, 44), ("40 in", "41 in", "42 in", "43 in", "44 in")),
    ("canopy.span=1.2, 0.9,1 m", (0.9, 1.0, 1.2), ("0.9 m", "1 m", "1.2 m")),
    ("canopy.span=1,1.2", (1.0, 1.2), (1.0, 1.2)),
    ("canopy.cells=5..9", (5, 6, 7, 8, 9), (5, 6, 7, 8, 9)),
    ("brakes.branches=2,4", (2, 4), (2, 4)),
    ("canopy.airfoil.family=reflexed,symmetric", (0, 1), ("reflexed", "symmetric")),
    ("opening.slider=false,true", (0, 1), (False, True)),
    ("canopy.airfoil.thickness=12,15 %", (12, 15), ("12 %", "15 %")),
    ("lines.rows.B=30,40 %", (30, 40), ("30 %", "40 %")),
    ("lines.cascades.0.height=50,60 %", (50, 60), ("50 %", "60 %")),
    ("payload.size.1=0.1,0.2 m", (0.1, 0.2), ("0.1 m", "0.2 m")),
    ("calibration.lift_factor=0.8,0.9", (0.8, 0.9), (0.8, 0.9)),
]


@pytest.mark.parametrize(("text", "numbers", "written"), READ, ids=[row[0] for row in READ])
def test_values_are_written_as_a_person_would(text, numbers, written, file):
    variation = read_variation(text, file, 5)
    assert variation.numbers == pytest.approx(numbers)
    assert variation.written == written


REFUSED = [
    ("canopy.spam=1..2 m", 'given "canopy.spam", no such key; did you mean canopy.span?'),
    ("span=1..2 m", "did you mean canopy.span?"),
    ("canopy.span", "not a key and its values"),
    ("canopy.span=", "not a key and its values"),
    ("canopy.span=wide", "not numbers"),
    ("canopy.span=1..2..3 m", "not numbers"),
    ("canopy.span=2..1 m", "the range does not rise"),
    ("canopy.span=1 m", "values: 1; give 2 to 101"),
    ("canopy.span=40 in..2 m", "more than one unit"),
    ("canopy.span=1..9 m", '--vary canopy.span: given "9 m", too large; use 0.2 to 5 m'),
    ("canopy.span=1..2 kg", "a mass; use a length"),
    ("lines.rigging_angle=3..9", "an angle without its unit"),
    ("canopy.cells=5..9 m", "a count has no unit"),
    ("canopy.cells=5.5,7", "not a whole number in range"),
    ("canopy.airfoil.family=round,reflexed", "not a choice here; use flat-bottomed, reflexed"),
    ("canopy.airfoil=1,2", "not a single value; vary canopy.airfoil.family"),
    ("name=a,b", "not a single value"),
    ("lines.cascades.7.height=40..50 %", "heron.yaml has no such entry"),
    ("lines.row_lengths.A=500..520 mm", "fixes the rigging by lines.length and lines.rigging_angle"),
    ("canopy\x1b.spam=1..2 m", "no such key"),
]


@pytest.mark.parametrize(("text", "told"), REFUSED, ids=[repr(row[0]) for row in REFUSED])
def test_refusals_are_one_line_and_say_how_to_mend(text, told, file):
    with pytest.raises(OptionError) as caught:
        read_variation(text, file, 5)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)
    assert "\x1b" not in str(caught.value)
    assert str(caught.value).startswith("--vary")


def test_rigging_against_row_lengths_is_told_plainly(configs):
    wren = read_design_file(configs / "wren.yaml")
    with pytest.raises(OptionError, match=r"wren\.yaml fixes the rigging by lines\.row_lengths; vary lines"):
        read_variation("lines.rigging_angle=3..9 deg", wren, 5)
    with pytest.raises(OptionError, match="gives the row lengths A, C; vary one of them"):
        read_variation("lines.row_lengths.B=500..520 mm", wren, 5)
    assert read_variation("lines.row_lengths.A=510..520 mm", wren, 2).written == ("510 mm", "520 mm")


def test_a_key_that_contradicts_another_says_which(file):
    cells = read_variation("canopy.cells=5..6", file, 2)
    with pytest.raises(OptionError, match=r"canopy\.half_cells: given 14, the canopy has 5 cells; .*leave"):
        check_together(file, [cells])
    span = read_variation("canopy.span=1..1.2 m", file, 2)
    with pytest.raises(OptionError, match="given twice"):
        check_together(file, [span, span])


@pytest.mark.parametrize("name", ["heron", "wren", "pelican", "dipper", "kingfisher"])
@pytest.mark.parametrize(
    "changes",
    [
        {"canopy.span": "1.2 m"},
        {"lines.rows.A": "11 %", "payload.size.1": "0.13 m"},
        {"calibration.lift_factor": 0.9, "opening.slider": True},
        {"canopy.taper": 0.9, "landing.stop_distance": "20 mm"},
    ],
    ids=lambda changes: ",".join(changes),
)
def test_changed_text_is_the_changed_design_and_keeps_comments(name, changes, configs):
    file = read_design_file(configs / f"{name}.yaml")
    text = file.changed_text(changes)
    assert parse_design(text) == file.design(changes)
    comments = [line for line in file.text.splitlines() if line.startswith("#")]
    assert [line for line in text.splitlines() if line.startswith("#")] == comments
    assert file.design() != file.design(changes)
    assert file.text == (configs / f"{name}.yaml").read_text()


def test_a_number_with_its_range_is_varied_by_its_value(configs):
    pelican = read_design_file(configs / "pelican.yaml")
    variation = read_variation("calibration.roughness_drag=0.004,0.006", pelican, 2)
    assert variation.key == "calibration.roughness_drag.value"
    assert variation.own(pelican) == pytest.approx(0.005)
    found = pelican.design({variation.key: 0.006}).calibration.roughness_drag
    assert (found.value, found.high) == (0.006, 0.008)


def test_a_coordinate_file_is_found_from_anywhere(configs, tmp_path):
    text = (configs / "heron.yaml").read_text()
    path = tmp_path / "own.yaml"
    path.write_text(text.replace("{family: flat-bottomed, thickness: 15 %}", "{coordinates: own.dat}"))
    (tmp_path / "own.dat").write_text("own\n1 0\n0.5 0.08\n0 0\n0.5 -0.03\n1 0\n")
    changed = read_design_file(path).changed_text({"canopy.span": "1.2 m"})
    assert str(tmp_path / "own.dat") in changed
    assert parse_design(changed).canopy.airfoil.coordinates == tmp_path / "own.dat"


def test_own_value_in_the_unit_that_was_written(file):
    assert read_variation("canopy.span=40..50 in", file, 2).own(file) == pytest.approx(1.1 / 0.0254)
    assert read_variation("canopy.taper=0.8..1", file, 2).own(file) is None
    assert read_variation("canopy.airfoil.family=symmetric,flat-bottomed", file, 2).own(file) == 1.0


def test_search_takes_decimal_steps(file):
    variation = read_variation("canopy.span=0.9..1.4 m", file, 2)
    assert variation.step == 1e-3
    assert variation.write(variation.rounded(1.23456)) == "1.235 m"
    assert variation.rounded(2.0) == 1.4
    assert read_variation("brakes.branches=2..6", file, 2).rounded(3.4) == 3.0


def test_every_single_value_can_be_looked_up():
    """Each is a number, a word, a list or free text; none is unknown."""
    keys = list(all_keys())
    assert len(keys) > 90
    assert [key for key in keys if not look_up(key)[0]] == []
    takes_nothing = {key for key in keys if look_up(key)[1] is None and not look_up(key)[2]}
    spreads = {key for key in keys if key.startswith("scatter.") and key.count(".") == 1} - {
        "scatter.unopened"
    }
    assert takes_nothing == spreads | {
        "name", "description", "payload.size", "canopy.airfoil.coordinates", "lines.row_lengths",
        "lines.rows", "lines.cascades", "payload.suspension.front_rows", "brakes.shares",
        "brakes.ring.friction", "brakes.ring.guide", "canopy.stabilisers.rows",
        "canopy.stabilisers.front_rows",
        "drop.velocity", "drop.brakes",
        "site.wind.table", "packing.tray", "packing.bag_box", "site.position", "calibration.correlations",
    }  # fmt: skip


def test_near_keys_are_few_and_real():
    assert near_keys("canopy.spam") == ["canopy.span"]
    assert near_keys("mass") == ["payload.mass"]
    assert set(near_keys("rigging")) <= set(all_keys())
    assert near_keys("zzz") == []


def test_a_missing_file_is_refused(tmp_path):
    with pytest.raises(DesignError, match="no such file"):
        read_design_file(tmp_path / "none.yaml")
