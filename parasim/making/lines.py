"""The line sheet, what lines carry, and what an error of a row or lines measured after a season mean."""

from dataclasses import dataclass
from pathlib import Path

from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.measured import read_measured
from parasim.dynamics.vehicle import Vehicle
from parasim.errors import DesignError, TrimError
from parasim.flight import lines as flight
from parasim.flight.line_loads import BRAID_NOTE, OPENING_FACTOR, LineLoads, line_loads
from parasim.flight.lines import Remeasured, RowEffect, remeasured
from parasim.flight.opening.opening import opening_checks
from parasim.flight.opening.strength import Check
from parasim.flight.trim import Trim, find_trims
from parasim.geometry.cascade import imbalance
from parasim.geometry.line_stock import FIBRES
from parasim.sewing.line_sheet import LineSheet, build_line_sheet


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Lines(Answer):
    """Answer to `parasim lines`.

    Attributes
    ----------
    vehicle : Vehicle
        What flies.
    trim : Trim
        How: brakes released, at the ground.
    sheet : LineSheet
        What to cut, tie and measure.
    loads : LineLoads
        What lines carry.
    effects : tuple of RowEffect
        What an error of a row does.
    checks : tuple of Check
        Of lines and tabs as the design's pack opens; empty where it cannot.
    measured : dict of str to float or None
        Lengths as a maker wrote them; empty where the table was left as it was, None without one. [m]
    remeasured : Remeasured or None
        The glide on lines as measured; None without a table.
    """

    REPORT = "parasim.report.lines:LinesReport"

    vehicle: Vehicle
    trim: Trim
    sheet: LineSheet
    loads: LineLoads
    effects: tuple[RowEffect, ...]
    checks: tuple[Check, ...]
    measured: dict[str, float] | None = None
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
            found.append(Caveat("Stretch is not included: give lines.material to have it.", "lacks"))
        else:
            found.append(Caveat(f"{self.sheet.material}: {FIBRES[self.sheet.material].note} ({BRAID_NOTE})."))
        if not self.checks:
            found.append(Caveat("The model cannot open this pack: lines and tabs are not held to a snatch."))
        if self.remeasured is not None and self.remeasured.trim is None:
            words = "On the lines as measured there is no stable steady glide: do not fly it."
            found.append(Caveat(words, "fails"))
        return tuple(found)


def lines(
    vehicle: Vehicle, *, opening_factor: float = OPENING_FACTOR, measured: str | Path | None = None
) -> Lines:
    """Length of every line, what it carries, and what an error of a row does.

    Parameters
    ----------
    vehicle : Vehicle
        What flies.
    opening_factor : float
        Load at opening over that of the glide. [-]
    measured : str or Path, optional
        Table of lengths, as in `parasim.config.measured`: then the glide on those lines too; what it leaves
        out is as designed.

    Raises
    ------
    TrimError
        If there is no stable steady glide with the brakes released.
    DesignError
        If the table holds mistakes.
    """
    trim = find_trims(vehicle, modes=False).chosen
    loads = line_loads(vehicle, trim, opening_factor=opening_factor)
    sheet = _sheet(vehicle, loads)
    table, found = None, None
    if measured is not None:
        table = read_measured(measured, sheet.finished, sheet.ways)
        found = remeasured(
            vehicle,
            {
                label: table.lengths.get(label, designed) - designed
                for label, designed in sheet.finished.items()
            },
        )
    return Lines(
        vehicle=vehicle,
        trim=trim,
        sheet=sheet,
        loads=loads,
        effects=flight.row_effects(vehicle),
        checks=_opening_checks(vehicle),
        measured=None if table is None else table.given,
        remeasured=found,
    )


def _opening_checks(vehicle: Vehicle) -> tuple[Check, ...]:
    try:
        found = opening_checks(vehicle)
    except (DesignError, TrimError):
        return ()
    return tuple(check for check in found if check.part != "payload")


def line_sheet(vehicle: Vehicle, trim: Trim) -> LineSheet:
    """Line sheet with the stretch of a steady glide, brakes released.

    Parameters
    ----------
    vehicle : Vehicle
        What flies.
    trim : Trim
        How.
    """
    return _sheet(vehicle, line_loads(vehicle, trim))


def _sheet(vehicle: Vehicle, loads: LineLoads) -> LineSheet:
    return build_line_sheet(vehicle.design, vehicle.canopy, vehicle.line_set, tension=loads.tension)
