"""What `parasim track --design` answers: the log, and beside it what the design does."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from parasim.learning.predicted import PredictedTrack, Prediction, Series
from parasim.report.column import Column, Grid, Table
from parasim.report.report import Block
from parasim.report.track import TrackReport, headline, track_document
from parasim.units import System, convert, show, show_range

if TYPE_CHECKING:
    from matplotlib.figure import Figure as Picture

DIGITS = {"height": 0, "distance_off": 0}
"""Decimals of some series."""


class PredictedReport(TrackReport):
    """A log, and beside it what the design does."""

    @property
    def found(self) -> PredictedTrack:
        """The answer."""
        assert isinstance(self.result, PredictedTrack)
        return self.result

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        lines = [headline(flight, units) for flight in self.result.flights]
        lines += [predicted_line(each) for each in self.found.predictions]
        yield ".\n".join(lines)
        for prediction in self.found.predictions:
            yield from prediction_blocks(prediction, self.found.vehicle.design.name, units)
        _, *others = super().blocks(units)
        yield from others

    def document(self) -> dict[str, Any]:
        """As `predicted_document`."""
        return predicted_document(self.found)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        yield from super().tables()
        for prediction in self.found.predictions:
            name = f"{self._prefix(prediction.flight)}predicted.csv"
            yield name, Table(columns=MOMENT_COLUMNS, rows=moments(prediction)).csv()

    def figures(self, units: System) -> Iterator[tuple[str, "Picture"]]:
        """As `Report.figures`."""
        from parasim.plotting.predicted import predicted_figure

        yield from super().figures(units)
        for prediction in self.found.predictions:
            figure = predicted_figure(prediction, self.found.vehicle.design.name, units)
            yield f"{self._prefix(prediction.flight)}predicted.png", figure


def predicted_document(found: PredictedTrack) -> dict[str, Any]:
    """Logged flights as plain data, and beside them what the design does.

    Returns
    -------
    dict
        As `parasim.report.track.track_document` has it with a design.
    """
    return {
        **track_document(found),
        "design": found.vehicle.design.name,
        "predicted": [
            {
                "log": each.flight.log.file,
                "from_s": float(each.time[0]),
                "to_s": float(each.time[-1]),
                **{
                    series.name: {
                        "outside_fraction": float(series.outside.mean()),
                        "outside": bool(series.misses),
                    }
                    for series in each.series
                },
            }
            for each in found.predictions
        ],
        "not_predicted": [{"log": name, "why": why} for name, why in found.lacking],
    }


def predicted_line(prediction: Prediction) -> str:
    """Whether the flight went as predicted."""
    words = ", ".join(each.words for each in prediction.missed)
    verdict = f"outside the design's band: {words}" if words else "flew within the design's band"
    return f"{prediction.flight.name}: {verdict}"


def prediction_blocks(prediction: Prediction, design: str, units: System) -> Iterator[Block]:
    """Each steady stretch side by side, then the whole way."""
    yield Grid(
        rows=stretch_rows(prediction, units),
        heads=["", "stretch", "figure", "flown", "predicted", "band", "flown less predicted"],
        title=f"Predicted against flown: {prediction.flight.log.file} and {design} under the logged brakes, "
        "in the log's wind; means of each stretch",
        note=way_sentence(prediction, units),
    )  # fmt: skip
    yield Grid(
        rows=[_outside_row(each, units) for each in prediction.series],
        heads=["over the whole way", "largest difference", "at the end", "moments outside the band", ""],
        title="Band of two deviations: the calibration, the log's wind, and the heading at first",
    )


def stretch_rows(prediction: Prediction, units: System) -> list[list[str]]:
    """Letter, stretch, figure, flown, predicted, band, difference."""

    def row(name: str, flown: float, value: float, low: float, high: float) -> list[str]:
        off, outside = show(flown - value, "speed", units), "" if low <= flown <= high else " x"
        return [
            name.replace("_", " "), show(flown, "speed", units), show(value, "speed", units),
            show_range(low, high, "speed", units) + outside, off if off.startswith("-") else f"+{off}",
        ]  # fmt: skip

    return [[place, words, *row(*mean)] for place, words, means in prediction.stretches() for mean in means]


def way_sentence(prediction: Prediction, units: System) -> str:
    """How far was flown again, and how far apart they end."""
    lasted = (
        f"Flown again for {prediction.time[-1] - prediction.time[0]:.0f} s, from the first steady stretch"
    )
    if prediction.place is None:
        return f"{lasted}; without a wind neither ground speed nor place is predicted. x: outside the band."
    apart = next(each for each in prediction.series if each.name == "distance_off")
    return (
        f"{lasted}; at the end {show(float(apart.flown[-1]), 'length', units, digits=0)} apart "
        f"(band {show(float(apart.high[-1]), 'length', units, digits=0)}). x: outside the band."
    )


def _outside_row(series: Series, units: System) -> list[str]:
    off = series.flown - series.predicted
    most = float(off[np.abs(off).argmax()])
    digits = DIGITS.get(series.name)
    return [
        series.words,
        show(most, series.kind, units, digits=digits),
        show(float(off[-1]), series.kind, units, digits=digits),
        f"{100 * float(series.outside.mean()):.0f} %",
        "outside" if series.misses else "",
    ]


Moment = dict[str, float]


def moments(prediction: Prediction) -> Sequence[Moment]:
    """Every moment: time, and of each series flown, predicted and its band."""
    columns: dict[str, Any] = {"time": prediction.time}
    for each in prediction.series:
        for end in ("flown", "predicted", "low", "high"):
            columns[f"{each.name} {end}"] = convert_all(getattr(each, end), each.kind)
    names = list(columns)
    return [dict(zip(names, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def convert_all(values: Any, kind: str) -> list[float]:
    """SI values in the unit of data."""
    return [convert(float(value), kind) for value in values]


def _moment(name: str, end: str, unit: str) -> Column[Moment]:
    return Column(name=f"{name}_{end}{unit}", words="", kind="", read=lambda m: m.get(f"{name} {end}"))


MOMENT_COLUMNS: tuple[Column[Moment], ...] = (
    Column(name="time_s", words="", kind="", read=lambda m: m["time"]),
    *(_moment("height", end, "_m") for end in ("flown", "predicted", "low", "high")),
    *(_moment("sink", end, "_m_s") for end in ("flown", "predicted", "low", "high")),
    *(_moment("ground_speed", end, "_m_s") for end in ("flown", "predicted", "low", "high")),
    _moment("distance_off", "flown", "_m"),
    _moment("distance_off", "high", "_m"),
)
"""Of a moment: time after release, what was flown, predicted, and the band; empty without a wind."""
