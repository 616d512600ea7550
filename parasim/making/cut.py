"""What to buy and cut, held against what flies."""

from parasim.dynamics.vehicle import Vehicle
from parasim.flight.trim import find_trims
from parasim.making.lines import line_sheet
from parasim.sewing.cut_list import CutList, cut_list
from parasim.sewing.templates import templates


def cut(vehicle: Vehicle) -> CutList:
    """Cut and shopping list of a design.

    Parameters
    ----------
    vehicle : Vehicle
        Assembled from it.

    Raises
    ------
    DesignError
        When the cross-ports do not fit the ribs, or a piece is wider than the cloth.
    TrimError
        If there is no stable steady glide with the brakes released.
    """
    pieces = templates(vehicle.design)
    sheet = line_sheet(vehicle, find_trims(vehicle, modes=False).chosen)
    return cut_list(pieces, sheet, simulated={item.name: item.properties.mass for item in vehicle.items})
