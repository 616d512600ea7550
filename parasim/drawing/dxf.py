"""Drawings to DXF in millimetres, a layer for each kind of line, a group for each piece; through ezdxf."""

import io
from collections.abc import Sequence
from math import degrees
from typing import TYPE_CHECKING

from parasim.drawing.drawing import Drawing, Label, Path, PathKind
from parasim.drawing.style import STYLES

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.entities.dxfentity import DXFEntity
    from ezdxf.layouts.layout import Modelspace

MILLIMETRES = 4
"""Value of $INSUNITS, as DXF defines it."""

TEXT_LAYER = "LETTERING"
CAPITALS = 0.72
"""Height of a capital, by which DXF measures text, over the size of the type. [-]"""


def layer_of(kind: PathKind) -> str:
    """Name of the layer that a kind of line is on."""
    return f"{kind.upper()}_LINE"


def dxf_text(drawings: Sequence[Drawing]) -> str:
    """One DXF document: lines on the layer of their kind, text on its own; a group by each drawing's name.

    Parameters
    ----------
    drawings : sequence of Drawing
        Placed as they are to stand.
    """
    from ezdxf.filemanagement import new

    document = new("R2010", units=MILLIMETRES)
    _add_layers(document)
    space = document.modelspace()
    for drawing in drawings:
        entities = [*(_add_path(space, path) for path in drawing.paths),
                    *(_add_text(space, label) for label in drawing.labels)]  # fmt: skip
        if drawing.name:
            document.groups.new(drawing.name).extend(entities)
    text = io.StringIO()
    document.write(text)
    return text.getvalue()


def _add_layers(document: "Document") -> None:
    for kind, style in STYLES.items():
        linetype = "CONTINUOUS"
        if style.dash:
            linetype = f"{kind.upper()}_DASH"
            signed = [length if i % 2 == 0 else -length for i, length in enumerate(style.dash)]
            document.linetypes.add(linetype, [sum(style.dash), *signed], description=style.meaning)
        weight = _line_weight(style.width)
        document.layers.add(layer_of(kind), linetype=linetype, lineweight=weight)
    document.layers.add(TEXT_LAYER)


def _line_weight(width: float) -> int:
    """Nearest of the line weights that DXF knows, in hundredths of a millimetre."""
    return min((18, 20, 25, 30, 35, 40, 50), key=lambda weight: abs(weight - 100 * width))


def _add_path(space: "Modelspace", path: Path) -> "DXFEntity":
    return space.add_lwpolyline(
        [(float(x), float(y)) for x, y in path.points],
        close=path.closed,
        dxfattribs={"layer": layer_of(path.kind)},
    )


def _add_text(space: "Modelspace", label: Label) -> "DXFEntity":
    from ezdxf.enums import TextEntityAlignment

    place = {
        "start": TextEntityAlignment.LEFT,
        "middle": TextEntityAlignment.CENTER,
        "end": TextEntityAlignment.RIGHT,
    }[label.anchor]
    entity = space.add_text(
        label.text,
        height=CAPITALS * label.height,
        rotation=degrees(label.angle),
        dxfattribs={"layer": TEXT_LAYER},
    )
    return entity.set_placement(label.at, align=place)
