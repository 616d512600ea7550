"""A sweep or a search as a document, as rows of CSV files and as rows for people."""

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import Any

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
from parasim.config.variation import Variation
from parasim.study.evaluate import Settings, Variant
from parasim.study.outputs import OUTPUTS, Output
from parasim.study.sweep import Sweep
from parasim.units import System, show, unit

SUFFIXES = {
    ANGLE: "deg", AREA: "m2", AREAL_WEIGHT: "kg_m2", ENERGY: "j", FORCE: "n", LENGTH: "m",
    LINEAR_DENSITY: "kg_m", MASS: "kg", PERMEABILITY: "m_s", PRESSURE: "pa", SPEED: "m_s",
    TEMPERATURE_STEP: "k", TIME: "s", TORQUE: "n_m",
}  # fmt: skip
"""Unit in the head of a key, by its kind; ratios in per cent are reported as fractions."""

MOST_ROWS = 40
"""Of the table that is printed; the CSV file has them all."""


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
    cells = settings_cells(variations, variant.settings) if variant.settings else []
    heads = [setting_head(v) for v in variations]
    return {
        "settings": dict(zip(heads, cells, strict=False)),
        "outputs": output_values(variant.values, names),
        "reasons": dict(variant.reasons),
    }


def output_values(values: Mapping[str, float], names: Sequence[str]) -> dict[str, float | None]:
    """Outputs under their heads; null where there is no figure."""
    return {OUTPUTS[name].head: plain(OUTPUTS[name], values.get(name)) for name in names}


def plain(output: Output, value: float | None) -> float | None:
    """Value in the metric unit of its head; None without figure."""
    if value is None or not isfinite(value):
        return None
    # Radians, and everything else in SI: only angles are reported in another unit than they are kept in.
    return value / unit(output.kind).size if output.suffix.startswith("deg") else value


def setting_head(variation: Variation) -> str:
    """Column of a key that was varied: its name and metric unit.

    A plain number or a word has none.
    """
    name = variation.key.replace(".", "_")
    suffix = SUFFIXES.get(variation.kind, "fraction" if variation.shown == "%" else "")
    return f"{name}_{suffix}" if suffix else name


def settings_cells(variations: Sequence[Variation], settings: Settings) -> list[object]:
    """Settings in the units of their heads, words as words."""
    cells: list[object] = []
    for variation, x in zip(variations, settings, strict=True):
        if variation.words or variation.whole:
            cells.append(variation.write(x))
        else:
            size = unit("angle").size if variation.kind is ANGLE else 1.0
            cells.append(float(f"{x * variation.factor / size:.10g}"))
    return cells


def sweep_heads(variations: Sequence[Variation], names: Sequence[str]) -> list[str]:
    """Heads of sweep.csv."""
    return [*(setting_head(v) for v in variations), *(OUTPUTS[name].head for name in names), "remark"]


def sweep_csv(
    variants: Sequence[Variant], variations: Sequence[Variation], names: Sequence[str]
) -> list[list[object]]:
    """Rows under `sweep_heads`: empty at a gap, whose reason is in the remark."""
    rows: list[list[object]] = []
    for variant in variants:
        cells: list[object] = settings_cells(variations, variant.settings)
        for name in names:
            value = plain(OUTPUTS[name], variant.values.get(name))
            cells.append("" if value is None else float(f"{value:.10g}"))
        given = dict.fromkeys(variant.reasons[name] for name in names if name in variant.reasons)
        rows.append([*cells, " | ".join(given)])
    return rows


def sweep_rows(sweep: Sweep, system: System) -> list[list[str]]:
    """Rows for people: one a design, with a sign where a limit is not kept."""
    rows = []
    for variant in sweep.variants[:MOST_ROWS]:
        settings = [v.text(x) for v, x in zip(sweep.variations, variant.settings, strict=True)]
        rows.append(settings + [_cell(sweep, variant, name, system) for name in sweep.names])
    return rows


def _cell(sweep: Sweep, variant: Variant, name: str, system: System) -> str:
    if name not in variant.values:
        return "no figure"
    value = variant.values[name]
    shown = show(value, OUTPUTS[name].kind, system)
    limits = [limit for _, limit in sweep.limits_on(name)]
    return f"{shown} {'+' if all(limit.kept(value) for limit in limits) else 'x'}" if limits else shown


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
