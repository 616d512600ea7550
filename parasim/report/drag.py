"""What `parasim drag` answers."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from parasim.flight.drag import Drag, DragBuildUp, DragItem
from parasim.flight.trim import Trim
from parasim.report.column import Column, Grid, Table, row_document, text_last
from parasim.report.report import IN_FLIGHT, Block, Report
from parasim.report.words import FLAT_AREA
from parasim.units import System, in_degrees, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

COUNT = 1e-4
"""A drag count, in drag coefficient. [-]"""

BAR_LENGTH = 30
"""Longest text bar. [characters]"""

ITEM_COLUMNS: tuple[Column[DragItem], ...] = (
    Column(name="item", words="item", kind="", read=lambda item: item.name),
    Column(name="drag_coefficient", words="CD", kind="coefficient", read=lambda item: item.CD),
    Column(
        name="counts", words="counts", kind="", read=lambda item: item.CD / COUNT,
        show=lambda counts: f"{counts:.0f}",
    ),
    Column(name="share_percent", words="share", kind="percent", read=lambda item: item.share),
)  # fmt: skip
"""Of one item; coefficients on flat area."""


class DragReport(Report[Drag]):
    """Drag, item by item."""

    COMMAND = "drag"
    TOUCHED = IN_FLIGHT - {"brakes"}

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        found, trim = self.result.build_up, self.result.trims.chosen
        yield (
            f"{self.name}: drag coefficient {found.CD:.4f} with the brakes released, at "
            f"{show(trim.airspeed, 'speed', units)} and {show(trim.alpha, 'angle', units)} angle of attack"
        )
        yield f"on a flat area of {show(trim.area, 'area', units)} ({FLAT_AREA}); a count is 0.0001"
        whole = DragItem(name="all", CD=found.CD, share=1.0)
        grid = Table(columns=ITEM_COLUMNS, rows=(*found.items, whole)).grid(units)
        bars = [*(bar(item.share, found.items[0].share) for item in found.items), ""]
        rows = [[*map(str, row), line] for row, line in zip(grid.rows, bars, strict=True)]
        yield Grid(
            rows=text_last(rows),
            heads=[*grid.heads, ""],
        )

    def document(self) -> dict[str, Any]:
        """As `drag_document`, with the name and the caveats."""
        document = drag_document(self.result.build_up, self.result.trims.chosen)
        return {"name": self.name, **document, "caveats": list(self.result.vehicle.caveats)}

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        yield "drag.csv", Table(columns=ITEM_COLUMNS, rows=self.result.build_up.items).csv()

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.drag import drag_figure

        yield "drag.png", drag_figure(self.result.build_up, self.name)


def drag_document(drag: DragBuildUp, trim: Trim) -> dict[str, Any]:
    """Drag build-up as plain data.

    Returns
    -------
    dict
        ``alpha_deg``, ``airspeed_m_s``: of the glide. ``lift_coefficient`` of the canopy and
        ``drag_coefficient`` of the whole vehicle, on ``flat_area_m2``. ``items``: list, largest first, of
        ``item``, ``drag_coefficient``, ``counts`` (of 0.0001), ``share_percent``, ``force_n``.
    """
    pressure = 0.5 * trim.air_density * trim.airspeed**2
    return {
        "alpha_deg": in_degrees(trim.alpha),
        "airspeed_m_s": trim.airspeed,
        "flat_area_m2": trim.area,
        "lift_coefficient": drag.CL,
        "drag_coefficient": drag.CD,
        "items": [
            {**row_document(ITEM_COLUMNS, item), "force_n": item.CD * pressure * trim.area}
            for item in drag.items
        ],
    }


def bar(share: float, largest: float) -> str:
    """Text bar of a share, as long as `BAR_LENGTH` for the largest.

    Examples
    --------
    >>> bar(0.1, 0.3)
    '##########'
    """
    return "#" * round(BAR_LENGTH * max(share, 0.0) / largest)
