"""``parasim drag``: where the drag comes from."""

from typing import TYPE_CHECKING

from parasim.cli.run import command
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.flight.drag import Drag


@command("gliding")
def drag(design: Design) -> "Drag":
    """Drag of the glide with the brakes released, item by item, on flat area.

    Example: parasim drag configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.drag import drag as drag_of

    return drag_of(assemble(design))
