"""The drag build-up as a document and as rows."""

from typing import Any

from parasim.flight.drag import DragBuildUp
from parasim.flight.trim import Trim
from parasim.report.words import in_degrees

COUNT = 1e-4
"""A drag count, in drag coefficient. [-]"""

BAR_LENGTH = 30
"""Longest text bar. [characters]"""

DRAG_HEADS = ("item", "drag_coefficient", "counts", "share_percent")
"""Of drag.csv; coefficients on flat area."""


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
            {
                "item": item.name,
                "drag_coefficient": item.CD,
                "counts": item.CD / COUNT,
                "share_percent": 100 * item.share,
                "force_n": item.CD * pressure * trim.area,
            }
            for item in drag.items
        ],
    }


def drag_csv(drag: DragBuildUp) -> list[list[object]]:
    """Rows under `DRAG_HEADS`."""
    return [
        [item.name, round(item.CD, 6), round(item.CD / COUNT, 2), round(100 * item.share, 2)]
        for item in drag.items
    ]


def drag_rows(drag: DragBuildUp) -> list[list[str]]:
    """Rows for people: item, coefficient, counts, share; the sum last."""
    rows = [[item.name, *_figures(item.CD, item.share)] for item in drag.items]
    return [*rows, ["all", *_figures(drag.CD, 1.0)]]


def bar(share: float, largest: float) -> str:
    """Text bar of a share, as long as `BAR_LENGTH` for the largest.

    Examples
    --------
    >>> bar(0.1, 0.3)
    '##########'
    """
    return "#" * round(BAR_LENGTH * max(share, 0.0) / largest)


def _figures(CD: float, share: float) -> list[str]:
    return [f"{CD:.4f}", f"{CD / COUNT:.0f}", f"{100 * share:.1f} %"]
