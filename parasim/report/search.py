"""What `parasim sweep` answers with --minimum or --maximum: the best design under limits."""

from collections.abc import Iterator, Sequence
from math import isfinite
from typing import TYPE_CHECKING, Any

from parasim.geometry.rigging import posed
from parasim.report.column import Grid, row_document
from parasim.report.report import Block, Report
from parasim.report.sweep import output_columns, setting_words, sweep_csv, variant_document, varied_document
from parasim.study.evaluate import Variant
from parasim.study.limits import Limit
from parasim.study.outputs import OUTPUTS
from parasim.study.search import FLAT, Search
from parasim.units import System, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class SearchReport(Report[Search]):
    """The design found, its limits, and how far one may stray from it."""

    COMMAND = "sweep"

    @property
    def name(self) -> str:
        """As `Report.name`."""
        return self.result.file.design().name

    @property
    def caveats(self) -> Sequence[str]:
        """As `Report.caveats`."""
        return search_caveats(self.result)

    def failures(self, units: System) -> list[str]:
        """The design's own limits that were not asked for and that the answer passes."""
        return [
            f"{limit.text(units)} (it has {show(value, OUTPUTS[limit.name].kind, units)})"
            for limit, value in self.result.passed_own_limits()
        ]

    @property
    def cautions(self) -> Sequence[str]:
        """As `Report.cautions`: those that the outputs want."""
        return self.result.cautions

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        search = self.result
        given = "the nearest" if not search.best else "at the end" if search.edges else "the best"
        yield headline(search, units)
        yield f"{len(search.everything)} designs looked at; still air, at the ground"
        yield Grid(rows=output_rows(search, units), heads=["", "as designed", given])
        if search.limits:
            yield Grid(rows=limit_rows(search, units), heads=["limit", given, "", "reached for it alone"])
        if search.best:
            yield Grid(
                rows=range_rows(search, units), heads=["key", given, "within 2 % of it", "searched", ""]
            )

    def document(self) -> dict[str, Any]:
        """As `search_document`."""
        return search_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        search = self.result
        yield "sweep.csv", sweep_csv(search.everything, search.variations, search.names)

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.sweep import search_figure

        yield "sweep.png", search_figure(self.result, units)

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """As `Report.others`: the best as a design file."""
        if self.result.best is not None:
            yield "sweep_best.yaml", best_file(self.result)


def search_document(search: Search) -> dict[str, Any]:
    """Search as plain data.

    Returns
    -------
    dict
        Keys are reported with `sweep_document`.
    """
    best, nearest = search.best, search.nearest
    own = [variation.own(search.file) for variation in search.variations]
    return {
        "name": search.file.design().name,
        "varied": varied_document(search.variations, own),
        "goal": search.goal,
        "minimum": search.minimum,
        "shown": list(search.names),
        "looked_at": {"count": len(search.everything)},
        "failed": {"count": len(search.failed)},
        "as_designed": variant_document(search.as_designed, search.variations, search.names),
        "best": variant_document(best, search.variations, search.names) if best else None,
        "nearest": variant_document(nearest, search.variations, search.names) if nearest else None,
        "checks": [_check_document(search, limit) for limit in search.limits],
        "furthest": None if best or search.furthest is None else search.furthest.name,
        "own_limits_passed": own_limit_sentences(search),
        "ranges": range_document(search),
        "cautions": list(search.cautions),
        "caveats": list(search_caveats(search)),
    }


def _check_document(search: Search, limit: Limit) -> dict[str, Any]:
    given = search.best or search.nearest
    value = given.value(limit.name) if given else float("nan")
    return {
        "output": limit.name,
        "limit": limit.text(),
        "kept": limit.kept(value),
        "binds": limit in search.binding,
        "best_outputs": _of_output(limit.name, value),
        "reached_outputs": _of_output(limit.name, search.reached(limit)),
    }


def _of_output(name: str, value: float) -> dict[str, Any]:
    return row_document(output_columns([name]), Variant(settings=(), values={name: value}, reasons={}))


def range_document(search: Search) -> list[dict[str, Any]]:
    """Ranges of good designs, key by key."""
    return [
        {
            "key": variation.key,
            "low": variation.text(low),
            "high": variation.text(high),
            "good_percent": 100 * FLAT,
            "flat": variation.key in search.flat_keys,
            "idle": variation.key in search.idle_keys,
            "edge": search.edges.get(variation.key),
        }
        for variation, (low, high) in zip(search.variations, search.good_ranges, strict=False)
    ]


def headline(search: Search, system: System) -> str:
    """The answer in one line."""
    name, output = search.file.design().name, search.output
    aim = f"{'minimum' if search.minimum else 'most'} {output.words}"
    if search.edges:
        aim = f"{'least' if search.minimum else 'most'} {output.words} found"
    if search.best is None:
        return f"{name}: no design here keeps all limits; {_miss(search, system)}"
    value = show(search.best.value(search.goal), output.kind, system)
    own = search.as_designed.values.get(search.goal)
    before = f" (as designed {show(own, output.kind, system)})" if own is not None else ""
    settings = ", ".join(
        f"{v.key} {v.write(x) if system == 'metric' else setting_words(v, x, system)}"
        for v, x in zip(search.variations, search.best.settings, strict=True)
    )
    ends = (
        f", at the end of what was searched of {' and '.join(search.edges)}: no optimum"
        if search.edges
        else ""
    )
    return f"{name}: {aim} is {value}{before}, by {settings}{ends}"


def _miss(search: Search, system: System) -> str:
    worst, nearest = search.furthest, search.nearest
    if worst is None or nearest is None:
        return "none has all figures"
    output = OUTPUTS[worst.name]
    at = ", ".join(
        f"{v.key} {setting_words(v, x, system)}"
        for v, x in zip(search.variations, nearest.settings, strict=True)
    )
    return (
        f"furthest from being kept is {worst.text(system)}: "
        f"{show(nearest.value(worst.name), output.kind, system)} where all are nearest ({at})"
    )


def output_rows(search: Search, system: System) -> list[list[str]]:
    """Rows for people: outputs as designed and of the best, or of what comes nearest."""
    given = search.best or search.nearest
    rows = []
    for name in search.names:
        output = OUTPUTS[name]
        cells = [
            "no figure"
            if one is None or name not in one.values
            else show(one.values[name], output.kind, system)
            for one in (search.as_designed, given)
        ]
        rows.append([output.words, *cells])
    return rows


def limit_rows(search: Search, system: System) -> list[list[str]]:
    """Rows for people: each limit, whether it is kept and binds, and the best reached for it alone."""
    given = search.best or search.nearest
    rows = []
    for limit in search.limits:
        kind = OUTPUTS[limit.name].kind
        value = given.value(limit.name) if given else float("nan")
        reached = search.reached(limit)
        rows.append(
            [
                limit.text(system),
                show(value, kind, system) if isfinite(value) else "no figure",
                "x not kept"
                if not limit.kept(value)
                else "+ binds"
                if limit in search.binding
                else "+ has room",
                show(reached, kind, system) if isfinite(reached) else "no figure",
            ]
        )
    return rows


def range_rows(search: Search, system: System) -> list[list[str]]:
    """Rows for people: each key of the best, its range among good designs, and what to make of it."""
    rows: list[list[str]] = []
    if search.best is None:
        return rows
    for v, x, (low, high) in zip(search.variations, search.best.settings, search.good_ranges, strict=True):
        remark = []
        if v.key in search.edges:
            remark.append(f"at the {search.edges[v.key]} edge of its range")
        if v.key in search.idle_keys:
            remark.append("makes no difference")
        if v.key in search.flat_keys:
            remark.append("flat")
        rows.append(
            [v.key, str(v.write(x)) if system == "metric" else setting_words(v, x, system),
             *(f"{setting_words(v, low, system)} to {setting_words(v, high, system)}"
               for low, high in ((low, high), (v.low, v.high))),
             "; ".join(remark)]
        )  # fmt: skip
    return rows


def own_limit_sentences(search: Search) -> list[str]:
    """Limits of the design's own that were not asked for and that the best passes."""
    return [
        f"It passes a limit that was not asked for: {limit.text()}, it has "
        f"{show(value, OUTPUTS[limit.name].kind)}."
        for limit, value in search.passed_own_limits()
    ]


def search_caveats(search: Search) -> tuple[str, ...]:
    """What to keep in mind, in sentences."""
    found = [
        "Only the keys varied change: whatever else would follow in sewing stays as the file has it.",
        "A search finds the best of what it looked at; there may be better.",
    ]
    for key, end in search.edges.items():
        found.append(f"{key} lies at the {end} edge of its range: the best may lie beyond.")
    found += [
        f"{key} changes the goal and the limited outputs by less than 0.1 %." for key in search.idle_keys
    ]
    for key in search.flat_keys:
        found.append(
            f"The optimum is flat along {key}: designs within {100 * FLAT:.0f} % of the best span much of "
            "its range, the other keys moving as they may; choose there by what else matters to you."
        )
    if search.failed:
        reason = next(iter(search.failed[0].reasons.values()))
        found.append(
            f"{len(search.failed)} of {len(search.everything)} designs lack a figure, the first because: "
            f"{reason}"
        )
    if search.design is not None:
        found += [f"The best design: {warning}" for warning in posed(search.design).warnings()]
    return tuple(found)


def best_file(search: Search) -> str:
    """Design file of the best, with a head that says where it comes from."""
    assert search.best is not None
    value = show(search.best.value(search.goal), search.output.kind)
    lines = [
        f"# Written by parasim sweep from {search.file.name}: {'minimum' if search.minimum else 'most'} "
        f"{search.output.words}, {value}.",
        "# Changed: "
        + ", ".join(
            f"{v.key} {v.write(x)}" for v, x in zip(search.variations, search.best.settings, strict=True)
        )
        + ".",
        *(f"# Limit: {limit.text()}." for limit in search.limits),
        "# Comments and description below are those of the file it comes from.",
        "",
    ]
    return "\n".join(lines) + "\n" + search.best_text()
