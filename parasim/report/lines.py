"""The line sheet as a document, as rows of CSV files and as tables for people."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import degrees
from typing import Any

from parasim.dynamics.vehicle import Vehicle
from parasim.flight.line_loads import BRAID_NOTE, CAUTIONS, LineLoads
from parasim.flight.lines import Remeasured, RowEffect
from parasim.flight.trim import Trim
from parasim.geometry.cascade import imbalance
from parasim.geometry.line_stock import FIBRES, KNOT_EFFICIENCY
from parasim.report.words import in_degrees
from parasim.sewing.line_sheet import ZERO_POINTS, Entry, LineSheet
from parasim.units import in_sixteenths

LINE_HEADS = (
    "label", "kind", "holds", "rib", "length_mm", "finished_mm", "finished_in", "cut_mm", "cut_in",
    "tension_n", "opening_tension_n", "remark",
)  # fmt: skip
"""Of lines.csv. Length: under load, exact; finished: under the measuring tension; inches to the sixteenth."""

ADJUST_HEADS = ("label", "designed_mm", "measured_mm", "change_mm", "rigging_change_deg")
"""Of lines_adjust.csv: largest change first; rigging change of that line alone."""


@dataclass(frozen=True, kw_only=True, eq=False)
class LineReport:
    """All that `parasim lines` found.

    Attributes
    ----------
    vehicle, trim
        What flies, and how.
    sheet, loads, effects
        The line sheet, what lines carry, and what an error of a row does.
    remeasured : Remeasured or None
        The glide on lines as measured.
    """

    vehicle: Vehicle
    trim: Trim
    sheet: LineSheet
    loads: LineLoads
    effects: tuple[RowEffect, ...]
    remeasured: Remeasured | None = None

    @property
    def residual(self) -> float:
        """Largest pull across a trunk at a junction, over the load of its branches. [-]"""
        return max(
            (
                float(imbalance(start=h.start, joint=h.lines[0].end, tabs=h.tabs, load=h.share))
                for h in self.vehicle.line_set.holds
                if h.is_cascade
            ),
            default=0.0,
        )

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = [*self.vehicle.caveats, *self.loads.caveats]
        if self.sheet.material is None:
            found.append("Stretch is not included: give lines.material to have it.")
        else:
            found.append(f"{self.sheet.material}: {FIBRES[self.sheet.material].note} ({BRAID_NOTE}).")
        if self.remeasured is not None and self.remeasured.trim is None:
            found.append("On the lines as measured there is no stable steady glide: do not fly it.")
        return tuple(found)


def lines_document(report: LineReport) -> dict[str, Any]:
    """The line sheet as plain data.

    Returns
    -------
    dict
        - ``name``; ``rigging_angle_deg``; ``measuring_tension_n``, ``loop_allowance_mm``,
          ``tie_allowance_mm``, ``brake_tail_mm``, ``zero_points`` (sentences); ``material``, ``diameter_mm``,
          ``linear_density_g_m``.
        - ``lines``: for each ``label``: ``kind``, ``holds``, ``rib`` (from 1 at the left tip; 0: brake),
          ``length_mm`` (under load), ``finished_mm`` (under the measuring tension), ``finished_whole_mm``,
          ``finished_in``, ``cut_mm`` (null: cut with another), ``tension_n`` (1 g), ``opening_tension_n``,
          ``remark``.
        - ``totals``: for each ``group`` and ``kind``: ``count``, ``finished_m``, ``cut_m``; ``total_cut_m``.
        - ``differentials``: for each ``rib`` and ``side``: ``front_row``, ``front_mm``, ``others`` (``row``,
          ``longer_mm``).
        - ``junction_residual_fraction``: pull across the trunk over the load, at worst.
        - ``tolerance``: for each ``row`` and ``error_mm``: ``rigging_change_deg``, ``glide_ratio``,
          ``airspeed_m_s``, ``forward_speed_m_s``, ``sink_m_s`` of the landing with the brakes released (null:
          no glide).
        - ``loads``: ``opening_factor``, ``rows`` (``row``, ``share_fraction``, ``asked_fraction``),
          ``center_of_pressure_fraction`` (of chord), ``highest`` (label), ``highest_tension_n``,
          ``opening_tension_n``, ``strength_n``, ``knotted_strength_n``, ``strength_is_estimated``,
          ``knot_efficiency_fraction``, ``margin``, ``slack`` (labels),
          ``chordwise_left_fraction``, ``confluence_moment_n_m`` (nose-up positive).
        - ``measured`` (null without ``--measured``): ``rigging_angle_deg``, ``rigging_change_deg``,
          ``misfit_mm``, ``glide_ratio``, ``airspeed_m_s``, ``sink_m_s``, ``designed_glide_ratio``,
          ``designed_airspeed_m_s``, ``designed_sink_m_s``, ``tuck_margin_deg``, ``stall_margin_deg``,
          ``mean_change_mm``, ``rows`` (``row``, ``change_mm``, ``left_less_right_mm``), ``turn`` (left,
          right or null), ``turn_row``, ``adjust`` (largest first: ``label``, ``change_mm``,
          ``rigging_change_deg``).
        - ``caveats`` and ``cautions``: sentences.
    """
    sheet, found = report.sheet, report.remeasured
    return {
        "name": sheet.name,
        "rigging_angle_deg": in_degrees(report.vehicle.rigging.rigging_angle),
        "measuring_tension_n": sheet.measuring_tension,
        "loop_allowance_mm": _mm(sheet.loop_allowance),
        "tie_allowance_mm": _mm(sheet.tie_allowance),
        "brake_tail_mm": _mm(sheet.brake_tail),
        "zero_points": list(ZERO_POINTS),
        "material": sheet.material,
        "diameter_mm": _mm(sheet.diameter),
        "linear_density_g_m": 1e3 * sheet.linear_density,
        "lines": [_line(entry, report.loads) for entry in sheet.entries],
        "totals": [
            {"group": t.group, "kind": t.kind, "count": t.count, "finished_m": t.finished, "cut_m": t.cut}
            for t in sheet.totals
        ],
        "total_cut_m": sheet.total_cut,
        "differentials": [
            {
                "rib": d.rib,
                "side": d.side,
                "front_row": sheet.front_row,
                "front_mm": _mm(d.front),
                "others": [{"row": row, "longer_mm": _mm(size)} for row, size in d.longer.items()],
            }
            for d in sheet.differentials
        ],
        "junction_residual_fraction": report.residual,
        "tolerance": [_effect(effect) for effect in report.effects],
        "loads": _loads(report.loads),
        "measured": None if found is None else _measured(found),
        "caveats": list(report.caveats),
        "cautions": list(CAUTIONS),
    }


def _mm(length: float) -> float:
    return round(1e3 * length, 3)


def _line(entry: Entry, loads: LineLoads) -> dict[str, Any]:
    tension = loads.tension[entry.label]
    return {
        "label": entry.label,
        "kind": entry.kind,
        "holds": entry.group,
        "rib": entry.rib,
        "length_mm": _mm(entry.length),
        "finished_mm": _mm(entry.finished),
        "finished_whole_mm": entry.finished_mm,
        "finished_in": in_sixteenths(entry.finished),
        "cut_mm": entry.cut_mm,
        "tension_n": tension,
        "opening_tension_n": loads.opening_factor * tension,
        "remark": entry.remark,
    }


def _effect(effect: RowEffect) -> dict[str, Any]:
    trim = effect.trim
    return {
        "row": effect.row,
        "error_mm": _mm(effect.error),
        "rigging_change_deg": in_degrees(effect.rigging_change),
        "glide_ratio": trim and trim.glide_ratio,
        "airspeed_m_s": trim and trim.airspeed,
        "forward_speed_m_s": trim and trim.forward_speed,
        "sink_m_s": trim and trim.sink,
    }


def _loads(loads: LineLoads) -> dict[str, Any]:
    return {
        "opening_factor": loads.opening_factor,
        "rows": [
            {"row": row, "share_fraction": share, "asked_fraction": loads.asked_share[row]}
            for row, share in loads.row_share.items()
        ],
        "center_of_pressure_fraction": loads.ribs.center_of_pressure,
        "highest": loads.highest[0],
        "highest_tension_n": loads.highest[1],
        "opening_tension_n": loads.opening_tension,
        "strength_n": loads.stock.strength,
        "knotted_strength_n": loads.stock.knotted_strength,
        "strength_is_estimated": not loads.stock.strength_is_given,
        "knot_efficiency_fraction": KNOT_EFFICIENCY,
        "margin": loads.margin,
        "slack": list(loads.slack),
        "chordwise_left_fraction": loads.chordwise_left,
        "confluence_moment_n_m": loads.ribs.confluence_moment,
    }


def _measured(found: Remeasured) -> dict[str, Any]:
    trim, designed = found.trim, found.designed
    return {
        "rigging_angle_deg": in_degrees(found.rigging.rigging_angle),
        "rigging_change_deg": in_degrees(found.rigging.rigging_angle - found.designed_rigging.rigging_angle),
        "misfit_mm": _mm(found.rigging.misfit),
        "glide_ratio": trim and trim.glide_ratio,
        "airspeed_m_s": trim and trim.airspeed,
        "sink_m_s": trim and trim.sink,
        "designed_glide_ratio": designed.glide_ratio,
        "designed_airspeed_m_s": designed.airspeed,
        "designed_sink_m_s": designed.sink,
        "tuck_margin_deg": in_degrees(found.tuck_margin),
        "stall_margin_deg": in_degrees(found.stall_margin),
        "mean_change_mm": _mm(found.mean_change),
        "rows": [
            {"row": row, "change_mm": _mm(size), "left_less_right_mm": _mm(found.left_less_right[row])}
            for row, size in found.row_change.items()
        ],
        "turn": found.turn,
        "turn_row": found.turn_row,
        "adjust": [
            {
                "label": a.label,
                "change_mm": _mm(a.change),
                "rigging_change_deg": in_degrees(a.rigging_change),
            }
            for a in found.adjustments
        ],
    }


def line_csv(report: LineReport) -> list[list[object]]:
    """Rows under `LINE_HEADS`."""
    rows = []
    for entry in report.sheet.entries:
        tension = report.loads.tension[entry.label]
        cut = "" if entry.cut is None else in_sixteenths(entry.cut, up=True)
        rows.append(
            [
                entry.label, entry.kind, entry.group, entry.rib, round(1e3 * entry.length, 1),
                entry.finished_mm,
                in_sixteenths(entry.finished), "" if entry.cut is None else entry.cut_mm, cut,
                round(tension, 3), round(report.loads.opening_factor * tension, 2), entry.remark,
            ]
        )  # fmt: skip
    return rows


def adjust_csv(found: Remeasured, designed: Mapping[str, float]) -> list[list[object]]:
    """Rows under `ADJUST_HEADS`; `designed` is label to finished length. [m]"""
    return [
        [
            a.label,
            round(1e3 * designed[a.label], 1),
            round(1e3 * (designed[a.label] + a.change), 1),
            round(1e3 * a.change, 1),
            round(degrees(a.rigging_change), 3),
        ]
        for a in found.adjustments
    ]


def tag_text(sheet: LineSheet) -> str:
    """Tags to print and cut out, one a line: label, what it holds and its finished length."""
    return "".join(f"{entry.label}  {entry.finished_mm} mm  {sheet.name}\n" for entry in sheet.entries)
