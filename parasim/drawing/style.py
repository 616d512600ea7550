"""How the kinds of line look in every file, and the key that goes with them. Everything in millimetres."""

from typing import Literal, NamedTuple

import numpy as np

from parasim.drawing.drawing import LETTER_WIDTH, Drawing, Label, Path, PathKind
from parasim.units import INCH

Paper = Literal["a4", "letter", "a3", "sheet"]

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "a3": (297.0, 420.0)}
"""Short and long side. [mm] A4, A3: ISO 216; Letter: 8.5 x 11 in. From memory, unverified."""

CAUTIONS = (
    "Measure both bars before cutting, middle to middle of their ticks: print at 100 %, never fit to page.",
    "Untested design: prove it with dead weight away from people, by local rules. Falling loads can hurt.",
)
"""Printed on every page and sheet."""


class LineStyle(NamedTuple):
    """Width, and dash as lengths on and off; no dash is a full line. [mm]"""

    width: float
    dash: tuple[float, ...]
    meaning: str


STYLES: dict[PathKind, LineStyle] = {
    "cut": LineStyle(0.5, (), "cut"),
    "sew": LineStyle(0.3, (6.0, 2.0), "sew"),
    "fold": LineStyle(0.3, (8.0, 1.5, 1.0, 1.5), "fold"),
    "mark": LineStyle(0.3, (3.0, 0.7), "mark"),
    "guide": LineStyle(0.2, (0.6, 1.2), "guide"),
}
"""Kinds of line, distinguished by dash, not by colour."""

BARS = ((100.0, "100 mm"), (4e3 * INCH, "4 in"))
"""Check bars: length [mm] and label."""

KEY_HEIGHT = 25.0
"""Of the key. [mm]"""

_TYPE = 3.2
_SMALL = 2.6
_BAR_BOTTOM = 13.0
_TEXT_LEFT = 118.0
_TICK = 1.6
_SAMPLE = 16.0
_PITCH = 36.0


def key(lines: tuple[str, str, str], width: float) -> Drawing:
    """Key for the foot of a page: check bars, kinds of line, cautions, and three lines about the page.

    Parameters
    ----------
    lines : tuple of str
        Beside the bars, from top to bottom.
    width : float
        Of the page inside its margins, at least 180. [mm]

    Returns
    -------
    Drawing
        Lower left corner at the origin, `KEY_HEIGHT` high.
    """
    paths, labels = _bars()
    for i, (kind, style) in enumerate(STYLES.items()):
        x, y = i * min(_PITCH, width / len(STYLES)), 8.2
        paths.append(Path(points=np.array([[x, y], [x + _SAMPLE, y]]), closed=False, kind=kind))
        labels.append(Label(text=style.meaning, at=(x + _SAMPLE + 1.5, y - 1.0), height=_SMALL))
    for i, text in enumerate(CAUTIONS):
        labels.append(fitted(text, width, at=(0.0, 3.8 - i * 3.2), height=_SMALL))
    for i, text in enumerate(lines):
        at = (_TEXT_LEFT, KEY_HEIGHT - 4.0 - i * 4.2)
        labels.append(fitted(text, width - _TEXT_LEFT, at=at, height=_TYPE))
    return Drawing(title="key", paths=tuple(paths), labels=tuple(labels))


def _bars() -> tuple[list[Path], list[Label]]:
    paths, labels = [], []
    for i, (length, text) in enumerate(BARS):
        y = _BAR_BOTTOM + 5.5 * i + _TICK
        outline = [
            [0, y + _TICK],
            [0, y - _TICK],
            [0, y],
            [length, y],
            [length, y + _TICK],
            [length, y - _TICK],
        ]
        paths.append(Path(points=np.array(outline), closed=False, kind="cut"))
        labels.append(Label(text=text, at=(length + 2.0, y - 1.0), height=_SMALL))
    return paths, labels


def fitted(text: str, width: float, *, at: tuple[float, float], height: float) -> Label:
    """Label made smaller, then shorter, until it is no wider than asked for. [mm]"""
    smallest = 2.0
    height = max(smallest, min(height, width / (LETTER_WIDTH * max(len(text), 1))))
    most = int(width / (LETTER_WIDTH * height))
    return Label(text=text if len(text) <= most else text[: most - 1] + "…", at=at, height=height)
