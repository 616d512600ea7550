"""Edits of a design without a browser: checked, undone, saved."""

from pathlib import Path

import numpy as np
import pytest

from parasim.config.loader import load_design
from parasim.dynamics.vehicle import assemble
from parasim.errors import OptionError, OutputError
from parasim.flight.glide import headline_figures
from parasim.flight.landing import flying_figures, landing_figures
from parasim.page.board import BAND_STALE, STALE, Board
from parasim.page.figures import answer, quick
from parasim.page.knobs import knobs
from parasim.page.trial import Trial
from parasim.report.summary import scale
from tests.conftest import CONFIGS, REFERENCE


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A copy of heron."""
    copy = tmp_path / "heron.yaml"
    copy.write_bytes((CONFIGS / "heron.yaml").read_bytes())
    return copy


@pytest.fixture
def trial(path: Path) -> Trial:
    return Trial(path)


def test_edit_undo_redo(trial: Trial) -> None:
    assert trial.set("canopy.span", "48 in")
    assert trial.built.canopy.span == pytest.approx(1.2192)
    assert trial.undo()
    assert trial.built.canopy.span == 1.1
    assert not trial.undo()
    assert trial.redo()
    assert trial.built.canopy.span == pytest.approx(1.2192)
    assert not trial.redo()


def test_a_new_edit_ends_what_could_be_redone(trial: Trial) -> None:
    trial.set("canopy.span", "1.2 m")
    trial.undo()
    trial.set("canopy.chord", "0.52 m")
    assert not trial.can_redo


def test_a_stroke_is_one_step(trial: Trial) -> None:
    for k in range(5):
        trial.set("canopy.span", f"{1.1 + 0.01 * k} m", stroke="drag 1")
    trial.set("canopy.chord", "0.52 m", stroke="drag 2")
    trial.undo()
    assert trial.built.canopy.span == pytest.approx(1.14)
    trial.undo()
    assert trial.built.canopy.span == 1.1
    assert not trial.can_undo


@pytest.mark.parametrize(
    ("key", "text", "says"),
    [
        ("canopy.span", "9 m", 'canopy.span: given "9 m", too large; use 0.2 to 5 m'),
        ("payload.mass", "2 m", 'a length; use a mass such as "1.2 kg" or "2.5 lb"'),
        ("lines.rigging_angle", "3", "could be degrees or radians"),
        ("canopy.inlet.height", "19 %", "use an inlet lower than the rib is thick"),
        ("canopy.span", "", "not a length"),
        ("lines.rows.A", "1 %", "lies in the inlet"),
    ],
)
def test_what_the_specs_refuse_is_said_and_not_taken(trial: Trial, key: str, text: str, says: str) -> None:
    before = trial.built
    assert not trial.set(key, text)
    given, message = trial.refused[key]
    assert given == text
    assert says in message
    assert "\n" not in message
    assert "heron.yaml" not in message
    assert trial.built is before
    assert not trial.can_undo
    assert trial.set("canopy.chord", "0.51 m")
    assert key in trial.refused  # what was typed stays in its field
    trial.undo()
    assert not trial.refused


def test_a_refusal_calls_the_key_as_the_page_does(trial: Trial) -> None:
    assert not trial.set("canopy.span", "9 m", words="span")
    assert trial.refused["canopy.span"][1].startswith('span: given "9 m", too large')


def test_the_name_that_is_offered_is_free(trial: Trial, tmp_path: Path) -> None:
    assert trial.free_name(tmp_path / "new") == "heron_2"
    trial.save("heron_2", tmp_path / "new")
    (tmp_path / "new" / "heron_3.yml").touch()
    assert trial.free_name(tmp_path / "new") == "heron_4"
    assert Trial(tmp_path / "new" / "heron_2.yaml").free_name(tmp_path / "new") == "heron_4"


def test_saved_file_keeps_comments_and_is_never_overwritten(trial: Trial, path: Path, tmp_path: Path) -> None:
    trial.set("canopy.span", "1.2 m")
    trial.set("lines.rigging_angle", "1.5 deg")
    saved = trial.save("heron wide", tmp_path / "new")
    assert saved == tmp_path / "new" / "heron wide.yaml"
    text = saved.read_text(encoding="utf-8")
    for line in path.read_text(encoding="utf-8").splitlines():
        assert line.partition("#")[2] in text
    again = load_design(saved)
    assert (again.name, again.canopy.span) == ("heron wide", 1.2)
    assert np.degrees(again.lines.rigging_angle) == pytest.approx(1.5)
    with pytest.raises(OutputError, match="already there; give another name"):
        trial.save("heron wide.yaml", tmp_path / "new")
    assert saved.read_text(encoding="utf-8") == text
    assert [each.name for each in (tmp_path / "new").iterdir()] == ["heron wide.yaml"]


@pytest.mark.parametrize("name", ["", "../out", "/etc/x", "a/b", ".hidden", "x" * 80])
def test_no_way_out_of_the_folder(trial: Trial, tmp_path: Path, name: str) -> None:
    with pytest.raises(OptionError, match="not a plain name"):
        trial.save(name, tmp_path)
    assert [each.name for each in tmp_path.iterdir()] == ["heron.yaml"]


def test_a_link_is_not_written_through(trial: Trial, tmp_path: Path) -> None:
    (tmp_path / "link.yaml").symlink_to(tmp_path / "elsewhere.yaml")
    with pytest.raises(OutputError, match="already there"):
        trial.save("link", tmp_path)
    assert not (tmp_path / "elsewhere.yaml").exists()


def test_news_of_the_file(trial: Trial, path: Path) -> None:
    assert not trial.news()
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("span: 1.10 m", "span: 1.30 m"), encoding="utf-8")
    assert trial.news() == "changed"
    assert not trial.news()  # said once
    assert trial.built.canopy.span == 1.1
    trial.set("canopy.chord", "0.52 m")
    trial.reload()
    assert (trial.built.canopy.span, trial.built.canopy.root_chord) == (1.3, 0.5)
    assert not trial.can_undo
    path.unlink()
    assert trial.news() == "gone"


def test_quick_figures_are_those_of_the_commands() -> None:
    """Against the functions that `parasim glide` and `parasim landing` ask, to the last digit shown."""
    vehicle = assemble(load_design(REFERENCE))
    found = flying_figures(vehicle)
    for name, value in {**headline_figures(vehicle), **landing_figures(vehicle)}.items():
        assert found[name] == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize("name", ["heron", "dipper", "kingfisher", "pelican", "wren"])
def test_handles_move_as_they_say(name: str) -> None:
    """A knob's `along`, against where the handle is after a small change of its key; a third of its way is
    left for what `along` makes simple (hooks that turn the payload, row lengths that turn the canopy)."""
    trial = Trial(CONFIGS / f"{name}.yaml")
    for knob in knobs(trial.built):
        step = 0.01 * max(abs(knob.value), 0.2)
        unit = {"mass": "kg", "angle": "rad"}.get(knob.kind, "" if knob.kind == "percent" else "m")
        assert trial.set(knob.key, f"{knob.value + step:.6f} {unit}"), trial.refused
        (moved,) = (each for each in knobs(trial.built) if each.key == knob.key)
        trial.undo()
        if knob.key == "payload.suspension.height":
            continue  # the box moves, its handle by half its way
        way = (moved.place - knob.place) / step
        assert way @ knob.along > 0.3 * np.linalg.norm(way) * np.linalg.norm(knob.along), knob.key


def test_knobs_show_what_can_be_read_again() -> None:
    for units in ("metric", "imperial"):
        trial = Trial(CONFIGS / "dipper.yaml")
        for knob in knobs(trial.built):
            assert trial.set(knob.key, knob.text(knob.value, units)), trial.refused  # type: ignore[arg-type]


def test_board_says_what_is_stale(trial: Trial) -> None:
    board, found = Board(), quick(trial.built.design)
    board.quick(found)
    assert set(board.stale.values()) == {BAND_STALE}
    board.take("bands", found)
    assert not board.stale
    board.mark()
    board.outdate()
    assert set(board.stale.values()) == {STALE}
    assert "stale" in board.html("metric")
    board.take("bands", found[1:])
    assert found[0].name not in board.rulers


def test_answer_has_the_digits_of_glide(trial: Trial) -> None:
    found = quick(trial.built.design)
    assert answer(found, "metric").startswith("glides 4.0 to 1 with the brakes released, sinks 1.92 m/s")
    assert "6.3 ft/s" in answer(found, "imperial")


def test_ghost_lies_on_the_ruler(trial: Trial) -> None:
    ruler = quick(trial.built.design)[1]
    marked = scale(ruler, "metric", before=2 * ruler.value)
    assert marked.before == pytest.approx(2 * marked.value, abs=0.02)
    assert scale(ruler, "metric").before is None
