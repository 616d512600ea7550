"""What `parasim sweep` answers, and what a search has in common with it."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from parasim.config.quantity import (
    ANGLE,
    AREA,
    AREAL_WEIGHT,
    ENERGY,
    FORCE,
    LENGTH,
    LINEAR_DENSITY,
    MASS,
    PERMEABILITY,
    PRESSURE,
    SPEED,
    TEMPERATURE_STEP,
    TIME,
    TORQUE,
)
from parasim.config.variant import Written
from parasim.config.variation import Variation
from parasim.report.column import Column, Table, row_document
from parasim.report.report import Block, Report
from parasim.study.evaluate import Settings, Variant
from parasim.study.outputs import OUTPUTS
from parasim.study.sweep import Sweep
from parasim.units import System, show, show_range, unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SUFFIXES = {
    ANGLE: "deg", AREA: "m2", AREAL_WEIGHT: "kg_m2", ENERGY: "j", FORCE: "n", LENGTH: "m",
    LINEAR_DENSITY: "kg_m", MASS: "kg", PERMEABILITY: "m_s", PRESSURE: "pa", SPEED: "m_s",
    TEMPERATURE_STEP: "k", TIME: "s", TORQUE: "n_m",
}  # fmt: skip
"""Unit in the head of a key, by its kind; ratios in per cent are reported as fractions."""

CSV_SIGNIFICANT = 10
"""Digits of a figure in sweep.csv: keys may be as small as the mass of a metre of line."""

REMARK: Column[Variant] = Column(
    name="remark", words="remark", kind="",
    read=lambda variant: " | ".join(dict.fromkeys(variant.reasons.values())),
)  # fmt: skip
"""Why figures are missing."""


class SweepReport(Report[Sweep]):
    """Outputs over one or two keys."""

    COMMAND = "sweep"

    @property
    def name(self) -> str:
        """As `Report.name`."""
        return self.result.design.name

    @property
    def caveats(self) -> Sequence[str]:
        """As `Report.caveats`."""
        return sweep_caveats(self.result)

    @property
    def cautions(self) -> Sequence[str]:
        """As `Report.cautions`: those that the outputs want."""
        return self.result.cautions

    def failures(self, units: System) -> list[str]:
        """Limits, and how many of the designs do not keep each."""
        sweep, count = self.result, len(self.result.variants)
        missed = {
            limit.text(units): sum(not limit.kept(variant.value(name)) for variant in sweep.variants)
            for name in sweep.names
            for _, limit in sweep.limits_on(name)
        }
        return [f"{text} by {n} of {count}" for text, n in missed.items() if n]

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        sweep = self.result
        keys = [variation.key for variation in sweep.variations]
        own = [
            setting_words(v, x, units) if x is not None else "-"
            for v, x in zip(sweep.variations, sweep.own, strict=True)
        ]
        found = ", ".join(_spanned(sweep, name, units) for name in sweep.names)
        yield (
            f"{self.name}: {len(sweep.variants)} designs over {' and '.join(keys)}, {found}; "
            "still air, at the ground"
        )
        yield f"as the file has it: {', '.join(map(' '.join, zip(keys, own, strict=True)))}"
        yield Table(
            columns=(
                *(_in_words(v, i, units) for i, v in enumerate(sweep.variations)),
                *(_marked(sweep, name, units) for name in sweep.names),
            ),
            rows=sweep.variants,
            note="\n".join(f"{sentence} (+ kept, x not)" for sentence in limit_sentences(sweep, units)),
            long=True,
        )

    def document(self) -> dict[str, Any]:
        """As `sweep_document`."""
        return sweep_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        sweep = self.result
        yield "sweep.csv", sweep_csv(sweep.variants, sweep.variations, sweep.names)

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`: lines over one key, a map for each output over two."""
        from parasim.plotting.sweep import contour_figure, line_figure

        sweep = self.result
        if len(sweep.variations) == 1 or any(variation.words for variation in sweep.variations):
            yield "sweep.png", line_figure(sweep, units)
            return
        for name in sweep.names:
            yield f"sweep_{name}.png", contour_figure(sweep, name, units)


def sweep_document(sweep: Sweep) -> dict[str, Any]:
    """Sweep as plain data; of a search, further keys.

    Returns
    -------
    dict
        - `name`; `varied`: list of the keys varied, each `key`, `unit` as written and `own`, the file's own
          value as text or null.
        - `shown`: names of the outputs; `limits`: list of `output`, `sign`, `limit` in words and `from`.
        - `designs`: for each design `settings` (the key with _ for the dot, and its unit: `canopy_span_m`),
          `outputs` (name and unit, such as `sink_m_s`; null at a gap) and `reasons`: of an output without
          figure, by its name.
        - `gaps`: for each `output` with any: `count`, and for each of its `causes` the `count` and `reason`.
        - Of a search instead: `goal`, `minimum` (whether minimum is best), `looked_at` and `failed` (without
          some figure): `count`; `as_designed`: `outputs`, `reasons`; `best` (null if none keeps all limits)
          and `nearest`, which misses them by the smallest amount: `settings`, `outputs`, `reasons`.
        - `checks`: for each limit `output`, `limit`, `kept`, `binds`, `best_outputs` and `reached_outputs`
          (the value nearest to keeping it, whatever the other limits say); `furthest`: name of the output
          whose limit is missed most, or null. `own_limits_passed`: sentences.
        - `ranges`: for each `key`: `low` and `high` (as text) among designs within `good_percent` of the
          best, `flat` (whether these span much of its range), `idle` (whether it makes no difference), `edge`
          (of its range, where the best lies: null, low or high).
        - `cautions` and `caveats`: sentences.
    """
    return {
        "name": sweep.design.name,
        "varied": varied_document(sweep.variations, sweep.own),
        "shown": list(sweep.names),
        "limits": [
            {"output": name, "sign": limit.sign, "limit": limit.text(), "from": source}
            for name in sweep.names
            for source, limit in sweep.limits_on(name)
        ],
        "designs": [variant_document(variant, sweep.variations, sweep.names) for variant in sweep.variants],
        "gaps": [
            {
                "output": name,
                "count": sum(len(variants) for _, variants in sweep.gaps(name)),
                "causes": [
                    {"count": len(variants), "reason": reason} for reason, variants in sweep.gaps(name)
                ],
            }
            for name in sweep.names
            if sweep.gaps(name)
        ],
        "cautions": list(sweep.cautions),
        "caveats": list(sweep_caveats(sweep)),
    }


def varied_document(
    variations: Sequence[Variation], own: Sequence[float | None]
) -> list[dict[str, str | None]]:
    """Keys that were varied, as plain data."""
    return [
        {"key": v.key, "unit": v.unit, "own": None if x is None else v.text(x)}
        for v, x in zip(variations, own, strict=True)
    ]


def variant_document(
    variant: Variant, variations: Sequence[Variation], names: Sequence[str]
) -> dict[str, Any]:
    """One design as plain data."""
    return {
        "settings": row_document(setting_columns(variations), variant) if variant.settings else {},
        "outputs": row_document(output_columns(names), variant),
        "reasons": dict(variant.reasons),
    }


def setting_columns(variations: Sequence[Variation]) -> tuple[Column[Variant], ...]:
    """Keys that were varied, in the metric units of their names; words as words."""
    return tuple(_setting_column(variation, i) for i, variation in enumerate(variations))


def _setting_column(variation: Variation, i: int) -> Column[Variant]:
    size = unit("angle").size if variation.kind is ANGLE else 1.0

    def read(variant: Variant) -> Written:
        x = variant.settings[i]
        if variation.words or variation.whole:
            return variation.write(x)
        return float(f"{x * variation.factor / size:.10g}")

    return Column(name=setting_head(variation), words=variation.key, kind="", read=read)


def _in_words(variation: Variation, i: int, system: System) -> Column[Variant]:
    """The same as it would stand in the file, or in imperial units."""
    return replace(
        _setting_column(variation, i),
        read=lambda variant: setting_words(variation, variant.settings[i], system),
    )


def setting_words(variation: Variation, number: float, system: System) -> str:
    """A value of a key: in the unit it was asked in, or in imperial units."""
    value = number * variation.factor
    kind = variation.imperial_kind(value) if system == "imperial" else None
    return variation.text(number) if kind is None else show(value, kind, system)


def output_columns(names: Sequence[str]) -> tuple[Column[Variant], ...]:
    """Outputs of a design."""
    return tuple(map(_output_column, names))


def _output_column(name: str) -> Column[Variant]:
    output = OUTPUTS[name]
    return Column(
        name=output.head, words=output.words, kind=output.kind, missing="no figure",
        read=lambda variant: variant.value(name),
    )  # fmt: skip


def _marked(sweep: Sweep, name: str, system: System) -> Column[Variant]:
    """An output with a sign for whether it keeps its limits, if it has any."""
    column, limits = _output_column(name), [limit for _, limit in sweep.limits_on(name)]

    def marked(value: float) -> str:
        kept = all(limit.kept(value) for limit in limits)
        return f"{show(value, column.kind, system)} {'+' if kept else 'x'}"

    return replace(column, show=marked) if limits else column


def _spanned(sweep: Sweep, name: str, system: System) -> str:
    """An output and the range of its figures."""
    output, low, high = OUTPUTS[name], sweep.smallest(name), sweep.largest(name)
    if low is None or high is None:
        return f"no figure of {output.words}"
    return f"{output.words} {show_range(low.value(name), high.value(name), output.kind, system)}"


def setting_head(variation: Variation) -> str:
    """Column of a key that was varied: its name and metric unit.

    A plain number or a word has none.
    """
    name = variation.key.replace(".", "_")
    suffix = SUFFIXES.get(variation.kind, "fraction" if variation.shown == "%" else "")
    return f"{name}_{suffix}" if suffix else name


def sweep_csv(variants: Sequence[Variant], variations: Sequence[Variation], names: Sequence[str]) -> str:
    """As a CSV text: empty at a gap, whose reason is in the remark."""
    columns = (*setting_columns(variations), *output_columns(names), REMARK)
    shown = [
        replace(variant, reasons={name: variant.reasons[name] for name in names if name in variant.reasons})
        for variant in variants
    ]
    return Table(columns=columns, rows=shown).csv(significant=CSV_SIGNIFICANT)


def limit_sentences(sweep: Sweep, system: System) -> list[str]:
    """What the signs in the table stand for."""
    return [
        f"limit, {source}: {limit.text(system)}"
        for name in sweep.names
        for source, limit in sweep.limits_on(name)
    ]


def gap_sentences(sweep: Sweep) -> list[str]:
    """Designs without figure, counted, with the reason; outputs that share one come together."""
    given: dict[tuple[str, tuple[Settings, ...]], list[str]] = {}
    for name in sweep.names:
        for reason, variants in sweep.gaps(name):
            given.setdefault((reason, tuple(v.settings for v in variants)), []).append(name)
    return [
        f"no {', '.join(names)} for {len(where)} of {len(sweep.variants)} designs ({_places(sweep, where)}): "
        f"{reason}"
        for (reason, where), names in given.items()
    ]


def _places(sweep: Sweep, where: Sequence[Settings]) -> str:
    texts = [
        " ".join(v.text(x) for v, x in zip(sweep.variations, settings, strict=True)) for settings in where
    ]
    return ", ".join(texts[:3]) + (f" to {texts[-1]}" if len(texts) > 3 else "")


def sweep_caveats(sweep: Sweep) -> tuple[str, ...]:
    """What to keep in mind, in sentences."""
    keys = " and ".join(variation.key for variation in sweep.variations)
    return (
        f"Nothing but {keys} changes: whatever else would follow in sewing stays as the file has it.",
        "No bands here: parasim glide, landing and turn give how sure the figures are.",
        *gap_sentences(sweep),
    )
