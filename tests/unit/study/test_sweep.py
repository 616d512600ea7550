"""A sweep: each design is that of the single command; gaps are counted and given their reason."""

from math import sqrt

import numpy as np
import pytest

from parasim.config.variant import read_design_file
from parasim.config.variation import read_variation
from parasim.dynamics.vehicle import assemble
from parasim.errors import OptionError, SolverError
from parasim.flight.glide import headline_figures
from parasim.study.limits import read_limit
from parasim.study.sweep import sweep
from tests.conftest import REFERENCE


@pytest.fixture(scope="module")
def file(configs):
    return read_design_file(configs / "heron.yaml")


def over(file, *texts, points=3, **options):
    return sweep(file, [read_variation(text, file, points) for text in texts], **options)


def test_a_design_of_a_sweep_is_that_of_the_file_written_out(file, tmp_path):
    names = ("sink", "tuck_margin")
    result = over(file, "canopy.span=1..1.2 m", "lines.rigging_angle=3..5 deg", names=names)
    assert result.field("sink").shape == (3, 3)
    path = tmp_path / "written.yaml"
    path.write_text(file.changed_text({"canopy.span": "1.2 m", "lines.rigging_angle": "3 deg"}))
    figures = headline_figures(assemble(read_design_file(path).design()))
    assert result.field("sink")[2, 0] == figures["sink"]
    assert result.field("tuck_margin")[2, 0] == figures["tuck_margin"]
    assert result.variants[6].settings == (1.2, 3.0)


def test_sink_grows_with_the_root_of_weight(file):
    """At the same geometry and coefficients W = 1/2 rho V^2 S C_R, so all speeds go with the root of weight.

    Not exactly: Reynolds number and leakage are taken at the design's own reference airspeed, and the canopy,
    which does not grow heavier, moves the centre of mass and so the trim. Here that is under 2 % over a
    factor of two in payload.
    """
    result = over(file, "payload.mass=0.8..1.6 kg", names=("sink", "mass"))
    sink, mass = result.field("sink"), result.field("mass")
    found = np.log(sink[-1] / sink[0]) / np.log(mass[-1] / mass[0])
    assert found == pytest.approx(0.5, abs=0.03)
    assert abs(sink[-1] / sink[0] / sqrt(mass[-1] / mass[0]) - 1) < 0.02
    assert abs(found - 0.5) > 1e-4


def test_own_value_and_extremes(file):
    result = over(file, "canopy.span=0.9..1.3 m", names=("sink", "glide"))
    assert result.own == (pytest.approx(1.1),)
    assert result.smallest("sink") is result.largest("glide")
    assert result.smallest("sink").settings == (1.3,)


def test_limits_asked_for_stand_in_for_the_designs_own(file):
    result = over(file, "canopy.span=1..1.2 m", names=("sink", "glide"), limits=[read_limit("glide>=3")])
    assert [(source, limit.value) for source, limit in result.limits_on("glide")] == [("asked for", 3.0)]
    assert [(source, limit.value) for source, limit in result.limits_on("sink")] == [
        ("the design's own", 4.0)
    ]


def test_gaps_are_counted_and_given_their_reason(configs):
    wren = read_design_file(configs / "wren.yaml")
    result = over(wren, "lines.row_lengths.A=530..590 mm", names=("sink", "glide"), points=4)
    assert np.isnan(result.field("sink")).tolist() == [False, False, True, True]
    (reason, where), *others = result.gaps("glide")
    assert "the rows rig the canopy at" in reason
    assert others == []
    assert [variant.settings for variant in where] == [(570.0,), (590.0,)]
    assert all("glide" not in variant.values for variant in where)


def test_one_output_may_lack_where_another_does_not(configs, tmp_path):
    text = (configs / "wren.yaml").read_text() + "\ncalibration: {brake_drag_factor: 4, yaw_damping: -0.2}\n"
    strong = tmp_path / "wren.yaml"
    strong.write_text(text)
    wren = read_design_file(strong)
    result = over(wren, "lines.row_lengths.A=516..522 mm", names=("sink", "turn_rate"), points=2)
    assert result.gaps("sink") == ()
    (reason, where), *_ = result.gaps("turn_rate")
    assert "it spirals" in reason
    assert [variant.settings for variant in where] == [(516.0,), (522.0,)]


def test_no_figure_anywhere_is_an_error_with_its_reason():
    stiff = read_design_file(REFERENCE)
    with pytest.raises(SolverError, match=r"none of 2 designs has a figure: .*hooks: stiff"):
        over(stiff, "canopy.span=1..1.2 m", names=("payload_swing",), points=2)


def test_how_many_keys_and_designs(file):
    with pytest.raises(OptionError, match="give one or two"):
        over(file, "canopy.span=1..1.2 m", "canopy.chord=0.4..0.5 m", "payload.mass=1..2 kg")
    with pytest.raises(OptionError, match="10201 designs; use fewer points"):
        over(file, "canopy.span=1..1.2 m", "canopy.chord=0.4..0.5 m", points=101)


def test_workers_and_repetition_change_nothing(file):
    texts, options = ("canopy.span=1..1.2 m",), {"names": ("sink", "tuck_margin", "opening_load")}
    one, again, two = (over(file, *texts, **options, workers=workers) for workers in (1, 1, 2))
    for name in options["names"]:
        assert one.field(name).tolist() == again.field(name).tolist() == two.field(name).tolist()


def test_progress_is_told(file):
    told = []
    over(file, "canopy.span=1..1.2 m", names=("mass",), progress=lambda done, of: told.append((done, of)))
    assert told == [(1, 3), (2, 3), (3, 3)]
