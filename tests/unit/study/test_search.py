"""The search for the best design against brute force, and what it says of its answer."""

import numpy as np
import pytest

from parasim.config.loader import load_design
from parasim.config.variant import read_design_file
from parasim.config.variation import read_variation
from parasim.errors import OptionError, SolverError
from parasim.report.search import best_file, headline
from parasim.study.limits import read_limit
from parasim.study.search import search
from parasim.study.sweep import sweep
from tests.conftest import REFERENCE

pytestmark = pytest.mark.slow

RANGES = ("canopy.span=0.9..1.4 m", "lines.rigging_angle=-3..3 deg")
LIMITS = ("area<=0.6 m^2", "stall_margin>=15 deg")


@pytest.fixture(scope="module")
def file(configs):
    return read_design_file(configs / "heron.yaml")


def optimiser(file, texts=RANGES, *, goal="glide", minimum=False, limits=LIMITS, **options):
    variations = [read_variation(text, file, 9) for text in texts]
    return search(
        file, variations, goal=goal, minimum=minimum, limits=[read_limit(t) for t in limits], **options
    )


@pytest.fixture(scope="module")
def found(file):
    return optimiser(file, evaluations=160)


def test_as_good_as_brute_force_on_a_grid(file, found):
    grid = sweep(
        file, [read_variation(text, file, 11) for text in RANGES], names=("glide", "area", "stall_margin")
    )
    kept = (grid.field("area") <= 0.6) & (grid.field("stall_margin") >= np.radians(15))
    best = float(grid.field("glide")[kept].max())
    assert found.best is not None
    assert found.best.value("glide") >= best - 1e-9
    assert found.best.value("glide") < best * 1.03  # the grid is fine enough to come near


def test_it_keeps_its_limits_and_says_which_bind(found):
    assert all(limit.kept(found.best.value(limit.name)) for limit in found.limits)
    assert [limit.name for limit in found.binding] == ["area", "stall_margin"]
    assert found.edges == {}


def test_never_worse_than_the_design_as_it_is(file):
    result = optimiser(file, limits=(), evaluations=20)
    assert result.best.value("glide") >= result.as_designed.value("glide")


def test_the_written_file_loads_and_flies_so(found, tmp_path, file):
    path = tmp_path / "best.yaml"
    path.write_text(best_file(found))
    assert load_design(path) == found.design
    again = sweep(
        read_design_file(path), [read_variation("payload.mass=1.2,1.3 kg", file, 2)], names=("glide",)
    )
    assert again.field("glide")[0] == found.best.value("glide")
    assert file.text == (file.directory / "heron.yaml").read_text()


def test_edge_of_the_range_is_told(file):
    result = optimiser(file, ("canopy.span=0.9..1.2 m",), limits=(), evaluations=30)
    assert result.edges == {"canopy.span": "high"}


def test_flat_and_idle_keys(file):
    result = optimiser(
        file, ("canopy.span=1.05..1.1 m", "brakes.travel=100..140 mm"), goal="sink", minimum=True, limits=(),
        evaluations=40,
    )  # fmt: skip
    assert result.idle_keys == ("brakes.travel",)
    assert result.best.settings[1] == 126.0  # as the file has it
    assert result.flat_keys == ("canopy.span",)  # 5 cm are worth less than 2 % around there
    low, high = result.good_ranges[0]
    values = [v.value("sink") for v in result.good]
    assert max(values) <= 1.02 * min(values)
    assert high == 1.1
    assert low < 1.09


def test_nothing_feasible_names_the_limit_furthest_from_being_kept(file):
    result = optimiser(
        file, ("canopy.span=0.9..1.2 m",), limits=("glide>=5", "sink<=2.5 m/s"), evaluations=30
    )
    assert result.best is None
    assert result.furthest.name == "glide"
    assert result.good == ()
    assert result.reached(result.limits[1]) < 2.6
    assert "furthest from being kept is glide >= 5.00: 4.27" in headline(result, "metric")


def test_designs_that_fail_do_not_stop_it(configs):
    wren = read_design_file(configs / "wren.yaml")
    result = optimiser(
        wren, ("lines.row_lengths.A=515..570 mm",), goal="sink", minimum=True, limits=("tuck_margin>=1 deg",),
        evaluations=40,
    )  # fmt: skip
    assert result.failed
    assert all(variant.reasons for variant in result.failed)
    assert result.best is not None
    assert result.best.settings[0] < 545
    assert result.best.value("sink") < result.as_designed.value("sink")


def test_no_figures_at_all_is_an_error():
    stiff = read_design_file(REFERENCE)
    with pytest.raises(SolverError, match=r"has its figures: .*hooks: stiff"):
        optimiser(stiff, ("canopy.span=1..1.2 m",), goal="payload_swing", limits=(), evaluations=12)


def test_whole_numbers_stay_whole(file):
    result = optimiser(
        file, ("canopy.crossports.count=1..5", "canopy.span=1..1.2 m"), goal="mass", minimum=True,
        limits=("area>=0.55 m^2",), evaluations=60,
    )  # fmt: skip
    assert result.best.settings == (5.0, 1.1)  # holes weigh nothing
    assert result.design.canopy.crossports.count == 5


def test_workers_and_repetition_change_nothing(file):
    options = {"limits": ("area<=0.6 m^2",), "evaluations": 14}
    answers = [optimiser(file, RANGES, **options, workers=workers) for workers in (1, 1, 2)]
    settings = [[v.settings for v in answer.everything] for answer in answers]
    assert settings[0] == settings[1] == settings[2]
    assert len({answer.best.value("glide") for answer in answers}) == 1


def test_no_design_is_worked_out_twice(found):
    settings = [variant.settings for variant in found.variants]
    assert len(settings) == len(set(settings)) <= 160


def test_limits_of_the_designs_own_are_told_when_passed(file):
    result = optimiser(file, ("lines.rigging_angle=1..4 deg",), goal="sink", limits=(), evaluations=20)
    assert {limit.name for limit, _ in result.passed_own_limits()} >= {"tuck_margin", "landing_energy"}


def test_what_cannot_be_searched_over(file):
    with pytest.raises(OptionError, match="give a range"):
        optimiser(file, ("canopy.span=1,1.2 m",))
    with pytest.raises(OptionError, match="give 1 to 4"):
        optimiser(file, ())
    with pytest.raises(OptionError, match="--evaluations: given 3"):
        optimiser(file, evaluations=3)
