"""``parasim cut``: pieces, cloth, line, tape and thread to buy; what they weigh, and how small they pack."""

from typing import TYPE_CHECKING

from parasim.cli.run import command
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.sewing.cut_list import CutList


@command("laying the pieces on the cloth")
def cut(design: Design) -> "CutList":
    """Cut and shopping list: parts, nested cloth, line, tape, thread; mass of each part; packed volume.

    Example: parasim cut configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.making.cut import cut as cut_of

    return cut_of(assemble(design))
