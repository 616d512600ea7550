"""What `parasim summary` answers: rulers, what to make, how to fly it; in words and as a page to print."""

from collections.abc import Iterator, Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

from parasim.answer import Answer
from parasim.flight.drop import CAUTIONS
from parasim.flight.landing import FORWARD_RESERVE
from parasim.flight.release.reach import measured_at
from parasim.flight.release.release import packed_height
from parasim.making.rulers import Ruler
from parasim.making.summary import HOW_TO_MEASURE, WINDS, Summary
from parasim.report.column import Column, Table, row_document
from parasim.report.flare import paste_line
from parasim.report.glide import headline
from parasim.report.limits import digits_apart
from parasim.report.report import Block, Report
from parasim.report.summary_share import SECTIONS, Pictures, section_pictures, views_picture
from parasim.report.words import factor_in_words
from parasim.sewing.line_sheet import Entry, LineSheet
from parasim.units import System, convert, label, show, show_range

if TYPE_CHECKING:
    from jinja2 import Environment
    from matplotlib.figure import Figure

START_WORDS = {"steady": "in its steady glide", "rest": "from rest", "velocity": "at the speed in the file"}
"""How a drop starts."""

ANYBODY_BELOW = (
    "Anybody below: within the glide in any direction, or where it drifts or falls unopened. Nobody there "
    "who watches and can call it off."
)
"""First of what stops a release."""

BY_COMMAND = "Not kept, by command"
"""Over what single commands find."""

VIEWS = "summary_views.png"
"""The dimensioned drawing."""

MAX_OVER = 1.15
"""Length of a ruler over the greatest figure on it."""


DIGITS = {"length": 0, "ratio": 1}
"""Decimals of some kinds of quantity on a ruler."""


def decimals(ruler: Ruler, units: System) -> int | None:
    """Of all figures on a ruler: none printed contradicts its verdict. None for the usual ones."""
    usual = DIGITS.get(ruler.kind)
    if ruler.limit is None or ruler.word == "kept":
        return usual
    failing = ruler.value if ruler.word == "not kept" else ruler.worse
    return digits_apart(failing, ruler.limit, ruler.kind, units, digits=usual)


def shown(ruler: Ruler, value: float, units: System) -> str:
    """A figure on a ruler."""
    return show(value, ruler.kind, units, digits=decimals(ruler, units))


def band_words(ruler: Ruler, units: System) -> str:
    """Its band; a dash where it has none."""
    if ruler.low == ruler.high:
        return "-"
    return show_range(ruler.low, ruler.high, ruler.kind, units, digits=decimals(ruler, units))


def limit_words(ruler: Ruler, units: System) -> str:
    """Its limit, and to which side it is one."""
    if ruler.limit is None:
        return "none given"
    return f"{'at most' if ruler.most else 'at least'} {shown(ruler, ruler.limit, units)}"


def _metric(name: str, ruler: Ruler) -> float | None:
    value: float | None = getattr(ruler, name)
    return None if value is None else convert(value, ruler.kind)


def ruler_columns(units: System) -> tuple[Column[Ruler], ...]:
    """Of limits and margins; in data the unit of each ruler stands beside its figures."""
    return (
        Column(name="name", words="figure", kind="", read=lambda r: r.name),
        Column(name="", words="computed", kind="", read=lambda r: shown(r, r.value, units)),
        Column(name="", words="band", kind="", read=lambda r: band_words(r, units)),
        Column(name="", words="limit", kind="", read=lambda r: limit_words(r, units)),
        *(
            Column(name=name, words="", kind="", read=partial(_metric, name))
            for name in ("value", "low", "high", "limit")
        ),
        Column(name="unit", words="", kind="", read=lambda r: label(r.kind) or "1"),
        Column(name="at_most", words="", kind="", read=lambda r: r.most),
        Column(name="room_fraction", words="", kind="", read=lambda r: r.room),
        Column(name="basis", words="", kind="", read=lambda r: r.basis),
        Column(name="verdict", words="verdict", kind="", read=lambda r: r.word),
    )  # fmt: skip


class SummaryReport(Report[Summary]):
    """A design on one page."""

    COMMAND = "summary"
    CAUTIONS = CAUTIONS

    def __init__(self, result: Summary, shared: Iterator[Pictures] | None = None) -> None:
        """As of any report; `shared` brings the pictures that another process draws, if one does."""
        super().__init__(result)
        self._shared, self._drawn = shared, Pictures()

    def failures(self, units: System) -> list[str]:
        """Rulers whose limit is not kept by the worse end of the band, and how many commands find."""
        more = len(failure_rows(self.result, units))
        below = [f'{more} found by single commands, listed as "{BY_COMMAND}"'] if more else []
        return [
            f"{ruler.name} is {shown(ruler, ruler.value, units)} ({limit_words(ruler, units)})"
            if ruler.word == "not kept"
            else f"{ruler.name} may be {shown(ruler, ruler.worse, units)} ({limit_words(ruler, units)})"
            for ruler in self.result.rulers
            if ruler.word in ("not kept", "may not be kept")
        ] + below

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        found = self.result
        yield headline(found.glide, units)
        yield Table(
            columns=ruler_columns(units), rows=found.rulers, title="Limits and margins, brakes released",
            note=first_words(found, units),
        )  # fmt: skip
        if failed := failure_rows(found, units):
            yield "\n".join([BY_COMMAND, *(f"  {head}: {words}" for head, words in failed)])
        for title, rows in (("Make", make_rows(found, units)), ("Fly", fly_rows(found, units))):
            yield "\n".join([title, *(f"  {head}: {words}" for head, words in rows)])
        for title, part in parts_of(found)[ALWAYS:]:
            yield f"{title}: {' '.join(part.report.first_line(units).split())}"
        uncertain = (f"  {name}, {share} of the bands: {how}" for name, share, how in uncertain_rows(found))
        yield "\n".join(["Least certain, and how to measure it", *uncertain])

    def document(self) -> dict[str, Any]:
        """As `summary_document`."""
        return summary_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        yield "summary.csv", Table(columns=ruler_columns("metric"), rows=self.result.rulers).csv()

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """The dimensioned drawing."""
        from parasim.plotting.views import views_figure

        if self._drawn.file is None:
            yield VIEWS, views_figure(self.result.vehicle, units)

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """The page, and the dimensioned drawing if it is drawn already."""
        yield "summary.html", page(self, units)
        if self._drawn.file is not None:
            yield VIEWS, self._drawn.file

    def pictures(self, units: System) -> Pictures:
        """Those of the page: drawn here, but for what another process draws meanwhile."""
        parts, vehicle = dict(parts_of(self.result)), self.result.vehicle
        here = [title for title in parts if title not in SECTIONS or self._shared is None]
        own = {title: section_pictures(title, parts[title], units) for title in here}
        self._drawn = next(self._shared or iter(()), self._drawn)
        sections = {
            title: own.get(title) or self._drawn.sections.get(title) or section_pictures(title, part, units)
            for title, part in parts.items()
        }
        return Pictures(sections=sections, views=self._drawn.views or views_picture(vehicle, units))


def summary_document(summary: Summary) -> dict[str, Any]:
    """Summary as plain data.

    Returns
    -------
    dict
        - ``name``, ``design_file``, ``digest``: of the design; the digest is the beginning of the SHA-256 of
          the design as read, defaults filled in.
        - ``rulers``: limits and margins: ``name``, ``value``, ``low``, ``high``, ``limit`` (null where none
          is given), all in ``unit``, ``at_most`` (else at least), ``room_fraction`` (what the worse end of
          the band leaves to the limit, over the limit), ``basis``, ``verdict``: kept, may not be kept, not
          kept or unknown.
        - ``first_to_fail``: name of the ruler with least room, null where no limit is given.
        - ``clear_ground``: by ``wind_m_s`` where it is measured the ``radius_m`` that straight flights,
          brakes released, keep to at the high end of the band.
        - ``least_certain``: ``name`` of a calibration number, its ``share_fraction`` of the bands of sink,
          glide ratio, nose-tuck margin and turn rate at half brake, ``measure``: the test that shows it.
        - ``mass_kg``: of cloth, tape, thread and lines, as flown; ``all_up_mass_kg``.
        - ``cautions`` and ``caveats``: sentences.
    """
    first = summary.first_to_fail
    return {
        "name": summary.vehicle.design.name,
        "design_file": summary.design_file,
        "digest": summary.digest,
        "rulers": [row_document(ruler_columns("metric"), ruler) for ruler in summary.rulers],
        "first_to_fail": first.name if first else None,
        "clear_ground": [
            {"wind_m_s": wind, "radius_m": band.high}
            for wind, band in zip(WINDS, summary.clear_ground, strict=True)
        ],
        "least_certain": [
            {"name": name, "share_fraction": share, "measure": HOW_TO_MEASURE[name]}
            for name, share in summary.least_certain
        ],
        "mass_kg": summary.cut.simulated_mass,
        "all_up_mass_kg": summary.vehicle.mass,
        "cautions": list(CAUTIONS),
        "caveats": list(summary.caveats),
    }


def first_words(summary: Summary, units: System) -> str:
    """What fails first, in a sentence."""
    first = summary.first_to_fail
    if first is None or first.room is None:
        return "The file gives no limit, so nothing can be said to fail first."
    share = f"{100 * abs(first.room):.0f} % of that"
    worse = f"{first.name}. The worse end of its band is {shown(first, first.worse, units)}, where"
    limit = f"{limit_words(first, units)} is asked for"
    if first.room >= 0:
        return f"First to fail would be {worse} {limit}: {share} to spare."
    return f"Fails first: {worse} {limit}: {share} {'too much' if first.most else 'is missing'}."


def failure_rows(summary: Summary, units: System) -> list[list[str]]:
    """What each command calls not kept."""
    answers: dict[str, Answer | None] = {
        "glide": summary.glide, "landing": summary.landing, "flare": summary.landing.flare,
        "turn": summary.turn, "drop": summary.drop, "opening": summary.opening, "servo": summary.servo,
        "cut": summary.cut, "lines": summary.lines,
    }  # fmt: skip
    return [
        [command, failure]
        for command, answer in answers.items()
        if answer is not None
        for failure in answer.report.failures(units)
    ]


def make_rows(summary: Summary, units: System) -> list[list[str]]:
    """What to buy and cut, lengths to check twice, weights to expect."""
    cut = summary.cut
    pieces = sum(piece.count for piece in cut.templates.pieces)
    rows = [
        ["to buy", ", ".join(_bought(each.item, each.metres, each.yards, units) for each in cut.shopping)],
        ["pieces", f"{pieces} of cloth from {len(cut.templates.pieces)} templates; {cut.tabs} tabs"],
        ["line", f"{_lines_and_pieces(cut.line_sheet)}, {cut.line_sheet.material or 'material not given'}, "
         f"measured under {cut.line_sheet.tension_words(units)}"],
        ["check twice", check_twice(summary, units)],
        ["weight to expect", f"canopy and lines {show(cut.simulated_mass, 'small_mass', units)}, all up "
         f"{show(summary.vehicle.mass, 'mass', units)}"],
    ]  # fmt: skip
    return rows


def _lines_and_pieces(sheet: LineSheet) -> str:
    """How many lines hang there, and how many pieces they are cut in: some run through a knot."""
    lines, pieces = len(sheet.entries), sum(total.count for total in sheet.totals)
    return f"{lines} lines" if lines == pieces else f"{lines} lines in {pieces} pieces"


def check_twice(summary: Summary, units: System) -> str:
    """Ways from riser to tab on the middle rib, on which rigging and trim rest."""
    sheet = summary.cut.line_sheet
    right = [each for each in sheet.differentials if each.side == "R"]
    middle = min(right, key=lambda each: each.rib)

    others = ", ".join(
        f"{name} {'+' if longer >= 0 else ''}{show(longer, 'tape_length', units)}"
        for name, longer in middle.longer.items()
    )
    front = show(middle.front, "tape_length", units)
    return f"rib {middle.rib}: {sheet.front_row} {front}; against it {others}"


def fly_rows(summary: Summary, units: System) -> list[list[str]]:
    """Ground to keep clear, release, flare, turn, what stops you."""
    design, flare = summary.vehicle.design, summary.landing.flare
    line = paste_line(flare, units) if flare is not None and flare.helps else None
    clear = ", ".join(
        f"{show(band.high, 'length', units, digits=0)} in {show(wind, 'wind_speed', units, digits=0)}"
        for wind, band in zip(WINDS, summary.clear_ground, strict=True)
    )
    at = show(measured_at(summary.vehicle).height, "length", units, digits=0)
    height = show(design.drop.height, "length", units, digits=0)
    return [
        ["clear ground", f"as far as it can glide straight from {height}, high end of the band, by the "
         f"wind at {at} above ground: {clear}; unopened: see parasim drop"],
        ["release", f"from {height}, {START_WORDS[design.drop.start]}; {packed_words(summary, units)}"
         "parasim release says where"],
        ["flare", f"{line} in drop.brakes" if line else "none that gains, or not in one pull"],
        ["half of one brake", _half_brake(summary)],
        ["what stops you", f"{ANYBODY_BELOW} Wind over {wind_limit(summary, units)} "
         f"({100 * FORWARD_RESERVE:.0f} % of the forward speed kept in hand). "
         "A limit above that is not kept. A turn with both brakes even."],
    ]  # fmt: skip


def packed_words(summary: Summary, units: System) -> str:
    """Least height of a packed release, opening and plan together, a phrase; empty where it is not known."""
    packed = packed_height(summary.opening, summary.plan)
    if packed is None or summary.plan is None:
        return ""
    height, plan = (show(each, "length", units, digits=0) for each in (packed, summary.plan.lowest))
    more = "" if packed <= summary.vehicle.design.drop.height else ", more than it is let go from"
    return f"its plan takes {plan} gliding, {height} packed (to open and fly the plan){more}; "


def wind_limit(summary: Summary, units: System) -> str:
    """Wind that stops a drop, and where it is measured."""
    if summary.plan is None:
        return f"{show(summary.landing.wind_limit, 'wind_speed', units)} at the canopy"
    return (
        f"{show(summary.plan.wind, 'wind_speed', units)} at "
        f"{show(summary.plan.wind_height, 'length', units, digits=0)} above ground"
    )


def _half_brake(summary: Summary) -> str:
    from math import degrees, isfinite, isnan

    band = summary.half_brake
    if isnan(band.low):
        return "spirals"
    high = f"{degrees(band.high):.0f} deg/s" if isfinite(band.high) else "a spiral"
    return f"turns at {degrees(band.value):.0f} deg/s ({degrees(band.low):.0f} to {high})"


def _bought(item: str, metres: float, yards: float, units: System) -> str:
    return f"{item} {yards:.2f} yd" if units == "imperial" else f"{item} {metres:.1f} m"


def uncertain_rows(summary: Summary) -> list[list[str]]:
    """Calibration number, its part of the bands, the test that shows it."""
    return [
        [factor_in_words(name), f"{100 * share:.0f} %", HOW_TO_MEASURE[name]]
        for name, share in summary.least_certain
    ]


def line_rows(summary: Summary, units: System) -> list[list[str]]:
    """Every line: label, finished length, what is cut and tied."""
    return [
        [entry.label, show(entry.finished, "tape_length", units), _cut_and_tied(entry, units)]
        for entry in summary.cut.line_sheet.entries
    ]


def _cut_and_tied(entry: Entry, units: System) -> str:
    """What is cut and tied; of a plain line the length to cut, and what to mind."""
    order = entry.cut_order(units)
    if entry.run is not None or entry.cut is None:
        return order
    return f"cut {entry.cut_words(units)}" + (f"; {order}" if order else "")


class Scale(NamedTuple):
    """A ruler laid out: places from 0 to 100 along it, and its words.

    `before` is where the figure was, `stale` says what of it is still that of an earlier design.
    """

    name: str
    low: float
    high: float
    value: float
    limit: float | None
    most: bool
    figures: str
    limit_words: str
    basis: str
    word: str
    before: float | None = None
    stale: str = ""


def scale(
    ruler: Ruler,
    units: System,
    *,
    before: float | None = None,
    stale: str = "",
    old: tuple[float, float] | None = None,
) -> Scale:
    """Places of band, figure and limit on a ruler from zero, or from below it where a figure is negative.

    Parameters
    ----------
    ruler : Ruler
        To lay out.
    units : {"metric", "imperial"}
        Of its words.
    before, stale
        As in `Scale`; the figure of before in SI.
    old : (float, float), optional
        Band to draw in place of its own: that of an earlier design. [SI]
    """
    low, high = old or (ruler.low, ruler.high)
    marks = [ruler.value, low, high, *(mark for mark in (ruler.limit, before) if mark is not None)]
    start = min(0.0, MAX_OVER * min(marks))
    length = MAX_OVER * max(marks) - start or 1.0

    def place(value: float | None) -> float | None:
        return None if value is None else round(100 * (value - start) / length, 2)

    band = band_words(ruler, units)
    return Scale(
        name=ruler.name,
        low=place(low) or 0.0,
        high=place(high) or 0.0,
        value=place(ruler.value) or 0.0,
        limit=place(ruler.limit),
        most=ruler.most,
        figures=shown(ruler, ruler.value, units) + ("" if band == "-" else f" ({band})"),
        limit_words="no limit set" if ruler.limit is None else limit_words(ruler, units),
        basis=ruler.basis,
        word=ruler.word,
        before=place(before),
        stale=stale,
    )


ALWAYS = 6
"""Sections that every page has; the others are asked for."""


def parts_of(found: Summary) -> list[tuple[str, Answer]]:
    """Titles of the sections below the first page, and what answers them."""
    parts: list[tuple[str, Answer]] = [
        ("Glide", found.glide), ("Landing", found.landing), ("Turn", found.turn), ("Drop", found.drop),
        ("Opening", found.opening), ("Cloth", found.cut),
    ]  # fmt: skip
    if found.scatter is not None:
        parts.append((f"Where {len(found.scatter.members)} drops land", found.scatter))
    if found.flown is not None:
        parts.append(("Predicted against flown", found.flown))
    return parts


class Section(NamedTuple):
    """A part below the first page: title, SVG pictures and texts."""

    title: str
    pictures: Sequence[str]
    words: str


def environment_of_pages() -> "Environment":
    """Templates of pages, every text in them escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("parasim.report", "pages"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip


def page(report: SummaryReport, units: System) -> str:
    """The page as one HTML file: no network, no scripts, pictures in it as SVG with a text beside each."""
    from markupsafe import Markup

    found = report.result
    environment = environment_of_pages()
    drawn = report.pictures(units)
    sections = [
        Section(
            title,
            [Markup(picture) for picture in drawn.sections[title]],
            " ".join(answer.report.first_line(units).split()),
        )
        for title, answer in parts_of(found)
    ]
    failed = failure_rows(found, units)
    return environment.get_template("summary.html").render(
        name=report.name,
        file=found.design_file,
        digest=found.digest,
        day=date.today().isoformat(),
        paper="letter" if units == "imperial" else "A4",
        answer=" ".join(report.first_line(units).split()),
        views=Markup(drawn.views),
        scales=[scale(ruler, units) for ruler in found.rulers],
        first=first_words(found, units),
        by_command=BY_COMMAND,
        failed=failed,
        make=make_rows(found, units),
        fly=fly_rows(found, units),
        uncertain=uncertain_rows(found),
        cautions=CAUTIONS,
        caveats=report.said_caveats(units),
        sections=sections,
        titles=[each.title for each in sections]
        + [BY_COMMAND] * bool(failed)
        + ["Lines", "What to keep in mind"],
        lines=line_rows(found, units),
    )
