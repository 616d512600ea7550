"""What the small drawings beside the steps are made of: to the design's scale, or sections that are not.

On paper, in millimetres; lines as in the key of the templates: full for cloth and line, dashed for stitching.
"""

from collections.abc import Sequence

import numpy as np

from parasim.drawing.drawing import Anchor, Drawing, Label, Path, PathKind
from parasim.rotations import FloatArray

WIDTH = 150.0
"""Of a drawing, at most. [mm]"""

HEIGHT = 46.0
"""Of what is drawn to scale, at most. [mm]"""

TYPE = 2.8
"""Size of the letters. [mm]"""

Line = tuple[FloatArray, PathKind]
Note = tuple[str, FloatArray | tuple[float, float], Anchor]
"""Text, where, and which end of it is there."""


def label(text: str, x: float, y: float, anchor: Anchor = "start") -> Label:
    """Words in the one size of type."""
    return Label(text=text, at=(float(x), float(y)), height=TYPE, anchor=anchor)


def to_scale(title: str, lines: Sequence[Line], notes: Sequence[Note], width: float = WIDTH) -> Drawing:
    """Lines and notes in the design's millimetres, made to fit; the title stands below."""
    points = np.vstack([line for line, _ in lines])
    low, high = points.min(axis=0), points.max(axis=0)
    scale = min((width - 30.0) / max(high[0] - low[0], 1.0), HEIGHT / max(high[1] - low[1], 1.0))
    paths = tuple(Path(points=scale * (line - low), closed=False, kind=kind) for line, kind in lines)
    labels = []
    for text, at, anchor in notes:
        x, y = scale * (np.array(at) - low)
        labels.append(label(text, x, y + 1.0, anchor))
    return Drawing(title=title, paths=paths, labels=(*labels, _title(title, 0.0, -8.0, labels)))


def section(title: str, lines: Sequence[Line], labels: Sequence[Label]) -> Drawing:
    """A section, not to scale, as it stands."""
    paths = tuple(Path(points=line, closed=False, kind=kind) for line, kind in lines)
    low = min(float(line[:, 1].min()) for line, _ in lines)
    left = min(float(line[:, 0].min()) for line, _ in lines)
    return Drawing(title=title, paths=paths, labels=(*labels, _title(title, left, low - 7.0, labels)))


def _title(words: str, x: float, y: float, others: Sequence[Label]) -> Label:
    """Below the drawing and its other words."""
    return label(words, x, min([y, *(float(other.corners[:, 1].min()) - 4.0 for other in others)]))


def listing(rows: Sequence[str], x: float, y: float, pitch: float = 4.5) -> tuple[Label, ...]:
    """Rows of words below each other, from the top."""
    return tuple(label(words, x, y - pitch * i) for i, words in enumerate(rows))


def way(*points: tuple[float, float]) -> FloatArray:
    """Line through points, shape (n, 2)."""
    return np.array(points)


def oval(wide: float, high: float) -> FloatArray:
    """Closed line about the origin, shape (n, 2), by its half axes."""
    turn = np.linspace(0.0, 2 * np.pi, 33)
    return np.column_stack([wide * np.cos(turn), high * np.sin(turn)])
