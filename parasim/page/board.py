"""The rulers beside the drawing: what is known of each, what of it is stale, and where it was before."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from parasim.making.rulers import Ruler
from parasim.report.summary import environment_of_pages, scale
from parasim.units import System

STALE, BAND_STALE = "stale: follows", "band stale: follows"


@dataclass
class Board:
    """Rulers of one window.

    Attributes
    ----------
    rulers : dict of str to Ruler
        The newest of each, by name.
    bands : dict of str to (float, float)
        The last band of each that has one. [SI]
    stale : dict of str to str
        What of a ruler is of an earlier design, in words.
    before : Mapping of str to float
        Figures before the change that is being made. [SI]
    names : dict of str to set of str
        Rulers that each stage has found last.
    """

    rulers: dict[str, Ruler] = field(default_factory=dict)
    bands: dict[str, tuple[float, float]] = field(default_factory=dict)
    stale: dict[str, str] = field(default_factory=dict)
    before: Mapping[str, float] = field(default_factory=dict)
    names: dict[str, set[str]] = field(default_factory=dict)

    def mark(self) -> None:
        """Keep the figures as those of before."""
        self.before = {name: ruler.value for name, ruler in self.rulers.items()}

    def outdate(self, words: str = STALE) -> None:
        """Nothing on it is of the present design any more."""
        self.stale = dict.fromkeys(self.rulers, words)

    def quick(self, found: Iterable[Ruler]) -> None:
        """Take figures of the present design without their bands."""
        first = not self.rulers
        for ruler in found:
            self.rulers[ruler.name] = ruler
            self.stale[ruler.name] = BAND_STALE
        if first:
            self.mark()

    def take(self, stage: str, found: Iterable[Ruler]) -> None:
        """Take whole rulers of the present design; what the stage had found before and has not now goes."""
        new = {ruler.name: ruler for ruler in found}
        for name in self.names.get(stage, set()) - set(new):
            del self.rulers[name]
            self.stale.pop(name, None)
        self.names[stage] = set(new)
        for name, ruler in new.items():
            if name not in self.rulers:
                self.before = {**self.before, name: ruler.value}
            self.rulers[name] = ruler
            self.stale.pop(name, None)
            self.bands[name] = (ruler.low, ruler.high)

    def html(self, units: System) -> str:
        """Every ruler, every text escaped."""
        scales = []
        for name, ruler in self.rulers.items():
            stale, before = self.stale.get(name, ""), self.before.get(name)
            bare = replace(ruler, low=ruler.value, high=ruler.value) if stale else ruler
            moved = None if before == ruler.value else before
            old = self.bands.get(name) if stale else None
            scales.append(scale(bare, units, before=moved, stale=stale, old=old))
        return _TEMPLATE.render(scales=scales)


_TEMPLATE = environment_of_pages().from_string(
    '{% from "ruler.html" import ruler %}{% for s in scales %}{{ ruler(s) }}{% endfor %}'
)
