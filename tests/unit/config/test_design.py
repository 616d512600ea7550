"""A design: values in SI, defaults, cross-checks, guard rails, overrides."""

import copy
import math
import pickle
from pathlib import Path
from typing import Any

import pytest

from parasim.config.design import Design
from parasim.config.loader import design_document, load_design, override, parse_design
from parasim.errors import DesignError

DEMOS = ["heron", "wren", "pelican", "dipper", "kingfisher"]


def test_heron_is_read_in_si(reference: Design) -> None:
    assert reference.payload.mass == 1.2
    assert reference.payload.size == (0.22, 0.12, 0.12)
    assert reference.canopy.flat_area == pytest.approx(0.55)
    assert reference.canopy.aspect_ratio == pytest.approx(2.2)
    assert reference.canopy.airfoil.thickness == pytest.approx(0.15)
    assert reference.canopy.cloth.areal_weight == pytest.approx(0.040)
    assert reference.lines.diameter == pytest.approx(0.8e-3)
    assert reference.lines.cascades[0].load == pytest.approx((0.6, 0.4))
    assert list(reference.lines.rows) == ["A", "B", "C", "D"]
    assert reference.site.wind is not None
    assert reference.site.wind.from_direction == pytest.approx(1.5 * math.pi)
    assert reference.drop.brakes[0].at_time == 3.0
    assert reference.drop.brakes[0].left == 0.3
    assert reference.drop.brakes[0].over == 1.0


@pytest.mark.parametrize("name", DEMOS)
def test_demonstration_designs_load(configs: Path, name: str) -> None:
    design = load_design(configs / f"{name}.yaml")
    assert design.name == name
    assert "invented" in (configs / f"{name}.yaml").read_text()


def test_a_plain_design_has_no_warnings(reference: Design) -> None:
    assert reference.warnings() == ()


@pytest.mark.parametrize("name", DEMOS)
def test_a_design_survives_being_written_copied_and_pickled(configs: Path, name: str) -> None:
    design = load_design(configs / f"{name}.yaml")
    assert Design.model_validate(design_document(design)) == design
    assert pickle.loads(pickle.dumps(design)) == design
    assert copy.deepcopy(design) == design


def test_a_design_cannot_be_edited_in_place(reference: Design) -> None:
    with pytest.raises(ValueError, match="frozen"):
        reference.payload.mass = 2.0


def test_minimal_design_takes_its_defaults(configs: Path) -> None:
    wren = load_design(configs / "wren.yaml")
    assert wren.payload.drag_area_or_default == pytest.approx(0.8 * 0.09 * 0.14)
    assert wren.canopy.half_cells_or_default == 10
    assert wren.canopy.taper == 1.0
    assert wren.calibration.lift_factor.value == 0.92
    assert wren.inlet_drag_factor.value == 0.1
    assert wren.site.sea_level_pressure == 101325.0
    assert wren.site.ground_height == 0.0
    assert wren.arc_radius is None


def test_calibration_is_a_number_or_a_range(reference: Design) -> None:
    near = override(reference, {"calibration.lift_factor": 0.85}).calibration.lift_factor
    assert (near.value, near.low, near.high) == (0.85, 0.8, 1.0)
    far = override(reference, {"calibration.lift_factor": 0.7}).calibration.lift_factor
    assert (far.value, far.low, far.high) == (0.7, 0.7, 1.0)
    full = override(reference, {"calibration.roll_damping": {"value": -0.3, "low": -0.4, "high": -0.2}})
    assert full.calibration.roll_damping.low == -0.4
    inlet = override(reference, {"calibration.inlet_drag_factor": 0.2}).inlet_drag_factor
    assert (inlet.value, inlet.low, inlet.high) == pytest.approx((0.2, 0.1, 0.3))
    assert override(reference, {"canopy.inlet.kind": "open"}).inlet_drag_factor.value == 0.5


RAILS = [
    ({"payload.mass": "0.15 kg"}, "mass: 0.150 kg is under"),
    ({"payload.mass": "7 kg"}, "mass: 7.000 kg is over"),
    ({"canopy.span": "0.38 m", "canopy.chord": "0.24 m", "canopy.arc_radius": "0.3 m"},
     "flat area: 0.091 m²"),
    ({"canopy.span": "2.2 m", "canopy.chord": "1 m", "canopy.arc_radius": "1.5 m", "payload.mass": "4 kg"},
     "flat area: 2.200 m²"),
    ({"payload.mass": "0.3 kg"}, "wing loading by the payload alone: 5.3 N/m² is under"),
    ({"payload.mass": "2.5 kg"}, "wing loading by the payload alone: 44.6 N/m² is over"),
    ({"canopy.span": "0.7 m", "canopy.chord": "0.6 m"}, "aspect ratio: 1.17 is under"),
    ({"canopy.span": "1.4 m"}, "aspect ratio: 2.8 is over the usual 2.5"),
    ({"canopy.span": "2.1 m"}, "aspect ratio: 4.2 is over the usual 4"),
    ({"canopy.cells": 13, "canopy.half_cells": 26}, "cells: 13 is over"),
    ({"canopy.cells": 3, "canopy.half_cells": 6}, "cells: 3 is under"),
    ({"canopy.airfoil.thickness": "8 %"}, "airfoil thickness: 8 % is under"),
    ({"canopy.airfoil.thickness": "22 %"}, "airfoil thickness: 22 % is over"),
    ({"canopy.arc_radius": "0.5 m"}, "arc radius: 0.455 spans is under"),
    ({"canopy.arc_radius": "2 m"}, "arc radius: 1.82 spans is over"),
    ({"lines.rigging_angle": "-6 deg"}, "rigging angle: -6 deg is under"),
    ({"lines.rigging_angle": "13 deg"}, "rigging angle: 13 deg is over"),
    ({"lines.diameter": "0.2 mm"}, "line diameter: 0.2 mm is under"),
    ({"lines.diameter": "2 mm"}, "line diameter: 2 mm is over"),
    ({"brakes.travel": "60 mm"}, "brake travel: 12 % of the chord is under"),
    ({"brakes.travel": "200 mm"}, "brake travel: 40 % of the chord is over"),
    ({"brakes.free_play": "4 mm"}, "free play: 0.8 % of the mean chord is under"),
    ({"canopy.cloth.areal_weight": "70 g/m^2"}, "cloth weight: 70.0 g/m² is over"),
    ({"canopy.cloth.permeability": "12 ft^3/min/ft^2"}, "cloth permeability: 61.0 mm/s is over"),
    ({"calibration.lift_factor": 0.7}, "calibration lift_factor: 0.7 is outside"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "begins"), RAILS, ids=[text.partition(" is")[0] for _, text in RAILS])
def test_guard_rails_warn_by_name(reference: Design, changes: dict[str, object], begins: str) -> None:
    warnings = override(reference, changes).warnings()
    assert any(warning.startswith(begins) for warning in warnings), warnings


def test_free_play_left_out_is_two_per_cent_of_the_mean_chord(reference: Design) -> None:
    """And so does not warn; by hand 2 % of (0.5 + 0.4) / 2 m."""
    design = override(reference, {"brakes.free_play": None, "canopy.taper": 0.8})
    assert design.free_play == pytest.approx(0.009)
    assert not any("free play" in warning for warning in design.warnings())


def test_free_play_left_out_may_eat_up_the_travel(reference: Design) -> None:
    with pytest.raises(
        DesignError, match=r"brakes.free_play: left out, so 2 % of the mean chord: it eats up"
    ):
        override(reference, {"brakes.free_play": None, "brakes.travel": "9 mm"})


def test_guard_rails_speak_both_systems(reference: Design) -> None:
    design = override(reference, {"payload.mass": "7 kg", "canopy.cloth.permeability": "12 ft^3/min/ft^2"})
    said = "\n".join(warning.said("imperial") for warning in design.warnings())
    assert "mass: 15.43 lb is over the usual 13.23 lb" in said
    assert "cloth permeability: 12.00 cfm/ft² is over the usual 10.00 cfm/ft²" in said
    assert {warning.about for warning in design.warnings()} == {"payload", "flight", "cloth"}


def test_what_prints_like_its_limit_is_no_warning(reference: Design) -> None:
    changes = {"lines.diameter": "1.504 mm", "canopy.cloth.areal_weight": "60.03 g/m^2"}
    assert override(reference, changes).warnings() == ()
    design = override(reference, {"lines.diameter": "1.51 mm"})
    assert design.warnings() == ("line diameter: 1.51 mm is over the usual 1.5 mm",)


def test_every_rail_limit_is_itself_allowed(reference: Design) -> None:
    at_limits = {"lines.rigging_angle": "8 deg", "lines.diameter": "1.5 mm", "brakes.free_play": "5 mm",
                 "canopy.cloth.areal_weight": "60 g/m^2", "canopy.cloth.permeability": "10 cfm/ft^2",
                 "canopy.airfoil.thickness": "20 %", "brakes.travel": "175 mm", "canopy.cells": 11,
                 "canopy.half_cells": 11}  # fmt: skip
    assert override(reference, at_limits).warnings() == ()


class TestOverride:
    """A checked copy by dotted key."""

    def test_changes_one_value_and_leaves_the_rest(self, reference: Design) -> None:
        changed = override(reference, {"lines.rigging_angle": "7 deg"})
        assert changed.lines.rigging_angle == pytest.approx(math.radians(7))
        assert changed.canopy == reference.canopy
        assert reference.lines.rigging_angle == pytest.approx(math.radians(6))

    def test_reaches_into_lists_and_sections_left_out(self, reference: Design) -> None:
        assert override(reference, {"lines.cascades.1.height": "70 %"}).lines.cascades[
            1
        ].height == pytest.approx(0.7)
        assert override(
            reference, {"canopy.stabilisers": {"height": "6 cm", "chord": "60 %"}}
        ).canopy.stabilisers
        assert override(reference, {"site.wind": None}).site.wind is None
        assert override(reference, {"site.wind.from": "90 deg"}).site.wind.from_direction == pytest.approx(
            math.pi / 2
        )
        assert override(reference, {"calibration.extra_drag": 0.005}).calibration.extra_drag.value == 0.005

    def test_takes_file_to_wind_from_another_way(self, reference: Design) -> None:
        brakes = ["1s: L 10% R 20 %", "5 s: L 0 R 0", "20m: L 0.8 R 0.8 over 0.5 s"]
        commands = override(reference, {"drop.brakes": brakes}).drop.brakes
        assert commands[0].right == pytest.approx(0.2)
        assert commands[2].at_height == 20.0
        assert commands[2].at_time is None
        assert commands[2].over == 0.5

    @pytest.mark.parametrize(
        ("changes", "message"),
        [
            ({"lines.riging_angle": "7 deg"}, "lines.riging_angle: unknown key; did you mean rigging_angle?"),
            ({"payload.mass.value": 3}, "payload.mass.value: no such key; mass has no keys below it"),
            ({"lines.cascades.7.height": "60 %"}, "lines.cascades.7.height: no such key"),
            ({"lines.cascades.7": None}, "lines.cascades.7: no such entry; the list has 2 entries"),
            ({"payload.mass": "5 m"}, 'payload.mass: given "5 m", a length; use a mass such as'),
            ({"payload.mass": None}, "payload.mass: missing; add it, such as mass: 1.2 kg"),
            ({"lines.rigging_angle": 7}, "lines.rigging_angle: given 7, an angle without its unit"),
        ],
    )
    def test_refuses_like_the_loader(self, reference: Design, changes: dict[str, Any], message: str) -> None:
        with pytest.raises(DesignError) as caught:
            override(reference, changes)
        assert message in str(caught.value)


def test_a_coordinate_file_is_looked_for_beside_the_design(tmp_path: Path, reference_text: str) -> None:
    line = "airfoil: {family: flat-bottomed, thickness: 15 %}"
    text = reference_text.replace(line, "airfoil: {coordinates: section.dat}")
    assert text != reference_text
    (tmp_path / "heron.yaml").write_text(text)
    with pytest.raises(DesignError, match=r"coordinates: given \"section.dat\", no such file"):
        load_design(tmp_path / "heron.yaml")
    (tmp_path / "section.dat").write_text("1 0\n0 0\n1 0\n")
    design = load_design(tmp_path / "heron.yaml")
    assert design.canopy.airfoil.coordinates == (tmp_path / "section.dat").absolute()
    assert override(design, {}).canopy == design.canopy


def test_every_mistake_is_told_in_the_order_of_the_file(reference_text: str) -> None:
    text = reference_text.replace("mass: 1.2 kg", "mass: 1.2 m").replace("travel: 120 mm", "travle: 120 mm")
    with pytest.raises(DesignError) as caught:
        parse_design(text, name="heron.yaml")
    keys = [mistake.key for mistake in caught.value.mistakes]
    assert keys == ["payload.mass", "brakes.travel", "brakes.travle"]
    assert "did you mean travel?" in str(caught.value)
    assert pickle.loads(pickle.dumps(caught.value)).mistakes == caught.value.mistakes


def test_a_design_is_looked_for_in_configs_too(tmp_path: Path) -> None:
    (tmp_path / "configs").mkdir()
    (tmp_path / "configs" / "heron.yaml").write_text("")
    (tmp_path / "n.yaml").write_text("")
    with pytest.raises(DesignError, match=r"no such file; did you mean .*configs/heron.yaml\?"):
        load_design(tmp_path / "herron.yaml")
