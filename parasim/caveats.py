"""What is said beside an answer: doubts in three kinds, and the caution that goes with every figure."""

from collections.abc import Mapping
from typing import Literal

from parasim.units import System, show

Kind = Literal["fails", "lacks", "model"]

KINDS: dict[Kind, str] = {"fails": "design fails", "lacks": "file lacks", "model": "model"}
"""Kinds of caveats in the order in which they are printed, and how each begins: your design fails; your file
lacks; the model cannot."""

CAUTION = (
    "Computed, not flown. A falling payload can injure people: keep everyone out from under it; local rules "
    "apply."
)
"""Goes with every speed, load and place, on the screen and below pictures."""


class Caveat(str):
    """A sentence of doubt about an answer.

    As a string it is in metric units; `said` gives it in those asked for.

    Parameters
    ----------
    words : str
        With names of figures in braces.
    kind : {"fails", "lacks", "model"}
        Whether the design fails, the file lacks something, or the model reaches its end.
    about : str
        What part of the design it touches, such as ``brakes``; empty for the whole answer.
    **figures : (float, str) or (float, str, int)
        SI value, kind of quantity, and decimals if not the usual ones.

    Examples
    --------
    >>> caveat = Caveat("Released at {height}, it needs {least}.", "fails", height=(60.0, "length", 0),
    ...                 least=(75.0, "length", 0))
    >>> str(caveat), caveat.said("imperial")
    ('Released at 60 m, it needs 75 m.', 'Released at 197 ft, it needs 246 ft.')
    """

    kind: Kind
    about: str
    _imperial: str

    def __new__(
        cls,
        words: str,
        kind: Kind = "model",
        about: str = "",
        **figures: tuple[float, str] | tuple[float, str, int],
    ) -> "Caveat":
        """Fill in the figures, in both systems."""
        metric, imperial = _filled(words, figures, "metric"), _filled(words, figures, "imperial")
        return cls._made(metric, imperial, kind, about)

    @classmethod
    def _made(cls, metric: str, imperial: str, kind: Kind, about: str) -> "Caveat":
        self = super().__new__(cls, metric)
        self.kind, self.about, self._imperial = kind, about, imperial
        return self

    def __reduce__(self) -> tuple[object, ...]:
        """For copies and other processes."""
        return Caveat._made, (str(self), self._imperial, self.kind, self.about)

    def said(self, units: System) -> str:
        """In the units asked for."""
        return str(self) if units == "metric" else self._imperial


def said(caveat: str, units: System) -> str:
    """A caveat in units; what is plain text as it is."""
    return caveat.said(units) if isinstance(caveat, Caveat) else caveat


def kind_of(caveat: str) -> Kind:
    """Kind of a caveat; of plain text, that the model cannot."""
    return caveat.kind if isinstance(caveat, Caveat) else "model"


def _filled(
    words: str, figures: Mapping[str, tuple[float, str] | tuple[float, str, int]], units: System
) -> str:
    shown = {
        name: show(figure[0], figure[1], units, digits=figure[2] if len(figure) > 2 else None)
        for name, figure in figures.items()
    }
    return words.format(**shown)
