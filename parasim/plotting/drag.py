"""Picture of the drag build-up."""

from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.caveats import CAUTION
from parasim.flight.drag import DragBuildUp
from parasim.plotting.style import footnote, look, new_figure

GROUPS = {"payload": "payload", "lines": "lines", "induced": "lift"}
"""Item to its group; all others belong to the canopy itself."""

FILLS: dict[str, dict[str, Any]] = {
    "payload": {"facecolor": "0.55", "hatch": ""},
    "lines": {"facecolor": "0.92", "hatch": "////"},
    "lift": {"facecolor": "white", "hatch": "...."},
    "canopy": {"facecolor": "#7d9cbd", "hatch": "\\\\"},
}
"""Fill of each group, distinct without colour."""

GROUP_WORDS = {
    "payload": "payload",
    "lines": "lines",
    "lift": "induced by lift",
    "canopy": "canopy: section, inlet, cloth, tips",
}


def drag_figure(drag: DragBuildUp, name: str) -> Figure:
    """Figure of the build-up, titled with its largest parts."""
    first, second = drag.items[:2]
    with look():
        figure = new_figure(6.8, 1.1 + 0.34 * len(drag.items))
        ax = figure.add_subplot()
        plot_drag(drag, ax)
        share = 100 * (first.share + second.share)
        names = [item.name.replace("induced", "lift itself") for item in (first, second)]
        ax.set_title(f"{name}: {' and '.join(names)} make {share:.0f} % of the drag")
        footnote(figure, CAUTION)
    return figure


def plot_drag(drag: DragBuildUp, ax: Axes) -> None:
    """Bar of every item, its share beside it, largest on top."""
    for place, item in enumerate(drag.items):
        group = GROUPS.get(item.name, "canopy")
        ax.barh(place, item.CD, height=0.7, edgecolor="0.25", linewidth=0.8, label=group, **FILLS[group])
        ax.annotate(
            f"{100 * item.share:.1f} %", (max(item.CD, 0.0), place),
            xytext=(4, 0), textcoords="offset points", va="center", fontsize=8.5,
        )  # fmt: skip
    ax.set_yticks(range(len(drag.items)), [item.name for item in drag.items])
    ax.invert_yaxis()
    ax.grid(visible=False, axis="y")
    ax.margins(x=0.12)
    ax.set_xlabel(f"drag coefficient on flat area [-], {drag.CD:.4f} in all")
    handles, groups = ax.get_legend_handles_labels()
    once = dict(zip(groups, handles, strict=True))
    ax.legend(list(once.values()), [GROUP_WORDS[group] for group in once], loc="lower right")
