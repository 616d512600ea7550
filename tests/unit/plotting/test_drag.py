"""The bars of the drag build-up are the result's own items."""

import pytest

from parasim.caveats import CAUTION
from parasim.flight.glide import Glide
from parasim.plotting.drag import drag_figure


def test_bars_labels_and_title(gliding: Glide) -> None:
    drag = gliding.drag
    figure = drag_figure(drag, "heron")
    (ax,) = figure.axes
    assert CAUTION in figure.get_supxlabel()
    assert [bar.get_width() for bar in ax.patches] == pytest.approx([item.CD for item in drag.items])
    assert [tick.get_text() for tick in ax.get_yticklabels()] == [item.name for item in drag.items]
    assert [text.get_text() for text in ax.texts] == [f"{100 * item.share:.1f} %" for item in drag.items]
    share = 100 * (drag.items[0].share + drag.items[1].share)
    assert ax.get_title(loc="left").startswith("heron: ")
    assert ax.get_title(loc="left").endswith(f"make {share:.0f} % of the drag")
    assert "[-]" in ax.get_xlabel()


def test_groups_differ_without_colour(gliding: Glide) -> None:
    (ax,) = drag_figure(gliding.drag, "heron").axes
    hatches = {bar.get_label(): bar.get_hatch() for container in ax.containers for bar in container.patches}
    assert len({bar.get_hatch() or "" for bar in ax.patches}) == 4, hatches
