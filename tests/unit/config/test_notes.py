"""Notes files: what they mean, and one clear line for each mistake."""

from __future__ import annotations

from math import radians
from pathlib import Path

import pytest

from parasim.config.as_built import MEASURED
from parasim.config.notes import QUANTITIES, load_notes
from parasim.errors import DesignError

NOTES = """\
errors: {stopwatch: 0.2 s}
flights:
  - name: "drop 3"
    mass: 1.25 kg
    air_density: 1.20 kg/m3
    measured:
      - {sink: 3.04 m/s, error: 0.15 m/s, left: 0 %, right: 0 %, how: "by logger"}
      - {turn_rate: 28 deg/s, error: 1 deg/s, left: 0 %, right: 50 %}
    by_hand:
      - {height_lost: 62 m, in: 20.4 s}
      - {circles: 3, in: 38 s, right: 50 %}
      - {distance: 45 m, from: 30 m, wind: 2 m/s, upwind: true}
  - name: "drop 4"
    measured:
      - {kite_pull: 6 N, error: 0.5 N, wind: 12 kt}
      - {swing_period: 2.2 s, error: 0.2 s, swing: sideways}
"""


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "notes.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_what_is_written_is_read_in_si(tmp_path: Path) -> None:
    notes = load_notes(written(tmp_path, NOTES))
    first, second = notes.flights
    assert (first.mass, first.air_density) == (1.25, 1.2)
    assert (first.measured[0].quantity, first.measured[0].value, first.measured[0].error) == (
        "sink",
        3.04,
        0.15,
    )
    turn = first.measured[1]
    assert (turn.value, turn.error, turn.right) == (radians(28), radians(1), 0.5)
    assert first.by_hand[0].time == 20.4
    assert first.by_hand[2].height == 30.0
    assert second.measured[0].wind == pytest.approx(12 * 1852 / 3600)
    assert notes.errors.stopwatch == 0.2
    assert notes.errors.height == 1.0  # the rest as stated


def test_imperial_is_as_good(tmp_path: Path) -> None:
    text = NOTES.replace("sink: 3.04 m/s, error: 0.15 m/s", "sink: 10 ft/s, error: 0.5 ft/s")
    found = load_notes(written(tmp_path, text)).flights[0].measured[0]
    assert (found.value, found.error) == (pytest.approx(3.048), pytest.approx(0.1524))


MISTAKES = [
    ("sink: 3.04 m/s", "sink: 3.04 kg", "measured.0.sink: given", "a mass; use a speed"),
    ("sink: 3.04 m/s", "sinck: 3.04 m/s", "measured.0.sinck: no such quantity", "did you mean sink?"),
    ("sink: 3.04 m/s", "colour: 3", "measured.0.colour: no such quantity", "use one of airspeed"),
    (", error: 0.15 m/s", "", "measured.0.error: missing", "add it"),
    ("error: 0.15 m/s", "error: 0.15 deg", "measured.0.error: given", "an angle; use a speed"),
    ("error: 0.15 m/s", "error: 0 m/s", "measured.0.error: given", "too small"),
    ("error: 0.15 m/s", "error: -1 m/s", "measured.0.error: given", "too small"),
    ("error: 0.15 m/s", "error: true", "measured.0.error: given true", "not a speed"),
    ("sink: 3.04 m/s", "sink: 3 m/s, airspeed: 8 m/s", "airspeed and sink", "exactly one quantity"),
    ("sink: 3.04 m/s", "brake_force: 3 N", "measured.0.brake_force: given", "write it under as_built"),
    ("sink: 3.04 m/s", "canopy_mass: 0.1 kg", "measured.0.canopy_mass: given", "write it under as_built"),
    ("turn_rate: 28 deg/s", "turn_rate: 28", "measured.1.turn_rate: given 28", "could be degrees or radians"),
    (
        "left: 0 %, right: 50 %}",
        "left: 0 %}",
        "measured.1.turn_rate: given",
        "both brakes alike make no turn",
    ),
    ("right: 50 %}", "right: 150 %}", "measured.1.right: given", "too large"),
    ("height_lost: 62 m, in: 20.4 s", "height_lost: 62 m", "by_hand.0.in: missing", "height_lost needs it"),
    ("in: 20.4 s", "on: 20.4 s", "by_hand.0.on: unknown key", "use height_lost, in"),
    ("height_lost: 62 m, ", "", "by_hand.0: neither a descent", "write height_lost and in"),
    ("circles: 3, in: 38 s, right: 50 %", "circles: 3, in: 38 s", "by_hand.1.circles", "both brakes alike"),
    ("circles: 3", "circles: 0.1", "by_hand.1.circles: given 0.1", "at least a quarter"),
    ("circles: 3", "circles: 3, from: 20 m", "by_hand.1.from", "does not go with circles"),
    ("from: 30 m, ", "", "by_hand.2.from: missing", "distance needs it"),
    ("upwind: true", "upwind: maybe", "by_hand.2.upwind", "neither true nor false"),
    ("height_lost: 62 m", "height_lost: 62 m, wind: 2 m/s", "by_hand.0.wind", "only read with distance"),
    (", wind: 12 kt", "", "measured.0.wind", "go together"),
    ("wind: 12 kt", "wind: 12 kt, right: 20 %", "kite_pull", "with the brakes released only"),
    ("swing: sideways", "swing: round", "measured.1.swing", "not a choice here"),
    ("mass: 1.25 kg", "mass: 1.25 m", "flights.0.mass: given", "a length; use a mass"),
    ("mass: 1.25 kg", "mass: 90 kg", "flights.0.mass: given", "too large"),
    ("air_density: 1.20 kg/m3", "air_density: 1.20 g/m3", "flights.0.air_density", "too small"),
    ("errors: {stopwatch: 0.2 s}", "errors: {watch: 0.2 s}", "errors.watch: unknown key", "mean stopwatch?"),
    ('name: "drop 3"', "nmae: x", "flights.0.nmae: unknown key", "did you mean name?"),
]


@pytest.mark.parametrize(("old", "new", "place", "told"), MISTAKES, ids=[one[1][:30] for one in MISTAKES])
def test_a_mistake_is_a_line(tmp_path: Path, old: str, new: str, place: str, told: str) -> None:
    assert old in NOTES
    with pytest.raises(DesignError) as caught:
        load_notes(written(tmp_path, NOTES.replace(old, new, 1)))
    lines = [line for line in str(caught.value).splitlines() if place in line]
    assert len(lines) == 1, str(caught.value)
    assert told in lines[0]
    assert lines[0].startswith("notes.yaml:")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("flights: []", "flights: nothing was measured; give flights, as_built or both"),
        ("", "empty"),
        ("flights:\n  - {name: a}", "nothing was measured"),
        ("flights:\n  - name: a\n    by_hand:\n", "by_hand"),
    ],
)
def test_nothing_filled_in_is_a_line(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(DesignError) as caught:
        load_notes(written(tmp_path, text))
    assert told in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_no_file_is_a_line(tmp_path: Path) -> None:
    with pytest.raises(DesignError, match="no such file"):
        load_notes(tmp_path / "none.yaml")


def test_quantities_come_before_the_error() -> None:
    assert QUANTITIES[0] == "airspeed"
    assert QUANTITIES[-1] == "kite_pull"


AS_BUILT = [
    ("{}", "as_built: nothing was measured"),
    ("{canopy_mass: 92 g}", 'as_built.canopy_mass: given "92 g", a weight without its error; write {mass:'),
    ("{canopy_mass: {mass: 92 g}}", "as_built.canopy_mass.error: missing"),
    ("{canopy_mass: {mass: 92 g, error: 60 g}}", 'canopy_mass.error: given "60 g", more than half'),
    ("{canopy_mass: {mass: 92 mm, error: 1 g}}", 'canopy_mass.mass: given "92 mm", a length; use a mass'),
    (
        "{canopy_mass: {mass: 92 g, error: 1 g}, finished_mass: {mass: 90 g, error: 1 g}}",
        "finished_mass.mass: given 0.09 kg, no more than the canopy without lines",
    ),
    (
        "{line_lengths: none.csv}",
        'line_lengths: given "none.csv", no such file; give its path as seen',
    ),
    ("{line_lengths: [1]}", "as_built.line_lengths: given [1], not a path"),
    ("{brake_force: [{pull: 60 mm, force: 3 N}]}", "brake_force.0.error: missing"),
    ("{brake_force: [{pull: 60 mm, force: 3 N, error: 4 N}]}", 'error: given "4 N", more than the force'),
    ("{brake_force: 3 N}", 'as_built.brake_force: given "3 N", not a list'),
    ("{cloth_mass: 3 g}", "as_built.cloth_mass: unknown key"),
]


@pytest.mark.parametrize(("block", "said"), AS_BUILT, ids=[one[0][:40] for one in AS_BUILT])
def test_a_mistake_on_the_ground_is_a_line(tmp_path: Path, block: str, said: str) -> None:
    with pytest.raises(DesignError) as caught:
        load_notes(written(tmp_path, f"as_built: {block}"))
    assert len(str(caught.value).splitlines()) == 1, str(caught.value)
    assert said in str(caught.value)


ODD = ["null", "[]", "{}", "-1", "1e400", ".nan", "true", '"\\0"', "2 N", "{mass: {}}"]


@pytest.mark.parametrize("value", ODD)
def test_no_value_on_the_ground_breaks_the_reader(tmp_path: Path, value: str) -> None:
    """Whatever stands under a key of as_built, it is read or refused in lines."""
    for key in (*MEASURED, "line_error"):
        for given in (value, f"[{value}]", f"{{mass: {value}, error: 1 g}}"):
            said = ""
            try:
                load_notes(written(tmp_path, f"as_built: {{{key}: {given}}}"))
            except DesignError as error:
                said = str(error)
            assert all(line.startswith("notes.yaml") for line in said.splitlines())


def test_a_flight_without_a_name_is_called_like_its_file(tmp_path: Path) -> None:
    one = "  - by_hand: [{height_lost: 62 m, in: 20.4 s}]\n"
    assert [each.name for each in load_notes(written(tmp_path, f"flights:\n{one}")).flights] == ["notes"]
    three = f"flights:\n{one}{one.replace('- by_hand', '- name: third drop' + chr(10) + '    by_hand')}{one}"
    names = [each.name for each in load_notes(written(tmp_path, three)).flights]
    assert names == ["notes 1", "third drop", "notes 3"]
