"""What `parasim learn` answers."""

from collections.abc import Iterator
from functools import cached_property
from math import degrees, hypot, sqrt
from typing import TYPE_CHECKING, Any

from parasim.drawing.printing import paper_of
from parasim.files import file_stem
from parasim.flight.turn.turn import TURN_CAUTIONS
from parasim.learning.blend import NAMES
from parasim.learning.design_file import fitted_file
from parasim.learning.evidence import MEASURABLE, Datum
from parasim.learning.fit import DEVIATIONS
from parasim.learning.learned import FIGURES, KEPT, Compared, Expected, Learned, Next, Number, Wanted
from parasim.learning.logged import Along
from parasim.learning.predicted import Prediction
from parasim.learning.trajectory import Channel
from parasim.report.column import Column, Grid, Table
from parasim.report.learn_built import built_blocks, built_document, built_headline
from parasim.report.learn_sheet import next_grid, next_sentence, notes_template, pages, sheet_blocks
from parasim.report.report import IN_FLIGHT, Block, Report
from parasim.report.words import factor_in_words
from parasim.units import System, convert, in_degrees, show, show_range, unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LONGEST_NAME = 20
"""Letters of a flight's name in a table."""

MOST_NAMED = 2
"""Measurements that line one names. Our choice."""

WIDER = 1.05
"""Width of a band over that before, from which it counts as known less well. Our choice. [-]"""


class LearnReport(Report[Learned]):
    """The fitted calibration; without notes, the sheet for the first flights."""

    COMMAND = "learn"
    CAUTIONS = TURN_CAUTIONS
    TOUCHED = IN_FLIGHT

    @cached_property
    def fitted(self) -> str:
        """Text of the fitted design file; empty without notes."""
        return fitted_file(self.result) if self.result.flights or self.result.built else ""

    def failures(self, units: System) -> list[str]:
        """Flights outside the design's bands, and measurements that fit to nothing else."""
        used = [each for each in self.result.compared if each.used]
        missed = [each for each in used if each.misses(each.before)]
        found = [
            f"{each.datum.flight} flew outside the design's band: {what_in_words(each.datum)} "
            f"{flown(each, units)}, predicted {banded(each.before, each.datum, units)}"
            for each in missed[:MOST_NAMED]
        ]
        if len(missed) > MOST_NAMED:
            found.append(f"{len(missed) - MOST_NAMED} more outside their bands")
        return [
            *found,
            *_poorer(self.result),
            *(
                f"{each.name}: the fit does not follow it second by second: learn from its notes alone"
                for each in self.result.along
                if not each.follows
            ),
            *(
                f"{each.datum.flight}: {what_in_words(each.datum)} {flown(each, units)} lies "
                f"{abs(each.deviations):.0f} errors off the fit: a slip, or the model?"
                for each in used
                if each.outlier
            ),
        ]

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        learned = self.result
        if not learned.flights and not learned.compared:
            if learned.built:
                yield built_headline(learned, units)
                yield from built_blocks(learned, units)
            yield from sheet_blocks(learned, units)
            return
        yield headline(learned, units)
        yield from built_blocks(learned, units)
        yield Grid(
            rows=[number_row(each) for each in learned.numbers], note=silent_sentence(learned),
            heads=["number", "was", "range", "fitted", "range", "kept"],
            title="Calibration before and after, with ranges of two deviations each way",
        )  # fmt: skip
        if learned.hanging:
            yield hanging_sentence(learned)
        yield from along_blocks(learned, units)
        yield from self._measured(units)
        yield Grid(
            rows=[wanted_row(each, units) for each in learned.wanted],
            heads=["figure", "before", "band", "fitted", "band", "width kept"],
            title="Bands, in still air at the design's mass and site",
        )  # fmt: skip
        yield next_grid(learned, units)
        if self.fitted:
            lost = any(each.after.lost for each in learned.wanted)
            bands = (
                "; other commands draw its bands from all ranges at once, wider than these"
                if lost
                else ", whose bands are these"
            )
            yield f"--out DIR writes the fitted design file{bands}; your design file stays as it is."

    def _measured(self, units: System) -> Iterator[Block]:
        """Every measurement beside what was expected, and what it did."""
        learned = self.result
        if not learned.compared:
            return
        yield Grid(
            rows=[compared_row(each, units) for each in learned.compared],
            heads=["flight", "measured", "flown", "predicted before", "fitted", "off", "errors"],
            title="Flown with one error, predicted with the band of the design as it was, fitted, and how "
            "far off; x outside by two errors",
        )  # fmt: skip
        yield Grid(
            rows=[influence_row(each) for each in learned.compared],
            heads=["flight", "measured", "moves most", "narrows most"],
            title="What each measurement did: how far it moved a number, in the number's deviations before "
            "the fit, and whose band is the narrower for it",
        )  # fmt: skip

    def document(self) -> dict[str, Any]:
        """As `learn_document`."""
        return learn_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        yield "learn_numbers.csv", Table(columns=NUMBER_COLUMNS, rows=self.result.numbers).csv(significant=6)
        yield "learn_flown.csv", Table(columns=FLOWN_COLUMNS, rows=self.result.compared).csv(significant=6)

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """The fitted design file, and the sheet for the next flights."""
        from parasim.ladder.build_page import flight_sheet_pdf

        if self.fitted:
            yield "fitted.yaml", self.fitted
        paper = self.result.paper or paper_of(units)
        yield "flight_sheet.pdf", flight_sheet_pdf(pages(self.result, units), paper)

    def to_fill_in(self, units: System) -> Iterator[tuple[str, str]]:
        """Notes on the next flights."""
        yield "notes.yaml", notes_template(self.result, units)

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.learn import learn_figure
        from parasim.plotting.predicted import predicted_figure

        yield "learn.png", learn_figure(self.result, units)
        for along in self.result.along:
            for when in ("before", "after"):
                prediction = getattr(along, when)
                if prediction is not None:
                    words = {"before": "predicted", "after": "fitted"}[when]
                    name = f"{self.name}{'' if when == 'before' else ', fitted'}"
                    stem = file_stem(along.name, "flight")
                    yield f"{stem}_{words}.png", predicted_figure(prediction, name, units)


def _number(name: str, words: str, when: str, end: str) -> Column[Number]:
    return Column(name=name, words=words, kind="", read=lambda n: getattr(getattr(n, when), end))


NUMBER_COLUMNS: tuple[Column[Number], ...] = (
    Column(name="calibration", words="", kind="", read=lambda n: n.name),
    _number("before", "", "before", "value"),
    _number("before_low", "", "before", "low"),
    _number("before_high", "", "before", "high"),
    _number("fitted", "", "after", "value"),
    _number("fitted_low", "", "after", "low"),
    _number("fitted_high", "", "after", "high"),
    Column(name="kept_fraction", words="", kind="", read=lambda n: n.kept),
)
"""Of the calibration, each number in its own unit; kept: deviation after over that before."""


def _in_unit(name: str, read: Any) -> Column[Compared]:
    return Column(
        name=name, words="", kind="",
        read=lambda c: convert(read(c), c.datum.measurable.kind),
    )  # fmt: skip


FLOWN_COLUMNS: tuple[Column[Compared], ...] = (
    Column(name="flight", words="", kind="", read=lambda c: c.datum.flight),
    Column(name="measured", words="", kind="", read=lambda c: c.datum.measurable.words),
    Column(name="unit", words="", kind="", read=lambda c: unit(c.datum.measurable.kind).label or "-"),
    Column(name="left_brake_fraction", words="", kind="", read=lambda c: c.datum.left),
    Column(name="right_brake_fraction", words="", kind="", read=lambda c: c.datum.right),
    _in_unit("flown", lambda c: c.datum.value),
    _in_unit("error", lambda c: c.error),
    _in_unit("before", lambda c: c.before.value),
    _in_unit("before_low", lambda c: c.before.low),
    _in_unit("before_high", lambda c: c.before.high),
    _in_unit("fitted", lambda c: c.after.value),
    _in_unit("fitted_low", lambda c: c.after.low),
    _in_unit("fitted_high", lambda c: c.after.high),
    Column(name="residual_over_error", words="", kind="", read=lambda c: c.deviations),
)
"""Of the measurements, figures in the unit that stands beside them."""


def learn_document(learned: Learned) -> dict[str, Any]:
    """What was learnt as plain data.

    Returns
    -------
    dict
        - ``name``; ``flights``: those that were used; ``flat_area_m2``, ``mass_kg`` of the design.
        - ``as_built`` (null without): list of ``what`` was measured on the ground, ``written_as`` (key of the
          design), and by unit ``design_kg``, ``as_built_kg`` and ``error_kg`` (one deviation), or so ``_m``,
          ``_deg`` and ``_n``; of a force ``design_band_n`` and ``as_built_band_n``.
        - ``calibration``: of `NAMES`, each with ``before`` and ``after`` (``value``, ``low``, ``high``, two
          deviations each way), ``kept_fraction`` (deviation after over that before) and ``known_better``
          (whether the flights narrowed it).
        - ``correlations``: list of ``between`` (two numbers) and ``correlation``, those worth a word.
        - ``measurements``: list of ``flight``, ``left_brake_fraction``, ``right_brake_fraction``, and under
          the key of what was measured (`MEASURED`) ``flown``, ``error`` (one deviation), ``before`` and
          ``after``; ``residual_over_error``, ``outlier``, ``used``; ``moved`` (the number that it moved most)
          and ``moved_deviations``; ``narrowed`` (a key of ``bands``) and ``narrowed_fraction``.
        - ``along``: of each log fitted to second by second ``flight``, ``fitted_s``, ``channels`` (``kind``,
          ``moment_count``, ``noise_m_s`` or ``noise_m``, ``lasting_fraction``: part of it that is left a
          second later, ``worth_count``: so many independent moments), and of the fit ``wind_north_m_s``,
          ``wind_east_m_s``, ``air_m_s`` (rising), ``turning_deg_s`` (built in), ``delay_s`` of the brakes.
        - ``bands``: ``sink_m_s``, ``glide_ratio``, ``landing_speed_m_s``, ``turn_rate_deg_s`` at half the
          right brake: ``before``, ``after``, ``kept_fraction`` (width of the band).
        - ``next``: list of ``trial`` (words), ``tool``, what to expect under the key of what it gives:
          ``expected`` and ``error``; ``narrows_fraction`` and ``together_fraction``: part by which it alone,
          and with all before it, narrows each of ``bands``.
        - ``caveats``: sentences.
    """
    vehicle = learned.vehicle
    return {
        "name": vehicle.design.name,
        "flights": list(learned.flights),
        "mass_kg": vehicle.mass,
        "flat_area_m2": vehicle.canopy.flat_area,
        "as_built": built_document(learned),
        "calibration": dict(zip(NAMES, map(_number_document, learned.numbers), strict=True)),
        "correlations": [{"between": [one, other], "correlation": r} for one, other, r in learned.hanging],
        "measurements": [_measured_document(each) for each in learned.compared],
        "along": [_along_document(each) for each in learned.along],
        "bands": {_band_key(each.key): _wanted_document(each) for each in learned.wanted},
        "next": [_next_document(each) for each in learned.nexts],
        "caveats": list(learned.caveats),
    }


MEASURED = tuple(measurable.key for measurable in MEASURABLE.values())
"""Keys of what can be measured."""


def _band_key(key: str) -> str:
    return "landing_speed_m_s" if key == "landing_speed" else MEASURABLE[key].key


def _ends(expected: Expected, kind: str = "") -> dict[str, float]:
    turn = in_degrees if kind in ("angle", "angular_rate") else float
    return {name: turn(getattr(expected, name)) for name in ("value", "low", "high")}


def _number_document(number: Number) -> dict[str, Any]:
    return {
        "before": _ends(number.before),
        "after": _ends(number.after),
        "kept_fraction": number.kept,
        "known_better": number.known_better,
    }


def _measured_document(each: Compared) -> dict[str, Any]:
    datum, kind = each.datum, each.datum.measurable.kind
    turn = in_degrees if kind in ("angle", "angular_rate") else float
    moved, narrowed = each.moved or ("", 0.0), each.narrowed or ("", 0.0)
    return {
        "flight": datum.flight,
        "left_brake_fraction": datum.left,
        "right_brake_fraction": datum.right,
        datum.measurable.key: {
            "flown": turn(datum.value),
            "error": turn(each.error),
            "before": None if not each.used else _ends(each.before, kind),
            "after": None if not each.used else _ends(each.after, kind),
        },
        "residual_over_error": each.deviations,
        "outlier": each.outlier,
        "used": each.used,
        "moved": moved[0] or None,
        "moved_deviations": moved[1],
        "narrowed": _band_key(narrowed[0]) if narrowed[0] else None,
        "narrowed_fraction": narrowed[1],
    }


def _along_document(along: Along) -> dict[str, Any]:
    drift = along.drift
    return {
        "flight": along.name,
        "fitted_s": along.seconds,
        "channels": [
            {
                "kind": each.kind,
                "moment_count": each.count,
                "noise_m_s" if each.kind == "speed" else "noise_m": each.noise,
                "lasting_fraction": each.factor,
                "worth_count": each.effective,
            }
            for each in along.channels
        ],
        "wind_north_m_s": drift["wind_north"],
        "wind_east_m_s": drift["wind_east"],
        "air_m_s": drift["air"],
        "turning_deg_s": degrees(drift["turning"]),
        "delay_s": drift["delay"],
    }


def _wanted_document(each: Wanted) -> dict[str, Any]:
    kind = each.datum.measurable.kind
    return {
        "before": _ends(each.before, kind),
        "after": _ends(each.after, kind),
        "kept_fraction": each.kept,
    }


def _next_document(each: Next) -> dict[str, Any]:
    datum = each.trial.datum
    kind = datum.measurable.kind
    turn = in_degrees if kind in ("angle", "angular_rate") else float
    return {
        "trial": each.trial.words,
        "tool": each.trial.tool,
        datum.measurable.key: {"expected": _ends(each.expected, kind), "error": turn(datum.error)},
        "narrows_fraction": {_band_key(key): part for key, part in each.narrows.items()},
        "together_fraction": {_band_key(key): part for key, part in each.together.items()},
    }


def headline(learned: Learned, system: System) -> str:
    """What the flights say of sink, and what to measure next."""
    count = len([each for each in learned.compared if each.used])
    flights = len(learned.flights)
    sink = next((each for each in learned.wanted if each.key == "sink"), learned.wanted[0])
    what = [_counted(count, "measurement")] if count or not learned.along else []
    seconds = sum(each.seconds for each in learned.along)
    what += [f"{seconds:.0f} s of {_counted(len(learned.along), 'log')}"] if learned.along else []
    return (
        f"{learned.vehicle.design.name}, fitted to {' and '.join(what)} on "
        f"{_counted(flights, 'flight')}: "
        f"sinks {banded(sink.after, sink.datum, system)}, before {banded(sink.before, sink.datum, system)}"
        + next_sentence(learned)
    )


def _poorer(learned: Learned) -> Iterator[str]:
    """Bands that came out wider than before, and ranges with an end that does not fly."""
    wider = [each for each in learned.wanted if each.kept > WIDER]
    if wider:
        yield (
            f"known less well than before: {', '.join(FIGURES[each.key] for each in wider)}: measure again, "
            "and check heights, weight and line lengths before you believe it"
        )
    lost = [FIGURES[each.key] for each in learned.wanted if each.after.lost]
    if lost:
        yield f"at an end of the fitted ranges it does not fly steadily: {', '.join(lost)} unknown there"


def along_blocks(learned: Learned, units: System) -> Iterator[Block]:
    """Logged flights that were fitted to second by second."""
    if not learned.along:
        return
    yield Grid(
        rows=[along_row(each, channel, units) for each in learned.along for channel in each.channels],
        heads=["log", "by the second", "moments", "noise", "lasting", "worth"],
        title="Fitted second by second; lasting: part of the noise that is left a second later; worth: so "
        "many independent moments",
    )
    yield Grid(
        rows=[
            [short(each.name), words, *(_outside(prediction, name) for name in COMPARED)]
            for each in learned.along
            for words, prediction in (("as it was", each.before), ("fitted", each.after))
        ],
        heads=["log", "design", "height", "sink", "ground speed", "distance off"],
        title="Predicted against flown: moments outside the band",
        note=" ".join(drift_sentence(each, units) for each in learned.along),
    )


COMPARED = ("height", "sink", "ground_speed", "distance_off")
"""Series of a prediction."""


def along_row(along: Along, channel: Channel, system: System) -> list[str]:
    """What was fitted to, its noise, and what it is worth."""
    kind = "speed" if channel.kind == "speed" else "length"
    return [
        short(along.name), channel.kind, f"{channel.count}", show(channel.noise, kind, system, digits=2),
        f"{100 * channel.factor:.0f} %", f"{channel.effective:.0f}",
    ]  # fmt: skip


def _outside(prediction: Prediction | None, name: str) -> str:
    if prediction is None:
        return "does not fly it"
    series = next((each for each in prediction.series if each.name == name), None)
    if series is None:
        return "-"
    return f"{100 * float(series.outside.mean()):.0f} %" + (" x" if series.misses else "")


def drift_sentence(along: Along, system: System) -> str:
    """Wind, air and timing that were fitted along."""
    drift, spread = along.drift, along.drift_spread
    speed = hypot(drift["wind_north"], drift["wind_east"])
    error = hypot(spread["wind_north"], spread["wind_east"]) / sqrt(2)
    air, turned = drift["air"], degrees(drift["turning"])
    return (
        f"{short(along.name)}: wind {show(speed, 'wind_speed', system)} "
        f"(± {convert(error, 'wind_speed', system):.2f}), air rising {show(air, 'speed', system)} "
        f"(± {convert(spread['air'], 'speed', system):.2f}), a built-in turn of {turned:.2f} deg/s "
        f"(± {degrees(spread['turning']):.2f}), brakes {drift['delay']:.2f} s late (± {spread['delay']:.2f})."
    )


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def banded(expected: Expected, datum: Datum, system: System) -> str:
    """A figure and its band."""
    kind = datum.measurable.kind
    value = show(expected.value, kind, system, digits=datum.measurable.digits)
    return f"{value} ({show_range(expected.low, expected.high, kind, system)})"


def flown(each: Compared, system: System) -> str:
    """A measurement with one error."""
    kind, digits = each.datum.measurable.kind, each.datum.measurable.digits
    value, error = (show(x, kind, system, digits=digits) for x in (each.datum.value, each.error))
    return f"{value.partition(' ')[0]} ± {error}"


def what_in_words(datum: Datum) -> str:
    """What was measured, and with which brakes."""
    words = datum.measurable.words
    if datum.left == datum.right:
        return words if not datum.left else f"{words}, both at {100 * datum.left:.0f} %"
    sides = [
        f"{side} {100 * pull:.0f} %" for side, pull in (("left", datum.left), ("right", datum.right)) if pull
    ]
    return f"{words}, {' '.join(sides)}"


def number_row(number: Number) -> list[str]:
    """A number before and after; kept in brackets where nothing was learnt."""
    kept = f"{100 * number.kept:.0f} %"
    return [
        factor_in_words(number.name),
        f"{number.before.value:.4g}",
        _plain_range(number.before),
        f"{number.after.value:.4g}",
        _plain_range(number.after),
        kept if number.known_better else f"({kept})",
    ]


def _plain_range(expected: Expected) -> str:
    return f"{expected.low:.3g} to {expected.high:.3g}"


def silent_sentence(learned: Learned) -> str:
    """What these flights do not show."""
    silent = [factor_in_words(each.name) for each in learned.numbers if not each.known_better]
    if not silent:
        return "The flights narrowed every number."
    return (
        f"In brackets, what these flights do not show (over {100 * KEPT:.0f} % of the spread is left): "
        f"{', '.join(silent)}."
    )


def hanging_sentence(learned: Learned) -> str:
    """Which numbers the flights only know together."""
    pairs = [
        f"{factor_in_words(one)} and {factor_in_words(other)} {r:+.2f}"
        for one, other, r in learned.hanging[:6]
    ]
    return f"Known better together than alone (correlation): {'; '.join(pairs)}."


def compared_row(each: Compared, system: System) -> list[str]:
    """Flown, predicted before, fitted, and how far off that is."""
    datum, row = each.datum, [short(each.datum.flight), what_in_words(each.datum), flown(each, system)]
    if not each.used:
        return [*row, "no such flight", "-", "-", "-"]

    def plain(value: float) -> str:
        shown = show(value, datum.measurable.kind, system, digits=datum.measurable.digits)
        return shown.partition(" ")[0]

    outside = (each.misses(each.before), abs(each.deviations) > DEVIATIONS)
    before, after = (" x" if miss else "" for miss in outside)
    off = plain(each.residual)
    return [
        *row,
        f"{plain(each.before.low)} to {plain(each.before.high)}{before}",
        f"{plain(each.after.value)}{after}",
        off if off.startswith("-") else f"+{off}",
        f"{each.deviations:+.1f}".replace("-0.0", "+0.0"),
    ]


def short(name: str) -> str:
    """Name of a flight, cut so that it leaves room for the rest."""
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


def influence_row(each: Compared) -> list[str]:
    """Number that it moved most, and figure that it narrows most."""
    moved = narrowed = "-"
    if each.moved is not None and each.narrowed is not None:
        moved = f"{factor_in_words(each.moved[0])} {each.moved[1]:+.2f}"
        if each.narrowed[1] >= 0.005:
            narrowed = f"{FIGURES[each.narrowed[0]]} {100 * each.narrowed[1]:.0f} %"
    return [short(each.datum.flight), what_in_words(each.datum), moved, narrowed]


def wanted_row(each: Wanted, system: System) -> list[str]:
    """A figure with its band before and after."""
    kind = each.datum.measurable.kind
    cells = [FIGURES[each.key]]
    for expected in (each.before, each.after):
        cells += [show(expected.value, kind, system), show_range(expected.low, expected.high, kind, system)]
    return [*cells, f"{100 * each.kept:.0f} %"]
