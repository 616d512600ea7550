"""The look of every picture: legible in print without colour.

Figures are made as objects, never through pyplot: no global state, and half a second less to import.
"""

import io
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from html import escape
from typing import Any

import numpy as np
from matplotlib import rc_context, rcParams
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_mixed import MixedModeRenderer
from matplotlib.backends.backend_svg import FigureCanvasSVG, RendererSVG
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.text import Text
from matplotlib.textpath import TextToPath
from matplotlib.transforms import Bbox

from parasim.rotations import FloatArray
from parasim.units import System, label, unit

LOOK: Any = {
    "font.size": 9.5,
    "axes.titlesize": 11,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.grid": True,
    "grid.color": "0.88",
    "grid.linewidth": 0.7,
    "axes.axisbelow": True,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": "0.35",
    "lines.linewidth": 1.7,
    "lines.markersize": 5.5,
    "hatch.linewidth": 0.6,
    "hatch.color": "0.5",
    "legend.frameon": True,
    "legend.framealpha": 0.9,
    "legend.edgecolor": "0.8",
    "legend.fontsize": 8.5,
}

FAR_ABOVE = 8.0
"""Limit over the highest of the rest from which it is only named: drawn, it would flatten the rest. [-]"""

MOST_BESIDE = 0.5
"""Room that a picture grows by on each side for what is drawn beside it, over its size. Our choice. [-]"""

EDGE, APART = 0.05, 0.07
"""How far labels of contours stay from the edges and from each other, over the axes. Our choice. [-]"""

INK = "0.15"
BLUE, RUST, GREEN, GREY = "#1f4e79", "#b5451b", "#3d7a37", "0.45"

SERIES: tuple[dict[str, Any], ...] = (
    {"color": BLUE, "linestyle": "-", "marker": "o"},
    {"color": RUST, "linestyle": "--", "marker": "s"},
    {"color": GREEN, "linestyle": "-.", "marker": "^"},
    {"color": GREY, "linestyle": ":", "marker": "D"},
)
"""Each series differs in dash and marker, so that colour is only a help."""

LINES: tuple[dict[str, Any], ...] = tuple(
    {name: value for name, value in series.items() if name != "marker"} for series in SERIES
)
"""The same for dense curves."""

BAND: dict[str, Any] = {
    "facecolor": "0.85",
    "edgecolor": "0.55",
    "hatch": "////",
    "linewidth": 0.0,
    "alpha": 0.6,
}
"""A band of uncertainty or a window, shaded and hatched."""


@contextmanager
def look() -> Iterator[None]:
    """Draw with `LOOK`; what was set before comes back."""
    with rc_context(LOOK):
        yield


def new_figure(width: float = 6.4, height: float = 4.4) -> Figure:
    """Empty figure that can be saved. [in]"""
    figure = Figure(figsize=(width, height), layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def picture_bytes(figure: Figure, kind: str, dpi: float = 150.0) -> bytes:
    """Figure as a file of one kind, such as png: cut to what is drawn, in letters that its font has."""
    figure.set_dpi(dpi)  # letters are hinted: measured at another resolution, a long title would be cut
    charmaps: dict[str, Any] = {}
    for text in figure.findobj(Text):
        path = findfont(text.get_fontproperties())
        letters = charmaps.setdefault(path, get_font(path).get_charmap())
        text.set_text("".join(c if ord(c) in letters or c == "\n" else "?" for c in text.get_text()))
    for _ in range(2):  # the layout makes room for tick labels at the second draw only
        figure.draw_without_rendering()
    width, height = figure.get_size_inches()
    most = Bbox.from_bounds(0, 0, width, height).expanded(1 + 2 * MOST_BESIDE, 1 + 2 * MOST_BESIDE)
    for text in (text for ax in figure.axes for text in ax.texts):
        inches = text.get_window_extent().transformed(figure.dpi_scale_trans.inverted())
        text.set_visible(bool(inches.overlaps(most)))  # so far away there is no room to draw it
    drawn = figure.get_tightbbox().padded(rcParams["savefig.pad_inches"])
    file = io.BytesIO()
    figure.savefig(file, format=kind, bbox_inches=Bbox.intersection(drawn, most), dpi=dpi)
    return file.getvalue()


class _SvgRenderer(RendererSVG):
    """Draws a figure as SVG, and measures each text once, whatever figure it is in."""

    def get_text_width_height_descent(self, s: str, prop: Any, ismath: Any) -> tuple[float, float, float]:
        """Size of a text."""
        return _text_size(s, prop.copy(), ismath)


@lru_cache(maxsize=4096)
def _text_size(text: str, font: FontProperties, ismath: Any) -> tuple[float, float, float]:
    width, height, descent = TextToPath().get_text_width_height_descent(text, font, ismath)
    return width, height, descent


class _SvgCanvas(FigureCanvasSVG):
    """Has `_SvgRenderer` lay out and draw its figure."""

    def get_renderer(self) -> RendererSVG:
        """To measure with."""
        width, height = (72 * size for size in self.figure.get_size_inches())
        return _SvgRenderer(width, height, io.StringIO())  # type: ignore[no-untyped-call]

    def print_svg(
        self, filename: Any, *, bbox_inches_restore: Any = None, metadata: Any = None, **_: Any
    ) -> None:
        """Draw to a file that is open."""
        self.figure.set_dpi(72.0)
        inches = self.figure.get_size_inches()
        width, height = (72 * size for size in inches)
        vector = _SvgRenderer(width, height, filename, metadata=metadata)  # type: ignore[no-untyped-call]
        mixed: Any = MixedModeRenderer
        renderer = mixed(self.figure, *inches, 72, vector, bbox_inches_restore=bbox_inches_restore)
        self.figure.draw(renderer)
        renderer.finalize()


def svg_element(figure: Figure, words: str, *, salt: str) -> str:
    """Figure as an SVG element to stand in a page, places to 1/7200 in.

    It is read aloud by `words`; `salt` keeps its names its own.
    """
    before, engine = figure.canvas, figure.get_layout_engine()
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": salt}):
        file = io.StringIO()
        try:
            _SvgCanvas(figure)
            figure.set_dpi(72.0)
            # Laid out here and left so: made "tight" by `savefig` it would be drawn twice.
            if engine is not None:
                engine.execute(figure)
                figure.set_layout_engine(None)
            drawn = figure.get_tightbbox().padded(rcParams["savefig.pad_inches"])
            figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None}, bbox_inches=drawn)
        finally:
            figure.set_canvas(before)
            figure.set_layout_engine(engine)
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", file.getvalue(), flags=re.DOTALL)
    parts = re.split(r"(\d+\.\d{3,})", text)
    parts[1::2] = [f"{number:.2f}" for number in map(float, parts[1::2])]
    text = "".join(parts)
    return text[text.index("<svg") :].replace("<svg", f'<svg role="img" aria-label="{escape(words)}"', 1)


def svg_file(figure: Figure, words: str, *, salt: str) -> str:
    """Figure as an SVG file, `words` its title; otherwise as `svg_element`."""
    element = svg_element(figure, words, salt=salt)
    end = element.index(">") + 1
    head = '<?xml version="1.0" encoding="utf-8"?>\n'
    return f"{head}{element[:end]}\n <title>{escape(words)}</title>{element[end:]}"


def shown(values: FloatArray | float, kind: str, system: System) -> FloatArray:
    """SI values in the unit they are shown in, same shape."""
    return np.asarray(values, dtype=np.float64) / unit(kind, system).size


def axis_label(name: str, kind: str, system: System) -> str:
    """Name of a quantity and its unit.

    Examples
    --------
    >>> axis_label("sink", "speed", "imperial")
    'sink [ft/s]'
    """
    return f"{name} [{label(kind, system) or '-'}]"


def footnote(figure: Figure, text: str) -> None:
    """Small print below everything else."""
    figure.supxlabel(text, fontsize=7.5, color="0.35", x=0.01, ha="left", linespacing=1.3)


def label_contours(
    ax: Axes,
    contours: Any,
    digits: str,
    *,
    part: float = 0.5,
    taken: Sequence[FloatArray] = (),
    but: Sequence[float] = (),
) -> list[FloatArray]:
    """Write its value on each contour, off the edges and clear of other labels; none where there is no room.

    Parameters
    ----------
    ax : Axes
        With its limits set.
    contours : ContourSet
        As `Axes.contour` gives it.
    digits : str
        Format of a value.
    part : float
        Of its length at which a label is wanted. [-]
    taken : sequence of ndarray, shape (2,)
        Places of other labels, over the width and height of the axes. [-]
    but : sequence of float
        Values that are not written.

    Returns
    -------
    list of ndarray, shape (2,)
        `taken` and the places of these.
    """
    to_axes, found, places = ax.transData + ax.transAxes.inverted(), list(taken), []
    for level, path in zip(contours.levels, contours.get_paths(), strict=True):
        pieces = path.to_polygons(closed_only=False)
        if not pieces or np.isclose(level, but).any():
            continue
        points = _evenly(max(pieces, key=len))
        at = to_axes.transform(points)
        free = (np.abs(at - 0.5) < 0.5 - EDGE).all(axis=1)
        for other in found:
            free &= np.hypot(*(at - other).T) > APART
        if free.any():
            wanted = part * (len(points) - 1)
            i = min(np.flatnonzero(free).tolist(), key=lambda i: abs(i - wanted))
            found.append(at[i])
            places.append(tuple(points[i]))
    if places:
        ax.clabel(contours, fontsize=8, fmt=digits, manual=places)
    return found


def _evenly(line: FloatArray, n: int = 101) -> FloatArray:
    """Points along a line, shape (n, 2)."""
    part = np.linspace(0, len(line) - 1, n)
    return np.column_stack([np.interp(part, np.arange(len(line)), values) for values in line.T])


def mark_side(ax: Axes, x: float, text: str) -> None:
    """Dashed upright line with its name at the top."""
    ax.axvline(x, color=INK, linestyle=(0, (4, 3)), linewidth=1.0)
    ax.annotate(
        text, (x, 1.0), xycoords=("data", "axes fraction"), xytext=(3, -3), textcoords="offset points",
        ha="left", va="top", fontsize=8, color=INK,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1},
    )  # fmt: skip
