"""What rows, trunks and stabilisers' lines carry, in words, tables and data."""

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from parasim.flight.line_loads import LineLoads
from parasim.flight.opening.strength import Check
from parasim.geometry.line_stock import KNOT_EFFICIENCY
from parasim.geometry.lines import Line
from parasim.making.lines import Lines
from parasim.report.column import Column, Table
from parasim.units import System, show

FIN_NOTE = (
    " Lines of the stabilisers are estimates; at opening they have at least what side flow may ask of them."
)


class RowLoad(NamedTuple):
    """What a row, or the trunks of some rows, carry; shares of all load, tension of the line loaded most."""

    row: str
    share: float
    asked: float
    most: str
    tension: float
    opening: float


LOAD_COLUMNS: tuple[Column[RowLoad], ...] = (
    Column(name="row", words="row", kind="", read=lambda load: load.row),
    Column(
        name="share_fraction", words="of all load", kind="", read=lambda load: load.share,
        show=lambda share: f"{100 * share:.0f} %",
    ),
    Column(
        name="asked_fraction", words="free rows take", kind="", read=lambda load: load.asked,
        show=lambda share: f"{100 * share:.0f} %",
    ),
    Column(name="most_on", words="most on", kind="", read=lambda load: load.most),
    Column(name="tension_n", words="at 1 g", kind="force", read=lambda load: load.tension),
    Column(
        name="opening_tension_n", words="at opening", kind="force", digits=1, read=lambda load: load.opening
    ),
)  # fmt: skip


def loads_document(lines: Lines) -> dict[str, Any]:
    """Of the lines, as in `parasim.report.lines.lines_document`."""
    loads = lines.loads
    return {
        "opening_factor": loads.opening_factor,
        "rows": Table(columns=LOAD_COLUMNS, rows=row_loads(lines)).document(),
        "center_of_pressure_fraction": loads.ribs.center_of_pressure,
        "highest": loads.highest[0],
        "highest_tension_n": loads.highest[1],
        "opening_tension_n": loads.opening_tension,
        "strength_n": loads.stock.strength,
        "knotted_strength_n": loads.stock.knotted_strength,
        "strength_is_estimated": not loads.stock.strength_is_given,
        "knot_efficiency_fraction": KNOT_EFFICIENCY,
        "margin": loads.margin,
        "stabilisers": [
            {"label": label, "tension_n": loads.fins.tension[label], "bound_n": bound}
            for label, bound in loads.fins.bound.items()
        ],
        "slack": list(loads.slack),
        "chordwise_left_fraction": loads.chordwise_left,
        "confluence_moment_n_m": loads.ribs.confluence_moment,
    }


def worst_loads(checks: Sequence[Check], units: System) -> str:
    """Most that a line and a tab bear as the pack opens, for the first line."""
    borne = []
    for check in _worst(checks):
        load, strength = (show(x, "force", units, digits=0) for x in (check.worst_load, check.strength))
        holds = f"holds {strength}" if check.strength else "strength not known"
        borne.append(f"a {check.part} {load} ({holds})")
    return f"; as the pack opens they bear up to: {', '.join(borne)}" if borne else ""


def weak_parts(checks: Sequence[Check], units: System) -> list[str]:
    """Parts whose margin at the worst load is short, in words."""
    return [
        f"{c.part} {'holds' if c.short else 'may hold'} {c.strength / c.judged_load:.1f} times the "
        f"{c.event} of {show(c.judged_load, 'force', units, digits=0)} (wanted {c.wanted:g})"
        for c in _worst(checks)
        if c.may_be_short and c.strength is not None
    ]


def _worst(checks: Sequence[Check]) -> Iterable[Check]:
    """Of each part, at its largest load."""
    return {check.part: check for check in sorted(checks, key=lambda check: check.worst_load)}.values()


def load_table(lines: Lines, system: System) -> Table[RowLoad]:
    """What rows and trunks carry, each with its line that carries most."""
    loads, stock = lines.loads, lines.loads.stock
    margin = (
        "" if loads.margin is None else f" The highest line keeps {loads.margin:.1f} times its opening load."
    )
    strength = (
        "The strength of the line is not known."
        if stock.knotted_strength is None
        else f"Line holds {show(stock.strength, 'force', system, digits=0)} straight, "
        f"{show(stock.knotted_strength, 'force', system, digits=0)} at a knot "
        f"({100 * KNOT_EFFICIENCY:.0f} %, common practice)."
    )
    return Table(
        columns=LOAD_COLUMNS,
        rows=(*row_loads(lines), *trunk_loads(lines), *fin_row_loads(lines)),
        title=f"What the lines carry; at opening {loads.opening_factor:g} g, taken (--opening-factor); "
        "parasim opening computes the opening",
        note=strength + margin + (FIN_NOTE if lines.loads.fins.bound else ""),
    )


def row_loads(lines: Lines) -> list[RowLoad]:
    """Of each row."""
    holds = lines.vehicle.line_set.holds
    ends = [line for hold in holds for line in hold.uppers]
    return [_row_load((row,), ends, lines.loads) for row in lines.loads.row_share]


def fin_row_loads(lines: Lines) -> list[RowLoad]:
    """Of the lines to the stabilisers, tab by tab."""
    fins = lines.vehicle.line_set.fins
    return [_row_load(rows, fins, lines.loads) for rows in dict.fromkeys(line.rows for line in fins)]


def trunk_loads(lines: Lines) -> list[RowLoad]:
    """Of the trunks that hold the same rows."""
    trunks = [hold.lines[0] for hold in lines.vehicle.line_set.holds if hold.is_cascade]
    groups = dict.fromkeys(line.rows for line in trunks)
    return [_row_load(group, trunks, lines.loads) for group in groups]


def _row_load(rows: tuple[str, ...], among: Iterable[Line], loads: LineLoads) -> RowLoad:
    """The lines of a stabiliser take no share of the load that rows are asked for."""
    labels = [line.label for line in among if line.rows == rows]
    most = max(labels, key=lambda label: round(loads.tension[label], 6))
    return RowLoad(
        row="+".join(rows),
        share=sum(loads.row_share.get(row, 0.0) for row in rows),
        asked=sum(loads.asked_share.get(row, 0.0) for row in rows),
        most=most,
        tension=loads.tension[most],
        opening=loads.opening_of(most),
    )
