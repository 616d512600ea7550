"""Drawing: outlines and labels in millimetres, true size: the one input of every writer.

x runs to the right and y up. A writer turns it into a file; it changes no measure.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from parasim.rotations import FloatArray

PathKind = Literal["cut", "sew", "fold", "mark", "guide"]
"""Cut here; sew here; fold here; a point or line to mark on the cloth; help for the eye only."""

Anchor = Literal["start", "middle", "end"]

LETTER_WIDTH = 0.6
"""Width of a letter over the height of the type, for the room a label takes. [-] Wide for Helvetica."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """A line through points.

    Attributes
    ----------
    points : ndarray, shape (n, 2)
        x and y. A closed path does not repeat its first point. [mm]
    closed : bool
        Whether the last point joins the first.
    kind : {"cut", "sew", "fold", "mark", "guide"}
        What it means; each kind has its own dash and layer.
    """

    points: FloatArray
    closed: bool
    kind: PathKind

    @property
    def loop(self) -> FloatArray:
        """Points with the first one repeated at the end if closed, shape (n, 2) or (n + 1, 2). [mm]"""
        return np.vstack([self.points, self.points[:1]]) if self.closed else self.points

    @property
    def length(self) -> float:
        """Along the path. [mm]"""
        return float(np.hypot(*np.diff(self.loop, axis=0).T).sum())

    def moved(self, by: FloatArray) -> "Path":
        """Path shifted by x and y. [mm]"""
        return replace(self, points=self.points + by)

    def mirrored(self) -> "Path":
        """Left and right changed over, about x = 0."""
        return replace(self, points=self.points * [-1.0, 1.0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One line of text.

    Attributes
    ----------
    text : str
        As printed.
    at : tuple of float
        x and y of the anchor, on the baseline. [mm]
    height : float
        Size of the type. [mm]
    angle : float
        Of the baseline, anticlockwise from x. [rad]
    anchor : {"start", "middle", "end"}
        Which end of the text is at `at`.
    """

    text: str
    at: tuple[float, float]
    height: float = 4.0
    angle: float = 0.0
    anchor: Anchor = "start"

    @property
    def corners(self) -> FloatArray:
        """Of the room the text may take, by `LETTER_WIDTH`; shape (4, 2). [mm]"""
        width = LETTER_WIDTH * self.height * len(self.text)
        start = {"start": 0.0, "middle": -width / 2, "end": -width}[self.anchor]
        low, high = -0.25 * self.height, 0.8 * self.height
        room = np.array([[start, low], [start + width, low], [start + width, high], [start, high]])
        c, s = np.cos(self.angle), np.sin(self.angle)
        return np.asarray(np.array(self.at) + room @ np.array([[c, s], [-s, c]]))

    def moved(self, by: FloatArray) -> "Label":
        """Label shifted by x and y. [mm]"""
        return replace(self, at=(self.at[0] + float(by[0]), self.at[1] + float(by[1])))

    def mirrored(self) -> "Label":
        """At the mirrored place, still readable."""
        ends: dict[Anchor, Anchor] = {"start": "end", "middle": "middle", "end": "start"}
        return replace(self, at=(-self.at[0], self.at[1]), angle=-self.angle, anchor=ends[self.anchor])


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """An upright rectangle. [mm]"""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        """[mm]"""
        return self.right - self.left

    @property
    def height(self) -> float:
        """[mm]"""
        return self.top - self.bottom


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """Outlines and labels in millimetres, true size.

    Attributes
    ----------
    title : str
        What it shows.
    paths : tuple of Path
        At least one.
    labels : tuple of Label
        May be none.
    name : str
        Short, no two alike on a sheet: by it files call the drawing. May be empty.
    """

    title: str
    paths: tuple[Path, ...]
    labels: tuple[Label, ...] = ()
    name: str = ""

    @property
    def box(self) -> Box:
        """Round all paths and labels."""
        points = np.vstack([*(path.points for path in self.paths), *(label.corners for label in self.labels)])
        (left, bottom), (right, top) = points.min(axis=0), points.max(axis=0)
        return Box(left=float(left), bottom=float(bottom), right=float(right), top=float(top))

    def moved(self, x: float, y: float) -> "Drawing":
        """Drawing shifted. [mm]"""
        by = np.array([x, y])
        return replace(
            self,
            paths=tuple(path.moved(by) for path in self.paths),
            labels=tuple(label.moved(by) for label in self.labels),
        )

    def mirrored(self) -> "Drawing":
        """Left and right changed over, about x = 0; labels stay readable."""
        return replace(
            self,
            paths=tuple(path.mirrored() for path in self.paths),
            labels=tuple(label.mirrored() for label in self.labels),
        )

    def together(self, *others: "Drawing") -> "Drawing":
        """One drawing of this and others, under this title."""
        parts = (self, *others)
        return replace(
            self,
            paths=tuple(path for part in parts for path in part.paths),
            labels=tuple(label for part in parts for label in part.labels),
        )
