"""Pictures of sweeps and searches: titles, axes, what is marked."""

import io

import pytest

from parasim.caveats import CAUTION
from parasim.config.variant import read_design_file
from parasim.config.variation import read_variation
from parasim.plotting.sweep import contour_figure, line_figure, search_figure
from parasim.study.limits import read_limit
from parasim.study.search import search
from parasim.study.sweep import sweep


def swept(configs, name, *texts, points=3, limits=(), **options):
    file = read_design_file(configs / f"{name}.yaml")
    found = [read_variation(text, file, points) for text in texts]
    return sweep(file, found, limits=[read_limit(text) for text in limits], **options)


def legend(ax):
    return [text.get_text() for text in ax.get_legend().get_texts()]


def test_one_key_marks_limit_gap_and_own_value(configs):
    result = swept(configs, "wren", "lines.row_lengths.A=510..570 mm", limits=["sink<=2.5 m/s"])
    figure = line_figure(result)
    sink, glide = figure.axes
    assert sink.get_xlabel() == "lines.row_lengths.A [mm]"
    assert sink.get_ylabel() == "sink [m/s]"
    assert legend(sink) == ["limit: <= 2.50 m/s", "no figure", "this design"]
    assert legend(glide) == ["no figure", "this design"]
    assert sink.get_title(loc="left").startswith("sink\nfrom ")
    assert "injure people" in figure.get_supxlabel()
    figure.savefig(io.BytesIO(), format="png")


def test_imperial_outputs_beside_keys_as_written(configs):
    result = swept(configs, "pelican", "canopy.span=50..70 in", names=("sink",))
    (ax,) = line_figure(result, "imperial").axes
    assert ax.get_xlabel() == "canopy.span [in]"
    assert ax.get_ylabel() == "sink [ft/s]"


def test_words_are_lines_of_their_own(configs):
    families = "canopy.airfoil.family=reflexed,flat-bottomed"
    result = swept(configs, "heron", families, "payload.mass=1..1.4 kg", points=2, names=("glide",))
    (ax,) = line_figure(result).axes
    assert ax.get_xlabel() == "payload.mass [kg]"
    assert legend(ax)[:2] == ["reflexed", "flat-bottomed"]
    first = ax.lines[0].get_ydata()
    assert first.tolist() == result.field("glide")[0].tolist()


def test_words_alone_are_marks_without_a_line(configs):
    result = swept(configs, "heron", "canopy.airfoil.family=reflexed,symmetric", names=("glide",))
    (ax,) = line_figure(result).axes
    assert [tick.get_text() for tick in ax.get_xticklabels()] == ["reflexed", "symmetric"]
    assert ax.lines[0].get_linestyle() == "None"


def test_two_keys_are_contours(configs):
    texts = ("canopy.span=1..1.2 m", "lines.rigging_angle=-3..2 deg")
    result = swept(configs, "heron", *texts, limits=["sink<=2.2 m/s"], names=("sink", "mass"))
    figure = contour_figure(result, "sink")
    (ax,) = figure.axes
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("canopy.span [m]", "lines.rigging_angle [deg]")
    assert legend(ax) == ["sink [m/s]", "over the limit of 2.20 m/s", "this design"]
    assert ax.get_title(loc="left").startswith("heron: sink from ")
    figure.savefig(io.BytesIO(), format="png")
    kept = swept(configs, "heron", *texts, limits=["sink<=30 m/s"], names=("sink",))
    assert "nowhere over the limit of 30.00 m/s" in legend(contour_figure(kept, "sink").axes[0])


def test_gaps_of_two_keys_are_crosses(configs):
    texts = ("lines.row_lengths.A=510..570 mm", "payload.mass=0.3..0.4 kg")
    result = swept(configs, "wren", *texts, names=("sink",))
    (ax,) = contour_figure(result, "sink").axes
    (crosses,) = [line for line in ax.lines if line.get_label() == "no figure"]
    assert set(crosses.get_xdata()) == {570.0}


@pytest.mark.parametrize(("limit", "title"), [("sink<=9 m/s", "1."), ("sink<=1 m/s", "no design here")])
def test_search_lines(configs, limit, title):
    file = read_design_file(configs / "heron.yaml")
    ranges = [read_variation(text, file, 2) for text in ("canopy.span=1..1.2 m", "brakes.travel=90..120 mm")]
    result = search(file, ranges, goal="sink", minimum=True, limits=[read_limit(limit)], evaluations=16)
    figure = search_figure(result)
    assert title in figure.get_suptitle()
    span, travel = figure.axes
    assert ("at an end" in legend(span)) == (result.best is not None)
    if result.best is not None:
        assert travel.get_title(loc="left") == "brakes.travel makes no difference"
        assert "at the high edge" in span.get_title(loc="left")
    figure.savefig(io.BytesIO(), format="png")


def test_the_caution_is_below_every_picture(configs):
    """Also where no output asks for one of its own."""
    one = swept(configs, "heron", "lines.rigging_angle=-3..2 deg", names=("airspeed",), points=2)
    texts = ("lines.rigging_angle=-3..2 deg", "payload.mass=1..2 kg")
    two = swept(configs, "heron", *texts, names=("glide",), points=2)
    assert one.cautions == two.cautions == (CAUTION,)
    for figure in (line_figure(one), contour_figure(two, "glide")):
        assert figure.get_supxlabel() == CAUTION


def test_imperial_keys_and_an_own_value_off_the_picture(configs):
    """Pelican's span is 59 in, 1.4986 m by the definition of the inch: beyond 1 to 1.4 m."""
    result = swept(configs, "pelican", "canopy.span=1..1.4 m", names=("sink",))
    (ax,) = line_figure(result, "imperial").axes
    assert ax.get_xlabel() == "canopy.span [in]"
    assert ax.lines[0].get_xdata() == pytest.approx([1 / 0.0254, 1.2 / 0.0254, 1.4 / 0.0254])
    assert "this design: 59 in (off the picture)" in legend(ax)
    assert "(55.118 in)" in ax.get_title(loc="left")
