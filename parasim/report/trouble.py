"""What `parasim trouble` answers."""

from collections.abc import Iterator
from math import isfinite
from typing import TYPE_CHECKING, Any

from parasim.caveats import said
from parasim.flight.drop import CAUTIONS as DROP_CAUTIONS
from parasim.flight.trouble.check import PLAUSIBLE, Check, Figure
from parasim.flight.trouble.symptom import SYMPTOMS
from parasim.flight.trouble.trouble import Trouble
from parasim.report.column import IN_KEYS, Grid
from parasim.report.report import BOX, Block, Report
from parasim.units import System, show, show_range

if TYPE_CHECKING:
    from matplotlib.figure import Figure as Picture

CAUTIONS = (
    "A cause found here is a candidate, computed, not flown: whatever you change, begin again with the low "
    "rungs of `parasim build`'s test ladder.",
    *DROP_CAUTIONS[1:],
)
"""Said below every list of checks."""

KEY_UNITS = {
    "small_length": "size_mm", "length": "size_m", "small_mass": "size_g", "angle": "size_deg",
    "small_area": "size_m2", "speed": "size_m_s", "wind_speed": "size_m_s", "time": "size_s",
    "percent": "size_percent", "coefficient": "scale", "ratio": "scale",
}  # fmt: skip
"""Kind of quantity to the JSON key that holds the sizes of a check."""

FIGURE_KEYS = {
    "angular_rate": "figure_deg_per_s", "angle": "figure_deg", "speed": "figure_m_s", "force": "figure_n",
    "growth": "figure_per_s",
}  # fmt: skip
"""The same for the figure that was seen."""

DIGITS = {"small_mass": 0, "time": 2, "force": 0, "length": 1}
"""Decimals in place of the usual ones, in metric units."""


class TroubleReport(Report[Trouble]):
    """What to check after something was seen in the air."""

    COMMAND = "trouble"

    @property
    def cautions(self) -> tuple[str, ...]:
        """None for the list of symptoms."""
        return () if self.result.findings is None else CAUTIONS

    def failures(self, units: System) -> list[str]:
        """What the design fails at by itself."""
        return [] if self.result.findings is None else list(self.result.findings.failures)

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        found = self.result
        if found.findings is None:
            yield f"What was seen with {self.name}? Ask with one of these"
            yield symptom_grid()
            return
        yield headline(found, units)
        facts = (said(fact, units) for fact in found.findings.facts)
        yield "\n".join([figure_sentence(found.findings.figure, units), *facts])
        yield check_grid(found, units)
        if not found.findings.figure.already:
            yield together_sentence(found)
        for number, check in enumerate(found.checks, 1):
            yield check_text(number, check, units)

    def document(self) -> dict[str, Any]:
        """As `trouble_document`."""
        return trouble_document(self.result)

    def figures(self, units: System) -> Iterator[tuple[str, "Picture"]]:
        """As `Report.figures`."""
        if self.result.findings is not None:
            from parasim.plotting.trouble import trouble_figure

            yield "trouble.png", trouble_figure(self.result, units)

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """As `Report.others`: the checks with boxes to tick."""
        if self.result.findings is not None:
            yield "trouble.md", to_tick(self.result, units)


def trouble_document(found: Trouble) -> dict[str, Any]:
    """Checks as plain data.

    Returns
    -------
    dict
        - ``name``; ``symptom`` as asked, null for the list; ``symptoms`` that can be asked.
        - ``figure``: ``words``; and below ``figure_deg_per_s``, ``figure_deg``, ``figure_m_s``, ``figure_n``
          or ``figure_per_s`` the figure that the symptom is: ``designed``, its band ``low`` and ``high``, and
          the ``level`` at which it is what was seen.
        - ``checks``, the likeliest first: ``check``, ``error``, ``measure``, ``remedy``; ``basis``: COMPUTED
          or COMMON PRACTICE; ``plausible``: whether the size needed is within four times the likely one;
          ``times``: needed over likely, null where none does it; ``share_percent``: part of what was seen
          that the likely size does; ``doubt``.
        - In each check, below ``size_mm``, ``size_m``, ``size_g``, ``size_deg``, ``size_m2``, ``size_m_s``,
          ``size_s``, ``size_percent`` or ``scale``: ``needed``, null where no size up to ``bound`` does it;
          its band ``low`` and ``high``, null beyond the bound; ``likely``.
        - ``together_percent``: part of what was seen that all likely sizes do the same way;
          ``by_chance_percent``: the same, root of squares; ``facts``, ``failures``, ``cautions`` and
          ``caveats``: sentences.
    """
    findings = found.findings
    document: dict[str, Any] = {
        "name": found.vehicle.design.name,
        "symptom": found.seen and found.seen.words("metric"),
        "symptoms": [symptom.name for symptom in SYMPTOMS],
    }
    if findings is None:
        return document
    figure, (all_ways, by_chance) = findings.figure, found.together
    names = ("designed", "low", "high", "level")
    return document | {
        "figure": {
            "words": figure.words,
            FIGURE_KEYS[figure.kind]: {name: _plain(getattr(figure, name), figure.kind) for name in names},
        },
        "checks": [check_document(check) for check in found.checks],
        "together_percent": 100 * all_ways,
        "by_chance_percent": 100 * by_chance,
        "facts": [str(fact) for fact in findings.facts],
        "failures": list(findings.failures),
        "cautions": list(CAUTIONS),
        "caveats": list(found.caveats),
    }


def check_document(check: Check) -> dict[str, Any]:
    """One check as in `trouble_document`."""
    sizes = {}
    if check.kind:
        names = ("needed", "low", "high", "likely", "bound")
        sizes = {KEY_UNITS[check.kind]: {name: _plain(getattr(check, name), check.kind) for name in names}}
    return {
        "check": check.name,
        "error": str(check.words.error),
        "measure": str(check.words.measure),
        "remedy": str(check.words.remedy),
        "basis": check.basis,
        "plausible": check.plausible,
        "times": check.times if isfinite(check.times) else None,
        "share_percent": 100 * check.share if isfinite(check.share) else None,
        "doubt": check.doubt,
        **sizes,
    }


def _plain(value: float | None, kind: str) -> float | None:
    if value is None or not isfinite(value):
        return None
    return IN_KEYS[kind](value) if kind in IN_KEYS else value


def symptom_grid() -> Grid:
    """What can be asked."""
    rows = [[one.name, one.words, one.amount or "-"] for one in SYMPTOMS]
    widths = [max(len(row[i]) for row in rows) for i in range(3)]
    heads = ("symptom", "what was seen", "amount that may follow")
    return Grid(
        rows=[[cell.ljust(width) for cell, width in zip(row, widths, strict=True)] for row in rows],
        heads=[head.ljust(width) for head, width in zip(heads, widths, strict=True)],
        note='Such as: parasim trouble DESIGN "turns left 10 deg/s"; amounts in any unit, "10 ft/s" as well.',
    )


def headline(found: Trouble, system: System) -> str:
    """The likeliest cause with its size, in a sentence."""
    assert found.seen is not None
    begin = f"{found.vehicle.design.name} {found.seen.words(system)}"
    first = found.checks[0]
    computed = [check for check in found.checks if check.computed and check.needed is not None]
    if first.computed and first.needed == 0.0:
        return f"{begin} as designed, without any error: change the design first"
    if first.plausible:
        words = f"{begin} most likely from: {said(first.words.error, system)}, {sized_words(first, system)}"
        return words + _doubted(first)
    if not computed:
        first_look = said(first.words.error, system)
        return f"{begin} by no single error of the sizes sought: look first for {first_look}"
    near = computed[0]
    place = found.checks.index(near) + 1
    size = f"{sized_words(near, system)}{_doubted(near)}"
    if place == 1:
        return f"{begin}: look first for {said(first.words.error, system)}, though alone it takes {size}"
    return (
        f"{begin}: look first for {said(first.words.error, system)}; no error computed does that alone at a "
        f"likely size, nearest is number {place}, {said(near.words.error, system)}, {size}"
    )


def _doubted(check: Check) -> str:
    return f"; {check.doubt}" if check.doubt else ""


def sized_words(check: Check, system: System) -> str:
    """Size needed, its band, and how many times the likely one that is."""
    if not check.kind:
        return "alone enough"
    band = f"{show_band(check, system)}; " if show_band(check, system) != "-" else ""
    return f"{show_size(check.needed or 0.0, check, system)} ({band}{show_times(check)} times the likely)"


def show_size(size: float, check: Check, system: System) -> str:
    """A size in its unit."""
    return show(size, check.kind, system, digits=_digits(check.kind, system))


def _digits(kind: str, system: System) -> int | None:
    return DIGITS.get(kind) if system == "metric" else None


def show_needed(check: Check, system: System) -> str:
    """Size needed, or that none up to the bound does it."""
    if not check.kind:
        return "-" if not check.computed else "enough" if check.needed is not None else "not enough"
    if check.needed is None:
        return f"> {show_size(check.bound, check, system)}"
    return show_size(check.needed, check, system)


def show_band(check: Check, system: System) -> str:
    """Band of the size needed; open where some such canopy takes more than the bound."""
    low, high = check.low, check.high
    if not check.kind or not isfinite(low) or (low == high):
        return "-"
    if not isfinite(high):
        return f"from {show_size(low, check, system)}"
    return show_range(low, high, check.kind, system, digits=_digits(check.kind, system))


def show_times(check: Check) -> str:
    """Needed over likely."""
    if not check.computed or not check.kind:
        return "-"
    times = check.times if check.needed is not None else check.bound / check.likely
    return f"{'' if check.needed is not None else '> '}{times:.1f}"


def figure_sentence(figure: Figure, system: System) -> str:
    """What the symptom is as a figure of the flight."""
    digits = 0 if figure.kind == "force" else None
    level, designed = (
        show(value, figure.kind, system, digits=digits) for value in (figure.level, figure.designed)
    )
    band = ""
    if figure.low != figure.high:
        band = f" ({show_range(figure.low, figure.high, figure.kind, system, digits=digits)})"
    within = min(figure.low, figure.high) <= figure.level <= max(figure.low, figure.high)
    also = " Within that band such a canopy may be so without any error." if band and within else ""
    return f"What was seen is taken as {figure.words}: {level}; as designed {designed}{band}.{also}"


def check_grid(found: Trouble, system: System) -> Grid:
    """All checks, one a line."""
    rows = [
        [
            _short(f"{number:2d}  {said(check.words.error, system)}"),
            show_needed(check, system), show_band(check, system),
            show_size(check.likely, check, system) if check.kind else "-", show_times(check),
            "computed" if check.computed else "practice",
        ]
        for number, check in enumerate(found.checks, 1)
    ]  # fmt: skip
    return Grid(
        rows=rows,
        heads=["    what may be wrong", "takes", "band", "likely", "times", "basis"],
        title="Likeliest first; what the model doubts stands last of its kind. Takes: how much of it alone "
        "does what was seen; > : not by less than that; likely: what sewing, rigging and weather make "
        "likely; times: the first over that. Basis: computed by the model, or common practice without "
        "source.",
    )


def _short(text: str) -> str:
    return text if len(text) <= MOST_LETTERS else text[: MOST_LETTERS - 3].rstrip() + "..."


LEAST_SHARE = 0.005
"""Part of what was seen under which it counts as none. [-]"""

MOST_LETTERS = 42
"""Of an error in the table; it stands below in full."""


def together_sentence(found: Trouble) -> str:
    """What all errors do together."""
    all_ways, by_chance = found.together
    return (
        f"All errors of likely size together do {100 * all_ways:.0f} % of what was seen if they all go the "
        f"same way, {100 * by_chance:.0f} % by chance (root of squares). Up to {PLAUSIBLE:g} times the "
        "likely is taken to pass unnoticed."
    )


def check_text(number: int, check: Check, system: System) -> str:
    """One check in full."""
    lines = [
        f"{number}. {said(check.words.error, system)}",
        f"  measure: {said(check.words.measure, system)}",
        f"  do: {said(check.words.remedy, system)}",
        f"  {basis_words(check, system)}",
    ]
    return "\n".join(lines)


def basis_words(check: Check, system: System) -> str:
    """Whether it is computed or common practice, with the figure that it rests on."""
    if not check.computed:
        return "COMMON PRACTICE, no source: the model knows nothing of it"
    if not check.kind:
        return "COMPUTED: it does " + ("what was seen" if check.needed is not None else share_words(check))
    likely = f"the likely {show_size(check.likely, check, system)} do {share_words(check)}"
    doubt = f"; {check.doubt}" if check.doubt else ""
    if check.needed is None:
        return f"COMPUTED: not by less than {show_size(check.bound, check, system)}; {likely}{doubt}"
    return f"COMPUTED: {show_size(check.needed, check, system)} do it alone; {likely}{doubt}"


def share_words(check: Check) -> str:
    """Part of what was seen that the likely size does."""
    part = f"{100 * check.share:.0f} %" if check.share >= LEAST_SHARE else "nothing"
    return f"{part} of what was seen"


def to_tick(found: Trouble, system: System) -> str:
    """Checks as Markdown with boxes."""
    assert found.seen is not None
    parts = [f"# {headline(found, system)}\n"]
    for number, check in enumerate(found.checks, 1):
        words = check.words
        parts.append(
            f"- {BOX}{number}. **{said(words.error, system)}**: measure {said(words.measure, system)}. "
            f"Do: {said(words.remedy, system)}. {basis_words(check, system)}. Measured: ________\n"
        )
    return "\n".join([*parts, *(f"Caution: {caution}\n" for caution in CAUTIONS)])
